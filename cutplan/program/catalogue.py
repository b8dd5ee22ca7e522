"""Where post-processors come from: files in folders, searched in order, and registered classes.

Order of search: the folders given, the user's own folder, registered classes, what ships.
"""

from __future__ import annotations

import difflib
import os
import re
import sys
from collections.abc import Iterator, Sequence
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path

from pydantic import ValidationError

from cutplan.base.errors import ProgramError
from cutplan.base.files import read_toml, validate
from cutplan.program.agreement import PostFile
from cutplan.program.postprocessor import PostProcessor

__all__ = ["ENTRY_POINTS", "find_postprocessor", "list_postprocessors", "read_postprocessor", "user_folder"]

ENTRY_POINTS = "cutplan.postprocessors"
_PACKAGE = Path(__file__).resolve().parents[1]


def find_postprocessor(name: str, folders: Sequence[Path | str] = ()) -> PostProcessor:
    """Return the post-processor of a name.

    Parameters
    ----------
    name : str
        Name without the ending, or the path of a ``.toml`` file.
    folders : sequence of path
        Folders that are searched first.

    Returns
    -------
    PostProcessor

    Raises
    ------
    ProgramError
        There is none of that name (close names are suggested), or its file is wrong.
    """
    if name.endswith(".toml"):
        return read_postprocessor(Path(name))
    for found, file in _files([*map(Path, folders), user_folder()]):
        if found == name:
            return read_postprocessor(file)
    registered = _registered().get(name)
    if registered is not None:
        return _load(registered, folders)
    for found, file in _files([_shipped_folder()]):
        if found == name:
            return read_postprocessor(file)
    raise _unknown(name, folders)


def list_postprocessors(folders: Sequence[Path | str] = ()) -> tuple[PostProcessor, ...]:
    """Return every post-processor on offer, by name; an earlier folder hides a later one.

    Parameters
    ----------
    folders : sequence of Path or str, optional
        Looked in before the shipped ones.

    Returns
    -------
    tuple of PostProcessor

    Raises
    ------
    ProgramError
        One of the files is wrong.
    """
    return tuple(find_postprocessor(name, folders) for name in _names(folders))


def read_postprocessor(file: Path) -> PostProcessor:
    """Return the post-processor in a file.

    Raises
    ------
    ProgramError
        The file is missing or wrong; the message names the line and the key.
    """
    data = read_toml(file, ProgramError)
    try:
        settings = PostFile.model_validate(data)
    except ValidationError as problem:
        line = _line_at_fault(file.read_text(encoding="utf-8"), problem)
        where = f"{file}, line {line}" if line else str(file)
        first = problem.errors()[0]
        if not first["loc"]:
            message = str(first["msg"]).removeprefix("Value error, ")
            raise ProgramError(message, where=where, remedy="let the tables agree") from None
        settings = validate(PostFile, data, where, ProgramError)
    return PostProcessor(file.stem, settings, str(file))


def user_folder() -> Path:
    """Return the user's own folder of post-processors, which need not exist.

    ``CUTPLAN_POSTPROCESSORS`` names another one.
    """
    told = os.environ.get("CUTPLAN_POSTPROCESSORS")
    if told:
        return Path(told)
    if sys.platform == "win32":
        base = Path(os.environ.get("APPDATA") or Path.home() / "AppData" / "Roaming")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config")
    return base / "cutplan" / "postprocessors"


def _shipped_folder() -> Path:
    """Return the folder inside an installed package, or else the one in the checkout."""
    inside = _PACKAGE / "_postprocessors"
    return inside if inside.is_dir() else _PACKAGE.parent / "postprocessors"


def _files(folders: Sequence[Path]) -> Iterator[tuple[str, Path]]:
    for folder in folders:
        if folder.is_dir():
            yield from ((file.stem, file) for file in sorted(folder.glob("*.toml")))


def _registered() -> dict[str, EntryPoint]:
    return {point.name: point for point in entry_points(group=ENTRY_POINTS)}


def _names(folders: Sequence[Path | str]) -> list[str]:
    files = _files([*map(Path, folders), user_folder(), _shipped_folder()])
    return sorted({name for name, _ in files} | set(_registered()))


def _load(point: EntryPoint, folders: Sequence[Path | str]) -> PostProcessor:
    where = f"entry point {point.name} = {point.value}"
    try:
        kind = point.load()
    except (ImportError, AttributeError) as problem:
        raise ProgramError(
            f"cannot be loaded: {problem}", where=where, remedy="reinstall the package that registers it"
        ) from None
    if not (isinstance(kind, type) and issubclass(kind, PostProcessor)):
        raise ProgramError("is not a subclass of PostProcessor", where=where, remedy="register a subclass")
    if kind.settings_from == point.name:
        raise ProgramError(
            "takes its settings from itself", where=where, remedy="name a file in settings_from"
        )
    return kind(point.name, find_postprocessor(kind.settings_from, folders).settings, where)


def _unknown(name: str, folders: Sequence[Path | str]) -> ProgramError:
    names = _names(folders)
    close = difflib.get_close_matches(name, names, n=1)
    hint = f"did you mean {close[0]!r}? " if close else ""
    return ProgramError(
        f"there is no post-processor {name!r}", remedy=f"{hint}on offer: {', '.join(names) or 'none'}"
    )


def _line_at_fault(text: str, problem: ValidationError) -> int | None:
    """Return the line of the first error, counted from 1; None where no line can be named."""
    first = problem.errors()[0]
    message = str(first["msg"]).removeprefix("Value error, ")
    loc = [str(key) for key in first["loc"] if not isinstance(key, int)]
    if not loc and (named := re.match(r"([a-z_.]+): ", message)):
        loc = named[1].split(".")
    lines = text.splitlines()
    start = _line_of_key(lines, loc)
    quoted = re.search(r"'([^']+)'|\"([^\"]+)\"", message)
    if start is None or quoted is None or first["type"] != "value_error":
        return start
    wanted = quoted[1] or quoted[2]
    for number in range(start, len(lines) + 1):
        if wanted in lines[number - 1]:
            return number
    return start


def _line_of_key(lines: Sequence[str], loc: Sequence[str]) -> int | None:
    """Return the line of a key, or of the innermost table around it that stands in the file."""
    table: list[str] = []
    best: tuple[int, int] | None = None
    for number, line in enumerate(lines, start=1):
        header = re.match(r"\s*\[+\s*([\w.-]+)\s*\]+", line)
        if header:
            table = header[1].split(".")
            path = table
        elif assigned := re.match(r"\s*([\w.-]+)\s*=", line):
            path = table + assigned[1].split(".")
        else:
            continue
        depth = len(path)
        if list(loc[:depth]) == path and (best is None or depth > best[0]):
            best = (depth, number)
    return best[1] if best else None
