"""Files at the border: TOML read and validated, with errors that name the file and the key.

What the keys mean is left to the models of each room.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, BeforeValidator, ConfigDict, TypeAdapter, ValidationError

from cutplan.base.errors import CutplanError, InputError, OutputError
from cutplan.base.key_messages import key_problems
from cutplan.base.units import plain_unit

__all__ = [
    "FILE_RULES",
    "FileModel",
    "LengthUnit",
    "error_of",
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
        Of the kind `error`: the file is missing, unreadable, or not TOML (with the line).
    """
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise error("no such file", where=str(file), remedy="check the path") from None
    except (OSError, UnicodeDecodeError) as problem:
        reason = problem.strerror if isinstance(problem, OSError) else "not UTF-8 text"
        raise error(f"cannot be read: {reason}", where=str(file)) from None
    except tomllib.TOMLDecodeError as problem:
        raise error(f"not valid TOML: {problem}", where=str(file), remedy="mend that line") from None


def read_text(file: Path) -> str:
    """Return the text of a file.

    Parameters
    ----------
    file : Path
        The file.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If it is missing or no UTF-8 text.
    """
    try:
        return file.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise InputError("no such file", where=str(file), remedy="check the path") from None
    except (OSError, UnicodeDecodeError):
        raise InputError("cannot be read as text", where=str(file), remedy="check the file") from None


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
