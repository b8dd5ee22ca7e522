"""Lines and arcs as flat arrays, and exact distances between them.

The proof measures with this code alone; it shares none with the planning of paths.

Terminology
-----------
stroke : a line or arc, one row of `Strokes`.
pair : the same row of two arrays; all functions here take pairs and return a row each.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import FloatArray, Path

__all__ = [
    "BoolArray",
    "IntArray",
    "Strokes",
    "distance_to",
    "gap_between",
    "on_sweep",
    "strokes_of",
    "tight_boxes",
]

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

FULL_TURN = 2.0 * math.pi
# An arc's end may miss a candidate's angle by so much, rad, and still take it; the ends
# themselves are candidates too, so this only keeps rounding from losing a touch.
ANGLE_SLACK = 1e-12


@dataclass(frozen=True, eq=False)
class Strokes:
    """Lines and arcs, a row each.

    Attributes
    ----------
    start, end : ndarray, shape (n, 2)
    centre : ndarray, shape (n, 2)
        0 for lines.
    radius : ndarray, shape (n,)
        0 for lines.
    sweep : ndarray, shape (n,)
        Signed included angle, rad; 0 for lines.
    """

    start: FloatArray
    end: FloatArray
    centre: FloatArray
    radius: FloatArray
    sweep: FloatArray

    def __len__(self) -> int:
        return len(self.sweep)

    def __getitem__(self, rows: IntArray | BoolArray | slice) -> Strokes:
        return Strokes(
            self.start[rows], self.end[rows], self.centre[rows], self.radius[rows], self.sweep[rows]
        )

    @property
    def is_arc(self) -> BoolArray:
        """Which rows are arcs."""
        return np.asarray(self.sweep != 0.0)

    @property
    def length(self) -> FloatArray:
        """Lengths, mm."""
        chord = self.end - self.start
        return np.where(self.is_arc, self.radius * np.abs(self.sweep), np.hypot(chord[:, 0], chord[:, 1]))

    @property
    def first_angle(self) -> FloatArray:
        """Angle of the start as seen from the centre, rad."""
        spoke = self.start - self.centre
        return np.arctan2(spoke[:, 1], spoke[:, 0])

    def at(self, share: FloatArray) -> FloatArray:
        """Return the point of each row at a share of its length from 0 to 1."""
        angle = self.first_angle + share * self.sweep
        on_arc = self.centre + self.radius[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
        on_line = self.start + share[:, None] * (self.end - self.start)
        return np.where(self.is_arc[:, None], on_arc, on_line)

    def share_beside(self, points: FloatArray) -> FloatArray:
        """Return the share of each row's length at which it passes the point in its row.

        Beyond the ends of a line it is below 0 or above 1; beyond those of an arc above 1.
        """
        chord = self.end - self.start
        size = np.maximum(np.einsum("ij,ij->i", chord, chord), 1e-12)
        along = np.einsum("ij,ij->i", points - self.start, chord) / size
        spoke = points - self.centre
        turned = (np.arctan2(spoke[:, 1], spoke[:, 0]) - self.first_angle) * np.sign(self.sweep)
        sweep = np.where(self.is_arc, np.abs(self.sweep), 1.0)
        return np.where(self.is_arc, np.mod(turned, FULL_TURN) / sweep, along)

    def direction(self, *, at_end: bool) -> FloatArray:
        """Direction of travel at one end of each, rad."""
        chord = self.end - self.start
        spoke = (self.end if at_end else self.start) - self.centre
        across = np.arctan2(spoke[:, 1], spoke[:, 0]) + np.copysign(0.5 * math.pi, self.sweep)
        return np.asarray(np.where(self.is_arc, across, np.arctan2(chord[:, 1], chord[:, 0])))

    def boxes(self) -> FloatArray:
        """Return xmin, ymin, xmax, ymax that hold each row, shape (n, 4); tight for lines."""
        low, high = np.minimum(self.start, self.end), np.maximum(self.start, self.end)
        # An arc stays within its sagitta of its chord, and within its circle.
        half = np.minimum(np.abs(self.sweep) / 2.0, math.pi)
        bulge = np.where(self.is_arc, self.radius * (1.0 - np.cos(half)), 0.0)[:, None]
        long = (np.abs(self.sweep) > math.pi)[:, None]
        circle = self.radius[:, None]
        low = np.where(long, self.centre - circle, low - bulge)
        high = np.where(long, self.centre + circle, high + bulge)
        return np.column_stack([low, high])

    @staticmethod
    def joined(parts: list[Strokes]) -> Strokes:
        """Return the rows of several tables as one."""
        if not parts:
            nowhere, nothing = np.zeros((0, 2)), np.zeros(0)
            return Strokes(nowhere, nowhere, nowhere, nothing, nothing)
        return Strokes(
            np.vstack([p.start for p in parts]),
            np.vstack([p.end for p in parts]),
            np.vstack([p.centre for p in parts]),
            np.concatenate([p.radius for p in parts]),
            np.concatenate([p.sweep for p in parts]),
        )


def strokes_of(path: Path) -> Strokes:
    """Return the segments of a path."""
    s = path.segments
    arc = s.is_arc
    return Strokes(
        s.start,
        s.end,
        np.where(arc[:, None], s.centre, 0.0),
        np.where(arc, s.radius, 0.0),
        np.where(arc, s.sweep, 0.0),
    )


def on_sweep(strokes: Strokes, points: FloatArray, slack: float = ANGLE_SLACK) -> BoolArray:
    """Return whether each point lies in the angle that its arc sweeps."""
    spoke = points - strokes.centre
    turned = (np.arctan2(spoke[:, 1], spoke[:, 0]) - strokes.first_angle) * np.sign(strokes.sweep)
    turned = np.mod(turned, FULL_TURN)
    return np.asarray((turned <= np.abs(strokes.sweep) + slack) | (turned >= FULL_TURN - slack))


def tight_boxes(strokes: Strokes) -> FloatArray:
    """Return xmin, ymin, xmax, ymax of each row, shape (n, 4), exact to rounding for arcs too.

    An arc reaches furthest at an end, or where it crosses an axis through its centre.
    """
    points = [strokes.start, strokes.end]
    for way in ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)):
        furthest = strokes.centre + strokes.radius[:, None] * np.array(way)
        reached = strokes.is_arc & on_sweep(strokes, furthest)
        points.append(np.where(reached[:, None], furthest, strokes.start))
    return np.column_stack([np.min(points, axis=0), np.max(points, axis=0)])


def _span(a: FloatArray, b: FloatArray) -> FloatArray:
    return np.asarray(np.hypot(a[:, 0] - b[:, 0], a[:, 1] - b[:, 1]))


def distance_to(points: FloatArray, strokes: Strokes) -> FloatArray:
    """Return the distance of each point from the stroke in its row, mm, exact to rounding."""
    chord = strokes.end - strokes.start
    size = np.einsum("ij,ij->i", chord, chord)
    along = np.einsum("ij,ij->i", points - strokes.start, chord)
    share = np.clip(along / np.where(size > 0.0, size, 1.0), 0.0, 1.0)
    result = _span(points, strokes.start + share[:, None] * chord)
    arcs = np.flatnonzero(strokes.is_arc)
    if len(arcs):
        own, at = strokes[arcs], points[arcs]
        radial = np.abs(_span(at, own.centre) - own.radius)
        ends = np.minimum(_span(at, own.start), _span(at, own.end))
        result[arcs] = np.where(on_sweep(own, at), radial, ends)
    return result


def gap_between(a: Strokes, b: Strokes) -> tuple[FloatArray, FloatArray]:
    """Return the least distance of each pair of strokes, and where on the first one.

    Two strokes are nearest at an end of one of them, where they cross, or where they have a
    common normal; all such places are tried.

    Returns
    -------
    distances : ndarray, shape (n,)
    places : ndarray, shape (n, 2)
        On `a`, or where `b` ends next to it.
    """
    best = np.full(len(a), np.inf)
    place = a.start.copy()

    def offer(distances: FloatArray, places: FloatArray) -> None:
        better = distances < best
        best[better] = distances[better]
        place[better] = places[better]

    offer(distance_to(a.start, b), a.start)
    offer(distance_to(a.end, b), a.end)
    offer(distance_to(b.start, a), b.start)
    offer(distance_to(b.end, a), b.end)
    for rows, candidates in _inner_candidates(a, b):
        own = a[rows]
        on = np.where(own.is_arc, on_sweep(own, candidates), _on_line(own, candidates))
        good = on & np.isfinite(candidates).all(axis=1)
        distances = np.full(len(a), np.inf)
        distances[rows[good]] = distance_to(candidates[good], b[rows[good]])
        places = np.zeros((len(a), 2))
        places[rows] = candidates
        offer(distances, places)
    return best, place


def _on_line(lines: Strokes, points: FloatArray) -> BoolArray:
    chord = lines.end - lines.start
    along = np.einsum("ij,ij->i", points - lines.start, chord)
    return np.asarray((along >= 0.0) & (along <= np.einsum("ij,ij->i", chord, chord)))


def _inner_candidates(a: Strokes, b: Strokes) -> list[tuple[IntArray, FloatArray]]:
    """Return rows, and places on the first strokes' whole lines or circles, to try there."""
    found: list[tuple[IntArray, FloatArray]] = []
    with np.errstate(divide="ignore", invalid="ignore"):
        for first_arc in (False, True):
            for second_arc in (False, True):
                rows = np.flatnonzero((a.is_arc == first_arc) & (b.is_arc == second_arc))
                if not len(rows):
                    continue
                one, two = a[rows], b[rows]
                if first_arc and second_arc:
                    places = _circle_circle(one, two)
                elif first_arc:
                    places = _line_circle(two, one, on_line=False)
                elif second_arc:
                    places = _line_circle(one, two, on_line=True)
                else:
                    places = [_line_line(one, two)]
                found += [(rows, place) for place in places]
    return found


