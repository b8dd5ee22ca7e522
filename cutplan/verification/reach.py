"""Which stretches of a part's edge a round jet can cut clean, and what it must leave elsewhere.

Terminology
-----------
reachable : a point of an edge where a disc of the jet's radius touches it from the scrap
    without overlapping the part.
piece : a reachable stretch of an edge; at a convex corner, the corner alone.
zone : a stretch between pieces, at re-entrant corners: the jet leaves a fillet there.
post : a place where the jet's centre must stand to leave no more than the fillet of a zone.

The places where the jet's centre may run come from the exact offset of the edges; every piece
and zone is then tested against the drawn edges themselves, so that an error of the offset
makes the proof stricter, never laxer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cutplan.base.errors import GeometryError
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Path, direction_at, length, nearest, offset, oriented, point_at
from cutplan.verification.measure import BoxIndex
from cutplan.verification.strokes import Strokes, distance_to, strokes_of

__all__ = ["PartReach", "Zone", "part_reach"]

OUTER = -1
# Places nearer than this are the same, mm: far above rounding, far below the tolerance.
SAME_PLACE = 1e-5
ZONE_SAMPLES = 17
# Notches sharper than this are slots, not corners with a fillet (a choice of this proof).
SHARPEST_CORNER = math.radians(20.0)
SHARPEST_ROUNDED = math.radians(60.0)
# Depth over the corner's own fillet that still counts as that fillet: share, and mm.
FILLET_SHARE, FILLET_SLACK = 1.1, 0.05


@dataclass(frozen=True)
class Zone:
    """A zone with more metal left in it than a corner's fillet."""

    hole: int
    place: tuple[float, float]
    depth: float


@dataclass(frozen=True, eq=False)
class PartReach:
    """What a jet can reach of a part, in drawing coordinates.

    Attributes
    ----------
    pieces : Strokes
        Reachable stretches; points as lines without length.
    piece_hole : ndarray of int64
        Hole that each belongs to, -1 for the outside.
    posts : ndarray, shape (k, 2)
    post_hole : ndarray of int64
    narrow : tuple of Zone
        Slots and notches that the jet does not fit into.
    """

    pieces: Strokes
    piece_hole: np.ndarray
    posts: FloatArray
    post_hole: np.ndarray
    narrow: tuple[Zone, ...]


@lru_cache(maxsize=256)
def part_reach(part: Part, radius: float) -> PartReach:
    """Return what a round jet of a radius in mm can reach of a part's edges.

    The copies of a part, on all its sheets, share the result.
    """
    contours = [(OUTER, part.outer), *enumerate(part.holes)]
    found = [_contour_reach(path, hole, radius) for hole, path in contours]
    return PartReach(
        pieces=Strokes.joined([f.pieces for f in found]),
        piece_hole=np.concatenate([np.full(len(f.pieces), f.hole) for f in found]),
        posts=np.vstack([f.posts for f in found]),
        post_hole=np.concatenate([np.full(len(f.posts), f.hole) for f in found]),
        narrow=tuple(zone for f in found for zone in f.narrow),
    )


@dataclass(frozen=True, eq=False)
class _ContourReach:
    hole: int
    pieces: Strokes
    posts: FloatArray
    narrow: list[Zone]


def _contour_reach(contour: Path, hole: int, radius: float) -> _ContourReach:
    path = oriented(contour)
    side = 1.0 if hole == OUTER else -1.0
    try:
        loops = offset(path, side * radius)
    except GeometryError:
        loops = []
    edges = strokes_of(path)
    if not loops:
        if hole == OUTER:
            return _ContourReach(hole, edges, np.zeros((0, 2)), [])
        x, y = point_at(path, [0.0])[0].tolist()
        return _ContourReach(hole, edges, np.zeros((0, 2)), [Zone(hole, (x, y), radius)])
    centres = Strokes.joined([strokes_of(loop) for loop in loops])
    pieces = _towards_part(centres, side, radius)
    if not _holds(pieces, centres, edges, radius):
        return _ContourReach(hole, edges, np.zeros((0, 2)), [])
    posts = _posts(loops, side, radius)
    more, narrow = _zones(path, edges, pieces, posts, hole, side, radius)
    return _ContourReach(hole, Strokes.joined([pieces, *more]), posts, narrow)


