"""How each contour is run: the part on the square side of the kerf, each stretch at its own feed, and
holes over-burnt.

The corners are those of the torch's own way in the program: places where it breaks, and arcs of
half a kerf about a part's corner.  A program without any arc has its corners in chords, and one
that the control offsets has corners of the control's making: there only the set of feeds is held
(`whole_program`).

Terminology
-----------
on the contour : a stroke that runs half a kerf from an edge all along.
run of a contour : the strokes of a burn from the first to the last of these.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from cutplan.base.errors import GeometryError
from cutplan.control import RAPID, Dialect, Motions
from cutplan.drawing import inscribed_circle
from cutplan.geometry import FloatArray, Path, length, offset, oriented
from cutplan.process import SHARP_CORNER_DEG, CutData
from cutplan.verification.burns import Runs
from cutplan.verification.measure import BoxIndex
from cutplan.verification.model import Fault
from cutplan.verification.placed import PlacedParts
from cutplan.verification.places import MOST_OF_A_KIND, fault_at
from cutplan.verification.strokes import BoolArray, IntArray, Strokes, distance_to

__all__ = ["contour_run", "running_faults"]

# A stroke this near to half a kerf from an edge runs on its contour, mm.
ON_CONTOUR = 0.06
# Rounded coordinates change the length of a block, and the radius of an arc, by no more than this, mm.
LENGTH_STEP = 0.003
RADIUS_STEP = 0.01
ANGLE_STEP = 0.01  # rad; by how much rounded ends may turn a short block
# Strokes shorter than this, and those that lie across the end of a slower stretch, tell no feed, mm.
SHORTEST = 0.2
FEED_SHARE, FEED_STEP = 0.015, 13.0
# Blocks that a lead-in takes at most.
LONGEST_LEAD = 8


@dataclass(frozen=True, eq=False)
class _OnContour:
    """Which strokes run on a contour, which one, and whether its part is on the right of the travel."""

    contour: IntArray
    part_on_right: BoolArray

    @property
    def there(self) -> BoolArray:
        return np.asarray(self.contour >= 0)


def running_faults(
    motions: Motions, runs: Runs, parts: PlacedParts, data: CutData, dialect: Dialect
) -> Iterator[Fault]:
    """Yield contours run the wrong way round, stretches at another's feed, and holes not over-burnt.

    Parameters
    ----------
    motions : Motions
    runs : Runs
        The torch's.
    parts : PlacedParts
    data : CutData
    dialect : Dialect
    """
    if not len(runs.strokes) or not parts.metal:
        return
    found = _on_contours(runs.strokes, parts, 0.5 * data.kerf)
    small = _small_holes(parts, data)
    # Where the control offsets, it puts arcs of its own round the corners.
    arcs = bool(runs.strokes.is_arc.any()) and dialect.compensation_radius_mm is None
    told = 0
    for burn in runs.burns:
        rows = np.arange(burn.strokes.start, burn.strokes.stop)
        own = rows[found.there[rows]]
        if not len(own):
            continue
        faults = [*_side_faults(runs, own, found, data), *_overburn_faults(runs, own, found, parts, data)]
        if arcs and not dialect.feed_by_control:
            faults += _feed_faults(motions, runs, rows, own, found, small, data)
        for fault in faults:
            # One fault a burn is enough: the rest would say the same.
            if told < MOST_OF_A_KIND or not fault.trim:
                told += 1
                yield fault


def _on_contours(strokes: Strokes, parts: PlacedParts, radius: float) -> _OnContour:
    """Return for each stroke the contour that it runs on."""
    nearest = []
    for share in (0.0, 0.5, 1.0):
        points = strokes.at(np.full(len(strokes), share))
        gaps, edge = _nearest(points, parts.edges, radius + 2.0 * ON_CONTOUR)
        nearest.append((np.abs(gaps - radius) <= ON_CONTOUR, edge))
    there = nearest[0][0] & nearest[1][0] & nearest[2][0]
    edge = np.where(there, nearest[1][1], 0)
    contour = np.where(there, parts.edge_contour[edge], -1)
    middle = strokes.at(np.full(len(strokes), 0.5))
    ahead = _heading(strokes)
    right = np.column_stack([ahead[:, 1], -ahead[:, 0]])
    own = parts.edges[edge]
    on_right = distance_to(middle + radius * right, own) < distance_to(middle - radius * right, own)
    return _OnContour(contour, np.asarray(on_right, dtype=np.bool_))


def _nearest(points: FloatArray, edges: Strokes, reach: float) -> tuple[FloatArray, IntArray]:
    """Return the distance of each point from the nearest edge, inf beyond a reach, and that edge."""
    point, edge = BoxIndex(edges.boxes()).pairs(np.column_stack([points, points]), reach)
    distances = distance_to(points[point], edges[edge])
    gaps, nearest = np.full(len(points), np.inf), np.zeros(len(points), dtype=np.int64)
    order = np.argsort(-distances, kind="stable")
    # Of several entries for one point the last, which is the nearest, stays.
    gaps[point[order]], nearest[point[order]] = distances[order], edge[order]
    return gaps, nearest


def _heading(strokes: Strokes, share: float = 0.5) -> FloatArray:
    """Return the direction of travel at a share of each stroke, as unit vectors."""
    chord = strokes.end - strokes.start
    angle = strokes.first_angle + share * strokes.sweep + 0.5 * math.pi * np.sign(strokes.sweep)
    turned = np.where(strokes.is_arc, angle, np.arctan2(chord[:, 1], chord[:, 0]))
    return np.column_stack([np.cos(turned), np.sin(turned)])


def _side_faults(runs: Runs, own: IntArray, found: _OnContour, data: CutData) -> Iterator[Fault]:
    side = data.rules.square_side
    if side == "both":
        return
    lengths = runs.strokes.length[own]
    wrong = found.part_on_right[own] != (side == "right")
    if lengths[wrong].sum() > 0.5 * lengths.sum():
        burn = runs.burns[int(runs.owner[own[0]])]
        other = "left" if side == "right" else "right"
        told = f"the part lies on the {other} of the travel, the square side of the kerf is the {side}"
        yield Fault("square-side", told, burn.line, burn.pierce)


def _overburn_faults(
    runs: Runs, own: IntArray, found: _OnContour, parts: PlacedParts, data: CutData
) -> Iterator[Fault]:
    """A hole's cut runs round it once and the over-burn further."""
    for contour in np.unique(found.contour[own]).tolist():
        hole = int(parts.contour_hole[contour])
        if hole < 0:
            continue
        placement = parts.sheet.placements[int(parts.contour_placement[contour])]
        once = _once_round(placement.part.holes[hole], 0.5 * data.kerf)
        run = own[found.contour[own] == contour]
        covered = float(runs.strokes.length[run].sum())
        if once is None or covered < 0.5 * once:
            continue
        wanted = once + min(data.rules.overburn, 0.5 * once)
        if covered < wanted - ON_CONTOUR - LENGTH_STEP * len(run):
            burn = runs.burns[int(runs.owner[run[0]])]
            told = f"hole {hole + 1} is over-burnt by {covered - once:.2f} mm"
            told += f", the cutting data ask for {wanted - once:.2f} mm"
            yield Fault("over-burn", told, burn.line, burn.pierce, placement.part.name, placement.copy)