def _line_line(a: Strokes, b: Strokes) -> FloatArray:
    da, db = a.end - a.start, b.end - b.start
    cross = da[:, 0] * db[:, 1] - da[:, 1] * db[:, 0]
    gap = b.start - a.start
    share = (gap[:, 0] * db[:, 1] - gap[:, 1] * db[:, 0]) / np.where(cross == 0.0, np.nan, cross)
    return np.asarray(a.start + share[:, None] * da)


def _line_circle(line: Strokes, arc: Strokes, *, on_line: bool) -> list[FloatArray]:
    """Return where lines and circles cross, and where they are nearest, on one of the two."""
    chord = line.end - line.start
    unit = chord / np.hypot(chord[:, 0], chord[:, 1])[:, None]
    along = np.einsum("ij,ij->i", arc.centre - line.start, unit)
    foot = line.start + along[:, None] * unit
    aside = foot - arc.centre
    half = np.sqrt(arc.radius**2 - np.einsum("ij,ij->i", aside, aside))[:, None]
    crossings = [foot - half * unit, foot + half * unit]
    if on_line:
        return [*crossings, foot]
    normal = np.column_stack([-unit[:, 1], unit[:, 0]]) * arc.radius[:, None]
    return [*crossings, arc.centre + normal, arc.centre - normal]


def _circle_circle(a: Strokes, b: Strokes) -> list[FloatArray]:
    """Return where circles cross, and where they are nearest, on the first of them."""
    between = b.centre - a.centre
    apart = np.hypot(between[:, 0], between[:, 1])
    unit = between / np.where(apart == 0.0, np.nan, apart)[:, None]
    along = (apart**2 + a.radius**2 - b.radius**2) / (2.0 * apart)
    half = np.sqrt(a.radius**2 - along**2)[:, None]
    normal = np.column_stack([-unit[:, 1], unit[:, 0]])
    middle = a.centre + along[:, None] * unit
    radial = a.radius[:, None] * unit
    return [middle + half * normal, middle - half * normal, a.centre + radial, a.centre - radial]
