"""Lists as offices export them: headings in several words and units, figures in several forms.

Cells come from `sheets`.  Numbers may carry decimal commas, thousands marks and units; a figure that could be read two
ways is refused rather than guessed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from cutplan.base.errors import InputError
from cutplan.base.sheets import read_table
from cutplan.base.units import MM_PER_UNIT, unit_named

__all__ = [
    "Column",
    "Row",
    "RowProblem",
    "decimal_mark",
    "map_columns",
    "number",
    "read_rows",
    "refuse_thousands",
    "whole_number",
]

LONGEST_FIGURE = 40
"""Letters of a cell that may still be a figure with its unit."""
COUNT_UNITS = {"", "pcs", "pc", "ea", "each", "off", "stk", "st", "x", "×", "no", "nos"}
FIGURE = re.compile(r"^([+-]?[\d.,'\u00a0\u202f ]*\d)\s*([^\d\s].*)?$")
FRACTION = re.compile(r"^(?:(\d+)[\s-]+)?(\d+)/(\d+)\s*(.*)$")


@dataclass(frozen=True)
class Column:
    """A column that a list may have.

    Attributes
    ----------
    key : str
    headings : tuple of str
        Headings it goes by, small letters, without units.
    required : bool
    """

    key: str
    headings: tuple[str, ...]
    required: bool = False


@dataclass(frozen=True)
class Row:
    """One row of a list: its number in the file, its cells by column key, units by column key.

    `unread` are the list's headings that mean no column.
    """

    line: int
    cells: Mapping[str, str]
    units: Mapping[str, str]
    unread: tuple[str, ...] = ()


@dataclass(frozen=True)
class RowProblem:
    """What is wrong with one row of a list."""

    line: int
    message: str

    def __str__(self) -> str:
        return f"row {self.line}: {self.message}"


def read_rows(file: Path, columns: Sequence[Column]) -> tuple[Row, ...]:
    """Return the rows of a CSV or XLSX list, its headings mapped to columns.

    Parameters
    ----------
    file : Path
        The file.
    columns : sequence of Column
        What the list may hold.

    Returns
    -------
    tuple of Row

    Raises
    ------
    InputError
        If the file cannot be read or is larger than a list can be, or a required column is
        missing or there twice.
    """
    table = read_table(file)
    start = next((i for i, cells in enumerate(table) if sum(map(bool, cells)) > 1), None)
    if start is None:
        raise InputError("holds no table", where=str(file), remedy="give headings in the first row")
    mapped, units = map_columns(table[start], columns, file)
    unread = tuple(h for i, h in enumerate(table[start]) if h and i not in mapped.values())
    rows = []
    for index, cells in enumerate(table[start + 1 :], start=start + 2):
        if any(cells):
            named = {key: cells[i] if i < len(cells) else "" for key, i in mapped.items()}
            rows.append(Row(index, named, units, unread))
    return tuple(rows)


def map_columns(
    headings: Sequence[str], columns: Sequence[Column], file: Path
) -> tuple[dict[str, int], dict[str, str]]:
    """Return which cell holds which column, and the units that the headings state.

    Parameters
    ----------
    headings : sequence of str
        First row of the list.
    columns : sequence of Column
        What the list may hold.
    file : Path
        The file.

    Returns
    -------
    dict of str to int, and dict of str to str
        Index of the cell by column, and unit by column.

    Raises
    ------
    InputError
        If two headings mean the same column, or one that is needed is missing.
    """
    mapped: dict[str, int] = {}
    units: dict[str, str] = {}
    for index, heading in enumerate(headings):
        word, unit = _heading(heading)
        for column in columns:
            if word in column.headings or word == column.key:
                if column.key in mapped:
                    raise InputError(
                        f"two columns mean {column.key}: {headings[mapped[column.key]]!r} and {heading!r}",
                        where=str(file),
                        remedy="keep one of them",
                    )
                mapped[column.key] = index
                units[column.key] = unit
    missing = [column for column in columns if column.required and column.key not in mapped]
    if missing:
        known = ", ".join(word for word in missing[0].headings if word != missing[0].key)
        raise InputError(
            f"has no column for {missing[0].key}",
            where=str(file),
            remedy=f"name one of its headings: {missing[0].key}, {known}",
        )
    return mapped, units


def _heading(text: str) -> tuple[str, str]:
    """Part ``Thickness [mm]`` into its word and its unit."""
    word, _, rest = " ".join(text.split()).partition("[" if "[" in text else "(")
    unit = rest.rstrip(")] ") if rest else ""
    return re.sub(r"[\s_.]+", " ", word).strip(" :").lower(), unit.strip().lower()


def decimal_mark(texts: Iterable[str]) -> str | None:
    """Return the decimal mark that a list's figures agree on, None where none shows.

    Parameters
    ----------
    texts : iterable of str
        The cells.

    Returns
    -------
    str or None

    Raises
    ------
    InputError
        If some figures have decimal commas and others decimal points.
    """
    seen: dict[str, str] = {}
    for text in texts:
        found = FIGURE.match(text.strip())
        if not found:
            continue
        figure = found.group(1)
        marks = [mark for mark in figure if mark in ".,"]
        if not marks:
            continue
        last = marks[-1]
        decimals = len(figure) - figure.rindex(last) - 1
        if len(set(marks)) == 2 or (len(marks) == 1 and decimals != 3):
            seen.setdefault(last, text)
    if len(seen) == 2:
        raise InputError(
            f"some figures have decimal commas ({seen[',']!r}), others decimal points ({seen['.']!r})",
            remedy="export the list with one of them",
        )
    return next(iter(seen), None)


def number(text: str, *, mark: str | None = None, unit: str = "", lengths: bool = False) -> float:
    """Return the figure in a cell, in mm where `lengths` is set.

    Parameters
    ----------
    text : str
        "12", "12,5", "1.234,5", "3/8 in", "4 pcs".
    mark : str, optional
        Decimal mark of the list.
    unit : str
        Unit of the column, for figures that carry none.
    lengths : bool
        Whether the figure is a length.

    Returns
    -------
    float

    Raises
    ------
    InputError
        If it is no figure, its unit is unknown, or it could be read two ways.
    """
    words = text.strip()
    if len(words) > LONGEST_FIGURE:
        raise InputError(f"{words[:LONGEST_FIGURE]!r}… is not a number")
    fraction = FRACTION.match(words)
    if fraction:
        whole, top, bottom, own_unit = fraction.groups()
        if int(bottom) == 0:
            raise InputError(f"{text!r} divides by zero")
        value = int(whole or 0) + int(top) / int(bottom)
    else:
        found = FIGURE.match(words)
        if not found:
            raise InputError(f"{text!r} is not a number")
        value, own_unit = _figure(found.group(1), mark), found.group(2) or ""
    own_unit = own_unit.strip().lower().rstrip(".")
    if not lengths:
        if own_unit not in COUNT_UNITS:
            raise InputError(f"{text!r} has an unknown unit {own_unit!r}")
        return value
    try:
        return value * MM_PER_UNIT[unit_named(own_unit or unit or "mm")]
    except InputError as problem:
        raise InputError(f"{text!r} has an {problem.message}", remedy=problem.remedy) from None


def refuse_thousands(text: str, mark: str | None) -> None:
    """Refuse a figure like "1.500" where it may as well be one and a half thousand.

    Parameters
    ----------
    text : str
        The cell.
    mark : str or None
        Decimal mark of the list; None where it is not known.

    Raises
    ------
    InputError
        If the list does not tell which it is.
    """
    if mark is None and re.match(r"[+-]?[1-9][0-9]{0,2}[.,][0-9]{3}(?![0-9.,])", text.strip()):
        raise InputError(f"{text!r} could be read two ways", remedy="write it without a thousands mark")


def whole_number(text: str, *, mark: str | None = None) -> int:
    """Return the count in a cell.

    Parameters
    ----------
    text : str
        The cell.
    mark : str, optional
        Decimal mark of the list; None where it is not known.

    Returns
    -------
    int

    Raises
    ------
    InputError
        If it is no whole number, or could be read two ways.
    """
    refuse_thousands(text, mark)
    value = number(text, mark=mark)
    if value != int(value):
        raise InputError(f"{text!r} is no whole number")
    return int(value)


def _figure(figure: str, mark: str | None) -> float:
    plain = re.sub(r"['\u00a0\u202f ]", "", figure)
    marks = [m for m in plain if m in ".,"]
    if not marks:
        return float(plain)
    if len(set(marks)) == 2:
        mark = marks[-1]
    elif mark is None:
        decimals = len(plain) - plain.rindex(marks[-1]) - 1
        if len(marks) > 1 or (decimals == 3 and marks[0] == ","):
            raise InputError(f"{figure!r} could be read two ways", remedy="write it without a thousands mark")
        mark = marks[0]
    other = "," if mark == "." else "."
    plain = plain.replace(other, "")
    if plain.count(mark) > 1:
        raise InputError(f"{figure!r} is not a number")
    return float(plain.replace(mark, "."))
