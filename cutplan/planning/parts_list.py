"""Parts lists in CSV or XLSX as part entries of a job; their keys are those of ``[[part]]``."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from cutplan.base.errors import CutplanError, InputError, JobError
from cutplan.base.files import error_of
from cutplan.base.tables import Column, Row, decimal_mark, number, read_rows, whole_number

__all__ = ["COLUMNS", "PartList", "read_part_list"]

_WORDS = {
    "drawing": "drawing, dxf, dxf file, file, file name, drawing file, zeichnung",
    "quantity": "quantity, qty, pcs, pieces, count, off, menge, anzahl, stück, stückzahl",
    "thickness": "thickness, thk, t, plate, dicke, stärke",
    "grade": "grade, steel, steel grade, material grade, quality, werkstoff",
    "name": "name, part, part name, part no, part number, item, mark, teil",
    "material": "material, material group",
    "priority": "priority, prio",
    "due": "due, due date, needed, needed by, delivery, termin",
    "kit": "kit, assembly, set, baugruppe",
    "process": "process, cutting process, verfahren",
    "units": "units, unit, drawing units, einheit, einheiten",
    "rotations": "rotations, rotation, drehung",
    "mirror": "mirror, mirrored, may be mirrored, spiegeln",
    "filler": "filler, füllteil",
    "rolling_direction": "rolling_direction, rolling direction, walzrichtung",
}
REQUIRED = {"drawing", "quantity", "thickness", "grade"}
COLUMNS = tuple(
    Column(key, tuple(words.split(", ")), required=key in REQUIRED) for key, words in _WORDS.items()
)
TEXT_KEYS = ("drawing", "grade", "name", "material", "kit", "process", "units", "rolling_direction")
YES_NO = {"yes": True, "y": True, "true": True, "1": True, "x": True, "ja": True,
          "no": False, "n": False, "false": False, "0": False, "-": False, "nein": False}  # fmt: skip
DATE_FORMS = ("%Y-%m-%d", "%d.%m.%Y", "%Y-%m-%d %H:%M:%S")


@dataclass(frozen=True)
class PartList:
    """What a parts list holds.

    Attributes
    ----------
    entries : tuple of dict
        Part entries, ready to be validated.
    rows : tuple of int
        The row of the list that each comes from.
    unread : tuple of str
        Headings that mean nothing.
    """

    entries: tuple[dict[str, Any], ...]
    rows: tuple[int, ...]
    unread: tuple[str, ...]


def read_part_list(file: Path) -> PartList:
    """Return the part entries of a list.

    Lengths without a unit are mm, or the unit that the heading states.

    Raises
    ------
    JobError
        If the list cannot be read, or a row is wrong; names each wrong row.
    """
    try:
        rows = read_rows(file, COLUMNS)
        mark = decimal_mark(row.cells.get(key, "") for row in rows for key in ("thickness", "quantity"))
    except InputError as problem:
        raise JobError(problem.message, where=problem.where or str(file), remedy=problem.remedy) from None
    entries: list[dict[str, Any]] = []
    problems: list[tuple[str, str]] = []
    for row in rows:
        try:
            entries.append(_entry(row, mark))
        except CutplanError as problem:
            problems.append((f"row {row.line}: {problem.message}", problem.remedy or "mend the list"))
    if problems:
        raise error_of(problems, str(file), JobError)
    return PartList(tuple(entries), tuple(row.line for row in rows), rows[0].unread if rows else ())


def _entry(row: Row, mark: str | None) -> dict[str, Any]:
    entry: dict[str, Any] = {key: row.cells[key] for key in TEXT_KEYS if row.cells.get(key)}
    for key in ("drawing", "grade"):
        if key not in entry:
            raise InputError(f"{key} is empty")
    if not Path(entry["drawing"]).suffix:
        entry["drawing"] += ".dxf"
    entry["quantity"] = whole_number(row.cells["quantity"], mark=mark)
    entry["thickness"] = number(
        row.cells["thickness"], mark=mark, unit=row.units.get("thickness", ""), lengths=True
    )
    if row.cells.get("priority"):
        entry["priority"] = whole_number(row.cells["priority"], mark=mark)
    for key in ("mirror", "filler"):
        if row.cells.get(key):
            entry[key] = _yes_or_no(row.cells[key], key)
    if row.cells.get("rotations"):
        entry["rotations"] = _rotations(row.cells["rotations"])
    if row.cells.get("due"):
        entry["due"] = _date(row.cells["due"])
    return entry


def _yes_or_no(text: str, key: str) -> bool:
    if text.casefold() not in YES_NO:
        raise InputError(f"{key} {text!r} is neither yes nor no")
    return YES_NO[text.casefold()]


def _rotations(text: str) -> str | list[float]:
    """Return one of the words that a job file knows, or angles: "0 90", "0/180"."""
    if text.isalpha():
        return text.casefold()
    try:
        return [float(word) for word in re.split(r"[\s/;|]+", text.strip())]
    except ValueError:
        raise InputError(
            f"rotations {text!r} are no angles", remedy="write them as 0/90, or any, none, quarter, half"
        ) from None


def _date(text: str) -> date:
    for form in DATE_FORMS:
        try:
            return datetime.strptime(text, form).date()
        except ValueError:
            continue
    raise InputError(f"{text!r} is no date", remedy="write it as 2027-01-31 or 31.01.2027")
