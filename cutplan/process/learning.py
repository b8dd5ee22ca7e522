"""Cutting data learned from a shop's own readings: kerf, feeds and pierce times, with uncertainty.

A CSV of readings gives, for each thickness, the mean and the spread, each with the interval
that holds the truth 95 times of 100 where readings scatter normally (Student's t; chi-squared).
What the readings cannot tell is refused.

Terminology
-----------
reading : one row of the CSV: one piece measured, one pierce timed, one feed tried.
spread : standard deviation from reading to reading.
kerf reading : how much smaller an outside, or larger a hole, came out than its drawing, added
    to the kerf that the program allowed for.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from cutplan.base.errors import DataError, InputError
from cutplan.base.intervals import chi_squared, students_t
from cutplan.base.tables import Column, Row, decimal_mark, number, read_rows
from cutplan.geometry import FloatArray
from cutplan.process.table import CuttingTable

__all__ = ["Learned", "Quantity", "Readings", "learn", "read_readings", "with_learned"]

Quantity = Literal["kerf", "pierce_s", "feed_mm_min"]
CONFIDENCE = 0.95
FEWEST = 3
"""Readings at a thickness below which mean and spread say nothing of each other."""
MOST_UNCERTAIN = 0.25
"""Widest half of an interval, as a share of the value, that still tells a value."""
FARTHEST = 2.0
"""A reading more than this many times above or below the data's value is taken for a mistake."""
PIERCED_SHARE_Z = 1.645
"""Standard deviations above the mean that 95 of 100 pierces stay under (normal distribution)."""
COLUMNS = ("thickness", "nominal", "measured", "side", "kerf_set", "pierce_s", "feed_mm_min")
UNITS = {"kerf": "mm", "pierce_s": "s", "feed_mm_min": "mm/min"}
WORDS = {"kerf": "kerf", "pierce_s": "pierce time", "feed_mm_min": "feed"}


@dataclass(frozen=True)
class Readings:
    """Readings of one quantity.

    Attributes
    ----------
    quantity : {"kerf", "pierce_s", "feed_mm_min"}
    source : str
        File they were read from.
    thickness, value : ndarray, shape (n,)
        mm; in the unit of the quantity.
    line : tuple of int
        Line of each reading in the file.
    """

    quantity: Quantity
    source: str
    thickness: FloatArray
    value: FloatArray
    line: tuple[int, ...]


@dataclass(frozen=True)
class Learned:
    """What readings say of one quantity at one thickness.

    Attributes
    ----------
    quantity : {"kerf", "pierce_s", "feed_mm_min"}
    thickness : float
        mm.
    readings : int
    value : float
        Mean of the readings.
    low, high : float
        Interval that holds the true mean 95 times of 100.
    spread : float
        Standard deviation from reading to reading.
    spread_low, spread_high : float
        The same for the spread.
    before : float
        What the data said.
    """

    quantity: Quantity
    thickness: float
    readings: int
    value: float
    low: float
    high: float
    spread: float
    spread_low: float
    spread_high: float
    before: float

    @property
    def row_value(self) -> float:
        """What belongs in the row: the mean, or for a pierce the time that 95 of 100 take at most."""
        raw = self.value + (PIERCED_SHARE_Z * self.spread if self.quantity == "pierce_s" else 0.0)
        return float(f"{raw:.3g}")

    def summary(self) -> str:
        """Return a sentence on the value and how sure it is."""
        unit = UNITS[self.quantity]
        return (
            f"{self.thickness:g} mm: {WORDS[self.quantity]} {self.value:.4g} {unit} "
            f"({self.low:.4g} to {self.high:.4g}), spread {self.spread:.2g} "
            f"({self.spread_low:.2g} to {self.spread_high:.2g}), from {self.readings} readings; "
            f"the data have {self.before:.4g}"
        )


def read_readings(file: str | Path, table: CuttingTable) -> Readings:
    """Read a CSV of readings; its headings say of what.

    Kerf: ``thickness, nominal, measured`` and, where they differ from the usual, ``side``
    ("outside" or "inside") and ``kerf_set``, the kerf that the program allowed for (the
    data's own if left out).  Pierces: ``thickness, pierce_s``, the seconds until the jet broke
    through.  Feeds: ``thickness, feed_mm_min``, the feed at which a trial still cut clean.

    Parameters
    ----------
    file : str or Path
    table : CuttingTable
        The data that the readings belong to.

    Returns
    -------
    Readings

    Raises
    ------
    DataError
        Naming each line that is wrong: no number, outside the table's rows, or so far from
        the data that it must be misread.
    """
    path = Path(file)
    rows = read_rows(path, [Column(name, (name, name.replace("_", " "))) for name in COLUMNS])
    quantity = _quantity(rows[0] if rows else None, path)
    found: list[tuple[int, float, float]] = []
    wrong: list[str] = []
    for row in rows:
        try:
            found.append((row.line, *_reading(row, quantity, table)))
        except (ValueError, InputError) as problem:
            wrong.append(f"line {row.line}: {problem}")
    if wrong:
        raise DataError("; ".join(wrong), where=str(path), remedy="correct these lines, or strike them out")
    line, thickness, value = zip(*found, strict=True)
    return Readings(quantity, str(path), np.array(thickness), np.array(value), line)


