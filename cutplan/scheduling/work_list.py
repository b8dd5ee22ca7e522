"""Lists of work in CSV or XLSX: a row for each sheet or batch that a table cuts in one go."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

from cutplan.base.errors import CutplanError, InputError
from cutplan.base.files import error_of
from cutplan.base.names import checked_name
from cutplan.base.tables import Column, Row, decimal_mark, number, read_rows, whole_number
from cutplan.scheduling.model import Work

__all__ = ["WORK_COLUMNS", "read_works"]

_WORDS = {
    "name": "name, work, job, program, sheet, auftrag",
    "process": "process, cutting process, verfahren",
    "thickness": "thickness, thk, t, dicke, stärke",
    "length": "length, l, länge",
    "width": "width, w, breite",
    "minutes": "minutes, min, time, minuten",
    "due": "due, due date, needed, needed by, delivery, termin",
    "kit": "kit, assembly, set, baugruppe",
    "quantity": "quantity, qty, times, menge, anzahl",
    "mass": "mass, weight, masse, gewicht",
}
REQUIRED = {"name", "process", "thickness", "length", "width", "minutes"}
WORK_COLUMNS = tuple(
    Column(key, tuple(words.split(", ")), required=key in REQUIRED) for key, words in _WORDS.items()
)
DATE_FORMS = ("%Y-%m-%d", "%d.%m.%Y", "%Y-%m-%d %H:%M:%S")
PROCESSES = {"plasma": "plasma", "oxyfuel": "oxyfuel", "oxy-fuel": "oxyfuel", "flame": "oxyfuel"}
LONGEST_MIN, THICKEST_MM, LARGEST_MM, MOST_TIMES = 100_000.0, 500.0, 50_000.0, 10_000


def read_works(file: Path) -> tuple[Work, ...]:
    """Return the work of a list; one wanted several times is so many works.

    Parameters
    ----------
    file : Path

    Returns
    -------
    tuple of Work

    Raises
    ------
    InputError
        If the list cannot be read or a row is wrong; names each.
    """
    rows = read_rows(file, WORK_COLUMNS)
    figures = ("thickness", "length", "width", "minutes", "mass")
    mark = decimal_mark(row.cells.get(key, "") for row in rows for key in figures)
    works: list[Work] = []
    problems: list[tuple[str, str]] = []
    for row in rows:
        try:
            works += _works(row, mark)
        except CutplanError as problem:
            problems.append((f"row {row.line}: {problem.message}", problem.remedy or "mend the list"))
        except ValueError as problem:
            problems.append((f"row {row.line}: {problem}", "mend the list"))
    if problems:
        raise error_of(problems, str(file))
    return tuple(works)


def _works(row: Row, mark: str | None) -> list[Work]:
    cells = row.cells
    process = PROCESSES.get(cells["process"].strip().casefold())
    if process is None:
        raise InputError(f"process {cells['process']!r} is none", remedy="say plasma or oxyfuel")
    name, kit = checked_name(cells["name"]), cells.get("kit")
    times = whole_number(cells["quantity"], mark=mark) if cells.get("quantity") else 1
    if not 1 <= times <= MOST_TIMES:
        raise InputError(f"quantity {times} is none", remedy=f"give 1 to {MOST_TIMES}")
    mass = number(cells["mass"], mark=mark) if cells.get("mass") else 0.0
    work = Work(
        name, process,
        _figure(row, "thickness", mark, THICKEST_MM), _figure(row, "length", mark, LARGEST_MM),
        _figure(row, "width", mark, LARGEST_MM), _figure(row, "minutes", mark, LONGEST_MIN),
        due=_date(cells["due"]) if cells.get("due") else None,
        kits=(checked_name(kit),) if kit else (), mass_kg=mass,
    )  # fmt: skip
    if times == 1:
        return [work]
    return [_numbered(work, n) for n in range(1, times + 1)]


def _numbered(work: Work, n: int) -> Work:
    return replace(work, name=f"{work.name}-{n}")


def _figure(row: Row, key: str, mark: str | None, most: float) -> float:
    lengths = key != "minutes"
    value = number(row.cells[key], mark=mark, unit=row.units.get(key, "") if lengths else "", lengths=lengths)
    if not 0.0 < value <= most:
        raise InputError(f"{key} {value:g} is none", remedy=f"give a figure above 0, at most {most:g}")
    return value


def _date(text: str) -> date:
    for form in DATE_FORMS:
        try:
            return datetime.strptime(text, form).date()
        except ValueError:
            continue
    raise InputError(f"{text!r} is no date", remedy="write it as 2027-01-31 or 31.01.2027")
