"""A long part split into pieces that are welded again: exact halves, marks for fit-up on both sides.

Where it is split is decided elsewhere (`cutplan.nesting.best_splits`).

Terminology
-----------
along : distance from the part's start in the direction of the split, mm.
splice : the middle of a joint between two pieces, given by how far along it lies.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from cutplan.drawing.lettering import text_width
from cutplan.drawing.model import BendLine, EdgePreparation, MarkText, Part, Piece, Split
from cutplan.geometry import (
    FloatArray,
    Path,
    crossings,
    nearest,
    point_at,
    polyline,
    subpath,
    vertex_lengths,
)

__all__ = ["extent_along", "long_direction", "piece_name", "split_part"]

# Edges whose chords differ by less than this run the same way: camber turns them by less.
SAME_WAY_DEG = 2.0
# Shortest piece of a mark or bend line that is kept, mm.
SHORTEST = 0.2
# Fit-up lines: their ticks, what they and letters keep from edges, and the letters, mm.
TICK, OFF_EDGE, LETTERS, LEAST_LETTERS = 30.0, 2.0, 12.0, 4.0
TEXT_OFF = 15.0
_AXES = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0)}


def long_direction(part: Part) -> float:
    """Return the direction in which a long part runs, degrees from 0 up to 180.

    It is that of its long edges, not of its box: a taper at one end does not turn it.  Near x or
    y it is just that.

    Parameters
    ----------
    part : Part

    Returns
    -------
    float
    """
    segments = part.outer.segments
    chords = segments.end - segments.start
    lengths = np.hypot(chords[:, 0], chords[:, 1])
    angles = np.degrees(np.arctan2(chords[:, 1], chords[:, 0])) % 180.0
    off = (angles[None, :] - angles[:, None] + 90.0) % 180.0 - 90.0
    alike = np.abs(off) <= SAME_WAY_DEG
    best = int(np.argmax((alike * lengths).sum(axis=1)))
    weights = alike[best] * lengths
    found = (angles[best] + float((weights * off[best]).sum() / weights.sum())) % 180.0
    for axis in (0.0, 90.0, 180.0):
        if abs(found - axis) <= SAME_WAY_DEG:
            found = axis % 180.0
    _, along, across = extent_along(part, found)
    return float(found if along >= across else (found + 90.0) % 180.0)


def extent_along(part: Part, direction_deg: float) -> tuple[float, float, float]:
    """Return where a part starts along a direction, how long it is that way, and how high across.

    Parameters
    ----------
    part : Part
    direction_deg : float

    Returns
    -------
    (start, length, height)
        mm; the start counts from the drawing's origin.
    """
    low, high = _reach(part.outer, _way(direction_deg))
    below, above = _reach(part.outer, _way(direction_deg + 90.0))
    return low, high - low, above - below


def piece_name(name: str, number: int, pieces: int) -> str:
    """Return the name of a piece: "web-1of2".

    Parameters
    ----------
    name : str
        Of the whole part.
    number : int
        Of the piece, from 1.
    pieces : int
        How many there are.

    Returns
    -------
    str
    """
    return f"{name}-{number}of{pieces}"


def split_part(part: Part, split: Split) -> tuple[Part, ...]:
    """Return the pieces of a part, from its start to its end.

    Marks, bend lines and texts go with their pieces; each splice gets its lines and number
    for fit-up on both sides.  The pieces and the gaps between them add up to the part.

    Parameters
    ----------
    part : Part
    split : Split
        Each splice must cross the outer contour twice, and no hole.

    Returns
    -------
    tuple of Part
    """
    way = _way(split.direction_deg)
    start = _reach(part.outer, way)[0]
    middles = [start + at for at in split.splices_mm]
    half = 0.5 * split.gap_mm
    lows = [-math.inf, *(at + half for at in middles)]
    highs = [*(at - half for at in middles), math.inf]
    cuts = [-math.inf, *middles, math.inf]
    pieces = []
    for n, (low, high) in enumerate(zip(lows, highs, strict=True)):
        piece = _between(part, way, (low, high), (cuts[n], cuts[n + 1]))
        marks, texts = [], []
        for joint, splice, side in _ends(n, middles):
            own = _fit_up(piece, splice, side, way, split)
            marks += own
            name = _joint_text(piece, f"J{joint}", splice + side * half, side, way)
            texts += [name] if name is not None else []
        pieces.append(
            replace(
                piece,
                name=piece_name(split.of, n + 1, len(lows)),
                marks=(*piece.marks, *marks),
                texts=(*piece.texts, *texts),
                notes=(),
                findings=(),
                piece=Piece(split, n + 1),
            )
        )
    return tuple(pieces)


def _ends(number: int, middles: Sequence[float]) -> list[tuple[int, float, float]]:
    """Return the joints of a piece: number, splice, and on which side of it the piece lies."""
    before = [(number, middles[number - 1], 1.0)] if number > 0 else []
    after = [(number + 1, middles[number], -1.0)] if number < len(middles) else []
    return [*before, *after]


def _way(direction_deg: float) -> FloatArray:
    turn = direction_deg % 360.0
    radians = math.radians(turn)
    return np.array(_AXES.get(turn, (math.cos(radians), math.sin(radians))))


def _reach(path: Path, way: FloatArray) -> tuple[float, float]:
    """Return how far a path reaches along a direction, arcs exactly."""
    segments = path.segments
    ends = np.concatenate([segments.start, segments.end]) @ way
    low, high = float(ends.min()), float(ends.max())
    for k in np.flatnonzero(segments.is_arc):
        middle = point_at(path, float(vertex_lengths(path)[k] + 0.5 * segments.length[k]))[0]
        for sign in (-1.0, 1.0):
            tip = segments.centre[k] + sign * segments.radius[k] * way
            # A tip lies on its arc if it is nearer to the arc's middle than the ends are.
            if np.hypot(*(tip - middle)) <= np.hypot(*(segments.start[k] - middle)) + 1e-12:
                low, high = min(low, float(tip @ way)), max(high, float(tip @ way))
    return low, high


def _line_at(at: float, way: FloatArray, path: Path) -> Path:
    """Return a line across at some place along, longer than a path is wide."""
    normal = np.array([-way[1], way[0]])
    below, above = _reach(path, normal)
    return polyline([at * way + (below - 10.0) * normal, at * way + (above + 10.0) * normal])


def _stops(path: Path, at: float, way: FloatArray) -> FloatArray:
    """Return the arc-lengths at which a path crosses a place along, in order."""
    places = crossings(path, _line_at(at, way, path))
    return np.sort(nearest(path, places)[1]) if len(places) else np.empty(0)


def _half(contour: Path, at: float, side: float, way: FloatArray) -> tuple[Path, float, float]:
    """Return what of a contour lies behind (-1) or beyond (1) a place along, closed by a line.

    With it come the arc-lengths on the contour between which it was taken.
    """
    stops = _stops(contour, at, way)
    assert len(stops) == 2, "a splice crosses its part twice"
    first, second = stops.tolist()
    for a, b in ((first, second), (second, first)):
        stretch = subpath(contour, a, b)
        middle = point_at(stretch, 0.5 * float(vertex_lengths(stretch)[-1]))[0]
        if side * (float(middle @ way) - at) > 0.0:
            return Path(stretch.vertices, closed=True), a, b
    raise AssertionError("one of the stretches lies on each side")


def _between(part: Part, way: FloatArray, edges: tuple[float, float], middles: tuple[float, float]) -> Part:
    """Return what of a part lies between two cut edges; what is not cut goes by the splices' middles."""
    outer, bevels = part.outer, tuple(each for each in part.bevels if each.hole is None)
    for at, side in zip(edges, (1.0, -1.0), strict=True):
        if math.isfinite(at):
            whole = float(vertex_lengths(outer)[-1])
            outer, a, b = _half(outer, at, side, way)
            bevels = tuple(own for each in bevels for own in _bevels_between(each, a, b, whole))
    own = [k for k, hole in enumerate(part.holes) if middles[0] < float(hole.start @ way) <= middles[1]]
    holes = tuple(part.holes[k] for k in own)
    bevels += tuple(replace(each, hole=own.index(each.hole)) for each in part.bevels if each.hole in own)
    marks = tuple(piece for mark in part.marks for piece in _stretches(mark, way, edges))
    bends = tuple(bend for each in part.bends if (bend := _bend_between(each, way, edges)) is not None)
    texts = tuple(t for t in part.texts if middles[0] < float(np.array(t.place) @ way) <= middles[1])
    return replace(part, outer=outer, holes=holes, marks=marks, bends=bends, texts=texts, bevels=bevels)


