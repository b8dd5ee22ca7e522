"""The file of edits: a small versioned text beside the plan, one edit a line, with what was undone."""

from __future__ import annotations

import json
import os
import re
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from pydantic import Field

from cutplan.base.errors import InputError, OutputError
from cutplan.base.files import FileModel, read_json, validate
from cutplan.base.names import Name
from cutplan.editing.model import Edit, SheetLaid, UnplacedRow

__all__ = ["EDITS_SCHEMA", "EditStart", "Edits", "read_edits", "write_edits"]

VERSION = 1
EDITS_SCHEMA = f"cutplan.edits/{VERSION}"
LARGEST = 50_000_000
"""Bytes of a file of edits; one edit takes about a hundred, a start of ten thousand parts about three million."""

MIGRATIONS: dict[int, Callable[[dict[str, Any]], dict[str, Any]]] = {}
"""By a version of the schema, what makes its content that of the next one."""


class EditStart(FileModel):
    """The nest that the edits begin from; without one they begin from what the job nests to.

    Attributes
    ----------
    sheets : list of tables
    unplaced : list of tables
    stopped : list of str
        What was told of a search that the user stopped.
    told : list of (str, str)
        What the nest told, each with what it is about.
    """

    sheets: tuple[SheetLaid, ...]
    unplaced: tuple[UnplacedRow, ...] = ()
    stopped: tuple[str, ...] = ()
    told: tuple[tuple[str, str], ...] = ()


class Edits(FileModel):
    """What was changed by hand in a job's plan.

    Attributes
    ----------
    schema : str
    job : str
        Name of the job.
    start : table or None
        The nest that the edits begin from.
    edits : list of tables
        In the order made.
    undone : list of tables
        Taken back, the last one first: `redo` makes them again.
    """

    form: str = Field(EDITS_SCHEMA, alias="schema", pattern=r"^cutplan\.edits/\d+$")
    job: Name
    start: EditStart | None = None
    edits: tuple[Edit, ...] = ()
    undone: tuple[Edit, ...] = ()

    def having(self, do: str, **keys: Any) -> Edits:
        """Return the edits with one more; what was undone is gone.

        Parameters
        ----------
        do : str
            Kind of the edit: "move", "turn", …
        **keys
            Its keys.

        Returns
        -------
        Edits

        Raises
        ------
        InputError
            If a key is missing, unknown or wrong.
        """
        return self.with_edit(edit_of({"do": do, **keys}))

    def with_edit(self, edit: Edit) -> Edits:
        """Return the edits with one more; what was undone is gone."""
        return self.model_copy(update={"edits": (*self.edits, edit), "undone": ()})

    def undo(self) -> Edits:
        """Return the edits without the last one.

        Raises
        ------
        InputError
            If there is none.
        """
        if not self.edits:
            raise InputError("there is no edit to undo")
        return self.model_copy(update={"edits": self.edits[:-1], "undone": (self.edits[-1], *self.undone)})

    def redo(self) -> Edits:
        """Return the edits with the one that was undone last.

        Raises
        ------
        InputError
            If none was undone.
        """
        if not self.undone:
            raise InputError("there is no undone edit to make again")
        return self.model_copy(update={"edits": (*self.edits, self.undone[0]), "undone": self.undone[1:]})


class _One(FileModel):
    edit: Edit


def edit_of(data: Mapping[str, Any]) -> Edit:
    """Return one edit from its keys.

    Parameters
    ----------
    data : mapping

    Returns
    -------
    Edit

    Raises
    ------
    InputError
        If a key is missing, unknown or wrong.
    """
    return validate(_One, {"edit": dict(data)}, "an edit", InputError).edit