def _towards_part(centres: Strokes, side: float, radius: float) -> Strokes:
    """Return the stretches of edge that a jet touches while its centre runs along strokes.

    The part lies left of the centre's run round its outside, right of the run in a hole.
    """
    shift = side * radius

    def moved(points: FloatArray, at_end: bool) -> FloatArray:
        chord = centres.end - centres.start
        heading = np.arctan2(chord[:, 1], chord[:, 0])
        spoke = points - centres.centre
        on_arc = np.arctan2(spoke[:, 1], spoke[:, 0]) + np.sign(centres.sweep) * 0.5 * math.pi
        normal = np.where(centres.is_arc, on_arc, heading) + 0.5 * math.pi
        return np.asarray(points + shift * np.column_stack([np.cos(normal), np.sin(normal)]))

    edge_radius = np.where(centres.is_arc, centres.radius - shift * np.sign(centres.sweep), 0.0)
    is_point = centres.is_arc & (np.abs(edge_radius) < SAME_PLACE)
    start, end = moved(centres.start, False), moved(centres.end, True)
    start[is_point] = end[is_point] = centres.centre[is_point]
    sweep = np.where(is_point, 0.0, centres.sweep)
    arc = sweep != 0.0
    return Strokes(
        start,
        end,
        np.where(arc[:, None], centres.centre, 0.0),
        np.where(arc, edge_radius, 0.0),
        sweep,
    )


def _against(points: FloatArray, edges: BoxIndex, strokes: Strokes, radius: float) -> FloatArray:
    """Return the distance of each point from the nearest edge; inf where it is over a radius."""
    point, edge = edges.pairs(np.column_stack([points, points]), radius + SAME_PLACE)
    distances = np.full(len(points), np.inf)
    np.minimum.at(distances, point, distance_to(points[point], strokes[edge]))
    return distances


def _holds(pieces: Strokes, centres: Strokes, edges: Strokes, radius: float) -> bool:
    """Tell whether pieces lie on the drawn edges, and the centres' run clear of them."""
    index = BoxIndex(edges.boxes())
    for share in (0.0, 0.37, 0.71, 1.0):
        at = np.full(len(pieces), share)
        if (_against(pieces.at(at), index, edges, radius) > SAME_PLACE).any():
            return False
        if (_against(centres.at(at), index, edges, radius) < radius - SAME_PLACE).any():
            return False
    return True


def _posts(loops: list[Path], side: float, radius: float) -> FloatArray:
    """Return the vertices of the centre's run where it turns on the spot: the zones' posts."""
    places: list[FloatArray] = []
    for loop in loops:
        strokes = strokes_of(loop)
        feet = _towards_part(strokes, side, radius)
        apart = np.hypot(*(np.roll(feet.end, 1, axis=0) - feet.start).T)
        places.append(strokes.start[apart > SAME_PLACE])
    return np.vstack(places)


def _zones(
    path: Path,
    edges: Strokes,
    pieces: Strokes,
    posts: FloatArray,
    hole: int,
    side: float,
    radius: float,
) -> tuple[list[Strokes], list[Zone]]:
    """Return stretches outside all pieces that are reachable after all, and narrow zones."""
    total = length(path)
    index = BoxIndex(edges.boxes())
    corners = _Corners(path, side, radius)
    more: list[Strokes] = []
    narrow: list[Zone] = []
    for first, last in _uncovered(path, pieces, total):
        at = np.linspace(first, last, ZONE_SAMPLES)
        points = point_at(path, at)
        heading = direction_at(path, at)
        scrap = side * np.column_stack([heading[:, 1], -heading[:, 0]])
        inner = slice(1, -1)
        centres = points[inner] + radius * scrap[inner]
        touching = _against(centres, index, edges, radius) >= radius - SAME_PLACE
        if touching.any():
            good = points[inner][touching]
            more.append(_as_points(good))
        if not len(posts):
            continue
        gaps = np.hypot(points[:, None, 0] - posts[:, 0], points[:, None, 1] - posts[:, 1]).min(axis=1)
        depth = float(gaps.max() - radius)
        if depth > FILLET_SHARE * corners.fillet(first, last) + FILLET_SLACK:
            x, y = points[int(gaps.argmax())].tolist()
            narrow.append(Zone(hole, (x, y), depth))
    return more, narrow


