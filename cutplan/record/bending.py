"""What plan.json says of how bent parts are bent: one record a part, one a stroke."""

from __future__ import annotations

from typing import Any, Self

from cutplan.forming import BendStroke, BendTable
from cutplan.record.shapes import Record, Rounded1, Rounded3

__all__ = ["BendTableRecord", "bend_table_record"]


class StrokeRecord(Record):
    """One stroke of the press brake."""

    n: int
    bend: int
    angle_deg: Rounded3
    direction: str
    turned_over: bool
    gauge_edge: str
    gauge_mm: Rounded1
    gauge_on: str
    radius_mm: Rounded3
    die_mm: float
    force_kn: Rounded1
    length_mm: Rounded1
    slide_out: bool

    @classmethod
    def of(cls, n: int, stroke: BendStroke) -> Self:
        """Return the record of a stroke."""
        own = {name: getattr(stroke, name) for name in cls.model_fields if name != "n"}
        return cls(n=n, **own)


class BendTableRecord(Record):
    """How a part is bent; without strokes where no order was found, as the findings say."""

    part: str
    thickness_mm: float
    grade: str
    strokes: tuple[StrokeRecord, ...]

    @classmethod
    def of(cls, table: BendTable) -> Self:
        """Return the record of a part's bend table."""
        strokes = tuple(StrokeRecord.of(n, stroke) for n, stroke in enumerate(table.strokes, start=1))
        return cls(part=table.part, thickness_mm=table.thickness, grade=table.grade, strokes=strokes)


def bend_table_record(table: BendTable) -> dict[str, Any]:
    """Return how a part is bent as plain data, as plan.json holds it.

    Parameters
    ----------
    table : BendTable

    Returns
    -------
    dict
    """
    return BendTableRecord.of(table).model_dump()
