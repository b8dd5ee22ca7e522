"""Files at the border: TOML read and validated, with errors that name the file and the key.

What the keys mean is left to the models of each room.
"""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ConfigDict, ValidationError

from cutplan.base.errors import CutplanError, InputError, OutputError

__all__ = ["FileModel", "read_text", "read_toml", "validate", "write_text"]

M = TypeVar("M", bound=BaseModel)


class FileModel(BaseModel):
    """Base of what is read from files: unknown keys, nan and infinity are refused."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, frozen=True, str_strip_whitespace=True)


def read_toml(file: Path, error: type[CutplanError] = InputError) -> dict[str, Any]:
    """Return the content of a TOML file.

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
    model: type[M], data: Mapping[str, Any], where: str, error: type[CutplanError] = InputError
) -> M:
    """Return data as a validated model.

    Raises
    ------
    CutplanError
        Of the kind `error`, naming the first wrong key and how many more there are.
    """
    try:
        return model.model_validate(data)
    except ValidationError as problem:
        found = problem.errors()
        first = found[0]
        message = f"{_key_path(first['loc'])}: {_reason(first)}"
        if len(found) > 1:
            message += f" (and {len(found) - 1} more)"
        raise error(message, where=where, remedy=_remedy(first, model)) from None


def _key_path(loc: tuple[int | str, ...]) -> str:
    """Return a key's place in a file's own terms: ``[[part]] 3, quantity``."""
    words: list[str] = []
    for item in loc:
        if isinstance(item, int) and words:
            words[-1] = f"[[{words[-1]}]] {item + 1}" if len(words) == 1 else f"{words[-1]} item {item + 1}"
        elif isinstance(item, str) and not item.startswith(("function-", "tagged-", "constrained-")):
            words.append(item)
    return ", ".join(words) or "the file"


def _reason(problem: Any) -> str:
    kind, value = problem["type"], problem.get("input")
    if kind == "extra_forbidden":
        return "unknown key"
    if kind == "missing":
        return "missing"
    text = str(problem["msg"]).removeprefix("Value error, ").removeprefix("Input ")
    shown = repr(value) if isinstance(value, str | int | float | bool) else None
    return f"{text}, got {shown}" if shown and kind != "value_error" else text


def _remedy(problem: Any, model: type[BaseModel]) -> str:
    if problem["type"] != "extra_forbidden":
        return "give this key a valid value" if problem["type"] != "missing" else "add this key"
    names = _field_names(model)
    close = difflib.get_close_matches(str(problem["loc"][-1]), sorted(names), n=1)
    return f"did you mean {close[0]!r}?" if close else "remove it, or see the manual for the keys there are"


def _field_names(model: type[BaseModel]) -> set[str]:
    names: set[str] = set()
    for name, field in model.model_fields.items():
        names.add(field.alias or name)
        for inner in _inner_models(field.annotation):
            names |= _field_names(inner)
    return names


def _inner_models(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for argument in getattr(annotation, "__args__", ()):
        yield from _inner_models(argument)
