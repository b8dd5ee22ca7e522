"""What a proved program leaves of its plate, and which of it is worth keeping."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import shapely
from shapely.affinity import translate

from cutplan.control import Reading
from cutplan.geometry import place, to_polygon
from cutplan.process import CutData
from cutplan.stock import Lanes, NestedPlate, remnant_shapes
from cutplan.verification import offcuts, skeleton

__all__ = ["metal_left", "remnant_area"]

CHORD_MM = 0.01
"""How far a hole that was there before is taken larger than it is."""


def metal_left(
    read: Reading,
    run: NestedPlate,
    nested: NestedPlate,
    data: CutData,
    lanes: Lanes,
    *,
    rest_parted: bool = False,
) -> Any:
    """Return what a program leaves of a plate, as a polygon; never more than there is.

    Parameters
    ----------
    read : Reading
        The program.
    run : NestedPlate
        What one torch cuts: the whole, or the first lane.
    nested : NestedPlate
        The whole plate.
    data : CutData
    lanes : Lanes
        How torches side by side share the plate.
    rest_parted : bool
        The last cut parts the rest: only what comes off the table in one piece, with no part
        cut out of it, is left to keep.
    """
    left = skeleton(read, run, data)
    loose = offcuts(read, run, data)
    metal = shapely.union_all([left, *loose])
    if lanes.torches > 1:
        metal = _in_every_lane(metal, run, nested, lanes)
    if rest_parted:
        metal = _without_cut_outs(metal, run)
    gone = [to_polygon(void, tolerance=CHORD_MM, side="outside") for void in nested.plate.voids]
    return shapely.difference(metal, shapely.union_all(gone))


def _without_cut_outs(metal: Any, run: NestedPlate) -> Any:
    """Return the pieces of metal that no part was cut out of."""
    places = shapely.multipoints(
        [
            shapely.get_coordinates(
                to_polygon(place(p.part.outer, p.pose), tolerance=0.5).representative_point()
            )[0]
            for p in run.placements
        ]
    )
    pieces = shapely.get_parts(metal)
    return shapely.union_all(
        [piece for piece in pieces if not shapely.intersects(shapely.Polygon(piece.exterior), places)]
    )


def remnant_area(metal: Any, keep: Sequence[float]) -> float:
    """Return the area of the remnants worth keeping, mm²; none where no size is worth it."""
    if not keep:
        return 0.0
    shapes = remnant_shapes(metal, (keep[0], keep[-1]))
    return sum(
        float(shapely.area(to_polygon(shape.outline, tolerance=CHORD_MM)))
        - sum(float(shapely.area(to_polygon(void, tolerance=CHORD_MM))) for void in shape.voids)
        for shape in shapes
    )


def _in_every_lane(metal: Any, run: NestedPlate, nested: NestedPlate, lanes: Lanes) -> Any:
    """Return what is left of a plate whose lanes all lose what the first does."""
    lane, plate = (to_polygon(each.plate.outline, tolerance=CHORD_MM) for each in (run, nested))
    lost = shapely.difference(lane, metal)
    everywhere = [translate(lost, 0.0, shift) for shift in lanes.shifts]
    return shapely.difference(plate, shapely.union_all(everywhere))
