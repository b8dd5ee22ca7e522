"""The torch's way round each contour as the drawing asks for it, and where it runs slower on it.

What a corner, a tight arc or a straight is comes from the drawing alone, so a program is held
to it however it is written: in arcs, in short lines, or offset by the control.

Terminology
-----------
way : a contour's exact offset by half the kerf into the scrap.
place : how far along a way, mm; all ways lie one after another on one scale, each with a lap of
    its own before and behind it, so that a stroke over a way's start has one stretch of places.
stop : a place where the feed changes.
followed : a stroke that runs on a way all along.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import GeometryError
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Path, offset, oriented
from cutplan.process import SHARP_CORNER_DEG, Rules
from cutplan.verification.measure import BoxIndex
from cutplan.verification.placed import PlacedParts, placed_strokes
from cutplan.verification.strokes import BoolArray, IntArray, Strokes, distance_to, strokes_of

__all__ = ["ON_WAY", "Followed", "Ways", "follow_ways", "on_two_ways", "ways_round"]

# A stroke this near to a way runs on it, mm.
ON_WAY = 0.06
# A part is stored to rounding: a turn or a radius that just meets its limit may be either.
ANGLE_STEP, RADIUS_STEP = 1e-4, 1e-4
GAP = 1.0  # mm between the laps of two ways


@dataclass(frozen=True, eq=False)
class Ways:
    """Ways as strokes in their order, and the factors on the feed along them.

    Attributes
    ----------
    strokes : Strokes
        Each way counter-clockwise as drawn.
    place : ndarray, shape (n,)
        Of each stroke's start.
    contour : ndarray of int64, shape (n,)
        Contour of each stroke: of one part the hole (-1 for the outside), of a sheet its number.
    part_on_right : ndarray of bool, shape (n,)
        Seen along the way.
    once : mapping of int to float
        Length of a contour's way, mm; of several ways in one hole the longest.
    stops : ndarray, shape (k,)
    least, most : ndarray, shape (k,)
        Factors on the feed from each stop to the next: they differ where rounding hides which
        holds.
    unrounded : ndarray, shape (k,)
        The same as `most` where the torch does not run round the part's corners on arcs.
    span : float
        Length of the whole scale, mm.
    """

    strokes: Strokes
    place: FloatArray
    contour: IntArray
    part_on_right: BoolArray
    once: dict[int, float]
    stops: FloatArray
    least: FloatArray
    most: FloatArray
    unrounded: FloatArray
    span: float


@dataclass(frozen=True, eq=False)
class Followed:
    """Which contour each stroke of the torch follows, and where.

    Attributes
    ----------
    contour : ndarray of int64, shape (n,)
        -1 for none.
    place : ndarray, shape (n,)
        Of the stroke's middle.
    part_on_right : ndarray of bool, shape (n,)
        Seen along the torch's travel.
    """

    contour: IntArray
    place: FloatArray
    part_on_right: BoolArray

    @property
    def there(self) -> BoolArray:
        """Whether a stroke follows any contour."""
        return np.asarray(self.contour >= 0)


def ways_round(parts: PlacedParts, radius: float, rules: Rules) -> Ways:
    """Return the ways round all contours of a sheet."""
    placements = parts.sheet.placements
    own = [_part_ways(placement.part, radius, rules) for placement in placements]
    spans = np.array([ways.span for ways in own])
    begins = (np.cumsum(spans) - spans).tolist()
    firsts = (parts.first_contour + 1).tolist()
    return Ways(
        strokes=Strokes.joined(
            [placed_strokes(w.strokes, p.pose) for w, p in zip(own, placements, strict=True)]
        ),
        place=_stacked([w.place + begin for w, begin in zip(own, begins, strict=True)]),
        contour=_stacked([w.contour + first for w, first in zip(own, firsts, strict=True)]).astype(np.int64),
        part_on_right=_stacked(
            [w.part_on_right ^ p.pose.mirrored for w, p in zip(own, placements, strict=True)]
        ).astype(np.bool_),
        once={
            hole + first: size for w, first in zip(own, firsts, strict=True) for hole, size in w.once.items()
        },
        stops=_stacked([w.stops + begin for w, begin in zip(own, begins, strict=True)]),
        least=_stacked([w.least for w in own]),
        most=_stacked([w.most for w in own]),
        unrounded=_stacked([w.unrounded for w in own]),
        span=float(spans.sum()),
    )


def _stacked(columns: Sequence[NDArray[Any]]) -> FloatArray:
    return np.concatenate([np.zeros(0), *columns]).astype(np.float64)


@lru_cache(maxsize=256)
def _part_ways(part: Part, radius: float, rules: Rules) -> Ways:
    """Return the ways of a part in drawing coordinates; its copies share them."""
    strokes: list[Strokes] = []
    columns: list[tuple[FloatArray, ...]] = []
    tables: list[tuple[FloatArray, ...]] = []
    once: dict[int, float] = {}
    begin = 0.0
    for hole, contour in [(-1, part.outer), *enumerate(part.holes)]:
        for loop in _loops(contour, hole, radius):
            own = strokes_of(loop)
            sizes = own.length
            total = float(sizes.sum())
            origin = begin + total
            count = len(own)
            columns.append(
                (np.cumsum(sizes) - sizes + origin, np.full(count, hole), np.full(count, hole >= 0))
            )
            strokes.append(own)
            stops, *factors = _feed_table(own, total, -1.0 if hole >= 0 else 1.0, radius, rules)
            tables.append((stops + origin, *factors))
            once.setdefault(hole, total)
            begin += 3.0 * total + GAP
    place, holes, right = (_stacked([row[k] for row in columns]) for k in range(3))
    stops, least, most, unrounded = (_stacked([row[k] for row in tables]) for k in range(4))
    joined = Strokes.joined(strokes)
    own_holes, on_right = holes.astype(np.int64), right.astype(np.bool_)
    return Ways(joined, place, own_holes, on_right, once, stops, least, most, unrounded, begin)


def _loops(contour: Path, hole: int, radius: float) -> list[Path]:
    """Return a contour's ways, the longest first; none where the jet has no room."""
    try:
        loops = offset(oriented(contour), -radius if hole >= 0 else radius)
    except GeometryError:
        return []
    return [oriented(loop) for loop in (loops if hole >= 0 else loops[:1])]