def _bevels_between(asked: EdgePreparation, a: float, b: float, whole: float) -> list[EdgePreparation]:
    """Return what of an outside's preparation lies on the stretch that a piece keeps, by the piece's arc-lengths."""
    kept = (b - a) % whole
    start, end = asked.span or (a, b)
    first = (start - a) % whole
    reach = (end - start) % whole or whole
    # It may begin before the stretch, and come round to it again.
    found = [(max(at, 0.0), min(at + reach, kept)) for at in (first, first - whole)]
    return [replace(asked, span=(low, high)) for low, high in sorted(found) if high - low > SHORTEST]


def _stretches(mark: Path, way: FloatArray, edges: tuple[float, float]) -> list[Path]:
    low, high = _reach(mark, way)
    if edges[0] <= low and high <= edges[1]:
        return [mark]
    total = float(vertex_lengths(mark)[-1])
    stops = {0.0, total}
    for at in edges:
        if math.isfinite(at):
            stops |= set(_stops(mark, at, way).tolist())
    ordered = sorted(stops)
    kept = []
    for a, b in itertools.pairwise(ordered):
        if b - a < SHORTEST:
            continue
        middle = float(point_at(mark, 0.5 * (a + b))[0] @ way)
        if edges[0] < middle < edges[1]:
            kept.append(subpath(mark, a, b))
    return kept


