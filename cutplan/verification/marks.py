"""Marks held both ways: every stroke that is wanted is there, and the marker makes no other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely

from cutplan.control import DWELL, RAPID, Dialect, Motions
from cutplan.drawing import WantedStroke, wanted_strokes
from cutplan.geometry import FloatArray, distance, length, point_at
from cutplan.verification.burns import Runs
from cutplan.verification.loose import NEVER, Loose
from cutplan.verification.measure import post_gaps
from cutplan.verification.model import Fault, PlannedCut
from cutplan.verification.placed import VIEW_TOLERANCE, PlacedParts
from cutplan.verification.places import MOST_OF_A_KIND, fault_at
from cutplan.verification.strokes import BoolArray, IntArray, Strokes, strokes_of

__all__ = ["mark_faults"]

MARK_TOLERANCE = 0.1  # mm; a scribed line is wider
STEP = 0.5  # mm between the points at which strokes are compared
REACH = 1.0  # mm; no need to know how much further off a stroke is
# A marker is down within this; longer it digs in where it stands.  Common practice, s.
MARKER_SETTLES_S = 1.0
# A feed in whole inches a minute is up to 12.7 mm/min off.
FEED_SHARE, FEED_STEP = 0.01, 13.0


def mark_faults(
    motions: Motions,
    marks: Runs,
    runs: Runs,
    parts: PlacedParts,
    loose: Loose,
    drilled: BoolArray,
    dialect: Dialect,
    *,
    wanted: bool,
    made: Sequence[PlannedCut] = (),
    feed_trim: float = 0.0,
) -> Iterator[Fault]:
    """Yield what is wrong with the marks of a program.

    Parameters
    ----------
    motions : Motions
    marks, runs : Runs
        The marker's and the torch's.
    parts : PlacedParts
    loose : Loose
        When each placement comes loose.
    drilled : ndarray of bool
        Contours of holes that are marked for drilling.
    dialect : Dialect
    wanted : bool
        Whether there is a marker at all; without one, a program without any marks is right.
    made : sequence of PlannedCut
        Strokes that another program has made before.
    feed_trim : float
        Share by which an operator may trim the marker's feed.
    """
    if not marks.burns and not wanted:
        return
    strokes, owner = _wanted(parts, drilled)
    if wanted:
        asked = [k for k, stroke in enumerate(strokes) if not any(_is_made(stroke, cut) for cut in made)]
        yield from _missing([strokes[k] for k in asked], [owner[k] for k in asked], marks, parts)
    yield from _stray(motions, marks, Strokes.joined([strokes_of(stroke.path) for stroke in strokes]))
    yield from _on_loose(motions, marks, runs, parts, loose)
    yield from _running(motions, marks, dialect, feed_trim)


def _wanted(parts: PlacedParts, drilled: BoolArray) -> tuple[list[WantedStroke], list[int]]:
    """Return the strokes to make on all placements, and the placement of each."""
    strokes: list[WantedStroke] = []
    owner: list[int] = []
    for index, placement in enumerate(parts.sheet.placements):
        first = int(parts.first_contour[index]) + 1
        holes = np.flatnonzero(drilled[first : first + len(placement.part.holes)]).tolist()
        own = wanted_strokes(placement.part, placement.pose, holes)
        strokes += own
        owner += [index] * len(own)
    return strokes, owner


def _missing(
    strokes: list[WantedStroke], owner: list[int], marks: Runs, parts: PlacedParts
) -> Iterator[Fault]:
    if not strokes:
        return
    sampled = [point_at(s.path, np.linspace(0.0, size, 2 + int(size / STEP))) for s, size in _sized(strokes)]
    gaps, _ = post_gaps(np.vstack(sampled), marks.strokes, REACH)
    at = np.cumsum([0, *(len(points) for points in sampled)])
    worst = np.maximum.reduceat(gaps, at[:-1])
    for k in np.flatnonzero(worst > MARK_TOLERANCE)[:MOST_OF_A_KIND].tolist():
        x, y = sampled[k][int(gaps[at[k] : at[k + 1]].argmax())].tolist()
        placed, hole = parts.sheet.placements[owner[k]], strokes[k].hole
        told = (
            "a drawn mark is not marked" if hole is None else f"the middle of hole {hole + 1} is not marked"
        )
        yield Fault("mark-missing", told, None, (x, y), placed.part.name, placed.copy)


def _is_made(stroke: WantedStroke, cut: PlannedCut) -> bool:
    """Return whether a planned mark runs along a wanted stroke, from one of its ends or round it."""
    if abs(float(length(stroke.path)) - cut.length_mm) > MARK_TOLERANCE:
        return False
    ends = np.array([cut.place, cut.end or cut.place])
    if (distance(stroke.path, ends) > MARK_TOLERANCE).any():
        return False
    if stroke.path.closed or cut.end is None:
        return True
    own = np.array([stroke.path.start, stroke.path.end])
    apart = min(float(np.abs(ends - own).max()), float(np.abs(ends - own[::-1]).max()))
    return apart <= MARK_TOLERANCE


def _sized(strokes: list[WantedStroke]) -> list[tuple[WantedStroke, float]]:
    return [(stroke, float(length(stroke.path))) for stroke in strokes]


def _points_on(strokes: Strokes) -> tuple[FloatArray, IntArray]:
    """Return points along strokes, ends included, and the stroke of each."""
    counts = 2 + (strokes.length / STEP).astype(np.int64)
    row = np.repeat(np.arange(len(strokes)), counts)
    number = np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts)
    return strokes[row].at(number / (counts[row] - 1)), row


def _stray(motions: Motions, marks: Runs, wanted: Strokes) -> Iterator[Fault]:
    """Yield the strokes of the marker that lie on no stroke wanted."""
    points, row = _points_on(marks.strokes)
    if not len(points):
        return
    gaps, _ = post_gaps(points, wanted, REACH)
    far = np.flatnonzero(gaps > MARK_TOLERANCE)
    rows, first = np.unique(row[far], return_index=True)
    for k, at in list(zip(rows.tolist(), far[first].tolist(), strict=True))[:MOST_OF_A_KIND]:
        line = int(motions.line[marks.row[k]])
        x, y = points[at].tolist()
        yield Fault("mark-stray", "the marker runs where nothing is to be marked", line, (x, y))


def _on_loose(motions: Motions, marks: Runs, runs: Runs, parts: PlacedParts, loose: Loose) -> Iterator[Fault]:
    """Yield marks beside all parts, and on parts that are loose."""
    outlines = [shapely.Polygon(metal.exterior) for metal in parts.metal]
    middles = marks.strokes.at(np.full(len(marks.strokes), 0.5))
    points = np.vstack([marks.strokes.start, middles, marks.strokes.end])
    row = np.tile(marks.row, 3)
    found = shapely.STRtree(outlines).query(
        shapely.points(points), predicate="dwithin", distance=VIEW_TOLERANCE
    )
    point, part = found
    for k in np.setdiff1d(np.arange(len(points)), point)[:1].tolist():
        place = (float(points[k, 0]), float(points[k, 1]))
        yield Fault("mark-off-part", "a mark beside all parts", int(motions.line[row[k]]), place)
    freed_at = np.array([runs.burns[b].last if b != NEVER else len(motions) for b in loose.by])
    late = row[point] >= freed_at[part]
    for index in np.unique(part[late]).tolist():
        line = int(motions.line[row[point[late & (part == index)]].min()])
        placed, centre = parts.sheet.placements[index], parts.metal[index].centroid
        told = "a mark on a part that is loose"
        where = (float(centre.x), float(centre.y))
        yield Fault("mark-on-freed", told, line, where, placed.part.name, placed.copy)


def _running(motions: Motions, marks: Runs, dialect: Dialect, trim: float) -> Iterator[Fault]:
    """Yield where the marker, down, stands still or runs at a speed that is not its own."""
    down = motions.marker & ~motions.torch
    standing = down & (motions.kind == DWELL) & (motions.dwell_s > 0.0)
    long = down & (motions.kind == DWELL) & (motions.dwell_s > MARKER_SETTLES_S)
    moved = np.zeros(len(motions), dtype=np.bool_)
    for burn in marks.burns:
        if burn.strokes.start < burn.strokes.stop:
            # Before its first move the marker may wait to come down, after its last to lift.
            first, last = marks.row[burn.strokes.start], marks.row[burn.strokes.stop - 1]
            moved[first : last + 1] = True
    rapid = down & (motions.kind == RAPID) & (motions.start[:, :2] != motions.end[:, :2]).any(axis=1)
    for rows, told in (
        (standing & moved, "the marker stands still in the middle of a mark"),
        (long & ~moved, f"the marker stands down for more than {MARKER_SETTLES_S:g} s"),
        (rapid, "a rapid with the marker down"),
    ):
        for row in np.flatnonzero(rows)[:MOST_OF_A_KIND].tolist():
            yield fault_at(motions, row, "mark-run", told)
    wanted = dialect.marker_feed_mm_min
    if wanted is None or dialect.feed_by_control:
        return
    feeds = motions.feed_mm_min[marks.row]
    wrong = ~(np.abs(feeds - wanted) <= FEED_STEP + FEED_SHARE * wanted) & (motions.kind[marks.row] != RAPID)
    for row in marks.row[wrong][:MOST_OF_A_KIND].tolist():
        feed = float(motions.feed_mm_min[row])
        told = f"a mark runs at {feed:g} mm/min, the marker's feed is {wanted:g}"
        yield fault_at(motions, row, "mark-run", told, trim=abs(feed / wanted - 1.0) <= trim)
