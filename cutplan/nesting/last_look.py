"""Last look at a nest before it leaves: gaps and edges measured on the drawn contours.

Shares no code with the search: distances between the true contours, arcs chorded finely.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Polygon

from cutplan.base.errors import ProofError
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Pose, to_polygon
from cutplan.nesting.model import NestGaps
from cutplan.stock import NestedPlate, Placement

__all__ = ["CHORD", "SLACK", "check_sheet", "in_hole", "placed_shapes"]

# Chords stand off the arcs by at most this, mm; a gap may come out smaller by twice as much.
CHORD = 0.0004
SLACK = 2.0 * CHORD + 1e-6


def check_sheet(sheet: NestedPlate, gaps: NestGaps, cache: dict[Part, Polygon] | None = None) -> None:
    """Measure every gap on a sheet.

    Raises
    ------
    ProofError
        If two parts, or a part and the edge or a keep-out, are closer than the gaps allow.
        That is a fault of the program, never of the input.
    """
    shapes = placed_shapes(sheet, {} if cache is None else cache)
    outline = to_polygon(sheet.plate.outline, tolerance=CHORD)
    clamp_gap = max(gaps.gap, gaps.clamp_gap)
    keepouts = [
        (to_polygon(k.outline, tolerance=CHORD), clamp_gap if k.stands else gaps.gap)
        for k in sheet.plate.keepouts
    ]
    keepouts += [(to_polygon(void, tolerance=CHORD), gaps.gap) for void in sheet.plate.voids]
    for shape, placement in zip(shapes, sheet.placements, strict=True):
        if not outline.covers(shape) or shape.distance(outline.exterior) < gaps.edge - SLACK:
            raise _fault(sheet, placement, "the plate's edge")
        for keepout, gap in keepouts:
            if shape.distance(keepout) < gap - SLACK:
                raise _fault(sheet, placement, "a keep-out")
    _check_pairs(sheet, shapes, gaps, shapely.STRtree(shapes))


def placed_shapes(sheet: NestedPlate, cache: dict[Part, Polygon]) -> list[Polygon]:
    """Return the parts of a sheet as polygons where they lie; `cache` keeps those as drawn."""
    shapes = []
    for placement in sheet.placements:
        if placement.part not in cache:
            part = placement.part
            cache[part] = to_polygon(part.outer, part.holes, tolerance=CHORD)
        shapes.append(_moved(cache[placement.part], placement.pose))
    return shapes


def _check_pairs(sheet: NestedPlate, shapes: Sequence[Polygon], gaps: NestGaps, tree: object) -> None:
    hole_gap = gaps.gap if gaps.hole_gap is None else gaps.hole_gap
    reach = max(gaps.gap, hole_gap, 1e-3)
    pairs: FloatArray = tree.query(shapes, predicate="dwithin", distance=reach)  # type: ignore[attr-defined]
    for a, b in pairs.T:
        if a >= b:
            continue
        inside = in_hole(shapes[a], shapes[b]) or in_hole(shapes[b], shapes[a])
        least = hole_gap if inside else gaps.gap
        apart = shapes[a].distance(shapes[b])
        if apart < least - SLACK or (apart <= 0.0 and shapes[a].intersection(shapes[b]).area > 1e-3):
            raise _fault(sheet, sheet.placements[a], f"part {sheet.placements[b].part.name!r}")


def in_hole(inner: Polygon, outer: Polygon) -> bool:
    """Return whether a shape lies within the outside of another that has holes."""
    return bool(outer.interiors) and Polygon(outer.exterior).covers(inner)


def _fault(sheet: NestedPlate, placement: Placement, other: str) -> ProofError:
    return ProofError(
        f"a nest came out wrong: part {placement.part.name!r} is too close to {other}",
        where=f"plate {sheet.plate.id!r}, sheet {sheet.sheet}",
        place=(placement.pose.x, placement.pose.y),
        remedy="please report this job; the nest was not used",
    )


def _moved(shape: Polygon, pose: Pose) -> Polygon:
    matrix = pose.matrix
    return shapely.transform(shape, lambda xy: xy @ matrix.T + np.array([pose.x, pose.y]))