@lru_cache(maxsize=512)
def _once_round(hole: Path, radius: float) -> float | None:
    """Return the length of the torch's way round a hole, None where it falls into several."""
    try:
        loops = offset(oriented(hole), -radius)
    except GeometryError:
        return None
    return float(length(loops[0])) if len(loops) == 1 else None


@lru_cache(maxsize=512)
def _width(hole: Path) -> float:
    return float(inscribed_circle(hole).value)


def _small_holes(parts: PlacedParts, data: CutData) -> BoolArray:
    """Return which contours are holes that the small-hole feed is for."""
    small = np.zeros(len(parts.contour_hole), dtype=np.bool_)
    for contour in np.flatnonzero(parts.contour_hole >= 0).tolist():
        part = parts.sheet.placements[int(parts.contour_placement[contour])].part
        small[contour] = _width(part.holes[int(parts.contour_hole[contour])]) < data.rules.small_hole
    return small


def _feed_faults(
    motions: Motions,
    runs: Runs,
    rows: IntArray,
    own: IntArray,
    found: _OnContour,
    small: BoolArray,
    data: CutData,
) -> Iterator[Fault]:
    """Hold each stroke of a burn against the feed of its place."""
    strokes = runs.strokes[rows]
    sizes = strokes.length
    ends = np.cumsum(sizes)
    starts = ends - sizes
    found_run = contour_run(strokes, ends, int(own[0] - rows[0]), int(own[-1] - rows[0]))
    if found_run is None:
        return
    first, closing, last = found_run
    whole = bool(small[found.contour[own]].any())
    toward = -1.0 if found.part_on_right[own].mean() > 0.5 else 1.0
    slow = [] if whole else _slow_stretches(strokes, starts, ends, (first, closing, last), toward, data)
    factors = np.column_stack(
        [
            _factors(starts + share * sizes, slow, starts[first], ends[last], whole, data)
            for share in (0.2, 0.5, 0.8)
        ]
    )
    sure = (np.ptp(factors, axis=1) == 0.0) & (sizes >= SHORTEST)
    feeds = motions.feed_mm_min[runs.row[rows]]
    wanted = data.feed_mm_min * factors[:, 1]
    off = np.abs(feeds - wanted) > FEED_SHARE * wanted + np.minimum(FEED_STEP, 0.05 * wanted)
    off &= sure & (motions.kind[runs.row[rows]] != RAPID)
    for k in np.flatnonzero(off)[:1].tolist():
        place = _called(factors[k, 1], whole, data)
        told = f"{place} runs at {feeds[k]:g} mm/min, the cutting data have {wanted[k]:g} there"
        trim = abs(feeds[k] / wanted[k] - 1.0) <= data.feed_trim + FEED_SHARE
        yield fault_at(motions, int(runs.row[rows[k]]), "feed", told, trim=trim)