def _as_points(points: FloatArray) -> Strokes:
    nothing = np.zeros(len(points))
    return Strokes(points, points, np.zeros_like(points), nothing, nothing)


def _uncovered(path: Path, pieces: Strokes, total: float) -> list[tuple[float, float]]:
    """Return the stretches of a contour, by arc-length, that no piece covers."""
    long = pieces[pieces.length > SAME_PLACE]
    if not len(long):
        return [(0.0, total)]
    middles = nearest(path, long.at(np.full(len(long), 0.5)))[1]
    spans = sorted(
        ((m - 0.5 * n) % total, n) for m, n in zip(middles.tolist(), long.length.tolist(), strict=True)
    )
    found: list[tuple[float, float]] = []
    reached = spans[0][0]
    origin = reached
    for start, size in spans:
        if start > reached + 2.0 * SAME_PLACE:
            found.append((reached, start))
        reached = max(reached, start + size)
    if origin + total > reached + 2.0 * SAME_PLACE:
        found.append((reached, origin + total))
    return found


class _Corners:
    """The corners and concave arcs of a contour, as seen from the scrap."""

    def __init__(self, path: Path, side: float, radius: float) -> None:
        s = path.segments
        self.jet = radius
        self.size = s.length
        self.end = np.cumsum(s.length)
        self.total = float(self.end[-1])
        self.sweep = -side * s.sweep
        self.radius = s.radius
        chord = s.end - s.start
        heading = np.arctan2(chord[:, 1], chord[:, 0])
        # An arc's ends turn half its sweep away from its chord.
        before = heading + 0.5 * s.sweep
        behind = np.roll(heading - 0.5 * s.sweep, -1)
        self.turn = -side * ((behind - before + math.pi) % (2.0 * math.pi) - math.pi)

    def fillet(self, first: float, last: float) -> float:
        """Return the depth of the fillet that the sharpest corner of a stretch explains, mm.

        A jet of radius r leaves r / sin(angle / 2) - r in a corner of the scrap.
        """
        deepest, turned = 0.0, 0.0
        for lap in (0.0, self.total):
            low, high = first - lap, last - lap
            start = int(np.searchsorted(self.end, low - SAME_PLACE))
            stop = int(np.searchsorted(self.end, high + SAME_PLACE, side="right"))
            for index in range(start, min(stop + 1, len(self.end))):
                end, size, sweep = self.end[index], self.size[index], self.sweep[index]
                inside = min(end, high) - max(end - size, low)
                if inside > SAME_PLACE and sweep > 0.0:
                    turned += float(sweep * inside / size)
                    rest = max(0.0, self.jet - float(self.radius[index]))
                    deepest = max(deepest, _corner_depth(math.pi - sweep, rest, SHARPEST_ROUNDED))
                if index < stop and self.turn[index] > 0.0:
                    turned += float(self.turn[index])
                    depth = _corner_depth(math.pi - self.turn[index], self.jet, SHARPEST_CORNER)
                    deepest = max(deepest, depth)
        if turned <= math.pi - SHARPEST_ROUNDED:
            deepest = max(deepest, _corner_depth(math.pi - turned, self.jet, SHARPEST_ROUNDED))
        return deepest


def _corner_depth(angle: float, radius: float, sharpest: float) -> float:
    return radius / math.sin(0.5 * max(angle, sharpest)) - radius
