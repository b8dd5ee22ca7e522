"""Closed contours: measured together, and checked for crossings, touching and doubling.

A drawing may hold tens of thousands of contours, so boxes and areas are computed for all at
once, and the exact tests run only where boxes come near each other.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.base.errors import DrawingError
from cutplan.drawing.chain import Chain
from cutplan.drawing.edges import Edges, edges_of
from cutplan.drawing.notes import Notes, at
from cutplan.drawing.options import ReadOptions
from cutplan.drawing.strokes import FULL_TURN, arc_rows
from cutplan.geometry import (
    FloatArray,
    Path,
    crossings,
    distance,
    nearest,
    point_at,
    reaches_within,
    recover_arcs,
    self_crossings,
)

__all__ = ["Contours", "sound_contours", "with_arcs"]

# Contours compared in one go, to bound the memory.
BATCH = 512
# Lines that turn by less than this, rad, at a vertex may be chords of an arc or one line.
SLIGHT_TURN = np.pi / 6.0
# Arcs whose centres and radii agree to this, mm, lie on one circle.
ONE_CIRCLE = 1e-3


class Contours:
    """Closed contours with the measures that the checks need.

    Parameters
    ----------
    chains : sequence of Chain
        Closed ones.
    """

    def __init__(self, chains: Sequence[Chain]) -> None:
        self.chains = list(chains)
        self._paths: dict[int, Path] = {}

    def __len__(self) -> int:
        return len(self.chains)

    def path(self, k: int) -> Path:
        """Return contour k as a path, in the direction it was drawn."""
        if k not in self._paths:
            self._paths[k] = Path(self.chains[k].rows, closed=True)
        return self._paths[k]

    def without(self, dropped: set[int]) -> Contours:
        """Return the contours but for those dropped."""
        if not dropped:
            return self
        return Contours([c for k, c in enumerate(self.chains) if k not in dropped])

    @cached_property
    def edges(self) -> Edges:
        """All segments; `stroke` is the number of the contour."""
        return edges_of(self.chains)

    @cached_property
    def counts(self) -> NDArray[np.int64]:
        """Number of segments of each contour, shape (n,)."""
        return np.array([len(c.rows) for c in self.chains], dtype=np.int64)

    @cached_property
    def firsts(self) -> NDArray[np.int64]:
        """Row of the first segment of each contour, shape (n,)."""
        return np.asarray(np.cumsum(self.counts) - self.counts)

    @cached_property
    def edge_boxes(self) -> FloatArray:
        """Box of each segment, exact with arcs, shape (n, 4)."""
        edges = self.edges
        low, high = np.minimum(edges.start, edges.end), np.maximum(edges.start, edges.end)
        arc = edges.bulge != 0.0
        toward = np.zeros_like(low)
        toward[arc] = (edges.middle[arc] - edges.centre[arc]) / edges.radius[arc, None]
        reach = np.cos(edges.half_turn)
        for axis in (0, 1):
            top = arc & (toward[:, axis] > reach)
            bottom = arc & (-toward[:, axis] > reach)
            high[top, axis] = np.maximum(high[top, axis], edges.centre[top, axis] + edges.radius[top])
            low[bottom, axis] = np.minimum(
                low[bottom, axis], edges.centre[bottom, axis] - edges.radius[bottom]
            )
        return np.column_stack([low, high])

    @cached_property
    def boxes(self) -> FloatArray:
        """Box of each contour, shape (n, 4)."""
        low = np.minimum.reduceat(self.edge_boxes[:, :2], self.firsts, axis=0)
        high = np.maximum.reduceat(self.edge_boxes[:, 2:], self.firsts, axis=0)
        return np.column_stack([low, high])

    @cached_property
    def areas(self) -> FloatArray:
        """Signed area of each contour, positive counter-clockwise, shape (n,)."""
        edges = self.edges
        # From a corner of its own, so that a part far from the origin loses no digits.
        corner = self.boxes[edges.stroke, :2]
        a, b = edges.start - corner, edges.end - corner
        sweep = 4.0 * np.arctan(edges.bulge)
        caps = np.where(edges.bulge != 0.0, 0.5 * edges.radius**2 * (sweep - np.sin(sweep)), 0.0)
        triangles = 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
        return np.asarray(np.add.reduceat(triangles + caps, self.firsts))

    @cached_property
    def lengths(self) -> FloatArray:
        """Length of each contour, mm, shape (n,)."""
        edges = self.edges
        along = np.where(edges.bulge != 0.0, 2.0 * edges.half_turn * edges.radius, edges.chord)
        return np.asarray(np.add.reduceat(along, self.firsts))

    @cached_property
    def turns(self) -> FloatArray:
        """Turn of direction at the start of each segment, rad, from −π to π, shape (n,)."""
        edges = self.edges
        chord = np.arctan2(*(edges.end - edges.start).T[::-1])
        half = 2.0 * np.arctan(edges.bulge)
        return np.asarray(
            np.remainder(chord - half - (chord + half)[self.previous] + np.pi, 2.0 * np.pi) - np.pi
        )

    @cached_property
    def previous(self) -> NDArray[np.int64]:
        """Row of the segment before each, round each contour, shape (n,)."""
        previous = np.arange(len(self.edges.bulge)) - 1
        previous[self.firsts] = np.append(self.firsts[1:], len(previous)) - 1
        return previous

    @cached_property
    def convex(self) -> NDArray[np.bool_]:
        """Which contours turn one way only and once round, and so cannot cross themselves."""
        half = 2.0 * np.arctan(self.edges.bulge)
        total = np.add.reduceat(self.turns + 2.0 * half, self.firsts)
        sign = np.sign(total)[self.edges.stroke]
        # A vertex that doubles back turns by half a turn, either way.
        wrong = (np.minimum(self.turns * sign, half * sign) < -1e-9) | (np.abs(self.turns) > 3.1)
        wayward = np.bitwise_or.reduceat(wrong, self.firsts)
        return np.asarray(~wayward & (np.abs(np.abs(total) - FULL_TURN) < 1e-6))

    @cached_property
    def pieced_circles(self) -> NDArray[np.bool_]:
        """Which contours are circles pieced together from more than two arcs."""
        edges = self.edges
        measures = np.column_stack([edges.centre, edges.radius])
        low = np.minimum.reduceat(measures, self.firsts, axis=0)
        high = np.maximum.reduceat(measures, self.firsts, axis=0)
        arcs = np.bitwise_and.reduceat(edges.bulge != 0.0, self.firsts)
        total = np.add.reduceat(4.0 * np.arctan(edges.bulge), self.firsts)
        whole = np.abs(np.abs(total) - FULL_TURN) < 1e-3
        return np.asarray(arcs & whole & (self.counts > 2) & ((high - low).max(axis=1) <= ONE_CIRCLE))

    @cached_property
    def smooth_lines(self) -> NDArray[np.bool_]:
        """Which contours have lines that follow each other with a slight turn or none."""
        straight = self.edges.bulge == 0.0
        slight = straight & straight[self.previous] & (np.abs(self.turns) < SLIGHT_TURN)
        return np.asarray(np.bitwise_or.reduceat(slight, self.firsts))


def with_arcs(contours: Contours, tolerance: float, notes: Notes) -> Contours:
    """Return contours with chords of arcs made arcs again, and lines in a row made one line.

    Arcs that make a whole circle become a circle of two.
    """
    if len(contours) == 0 or not (contours.smooth_lines.any() or contours.pieced_circles.any()):
        return contours
    chains = list(contours.chains)
    for k in np.flatnonzero(contours.pieced_circles).tolist():
        chains[k] = Chain(_circle(contours.path(k)), True, chains[k].sources)
    for k in np.flatnonzero(contours.smooth_lines).tolist():
        before, after = len(chains[k].rows), recover_arcs(contours.path(k), tolerance).vertices
        if len(after) < before:
            message = (
                f"{before} short lines and arcs in the contour of {chains[k].label} "
                f"were read as {len(after)}: "
                "chords of arcs as arcs, lines in a row as one"
            )
            notes.add("mended", "chords", message, at(after[0]))
            chains[k] = Chain(np.asarray(after), True, chains[k].sources)
    return Contours(chains)


def _circle(path: Path) -> FloatArray:
    segments = path.segments
    x, y = segments.centre.mean(axis=0)
    angle = math.atan2(float(segments.start[0, 1] - y), float(segments.start[0, 0] - x))
    turn = math.copysign(FULL_TURN, float(segments.sweep.sum()))
    return arc_rows((float(x), float(y)), float(segments.radius.mean()), angle, turn)


def sound_contours(contours: Contours, options: ReadOptions, notes: Notes) -> tuple[Contours, list[Chain]]:
    """Return contours that enclose an area and neither cross nor touch themselves or others.

    Doubled contours are reduced to one; all else that is wrong is refused with its place, and
    those refused are returned too.

    Raises
    ------
    DrawingError
        If contours lie deeper in each other than the limits allow.
    """
    if len(contours) == 0:
        return contours, []
    _check_depth(contours, options.limits.depth)
    crossing = _self_crossing(contours, notes)
    faulty = [contours.chains[k] for k in sorted(crossing)]
    contours = contours.without(crossing)
    flat = _empty(contours, options.tolerance, notes)
    faulty += [contours.chains[k] for k in sorted(flat)]
    contours = contours.without(flat)
    doubled, touching = _touching(contours, options.tolerance, notes)
    faulty += [contours.chains[k] for k in sorted(touching)]
    return contours.without(doubled), faulty


def _check_depth(contours: Contours, deepest: int) -> None:
    """Refuse contours that lie deeper in each other than any part: checks would go on for ever."""
    boxes = shapely.box(*contours.boxes.T)
    tree = shapely.STRtree(boxes)
    for batch in np.array_split(np.arange(len(boxes)), 1 + len(boxes) // BATCH):
        inner, outer = tree.query(boxes[batch])
        a, b = contours.boxes[batch][inner], contours.boxes[outer]
        held = (a[:, :2] >= b[:, :2]).all(axis=1) & (a[:, 2:] <= b[:, 2:]).all(axis=1)
        depth = np.bincount(inner[held], minlength=len(batch)) - 1
        if depth.max(initial=0) > deepest:
            k = int(batch[int(np.argmax(depth))])
            raise DrawingError(
                f"{int(depth.max())} contours lie around each other, more than {deepest}",
                place=at(contours.chains[k].rows[0]),
                remedy="save the part alone in a file, or raise limits.depth in the job",
            )


def _empty(contours: Contours, tolerance: float, notes: Notes) -> set[int]:
    if len(contours) == 0:
        return set()
    flat = np.flatnonzero(np.abs(contours.areas) < 0.5 * tolerance * contours.lengths).tolist()
    for k in flat:
        chain = contours.chains[k]
        message = f"the contour of {chain.label} encloses nothing"
        notes.add(
            "refused", "contours without area", message, at(chain.rows[0]), "draw it again or delete it"
        )
    return set(flat)


def _self_crossing(contours: Contours, notes: Notes) -> set[int]:
    bad: set[int] = set()
    for k in np.flatnonzero(~contours.convex).tolist():
        places = self_crossings(contours.path(k))
        if len(places):
            bad.add(k)
            more = f" and in {len(places) - 1} more places" if len(places) > 1 else ""
            message = f"the contour of {contours.chains[k].label} crosses or touches itself{more}"
            notes.add("refused", "contours that cross themselves", message, at(places[0]), "trim it there")
    return bad


def _touching(contours: Contours, tolerance: float, notes: Notes) -> tuple[set[int], set[int]]:
    """Return contours that double another, and crossing or touching ones, which are refused."""
    dropped: set[int] = set()
    refused: set[int] = set()
    if len(contours) < 2:
        return dropped, refused
    for a, b in _near_pairs(contours, tolerance):
        if a in dropped or b in dropped:
            continue
        first, second = contours.path(a), contours.path(b)
        if not reaches_within(first, second, tolerance):
            continue
        names = f"{contours.chains[a].label} and {contours.chains[b].label}"
        if _same(contours, a, b, tolerance):
            dropped.add(b)
            message = f"the contours of {names} are drawn on top of each other; one was kept"
            notes.add("mended", "doubled contours", message, at(contours.chains[b].rows[0]))
            continue
        refused |= {a, b}
        places = crossings(first, second)
        how = "cross" if len(places) > 1 else "touch"
        place = at(places[0]) if len(places) else _touch_place(first, second)
        remedy = "move them apart, or leave out the one that is not cut"
        notes.add("refused", "contours that meet", f"the contours of {names} {how}", place, remedy)
    return dropped, refused


def _near_pairs(contours: Contours, tolerance: float) -> list[tuple[int, int]]:
    """Return pairs of contours where a segment of one comes near the box of the other."""
    margin = np.array([-tolerance, -tolerance, tolerance, tolerance])
    tree = shapely.STRtree(shapely.box(*contours.edge_boxes.T))
    whole, segment = tree.query(shapely.box(*(contours.boxes + margin).T))
    owner = contours.edges.stroke[segment]
    # Both ways: where curves come near, each has a segment near the box of the other.
    pairs = np.unique(np.column_stack([whole, owner])[whole != owner], axis=0)
    forward = {(int(a), int(b)) for a, b in pairs}
    return sorted((a, b) for a, b in forward if a < b and (b, a) in forward)


def _same(contours: Contours, a: int, b: int, tolerance: float) -> bool:
    if np.abs(contours.boxes[a] - contours.boxes[b]).max() > 2.0 * tolerance:
        return False
    first, second = contours.path(a), contours.path(b)
    apart = max(distance(first, _samples(second)).max(), distance(second, _samples(first)).max())
    return bool(apart <= tolerance)


def _samples(path: Path) -> FloatArray:
    """Return the vertices of a path and the middles of its segments."""
    lengths = path.segments.length
    return np.vstack([path.points, point_at(path, np.cumsum(lengths) - 0.5 * lengths)])


def _touch_place(a: Path, b: Path) -> tuple[float, float]:
    """Return about where two contours come nearest, judged at their vertices and middles."""
    best: tuple[float, tuple[float, float]] = (np.inf, at(a.start))
    for one, other in ((a, b), (b, a)):
        points = _samples(one)
        apart = nearest(other, points)[0]
        k = int(np.argmin(apart))
        best = min(best, (float(apart[k]), at(points[k])))
    return best[1]