def _feed_table(
    way: Strokes, total: float, toward: float, radius: float, rules: Rules
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return the stops of a way from a lap before its start to a lap behind its end, and the factors."""
    slow = [
        (max(start + lap, -total), min(end + lap, 2.0 * total), *factors)
        for start, end, *factors in _slow_stretches(way, toward, radius, rules)
        for lap in (-2.0 * total, -total, 0.0, total, 2.0 * total)
        if end + lap > -total and start + lap < 2.0 * total
    ]
    stops = np.unique([-total, 2.0 * total, *(row[0] for row in slow), *(row[1] for row in slow)])
    factors = np.ones((3, len(stops)))
    for start, end, *values in slow:
        covered = slice(int(np.searchsorted(stops, start)), int(np.searchsorted(stops, end)))
        factors[:, covered] = np.minimum(factors[:, covered], np.array(values)[:, None])
    return stops, *factors


def _slow_stretches(
    way: Strokes, toward: float, radius: float, rules: Rules
) -> Iterator[tuple[float, float, float, float, float]]:
    """Yield start, end and factors (least, most, unrounded) of the slower stretches.

    `toward` is the sign of arcs that turn towards the part, as those about its corners do.
    """
    sharp = math.radians(SHARP_CORNER_DEG)
    reach, corner, tight = rules.corner_length, rules.corner_feed, rules.small_hole_feed
    ends = np.cumsum(way.length)
    starts = ends - way.length
    turns = np.remainder(
        way.direction(at_end=False) - np.roll(way.direction(at_end=True), 1) + math.pi, 2.0 * math.pi
    )
    for k in range(len(way)):
        turn = abs(float(turns[k]) - math.pi)
        if turn >= sharp - ANGLE_STEP:
            most = corner if turn > sharp + ANGLE_STEP else 1.0
            yield float(starts[k]) - reach, float(starts[k]) + reach, corner, most, most
        if not way.is_arc[k]:
            continue
        about, sweep = float(way.radius[k]), float(way.sweep[k]) * toward
        first, last = float(starts[k]), float(ends[k])
        rounds = abs(about - radius) <= RADIUS_STEP and sweep >= sharp - ANGLE_STEP
        if rounds:
            most = corner if sweep > sharp + ANGLE_STEP else 1.0
            yield first - reach, last + reach, corner, most, 1.0
        if about < 0.5 * rules.smallest_hole + RADIUS_STEP and not (rounds and sweep > sharp + ANGLE_STEP):
            sure = about < 0.5 * rules.smallest_hole - RADIUS_STEP and not rounds
            most = tight if sure else 1.0
            yield first, last, tight, most, most


def follow_ways(torch: Strokes, ways: Ways) -> Followed:
    """Return which way each stroke of the torch follows."""
    count = len(torch)
    index = BoxIndex(ways.strokes.boxes())
    middles = torch.at(np.full(count, 0.5))
    gaps, own = _nearest(middles, index, ways.strokes)
    there = gaps <= ON_WAY
    near = ways.strokes[own]
    for points in (torch.start, torch.end):
        away = np.flatnonzero(there & (distance_to(points, near) > ON_WAY))
        # The end may lie beside the stroke before or behind on the same way.
        there[away] = _nearest(points[away], index, ways.strokes)[0] <= ON_WAY
    contour = np.where(there, ways.contour[own] if len(ways.contour) else -1, -1)
    if not there.any():
        return Followed(contour, np.zeros(count), np.zeros(count, dtype=np.bool_))
    share = near.share_beside(middles)
    # Just before an arc's start is nearly a whole turn behind it.
    before = near.is_arc & (share > 0.5 + math.pi / np.maximum(np.abs(near.sweep), 1e-9))
    share = np.clip(np.where(before, 0.0, share), 0.0, 1.0)
    along = np.einsum("ij,ij->i", _tangent(torch, 0.5 * np.ones(count)), _tangent(near, share)) >= 0.0
    return Followed(contour, ways.place[own] + share * near.length, ways.part_on_right[own] == along)


def on_two_ways(torch: Strokes, ways: Ways) -> BoolArray:
    """Return which strokes of the torch run on the ways of two contours at once, by their middles."""
    middles = torch.at(np.full(len(torch), 0.5))
    row, way = BoxIndex(ways.strokes.boxes()).pairs(np.column_stack([middles, middles]), ON_WAY)
    near = distance_to(middles[row], ways.strokes[way]) <= ON_WAY
    row, contour = row[near], ways.contour[way[near]]
    low, high = np.full(len(torch), np.iinfo(np.int64).max), np.full(len(torch), -1)
    np.minimum.at(low, row, contour)
    np.maximum.at(high, row, contour)
    return np.asarray(high > low)


def _nearest(points: FloatArray, index: BoxIndex, strokes: Strokes) -> tuple[FloatArray, IntArray]:
    """Return the distance of each point from the nearest stroke, inf where none is near, and that stroke."""
    point, stroke = index.pairs(np.column_stack([points, points]), ON_WAY)
    distances = distance_to(points[point], strokes[stroke])
    gaps, nearest = np.full(len(points), np.inf), np.zeros(len(points), dtype=np.int64)
    order = np.argsort(-distances, kind="stable")
    # Of several entries for one point the last, which is the nearest, stays.
    gaps[point[order]], nearest[point[order]] = distances[order], stroke[order]
    return gaps, nearest


def _tangent(strokes: Strokes, share: FloatArray) -> FloatArray:
    """Return the direction of travel at a share of each stroke, as unit vectors."""
    chord = strokes.end - strokes.start
    angle = strokes.first_angle + share * strokes.sweep + 0.5 * math.pi * np.sign(strokes.sweep)
    turned = np.where(strokes.is_arc, angle, np.arctan2(chord[:, 1], chord[:, 0]))
    return np.column_stack([np.cos(turned), np.sin(turned)])
