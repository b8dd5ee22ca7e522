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
from cutplan.verification.strokes import BoolArray, IntArray, Strokes

__all__ = ["Freed", "follow", "plate_polygon", "sweeps_of"]

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
    in_scrap : ndarray of bool
        Of each run, whether it is planned to cut up the plate itself.
    """

    rings: list[Any]
    by: IntArray
    removed: list[Any]
    in_scrap: BoolArray


def _chord_starts(strokes: Strokes, tolerance: float) -> tuple[FloatArray, IntArray]:
    """Return where chords along strokes start, no further off than a tolerance, and the stroke of each."""
    step = np.where(
        strokes.is_arc, 2.0 * np.arccos(np.clip(1.0 - tolerance / np.maximum(strokes.radius, 1e-9), -1, 1)), 1
    )
    counts = np.maximum(1, np.ceil(np.abs(strokes.sweep) / np.maximum(step, 1e-4))).astype(np.int64)
    rows = np.repeat(np.arange(len(strokes)), counts)
    number = np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts, counts)
    return strokes[rows].at(number / counts[rows]), rows


def plate_polygon(outline: Path, tolerance: float = 0.01) -> Any:
    """Return a plate's outline as a polygon."""
    return shapely.Polygon(chord_points(outline, tolerance))


def sweeps_of(runs: Runs, radius: float, *, grow: bool = False) -> list[Any]:
    """Return what each run removes: never more than that, or with `grow` never less."""
    # A chorded circle lies within the true one by radius (1 - cos(pi / 4n)).
    quarter = max(4, math.ceil(math.pi / 4.0 / math.acos(1.0 - CHORD_TOLERANCE / max(radius, 0.1))))
    size = radius + 2.0 * CHORD_TOLERANCE if grow else max(radius - CHORD_TOLERANCE, 0.1 * radius)
    lines = np.array([shapely.Point(burn.pierce) for burn in runs.burns], dtype=object)
    points, rows = _chord_starts(runs.strokes, CHORD_TOLERANCE)
    moving = np.unique(runs.owner)
    lasts = np.array([runs.burns[burn].strokes.stop - 1 for burn in moving.tolist()], dtype=np.int64)
    # Each run's last point closes its chords.
    owner = np.concatenate([runs.owner[rows], moving])
    order = np.argsort(owner, kind="stable")
    points = np.vstack([points, runs.strokes.end[lasts]])[order]
    if len(moving):
        lines[moving] = shapely.linestrings(points, indices=np.searchsorted(moving, owner[order]))
    return list(shapely.buffer(lines, size, quad_segs=quarter))


def follow(sweeps: list[Any], plate: Any, in_scrap: BoolArray | None = None) -> Freed:
    """Return what comes loose as sweeps are taken out of a plate one after the other.

    Sweeps that touch are joined; a hole of the joined shape that lies in no hole of its
    parts is a new ring.  Where cuts meet the plate's edge, the largest piece stays the plate.
    """
    if in_scrap is None:
        in_scrap = np.zeros(len(sweeps), dtype=np.bool_)
    if not sweeps:
        return Freed([], np.zeros(0, dtype=np.int64), [], in_scrap)
    frame = plate.envelope.buffer(FRAME_WIDTH, join_style="mitre").difference(plate)
    tree = shapely.STRtree(sweeps)
    touching: list[set[int]] = [set() for _ in sweeps]
    for a, b in zip(*tree.query(sweeps, predicate="intersects"), strict=True):
        if b < a:
            touching[int(a)].add(int(b))
    at_edge = set(tree.query(frame, predicate="intersects").tolist())
    joined = _Joined(frame, _holes_of(sweeps))
    rings: list[Any] = []
    by: list[int] = []
    for index, sweep in enumerate(sweeps):
        fresh = joined.add(index, sweep, touching[index], index in at_edge)
        rings += fresh
        by += [index] * len(fresh)
    return Freed(rings, np.array(by, dtype=np.int64), list(joined.shapes.values()), in_scrap)


_FRAME = -1


class _Joined:
    """The unions of sweeps that touch, by the number of one of them; the frame's is -1.

    `alone` holds the rings of each sweep by itself.
    """

    def __init__(self, frame: Any, alone: list[list[Any]]) -> None:
        self.shapes: dict[int, Any] = {_FRAME: frame}
        self.rings: dict[int, list[Any]] = {_FRAME: _rings(frame, _FRAME)}
        self.number: list[int] = []
        self.alone = alone

    def add(self, index: int, sweep: Any, touching: set[int], at_edge: bool) -> list[Any]:
        """Join a sweep to what it touches, and return the rings that this closes."""
        parts = {self.number[other] for other in touching} | ({_FRAME} if at_edge else set())
        if not parts:
            self.shapes[index], self.rings[index] = sweep, self.alone[index]
            self.number.append(index)
            return self.alone[index]
        old = [ring for part in parts for ring in self.rings.pop(part)]
        own = _FRAME if _FRAME in parts else index
        shape = shapely.union_all([sweep, *(self.shapes.pop(part) for part in parts)])
        self.shapes[own] = shape
        self.number = [own if number in parts else number for number in self.number] + [own]
        self.rings[own] = fresh = _rings(shape, own)
        if not old:
            return fresh
        return [ring for ring in fresh if not any(o.contains(ring.representative_point()) for o in old)]


def _holes_of(sweeps: list[Any]) -> list[list[Any]]:
    """Return the holes of each sweep as polygons, rounding aside."""
    parts, sweep = shapely.get_parts(sweeps, return_index=True)
    rings, part = shapely.get_rings(parts, return_index=True)
    inner = np.zeros(len(rings), dtype=np.bool_)
    inner[1:] = part[1:] == part[:-1]
    holes = shapely.polygons(rings[inner])
    found: list[list[Any]] = [[] for _ in sweeps]
    for hole, index, area in zip(holes, sweep[part[inner]].tolist(), shapely.area(holes), strict=True):
        if area > LEAST_RING:
            found[index].append(hole)
    return found


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
