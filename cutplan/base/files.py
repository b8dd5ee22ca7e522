"""Files at the border: TOML read and validated, with errors that name the file and the key.

What the keys mean is left to the models of each room.
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, TypeAdapter, ValidationError

from cutplan.base.cleaning import shortened
from cutplan.base.errors import CutplanError, InputError, OutputError
from cutplan.base.key_messages import key_problems
from cutplan.base.units import plain_unit

__all__ = [
    "FILE_RULES",
    "LARGEST_SETTINGS",
    "LARGEST_TEXT",
    "FileModel",
    "LengthUnit",
    "error_of",
    "read_json",
    "read_text",
    "read_toml",
    "validate",
    "write_text",
]

LengthUnit = Annotated[Literal["mm", "cm", "m", "in", "ft"], BeforeValidator(plain_unit)]
"""A unit of length in a file, by any of the words for it."""

M = TypeVar("M")

FILE_RULES = ConfigDict(extra="forbid", allow_inf_nan=False, str_strip_whitespace=True)
"""What holds of all that is read from files: unknown keys, nan and infinity are refused."""

LARGEST_SETTINGS = 5_000_000
"""Bytes of a file of settings: a job of ten thousand part entries takes about one million."""
LARGEST_TEXT = 500_000_000
"""Bytes of a program or a plan; a million blocks take about thirty million."""
LONGEST_PATH = 200
"""Letters of a path in a message."""

MOST_TOLD = 20
"""Problems of one file that are listed; the rest are counted."""


class FileModel(BaseModel):
    """Base of what is read from files: unknown keys, nan and infinity are refused."""

    model_config = ConfigDict(**FILE_RULES, frozen=True)


def read_toml(file: Path, error: type[CutplanError] = InputError) -> dict[str, Any]:
    """Return the content of a TOML file.

    Parameters
    ----------
    file : Path
        The file.
    error : type of CutplanError, optional
        Kind of error that is raised.

    Returns
    -------
    dict

    Raises
    ------
    CutplanError
        Of the kind `error`: the file is missing, unreadable, larger than settings are, or not
        TOML (with the line).
    """
    text = read_text(file, error, largest=LARGEST_SETTINGS)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as problem:
        # Not TOML; a figure of thousands of digits; lists within lists within lists.
        told = "nested too deep" if isinstance(problem, RecursionError) else shortened(str(problem), 300)
        raise error(f"not valid TOML: {told}", where=str(file), remedy="mend that line") from None


def read_json(file: Path, error: type[CutplanError] = InputError, *, largest: int | None = None) -> Any:
    """Return the content of a JSON file; NaN and infinities, which JSON does not know, are refused.

    Parameters
    ----------
    file : Path
        The file.
    error : type of CutplanError, optional
        Kind of error that is raised.
    largest : int, optional

    Returns
    -------
    str

    Raises
    ------
    CutplanError
        Of the kind `error`: the file is missing, unreadable, too large, or not JSON.
    """
    text = read_text(file, error, largest=largest)
    try:
        return json.loads(text, parse_constant=_no_number)
    except (ValueError, RecursionError) as problem:
        told = "nested too deep" if isinstance(problem, RecursionError) else shortened(str(problem), 300)
        raise error(f"not valid JSON: {told}", where=str(file), remedy="restore the file") from None


def _no_number(word: str) -> Any:
    raise ValueError(f"{word} is no number")


def read_text(file: Path, error: type[CutplanError] = InputError, *, largest: int | None = None) -> str:
    """Return the text of a file.

    Parameters
    ----------
    file : Path
    error : type of CutplanError
        What is raised.
    largest : int, optional
        Bytes that it may have; the default is `LARGEST_TEXT`.

    Returns
    -------
    str

    Raises
    ------
    CutplanError
        Of the kind `error`: it is missing, no file (a folder, a pipe), too large, or no UTF-8
        text.
    """
    largest = largest or LARGEST_TEXT
    try:
        if not file.is_file():
            what = "is not a file" if file.exists() else "no such file"
            raise error(what, where=shortened(str(file), LONGEST_PATH), remedy="check the path")
        if file.stat().st_size > largest:
            told = f"has more than {largest / 1e6:g} MB"
            raise error(told, where=str(file), remedy="check that it is the right file")
        return file.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        raise error(
            "cannot be read as text: not UTF-8 text", where=str(file), remedy="check the file"
        ) from None
    except (OSError, ValueError) as problem:
        # A name with a NUL in it is a ValueError, one too long an OSError.
        reason = getattr(problem, "strerror", None) or str(problem)
        where = shortened(str(file), LONGEST_PATH)
        raise error(f"cannot be read: {reason}", where=where, remedy="check the path") from None


def write_text(file: Path, text: str) -> None:
    """Write a text file, its folder made if missing.

    Parameters
    ----------
    file : Path
        The file.
    text : str

    Raises
    ------
    OutputError
        If the place cannot be written.
    """
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    except OSError as problem:
        raise OutputError(
            f"cannot be written: {problem.strerror}", where=str(file), remedy="give another place"
        ) from None


def validate(
    model: type[M],
    data: Mapping[str, Any],
    where: str,
    error: type[CutplanError] = InputError,
    called: Mapping[tuple[int | str, ...], str] | None = None,
) -> M:
    """Return data as a validated model.

    Parameters
    ----------
    model : type
    data : mapping
        A file's content.
    where : str
        The file.
    error : type of CutplanError
        What is raised.
    called : mapping, optional
        What entries are called, by their place, that come from another file.

    Returns
    -------
    model
        The validated model.

    Raises
    ------
    CutplanError
        Of the kind `error`, naming every wrong key and what mends it.
    """
    try:
        return TypeAdapter(model).validate_python(data)
    except ValidationError as problem:
        found = key_problems([dict(each) for each in problem.errors()], model, data, called)
    raise error_of(found, where, error)


def error_of(
    problems: Sequence[tuple[str, str]], where: str, error: type[CutplanError] = InputError
) -> CutplanError:
    """Return one error that tells all problems of a file, each with what mends it.

    Parameters
    ----------
    problems : sequence of tuple of str
        What is wrong, and what mends it.
    where : str
        The file.
    error : type of CutplanError, optional
        Kind of error that is raised.

    Returns
    -------
    CutplanError
    """
    if len(problems) == 1:
        return error(problems[0][0], where=where, remedy=problems[0][1] or None)
    lines = [f"  {message}" + (f"; {remedy}" if remedy else "") for message, remedy in problems[:MOST_TOLD]]
    if len(problems) > MOST_TOLD:
        lines.append(f"  … and {len(problems) - MOST_TOLD} more")
    return error("\n".join([f"{len(problems)} things are wrong", *lines]), where=where)
