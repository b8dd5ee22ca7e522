"""Rows of a cutting-data file held against each other, and refused with their number."""

from __future__ import annotations

from cutplan.base.errors import DataError
from cutplan.geometry import FloatArray
from cutplan.process.table import CuttingTable

__all__ = ["refuse_contradictions", "refuse_open_holes", "row_of"]

WIDEST_STEP = 2.5
"""Greatest ratio of thickness from row to row that interpolation is trusted over."""
STEP_ALWAYS_ALLOWED_MM = 3.0


def row_of(source: str, number: int, thickness: float | None) -> str:
    """Return where a row stands, in words.

    Parameters
    ----------
    source : str
    number : int
        Counted from 1.
    thickness : float or None
        mm.
    """
    at = "" if thickness is None else f" ({thickness:g} mm)"
    return f"{source}, row {number}{at}"


def refuse_contradictions(columns: dict[str, FloatArray], source: str) -> None:
    """Refuse rows out of order, gaps too wide to interpolate over, and heights that clash.

    Parameters
    ----------
    columns : dict of str to ndarray
    source : str
        Name of the file.

    Raises
    ------
    DataError
        Naming the row.
    """
    thickness = columns["thickness"]
    for i in range(len(thickness)):
        where = row_of(source, i + 1, float(thickness[i]))
        if columns["pierce_height"][i] < columns["cut_height"][i]:
            raise DataError(
                "pierce_height below cut_height would drive the torch into the spatter",
                where=where,
                remedy="pierce from about twice the cutting height",
            )
        if i == 0:
            continue
        before = float(thickness[i - 1])
        if thickness[i] <= before:
            raise DataError(
                f"thickness does not rise ({before:g} mm stands in the row before)",
                where=where,
                remedy="sort the rows by thickness, each once",
            )
        if thickness[i] - before > STEP_ALWAYS_ALLOWED_MM and thickness[i] / before > WIDEST_STEP:
            raise DataError(
                f"a gap from {before:g} to {thickness[i]:g} mm is too wide to interpolate over",
                where=where,
                remedy="add a row between",
            )
        if columns["feed_mm_min"][i] > columns["feed_mm_min"][i - 1]:
            raise DataError(
                f"the feed rises from {columns['feed_mm_min'][i - 1]:g} to "
                f"{columns['feed_mm_min'][i]:g} mm/min on thicker plate",
                where=where,
                remedy="thicker plate cuts slower at the same setting",
            )


def refuse_open_holes(table: CuttingTable, source: str) -> None:
    """Refuse an arc that goes out before the hole is closed: what its tail cuts is no proof.

    Parameters
    ----------
    table : CuttingTable
    source : str
        Name of the file.

    Raises
    ------
    DataError
        Naming the row; or where a flame has an arc to put out.
    """
    for number, thickness in enumerate(table.columns["thickness"].tolist(), 1):
        data = table.at(thickness)
        if data.process == "oxyfuel" and data.rules.arc_off_before:
            raise DataError(
                "arc_off_before is of plasma only: a flame has no arc",
                where=source,
                remedy="take it out",
            )
        if data.rules.arc_off_before > data.rules.overburn:
            raise DataError(
                f"arc_off_before of {data.rules.arc_off_before:g} mm is longer than the over-burn of "
                f"{data.rules.overburn:g} mm: the arc would go out before the hole is closed",
                where=row_of(source, number, thickness),
                remedy="make overburn longer by as much",
            )