def _called(factor: float, whole: bool, data: CutData) -> str:
    if whole:
        return "a small hole"
    if factor == 1.0:
        return "a straight"
    return "a corner" if factor == data.rules.corner_feed else "a tight arc"


def _slow_stretches(
    strokes: Strokes,
    starts: FloatArray,
    ends: FloatArray,
    contour: tuple[int, int, int],
    toward: float,
    data: CutData,
) -> list[tuple[float, float, float]]:
    """Return start, end and factor of the stretches of a contour's run that are slower.

    `toward` is the sign of arcs that turn towards the part, as those about its corners do.
    """
    rules, radius = data.rules, 0.5 * data.kerf
    sharp = math.radians(SHARP_CORNER_DEG)
    slow = []
    leaving, arriving = _heading(strokes, 0.0), _heading(strokes, 1.0)
    first, closing, last = contour
    groups = _joined_arcs(strokes, first, last)
    for number, (a, b) in enumerate(groups):
        sweep = float(strokes.sweep[a : b + 1].sum())
        about = float(strokes.radius[a])
        if abs(about - radius) <= RADIUS_STEP and sweep * toward >= sharp - ANGLE_STEP:
            # Rounding hides whether a turn that just meets the limit is a corner.
            corner = rules.corner_feed if sweep * toward > sharp + ANGLE_STEP else math.nan
            slow.append((starts[a], ends[b], rules.corner_length, corner))
        elif strokes.is_arc[a] and about < 0.5 * rules.smallest_hole + RADIUS_STEP:
            # Rounding hides on which side of the limit an arc lies that just meets it.
            sure = about < 0.5 * rules.smallest_hole - RADIUS_STEP
            slow.append((starts[a], ends[b], 0.0, rules.small_hole_feed if sure else math.nan))
        turn = abs(_turn(arriving[a - 1], leaving[a])) if number else 0.0
        if turn >= sharp - ANGLE_STEP:
            corner = rules.corner_feed if turn > sharp + ANGLE_STEP else math.nan
            slow.append((starts[a], starts[a], rules.corner_length, corner))
    once = float(ends[closing] - starts[first])
    turn = abs(_turn(arriving[closing], leaving[first]))
    if turn >= sharp - ANGLE_STEP:
        corner = rules.corner_feed if turn > sharp + ANGLE_STEP else math.nan
        slow.append((starts[first], starts[first], rules.corner_length, corner))
    # What is slow at one end of the way round goes on at the other.
    return [
        (s - reach + lap, e + reach + lap, factor)
        for s, e, reach, factor in slow
        for lap in (-once, 0.0, once)
    ]


def contour_run(
    strokes: Strokes, ends: FloatArray, first_on: int, last_on: int
) -> tuple[int, int, int] | None:
    """Return the first stroke of a contour's run, the one that closes it, and the last.

    The lead-in ends where the way comes back to; None where it never does.
    """
    for first in range(min(first_on, LONGEST_LEAD) + 1):
        back = np.hypot(*(strokes.end - strokes.start[first]).T) <= RADIUS_STEP
        begins = ends[first - 1] if first else 0.0
        far = ends - begins > 0.5 * ends[-1]
        closing = np.flatnonzero(back & far)
        if len(closing):
            return first, int(closing[0]), max(int(closing[0]), last_on)
    return None


def _joined_arcs(strokes: Strokes, first: int, last: int) -> list[tuple[int, int]]:
    """Return first and last stroke of each line or arc; arcs in several blocks are one."""
    groups: list[tuple[int, int]] = []
    for k in range(first, last + 1):
        if groups:
            a = groups[-1][0]
            same = strokes.is_arc[a] and strokes.is_arc[k] and strokes.sweep[a] * strokes.sweep[k] > 0.0
            if same and math.dist(strokes.centre[a], strokes.centre[k]) <= RADIUS_STEP:
                groups[-1] = (a, k)
                continue
        groups.append((k, k))
    return groups


def _turn(before: FloatArray, after: FloatArray) -> float:
    cross = before[0] * after[1] - before[1] * after[0]
    return math.atan2(float(cross), float(before @ after))


def _factors(
    at: FloatArray,
    slow: list[tuple[float, float, float]],
    first: float,
    last: float,
    whole: bool,
    data: CutData,
) -> FloatArray:
    """Return the factor on the feed at places along a burn, mm from the pierce."""
    factor = np.ones(len(at))
    if whole:
        factor[:] = data.rules.small_hole_feed
    for start, end, share in slow:
        factor[(at > max(start, first)) & (at < min(end, last))] = np.minimum(
            factor[(at > max(start, first)) & (at < min(end, last))], share
        )
    if data.moving_pierce_mm > 0.0:
        creeping = at < min(data.moving_pierce_mm, first)
        factor[creeping] = np.minimum(factor[creeping], data.moving_pierce_feed)
    return factor
