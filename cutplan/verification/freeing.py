"""What the kerf cuts loose, and when: the sweep of each run, the rings that close, the skeleton.

Terminology
-----------
sweep : what one run of the torch removes, as a polygon that is never larger than that.
ring : a hole in the union of sweeps; whatever metal lies in it is loose.
frame : everything outside the plate; a cut from edge to edge closes a ring with it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from cutplan.geometry import FloatArray, Path, chord_points
from cutplan.verification.burns import Runs
from cutplan.verification.strokes import IntArray, Strokes

__all__ = ["Freed", "chorded", "follow", "plate_polygon", "sweeps_of"]

# Chords of the torch's path and of the jet's circle stay this close, mm; sweeps are shrunk or
# grown by twice as much, so that they err to one side only.
CHORD_TOLERANCE = 0.005
FRAME_WIDTH = 1000.0  # mm; more than any edge start reaches out
LEAST_RING = 1e-6  # mm²; smaller holes of a union are rounding


@dataclass(frozen=True, eq=False)
class Freed:
    """What came loose, in order.

    Attributes
    ----------
    rings : list of shapely Polygon
        Rings as they close.
    by : ndarray of int64
        The run that closed each.
    removed : list of shapely Polygon
        The final unions of sweeps, apart from each other.
    """

    rings: list[Any]
    by: IntArray
    removed: list[Any]


def chorded(strokes: Strokes, tolerance: float = CHORD_TOLERANCE) -> FloatArray:
    """Return points along connected strokes, with chords no further off than a tolerance."""
    step = np.where(
        strokes.is_arc, 2.0 * np.arccos(np.clip(1.0 - tolerance / np.maximum(strokes.radius, 1e-9), -1, 1)), 1
    )
    counts = np.maximum(1, np.ceil(np.abs(strokes.sweep) / np.maximum(step, 1e-4))).astype(np.int64)
    rows = np.repeat(np.arange(len(strokes)), counts)
    number = np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts, counts)
    points = strokes[rows].at(number / counts[rows])
    return np.vstack([points, strokes.end[-1:]])


def plate_polygon(outline: Path, tolerance: float = 0.01) -> Any:
    """Return a plate's outline as a polygon."""
    return shapely.Polygon(chord_points(outline, tolerance))


def sweeps_of(runs: Runs, radius: float, *, grow: bool = False) -> list[Any]:
    """Return what each run removes: never more than that, or with `grow` never less."""
    # A chorded circle lies within the true one by radius (1 - cos(pi / 4n)).
    quarter = max(4, math.ceil(math.pi / 4.0 / math.acos(1.0 - CHORD_TOLERANCE / max(radius, 0.1))))
    size = radius + 2.0 * CHORD_TOLERANCE if grow else max(radius - CHORD_TOLERANCE, 0.1 * radius)
    lines = []
    for burn in runs.burns:
        own = runs.strokes[burn.strokes]
        lines.append(shapely.LineString(chorded(own)) if len(own) else shapely.Point(burn.pierce))
    return list(shapely.buffer(np.array(lines, dtype=object), size, quad_segs=quarter))


def follow(sweeps: list[Any], plate: Any) -> Freed:
    """Return what comes loose as sweeps are taken out of a plate one after the other.

    Sweeps that touch are joined; a hole of the joined shape that lies in no hole of its
    parts is a new ring.  Where cuts meet the plate's edge, the largest piece stays the plate.
    """
    if not sweeps:
        return Freed([], np.zeros(0, dtype=np.int64), [])
    frame = plate.envelope.buffer(FRAME_WIDTH, join_style="mitre").difference(plate)
    tree = shapely.STRtree(sweeps)
    touching: list[set[int]] = [set() for _ in sweeps]
    for a, b in zip(*tree.query(sweeps, predicate="intersects"), strict=True):
        if b < a:
            touching[int(a)].add(int(b))
    at_edge = set(tree.query(frame, predicate="intersects").tolist())
    joined = _Joined(frame)
    rings: list[Any] = []
    by: list[int] = []
    for index, sweep in enumerate(sweeps):
        fresh = joined.add(index, sweep, touching[index], index in at_edge)
        rings += fresh
        by += [index] * len(fresh)
    return Freed(rings, np.array(by, dtype=np.int64), list(joined.shapes.values()))


_FRAME = -1


class _Joined:
    """The unions of sweeps that touch, by the number of one of them; the frame's is -1."""

    def __init__(self, frame: Any) -> None:
        self.shapes: dict[int, Any] = {_FRAME: frame}
        self.number: list[int] = []

    def add(self, index: int, sweep: Any, touching: set[int], at_edge: bool) -> list[Any]:
        """Join a sweep to what it touches, and return the rings that this closes."""
        parts = {self.number[other] for other in touching} | ({_FRAME} if at_edge else set())
        old = [ring for part in parts for ring in _rings(self.shapes[part], part)]
        own = _FRAME if _FRAME in parts else index
        shape = shapely.union_all([sweep, *(self.shapes.pop(part) for part in parts)]) if parts else sweep
        self.shapes[own] = shape
        self.number = [own if number in parts else number for number in self.number] + [own]
        fresh = _rings(shape, own)
        if not old:
            return fresh
        return [ring for ring in fresh if not any(o.contains(ring.representative_point()) for o in old)]


def _rings(shape: Any, number: int) -> list[Any]:
    """Return the holes of a union; the frame's largest is the plate itself."""
    holes = [
        shapely.Polygon(ring)
        for polygon in shapely.get_parts(shape)
        if polygon.geom_type == "Polygon"
        for ring in polygon.interiors
    ]
    holes = [hole for hole in holes if hole.area > LEAST_RING]
    if number == _FRAME and holes:
        holes.remove(max(holes, key=lambda hole: hole.area))
    return holes