def _quantity(row: Row | None, path: Path) -> Quantity:
    """Return what a file's headings say that it holds readings of."""
    names = set(row.cells) if row is not None else set()
    if "thickness" in names:
        if {"nominal", "measured"} <= names:
            return "kerf"
        for quantity in ("pierce_s", "feed_mm_min"):
            if quantity in names:
                return quantity
    raise DataError(
        "no readings",
        where=str(path),
        remedy="give a heading and rows: thickness,nominal,measured or thickness,pierce_s or thickness,feed_mm_min",
    )


def _reading(row: Row, quantity: Quantity, table: CuttingTable) -> tuple[float, float]:
    """Return thickness and value of a reading; ValueError says what is wrong with it."""

    def figure(key: str) -> float:
        value = number(row.cells.get(key, ""), mark=decimal_mark(row.cells.values()))
        if not (math.isfinite(value) and value > 0.0):
            raise ValueError(f"{key} must lie above 0, got {value:g}")
        return value

    thickness = figure("thickness")
    if not table.covers(thickness):
        raise ValueError(
            f"{thickness:g} mm lies outside the data, {table.thinnest:g} to {table.thickest:g} mm"
        )
    usual = float(getattr(table.at(thickness), quantity))
    if quantity == "kerf":
        side = row.cells.get("side", "") or "outside"
        if side not in ("outside", "inside"):
            raise ValueError(f"side must be outside or inside, got {side!r}")
        allowed = figure("kerf_set") if row.cells.get("kerf_set") else usual
        smaller = figure("nominal") - figure("measured")
        value = allowed + (smaller if side == "outside" else -smaller)
    else:
        value = figure(quantity)
    if not usual / FARTHEST <= value <= usual * FARTHEST:
        raise ValueError(
            f"a {WORDS[quantity]} of {value:.4g} {UNITS[quantity]} where the data have {usual:.4g}: misread?"
        )
    return thickness, value


def learn(readings: Readings, table: CuttingTable) -> tuple[Learned, ...]:
    """Return what readings say, thickness by thickness.

    Parameters
    ----------
    readings : Readings
    table : CuttingTable

    Returns
    -------
    tuple of Learned
        By thickness.

    Raises
    ------
    DataError
        Where a thickness has too few readings, or they scatter so much that they tell nothing.
    """
    return tuple(_learned(readings, float(thickness), table) for thickness in np.unique(readings.thickness))


def _learned(readings: Readings, thickness: float, table: CuttingTable) -> Learned:
    values = readings.value[readings.thickness == thickness]
    count = len(values)
    where = f"{readings.source}, {thickness:g} mm"
    if count < FEWEST:
        raise DataError(
            f"{count} readings cannot tell a {WORDS[readings.quantity]} and its spread",
            where=where,
            remedy=f"take {FEWEST} at least, better ten",
        )
    mean, spread = float(values.mean()), float(values.std(ddof=1))
    half = students_t(CONFIDENCE, count - 1) * spread / math.sqrt(count)
    if half > MOST_UNCERTAIN * mean:
        raise DataError(
            f"the readings tell a {WORDS[readings.quantity]} of {mean:.3g} only to ± {half:.2g} {UNITS[readings.quantity]}",
            where=where,
            remedy="take more readings, or find out why they scatter so",
        )
    tail = 0.5 * (1.0 - CONFIDENCE)
    scale = spread * math.sqrt(count - 1)
    return Learned(
        quantity=readings.quantity,
        thickness=thickness,
        readings=count,
        value=mean,
        low=mean - half,
        high=mean + half,
        spread=spread,
        spread_low=scale / math.sqrt(chi_squared(1.0 - tail, count - 1)),
        spread_high=scale / math.sqrt(chi_squared(tail, count - 1)),
        before=float(getattr(table.at(thickness), readings.quantity)),
    )


def with_learned(text: str, table: CuttingTable, learned: Sequence[Learned], note: str) -> str:
    """Return the text of a cutting-data file with what was learned in its rows.

    A thickness without a row gets one, its other columns interpolated.

    Parameters
    ----------
    text : str
        Of the file that `table` was read from.
    table : CuttingTable
    learned : sequence of Learned
    note : str
        Added to the file's `origin`.

    Returns
    -------
    str
    """
    names = list(table.columns)
    rows = {
        float(t): {name: float(table.columns[name][i]) for name in names}
        for i, t in enumerate(table.columns["thickness"])
    }
    for each in learned:
        row = rows.setdefault(each.thickness, {name: table.value_at(name, each.thickness) for name in names})
        row[each.quantity] = each.row_value
    head = text[: text.index("[table]")]
    origin = f"{table.origin}; {note}".replace("\\", "\\\\").replace('"', '\\"')
    head = re.sub(r"^origin\s*=.*$", lambda _: f'origin = "{origin}"', head, count=1, flags=re.MULTILINE)
    cells = [[f"{rows[t][name]:g}" for name in names] for t in sorted(rows)]
    widths = [max(len(line[i]) for line in cells) for i in range(len(names))]
    body = "\n".join(
        "    [" + ", ".join(cell.rjust(w) for cell, w in zip(line, widths, strict=True)) + "],"
        for line in cells
    )
    columns = "\n".join(f'    "{name}",' for name in names)
    return f"{head}[table]\ncolumns = [\n{columns}\n]\nrows = [\n{body}\n]\n"
