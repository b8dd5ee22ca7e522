"""What a part moved by hand comes too near to, measured on the drawn contours as the last look does."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import shapely

from cutplan.drawing import Part
from cutplan.geometry import to_polygon
from cutplan.nesting.last_look import CHORD, SLACK, in_hole, placed_shapes
from cutplan.nesting.model import NestGaps
from cutplan.stock import NestedPlate

__all__ = ["Conflict", "conflicts_on"]


@dataclass(frozen=True)
class Conflict:
    """Something that lies nearer to a part than the gaps allow.

    Attributes
    ----------
    row : int
        Index of the part's placement.
    what : {"part", "edge", "keep-out"}
    other : int or None
        Index of the other part's placement.
    apart_mm : float
        Metal between them; 0 where they touch or overlap.
    needed_mm : float
    place : tuple of float
        Where, on the plate, mm.
    """

    row: int
    what: Literal["part", "edge", "keep-out"]
    other: int | None
    apart_mm: float
    needed_mm: float
    place: tuple[float, float]


def conflicts_on(
    sheet: NestedPlate,
    gaps: NestGaps,
    rows: Collection[int] | None = None,
    *,
    shapes: dict[Part, Any] | None = None,
) -> list[Conflict]:
    """Return what some parts of a sheet lie too near to, the worst first.

    Parameters
    ----------
    sheet : NestedPlate
    gaps : NestGaps
    rows : collection of int, optional
        Placements that are looked at, all without it.
    shapes : dict, optional
        Views of parts, kept from one call to the next.

    Returns
    -------
    list of Conflict
    """
    placed = placed_shapes(sheet, {} if shapes is None else shapes)
    wanted = range(len(placed)) if rows is None else sorted(rows)
    found = [*_off_plate(sheet, gaps, placed, wanted), *_too_near(gaps, placed, wanted)]
    return sorted(found, key=lambda c: (c.apart_mm - c.needed_mm, c.row, c.other or -1))


def _off_plate(
    sheet: NestedPlate, gaps: NestGaps, placed: list[Any], rows: Collection[int]
) -> list[Conflict]:
    outline = to_polygon(sheet.plate.outline, tolerance=CHORD)
    clamp_gap = max(gaps.gap, gaps.clamp_gap)
    barred = [
        (to_polygon(k.outline, tolerance=CHORD), clamp_gap if k.stands else gaps.gap)
        for k in sheet.plate.keepouts
    ]
    barred += [(to_polygon(void, tolerance=CHORD), gaps.gap) for void in sheet.plate.voids]
    found = []
    for row in rows:
        shape = placed[row]
        inside = outline.covers(shape)
        apart = shape.distance(outline.exterior) if inside else 0.0
        if not inside or apart < gaps.edge - SLACK:
            found.append(Conflict(row, "edge", None, apart, gaps.edge, _between(shape, outline.exterior)))
        for keepout, gap in barred:
            apart = shape.distance(keepout)
            if apart < gap - SLACK:
                found.append(Conflict(row, "keep-out", None, apart, gap, _between(shape, keepout)))
    return found


def _too_near(gaps: NestGaps, placed: list[Any], rows: Collection[int]) -> list[Conflict]:
    hole_gap = gaps.gap if gaps.hole_gap is None else gaps.hole_gap
    reach = max(gaps.gap, hole_gap, 1e-3)
    tree = shapely.STRtree(placed)
    looked_at = np.array(list(rows), dtype=np.int64)
    if not len(looked_at):
        return []
    pairs = tree.query([placed[row] for row in looked_at], predicate="dwithin", distance=reach)
    found = []
    for k, b in pairs.T.tolist():
        a = int(looked_at[k])
        if a == b or (b in rows and b < a):
            continue
        one, other = placed[a], placed[b]
        least = hole_gap if in_hole(one, other) or in_hole(other, one) else gaps.gap
        apart = one.distance(other)
        if apart < least - SLACK or (apart <= 0.0 and one.intersection(other).area > 1e-3):
            found.append(Conflict(a, "part", b, apart, least, _between(one, other)))
    return found


def _between(one: Any, other: Any) -> tuple[float, float]:
    """Return a place between two shapes, in their overlap where there is one."""
    common = one.intersection(other)
    if not common.is_empty:
        where = common.representative_point()
        return (float(where.x), float(where.y))
    where = shapely.line_interpolate_point(shapely.shortest_line(one, other), 0.5, normalized=True)
    return (float(where.x), float(where.y))
