"""What plan.json says of edges prepared for welding: one record for each prepared edge of a part."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Self

from cutplan.drawing import EdgePreparation, Part, groove_mm3, prepared_length
from cutplan.record.model import Plan
from cutplan.record.shapes import Record, Rounded2, Rounded3, Rounded4

__all__ = ["BevelRecord", "bevel_records"]


class BevelRecord(Record):
    """A prepared edge of a part, for each of its copies.

    `hole` is the index of the hole, null for the outside; `span_mm` says from where to where along
    the drawn contour, null for all of it.  `weld_cm3` is the volume that the weld has to fill on
    this edge's side.
    """

    part: str
    hole: int | None
    span_mm: tuple[Rounded4, Rounded4] | None
    kind: str
    angle_deg: Rounded3
    below_deg: Rounded3 | None = None
    land_mm: Rounded3
    side: str
    depth_mm: Rounded3 | None = None
    length_mm: Rounded2
    weld_cm3: Rounded3
    copies: int

    @classmethod
    def of(cls, part: Part, asked: EdgePreparation, thickness: float, copies: int) -> Self:
        """Return the record of a prepared edge."""
        return cls(
            part=part.name,
            hole=asked.hole,
            span_mm=asked.span,
            kind=asked.kind,
            angle_deg=asked.angle_deg,
            below_deg=asked.below_deg,
            land_mm=asked.land_mm,
            side=asked.side,
            depth_mm=asked.depth_mm,
            length_mm=prepared_length(part, asked),
            weld_cm3=groove_mm3(part, asked, thickness) * 1e-3,
            copies=copies,
        )


def bevel_records(plan: Plan) -> Iterator[BevelRecord]:
    """Yield the prepared edges of all parts that found a place.

    Parameters
    ----------
    plan : Plan

    Yields
    ------
    BevelRecord
    """
    found: dict[str, tuple[Part, float]] = {}
    counts: dict[str, int] = {}
    for sheet in plan.sheets:
        for placement in sheet.nested.placements:
            name = placement.part.name
            found.setdefault(name, (placement.part, sheet.nested.plate.thickness))
            counts[name] = counts.get(name, 0) + 1
    for name, (part, thickness) in found.items():
        for asked in part.bevels:
            yield BevelRecord.of(part, asked, thickness, counts[name])