def _bend_between(bend: BendLine, way: FloatArray, edges: tuple[float, float]) -> BendLine | None:
    a, b = np.array(bend.start), np.array(bend.end)
    s, t = float(a @ way), float(b @ way)
    if abs(t - s) < 1e-9:
        return bend if edges[0] < s < edges[1] else None
    shares = sorted((edge - s) / (t - s) for edge in edges)
    first, last = max(0.0, shares[0]), min(1.0, shares[1])
    if (last - first) * float(np.hypot(*(b - a))) < SHORTEST:
        return None
    if (first, last) == (0.0, 1.0):
        return bend
    p, q = a + first * (b - a), a + last * (b - a)
    return replace(bend, start=(float(p[0]), float(p[1])), end=(float(q[0]), float(q[1])))


def _across(piece: Part, at: float, way: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Return where a piece's metal begins and ends across, None where it is parted there."""
    stops = _stops(piece.outer, at, way)
    if len(stops) != 2:
        return None
    normal = np.array([-way[1], way[0]])
    one, two = point_at(piece.outer, stops)
    return (one, two) if one @ normal < two @ normal else (two, one)


def _fit_up(piece: Part, splice: float, side: float, way: FloatArray, split: Split) -> list[Path]:
    """Return the line to measure over, as ticks at both edges."""
    if split.fit_up_mm <= 0.5 * split.gap_mm:
        return []
    ends = _across(piece, splice + side * split.fit_up_mm, way)
    if ends is None:
        return []
    (low, high), normal = ends, np.array([-way[1], way[0]])
    width = float((high - low) @ normal)
    first, last = low + OFF_EDGE * normal, high - OFF_EDGE * normal
    if width <= 2.0 * (TICK + OFF_EDGE):
        return [polyline([first, last])] if width > 2.0 * OFF_EDGE + SHORTEST else []
    return [polyline([first, first + TICK * normal]), polyline([last - TICK * normal, last])]


def _joint_text(piece: Part, words: str, edge: float, side: float, way: FloatArray) -> MarkText | None:
    """Return a joint's number beside its edge, reading across the part; None where it finds no room."""
    ends = _across(piece, edge + side * TEXT_OFF, way)
    if ends is None:
        return None
    (low, high), normal = ends, np.array([-way[1], way[0]])
    room = float((high - low) @ normal) - 2.0 * OFF_EDGE
    height = min(LETTERS, room / text_width(words, 1.0))
    if height < LEAST_LETTERS:
        return None
    begin = low + (OFF_EDGE + 0.5 * (room - text_width(words, height))) * normal
    # The letters' foot is at their right as they run across: those behind the splice stand off it.
    foot = begin + (0.0 if side < 0 else height) * way
    angle = math.degrees(math.atan2(normal[1], normal[0]))
    return MarkText(words, (float(foot[0]), float(foot[1])), height, angle)
