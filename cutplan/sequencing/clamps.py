"""Ways round what stands on the plate: clamps and weights that the torch must not meet.

A clamp bars the torch's tip from all places nearer to it than the torch's radius, at every
height that its own does not leave room above.  What the cutting frees is left to `ground`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.base.errors import SequencingError
from cutplan.base.machine import Machine
from cutplan.geometry import FloatArray, bounds, to_polygon
from cutplan.sequencing.ground import corners_of, shortest_way
from cutplan.stock import Plate

__all__ = ["Clamps", "clamps_on"]

CHORD_MM = 0.02
"""How far the chorded outline of a clamp may err, to the outside."""
ROUNDING_MM = 0.02
TURNING_MM = 0.5
"""How far outside the barred ground a way turns, mm."""

Point = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Clamps:
    """What bars the torch on one plate.

    Attributes
    ----------
    raised, low : ndarray of polygons
        Ground that its tip must keep off as it travels raised, and as it travels low.
    turning : ndarray, shape (n, 2)
        Places where a raised way may turn.
    """

    raised: NDArray[np.object_]
    low: NDArray[np.object_]
    turning: FloatArray

    def bar(self, starts: FloatArray, ends: FloatArray, *, raised: bool) -> NDArray[np.bool_]:
        """Return which straight ways are barred, shape (n,)."""
        barred = np.zeros(len(starts), dtype=np.bool_)
        ground = self.raised if raised else self.low
        if len(ground) and len(starts):
            lines = shapely.linestrings(np.stack([starts, ends], axis=1))
            barred[shapely.STRtree(ground).query(lines, predicate="intersects")[0]] = True
        return barred

    def way(self, start: Point, end: Point) -> FloatArray:
        """Return the shortest raised way, shape (k, 2).

        Raises
        ------
        SequencingError
            If there is none on the table's travel and within the plate's margin.
        """
        straight = np.array([start, end], dtype=np.float64)
        if not self.bar(straight[:1], straight[1:], raised=True)[0]:
            return straight
        for place in (start, end):
            if shapely.intersects_xy(self.raised, *place).any():
                raise SequencingError(
                    "a clamp stands nearer than the torch's radius",
                    place=place,
                    remedy="move the clamp or the machine's start, or say the clamp's height",
                )
        found = shortest_way(np.vstack([straight, self.turning]), self.raised, np.inf)
        if found is None:
            raise SequencingError(
                "the torch finds no way round the clamps",
                place=end,
                remedy="say how high they stand, or move one of them",
            )
        return found


def clamps_on(plate: Plate, machine: Machine) -> Clamps:
    """Return what bars a machine's torch on a plate."""
    radius = machine.torch_radius_mm
    high, low = (_outlines(plate, z) for z in (machine.travel_height_mm, machine.low_travel_height_mm))
    room = _room(plate, machine)
    turning = corners_of(shapely.simplify(high, TURNING_MM), radius + 2.0 * TURNING_MM)
    x0, y0, x1, y1 = room
    inside = (turning[:, 0] >= x0) & (turning[:, 0] <= x1) & (turning[:, 1] >= y0) & (turning[:, 1] <= y1)
    return Clamps(_grown(high, radius), _grown(low, radius), turning[inside])


def _outlines(plate: Plate, height: float) -> NDArray[np.object_]:
    """Return what bars a torch at a height, as polygons."""
    shapes: list[Any] = [
        to_polygon(keepout.outline, tolerance=CHORD_MM, side="outside")
        for keepout in plate.keepouts
        if keepout.bars(height)
    ]
    return np.array(shapes, dtype=object)


def _grown(shapes: NDArray[np.object_], radius: float) -> NDArray[np.object_]:
    return np.asarray(shapely.buffer(shapes, radius + ROUNDING_MM, quad_segs=16), dtype=object)


def _room(plate: Plate, machine: Machine) -> tuple[float, float, float, float]:
    """Return how far travel may reach: the margin round the plate, as far as the table goes."""
    x0, y0, x1, y1 = bounds(plate.outline)
    spare = [
        min(machine.plate_margin_mm, 0.5 * max(travel - size, 0.0))
        for travel, size in zip(machine.table, (x1 - x0, y1 - y0), strict=True)
    ]
    return x0 - spare[0], y0 - spare[1], x1 + spare[0], y1 + spare[1]