def read_edits(file: str | Path) -> Edits:
    """Return the edits of a file; an older file is brought up to date, with a copy kept beside it.

    Parameters
    ----------
    file : str or Path

    Returns
    -------
    Edits

    Raises
    ------
    InputError
        If the file is missing, no file of edits, or of a newer version than this program knows.
    """
    path = Path(file)
    content = read_json(path, largest=LARGEST)
    if not isinstance(content, dict):
        raise InputError("is no file of edits", where=str(path), remedy="name one that cutplan wrote")
    found = re.fullmatch(r"cutplan\.edits/(\d{1,6})", str(content.get("schema")))
    if found is None:
        raise InputError(
            f"has the schema {str(content.get('schema'))[:60]!r}, a file of edits has {EDITS_SCHEMA!r}",
            where=str(path),
            remedy="name a file of edits",
        )
    version = int(found[1])
    if version > VERSION:
        raise InputError(
            f"has the schema {found[0]!r}; this program knows those up to {EDITS_SCHEMA!r}",
            where=str(path),
            remedy="use the version of cutplan that wrote it, or a later one",
        )
    older = content
    while version < VERSION:
        if version not in MIGRATIONS:
            raise InputError(f"has the schema {found[0]!r}, which no version had", where=str(path))
        content = {**MIGRATIONS[version](dict(content)), "schema": f"cutplan.edits/{version + 1}"}
        version += 1
    edits = validate(Edits, content, str(path))
    if older is not content:
        _keep_aside(path, int(found[1]))
        write_edits(edits, path)
    return edits


def _keep_aside(path: Path, version: int) -> None:
    aside = path.with_name(f"{path.name}.v{version}")
    try:
        aside.write_bytes(path.read_bytes())
    except OSError as problem:
        raise OutputError(
            f"cannot be written: {problem.strerror}", where=str(aside), remedy="free some space"
        ) from None


def write_edits(edits: Edits, file: str | Path) -> None:
    """Write edits into a file: it holds the old ones or the new ones, whatever happens.

    Parameters
    ----------
    edits : Edits
    file : str or Path

    Raises
    ------
    OutputError
        If the place cannot be written, or holds something that is no file of edits.
    """
    path = Path(file)
    _refuse_foreign(path)
    handle, name = -1, ""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(edits_text(edits))
            out.flush()
            os.fsync(out.fileno())
        os.replace(name, path)
    except OSError as problem:
        if name and os.path.exists(name):
            os.unlink(name)
        raise OutputError(
            f"cannot be written: {problem.strerror}", where=str(path), remedy="give another place"
        ) from None


def _refuse_foreign(path: Path) -> None:
    if not os.path.lexists(path):
        return
    try:
        with path.open(encoding="utf-8") as there:
            ours = re.search(r'"schema": ?"cutplan\.edits/\d+"', there.read(200)) is not None
    except (OSError, ValueError):
        ours = False
    if not ours or path.is_symlink():
        raise OutputError(
            "is no file of edits that cutplan wrote",
            where=str(path),
            remedy="move it away; nothing was touched",
        )


def edits_text(edits: Edits) -> str:
    """Return the text of a file of edits, an edit or a placement a line.

    Parameters
    ----------
    edits : Edits

    Returns
    -------
    str
    """
    plain = edits.model_dump(by_alias=True, mode="json", exclude_none=True)
    lines = [f' "schema": {_line(plain["schema"])}', f' "job": {_line(plain["job"])}']
    if edits.start is not None:
        lines.append(f' "start": {_start_text(plain["start"])}')
    lines += [f' "{key}": {_listed(plain[key])}' for key in ("edits", "undone")]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _start_text(start: dict[str, Any]) -> str:
    sheets = []
    for sheet in start["sheets"]:
        rows = {key: _listed(sheet[key], 3) for key in ("placements", "order")}
        head = _line({key: sheet[key] for key in ("plate", "sheet", "torches")})[:-1]
        sheets.append("  " + head + "".join(f', "{key}": {text}' for key, text in rows.items()) + "}")
    rest = "".join(f', "{key}": {_line(start[key])}' for key in ("unplaced", "stopped", "told"))
    return '{"sheets": [\n' + ",\n".join(sheets) + "\n ]" + rest + "}"


def _listed(rows: list[Any], depth: int = 2) -> str:
    if not rows:
        return "[]"
    return "[\n" + ",\n".join(" " * depth + _line(row) for row in rows) + "\n" + " " * (depth - 1) + "]"


def _line(value: Any) -> str:
    if isinstance(value, dict) and "do" in value:
        # What is done stands first.
        value = {"do": value["do"], **value}
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
