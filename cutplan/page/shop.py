"""The folder that the page works in: its jobs and drawings, and no path outside it."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

from cutplan.base.errors import InputError, OutputError
from cutplan.planning import Job, load_job, parse_job

__all__ = ["Shop", "new_job_text"]

DRAWINGS = (".dxf", ".svg", ".step", ".stp")
PLAIN_NAME = re.compile(r"[^\W_][\w .+-]{0,99}")
"""Of a file in the folder: letters, figures, and a few signs; no way into another folder."""


class Shop:
    """A folder with jobs.

    Parameters
    ----------
    folder : Path
    only : Path, optional
        The one job that is shown.
    """

    def __init__(self, folder: Path, only: Path | None = None) -> None:
        self.folder = folder.resolve()
        self.only = only

    def file(self, name: str, endings: tuple[str, ...]) -> Path:
        """Return the path of a file in the folder by its bare name.

        Raises
        ------
        InputError
            If the name leads elsewhere, or is of another kind.
        """
        path = self.folder / name
        if (
            not PLAIN_NAME.fullmatch(name)
            or name.endswith((" ", "."))
            or Path(name).suffix.lower() not in endings
            or path.parent != self.folder
            or path.is_symlink()
        ):
            raise InputError(
                f"{name[:80]!r} is no name for a file here",
                remedy=f"use a plain name that ends in {', '.join(endings)}",
            )
        return path

    def jobs(self) -> list[str]:
        """Return the names of the job files."""
        if self.only is not None:
            return [self.only.name]
        return sorted(
            path.name
            for path in self.folder.glob("*.toml")
            if path.is_file() and not path.is_symlink() and PLAIN_NAME.fullmatch(path.name) and _is_job(path)
        )

    def drawings(self) -> list[str]:
        """Return the names of the drawings in the folder."""
        return sorted(
            path.name for path in self.folder.iterdir()
            if path.suffix.lower() in DRAWINGS and path.is_file() and PLAIN_NAME.fullmatch(path.name)
        )  # fmt: skip

    def job(self, name: str) -> Job:
        """Return a job of the folder.

        Raises
        ------
        InputError
            If there is none of that name, or it is wrong.
        """
        path = self.file(name, (".toml",))
        if name not in self.jobs():
            raise InputError(f"there is no job {name!r} in the folder")
        return load_job(path)

    def add(self, name: str, content: bytes, endings: tuple[str, ...] = DRAWINGS) -> Path:
        """Put a new file into the folder; none that is there is touched.

        Raises
        ------
        InputError
            If the name leads elsewhere.
        OutputError
            If there is a file of that name.
        """
        path = self.file(name, endings)
        taken = {each.name.casefold() for each in self.folder.iterdir()}
        try:
            if name.casefold() in taken:
                raise FileExistsError
            handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        except FileExistsError:
            raise OutputError(
                f"there is a file {name!r} already", remedy="give it another name; nothing was touched"
            ) from None
        with os.fdopen(handle, "wb") as out:
            out.write(content)
        return path


def _is_job(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return re.search(rb"^\s*\[job\]", file.read(200_000), re.MULTILINE) is not None
    except OSError:
        return False


def new_job_text(data: Any, folder: Path) -> str:
    """Return the job file of what was filled in on the page.

    Parameters
    ----------
    data : mapping
        As a job file would hold it: job, machine, plate and part.
    folder : Path
        That the drawings lie in.

    Returns
    -------
    str

    Raises
    ------
    JobError
        If a key is missing or wrong.
    """
    if not isinstance(data, dict):
        raise InputError("a job is a table of keys")
    parse_job(data, folder / "new.toml")
    lines: list[str] = []
    for key in ("job", "machine", "cutting", "stock"):
        if key in data:
            lines += [f"[{key}]", *_keys(data[key]), ""]
    for key in ("plate", "part"):
        for entry in data.get(key, []):
            lines += [f"[[{key}]]", *_keys(entry), ""]
    return "\n".join(lines)


def _keys(table: dict[str, Any]) -> list[str]:
    return [f"{key} = {_value(value)}" for key, value in table.items()]


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    text = str(value)
    escaped = "".join(
        f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else "\\" + c if c in '"\\' else c for c in text
    )
    return f'"{escaped}"'
