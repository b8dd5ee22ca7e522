"""How narrow a part gets: its thinnest metal, and the narrowest scrap in holes and slots.

A width is measured between two points of the contours that face each other, each the nearest
to the other along its own stretch of contour (a double normal), with nothing but metal or
nothing but scrap between them.  Corners have no width in this sense, however sharp, and
neither has a circle; both have an inscribed circle, which `cutplan.drawing.measure` adds.

Points and widths are exact to rounding: they come from formulas for lines and arcs, not from
chords.  Chords serve to tell whether the view between the two points is free.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import FloatArray, Path, to_polygon

if TYPE_CHECKING:
    import shapely

__all__ = ["Width", "narrowest"]

# Directions count as perpendicular within this, and fractions of a segment as within it.
SKEW = 1e-6
# Chord error of the view that tells metal from scrap, mm, and how far a line of sight keeps
# from both ends, so that the error does not matter.
VIEW_TOLERANCE = 0.005
SIGHT_MARGIN = 0.02
# The first look is for widths of this share of the part; each next look goes twice as far.
FIRST_LOOK = 1.0 / 64.0
# A look that would compare more pairs of segments is not taken.
MOST_PAIRS = 3_000_000


class Width(NamedTuple):
    """A width, mm, and the middle of where it is measured."""

    value: float
    place: tuple[float, float]


@dataclass(frozen=True)
class _Soup:
    """Segments of all contours of a part, metal on the left of each.

    `half` is half the included angle, `leaving` and `arriving` are the directions of travel at
    both ends, `before` is the row of the segment that arrives where this one leaves.
    """

    start: FloatArray
    end: FloatArray
    centre: FloatArray
    radius: FloatArray
    half: FloatArray
    middle: FloatArray
    leaving: FloatArray
    arriving: FloatArray
    before: NDArray[np.int64]

    @property
    def arc(self) -> NDArray[np.bool_]:
        return np.asarray(np.isfinite(self.radius))


# Both ends of a width.
_Sight = tuple[tuple[float, ...], tuple[float, ...]]


class _Ends(NamedTuple):
    """Candidates: points p on segments i facing points q on segments j.

    `at_vertex` tells whether p, and q, is the first vertex of its segment.
    """

    p: FloatArray
    q: FloatArray
    i: NDArray[np.int64]
    j: NDArray[np.int64]
    at_vertex: tuple[bool, bool]


def narrowest(
    outer: Path, holes: Sequence[Path], metal_limit: float, scrap_limit: float
) -> tuple[Width | None, Width | None]:
    """Return the thinnest metal and the narrowest scrap of a part.

    Parameters
    ----------
    outer : Path
        Counter-clockwise.
    holes : sequence of Path
        Clockwise.
    metal_limit, scrap_limit : float
        Widths above these are of no interest, mm.

    Returns
    -------
    metal, scrap : Width or None
        None where there is none below the limit.  In a part of many thousands of
        segments the search may stop short of the limit.
    """
    import shapely

    soup = _soup([outer, *holes])
    view = to_polygon(outer, holes, tolerance=VIEW_TOLERANCE)
    shapely.prepare(view)
    low, high = _boxes(soup)
    found: dict[bool, Width | None] = {True: None, False: None}
    limits = {True: metal_limit, False: scrap_limit}
    look = max(FIRST_LOOK * float(np.hypot(*np.ptp(soup.start, axis=0))), SIGHT_MARGIN)
    while limits and (pairs := _pairs(low, high, look)) is not None:
        widths = _candidates(soup, pairs, look)
        for metal in tuple(limits):
            found[metal] = _first_in_sight(widths, view, metal)
            if found[metal] is not None or look >= limits[metal]:
                del limits[metal]
        look *= 2.0
    return found[True], found[False]


def _soup(paths: Sequence[Path]) -> _Soup:
    segments = [path.segments for path in paths]
    start, end, centre, radius, sweep = (
        np.concatenate([getattr(s, name) for s in segments])
        for name in ("start", "end", "centre", "radius", "sweep")
    )
    counts = np.array([len(s) for s in segments])
    firsts = np.cumsum(counts) - counts
    before = np.arange(len(start)) - 1
    before[firsts] = firsts + counts - 1
    bulge = np.tan(0.25 * sweep)
    chord = end - start
    aside = np.column_stack([chord[:, 1], -chord[:, 0]])
    middle = 0.5 * (start + end) + 0.5 * bulge[:, None] * aside
    unit = chord / np.hypot(chord[:, 0], chord[:, 1])[:, None]
    c, s = np.cos(0.5 * sweep), np.sin(0.5 * sweep)
    leaving = np.column_stack([c * unit[:, 0] + s * unit[:, 1], -s * unit[:, 0] + c * unit[:, 1]])
    arriving = np.column_stack([c * unit[:, 0] - s * unit[:, 1], s * unit[:, 0] + c * unit[:, 1]])
    return _Soup(start, end, centre, radius, 0.5 * np.abs(sweep), middle, leaving, arriving, before)


def _boxes(soup: _Soup) -> tuple[FloatArray, FloatArray]:
    """Return low and high corners of boxes that hold the segments; for arcs not the tightest."""
    # An arc of at most half a turn stays within its chord's box grown by its rise.
    rise = np.hypot(*(soup.middle - 0.5 * (soup.start + soup.end)).T)[:, None]
    return np.minimum(soup.start, soup.end) - rise, np.maximum(soup.start, soup.end) + rise


def _pairs(low: FloatArray, high: FloatArray, reach: float) -> NDArray[np.int64] | None:
    """Return pairs of segments whose boxes come within a reach, (k, 2), or None if too many."""
    import shapely

    grown = shapely.box(*(low - 0.5 * reach).T, *(high + 0.5 * reach).T)
    tree = shapely.STRtree(grown)
    found, total = [], 0
    for batch in np.array_split(np.arange(len(low)), 1 + len(low) // 512):
        i, j = tree.query(grown[batch])
        i = batch[i]
        found.append(np.column_stack([i, j])[i < j])
        total += len(found[-1])
        if total > MOST_PAIRS:
            return None
    return np.vstack(found)


def _candidates(soup: _Soup, pairs: NDArray[np.int64], reach: float) -> list[tuple[float, bool, _Sight]]:
    """Return widths up to a reach that are double normals: value, metal or scrap, both points."""
    i, j = pairs.T
    kinds = [
        _vertex_to_vertex(soup, i, j),
        _vertex_to_inside(soup, i, j),
        _vertex_to_inside(soup, j, i),
        *_inside_to_inside(soup, i, j),
    ]
    result = []
    for ends in kinds:
        across = ends.q - ends.p
        width = np.hypot(across[:, 0], across[:, 1])
        side_p, facing_p = _facing(soup, ends.p, across, ends.i, ends.at_vertex[0])
        side_q, facing_q = _facing(soup, ends.q, -across, ends.j, ends.at_vertex[1])
        good = facing_p & facing_q & (side_p == side_q) & (width <= reach) & (width > SKEW)
        result += [
            (float(width[k]), bool(side_p[k]), (tuple(ends.p[k].tolist()), tuple(ends.q[k].tolist())))
            for k in np.flatnonzero(good)
        ]
    return sorted(result)


def _first_in_sight(
    widths: list[tuple[float, bool, _Sight]], view: shapely.Polygon, metal: bool
) -> Width | None:
    """Return the least width of metal, or of scrap, whose ends see each other through it."""
    import shapely

    for value, in_metal, (p, q) in widths:
        if in_metal != metal:
            continue
        a, b = np.array(p), np.array(q)
        inset = min(SIGHT_MARGIN, 0.25 * value) / value
        sight = shapely.LineString([a + inset * (b - a), b + inset * (a - b)])
        if shapely.covers(view, sight) if metal else not shapely.intersects(view, sight):
            x, y = 0.5 * (a + b)
            return Width(value, (float(x), float(y)))
    return None


def _facing(
    soup: _Soup, point: FloatArray, across: FloatArray, which: NDArray[np.int64], at_vertex: bool
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return whether the other end lies on the metal side, and whether this end is nearest to it."""
    if not at_vertex:
        tangent = _tangent(soup, point, which)
        return _left(tangent, across) > 0.0, _bent_away(soup, point, across, which)
    before = soup.before[which]
    onward, back = soup.leaving[which], -soup.arriving[before]
    width = np.hypot(across[:, 0], across[:, 1])
    metal = _left(onward, across) - _left(back, across) > 0.0
    nearest = np.ones(len(which), dtype=bool)
    for way, segment in ((onward, which), (back, before)):
        lean = np.sum(way * across, axis=1)
        level = lean > -SKEW * width
        nearest &= (lean <= SKEW * width) & (~level | _bent_away(soup, point, across, segment))
    return metal, nearest


def _left(way: FloatArray, across: FloatArray) -> FloatArray:
    return np.asarray(way[:, 0] * across[:, 1] - way[:, 1] * across[:, 0])


def _tangent(soup: _Soup, point: FloatArray, which: NDArray[np.int64]) -> FloatArray:
    """Return directions of travel at points inside segments."""
    arm = point - soup.centre[which]
    turned = np.column_stack([-arm[:, 1], arm[:, 0]])
    # Of a counter-clockwise arc the centre lies to the left.
    left = _left(soup.leaving[which], soup.centre[which] - soup.start[which]) > 0.0
    return np.where(soup.arc[which, None], np.where(left, 1.0, -1.0)[:, None] * turned, soup.leaving[which])


def _bent_away(
    soup: _Soup, point: FloatArray, across: FloatArray, which: NDArray[np.int64]
) -> NDArray[np.bool_]:
    """Return whether a segment does not bend towards the other end more than about it."""
    toward = np.sum((soup.centre[which] - point) * across, axis=1) > 0.0
    width = np.hypot(across[:, 0], across[:, 1])
    return np.asarray(~(soup.arc[which] & toward & (width >= soup.radius[which] * (1.0 - SKEW))))


def _vertex_to_vertex(soup: _Soup, i: NDArray[np.int64], j: NDArray[np.int64]) -> _Ends:
    return _Ends(soup.start[i], soup.start[j], i, j, (True, True))


def _vertex_to_inside(soup: _Soup, i: NDArray[np.int64], j: NDArray[np.int64]) -> _Ends:
    """Return feet of the perpendiculars from vertices on segments, where they fall inside."""
    p = soup.start[i]
    q = _foot(soup, p, j)
    keep = _inside(soup, q, j)
    return _Ends(p[keep], q[keep], i[keep], j[keep], (True, False))


def _foot(soup: _Soup, point: FloatArray, which: NDArray[np.int64]) -> FloatArray:
    """Return the nearest places on segments' lines or circles."""
    start, along = soup.start[which], (soup.end - soup.start)[which]
    share = np.sum((point - start) * along, axis=1) / np.sum(along * along, axis=1)
    arm = point - soup.centre[which]
    reach = np.hypot(arm[:, 0], arm[:, 1])
    with np.errstate(invalid="ignore", divide="ignore"):
        on_circle = soup.centre[which] + arm * (soup.radius[which] / reach)[:, None]
    return np.where(soup.arc[which, None], on_circle, start + share[:, None] * along)


def _inside(soup: _Soup, point: FloatArray, which: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return whether points on segments' lines or circles lie strictly within the segments."""
    start, along = soup.start[which], (soup.end - soup.start)[which]
    share = np.sum((point - start) * along, axis=1) / np.sum(along * along, axis=1)
    on_line = (share > SKEW) & (share < 1.0 - SKEW)
    arm, middle = point - soup.centre[which], (soup.middle - soup.centre)[which]
    angle = np.abs(np.arctan2(_left(middle, arm), np.sum(middle * arm, axis=1)))
    return np.asarray(np.where(soup.arc[which], angle < soup.half[which] * (1.0 - SKEW), on_line))


def _inside_to_inside(soup: _Soup, i: NDArray[np.int64], j: NDArray[np.int64]) -> list[_Ends]:
    """Return double normals between the insides of two segments."""
    arc_i, arc_j = soup.arc[i], soup.arc[j]
    kinds = [_parallel(soup, i[~arc_i & ~arc_j], j[~arc_i & ~arc_j])]
    for line, arc in ((i[~arc_i & arc_j], j[~arc_i & arc_j]), (j[arc_i & ~arc_j], i[arc_i & ~arc_j])):
        p = _foot(soup, soup.centre[arc], line)
        kinds.append(_within(soup, p, _foot(soup, p, arc), line, arc))
    i, j = i[arc_i & arc_j], j[arc_i & arc_j]
    between = soup.centre[j] - soup.centre[i]
    apart = np.hypot(between[:, 0], between[:, 1])
    concentric = apart <= SKEW * np.minimum(soup.radius[i], soup.radius[j])
    kinds.append(_concentric(soup, i[concentric], j[concentric]))
    i, j, unit = i[~concentric], j[~concentric], between[~concentric] / apart[~concentric, None]
    for side_i in (1.0, -1.0):
        for side_j in (1.0, -1.0):
            p = soup.centre[i] + side_i * soup.radius[i, None] * unit
            q = soup.centre[j] + side_j * soup.radius[j, None] * unit
            kinds.append(_within(soup, p, q, i, j))
    return kinds


def _within(soup: _Soup, p: FloatArray, q: FloatArray, i: NDArray[np.int64], j: NDArray[np.int64]) -> _Ends:
    keep = _inside(soup, p, i) & _inside(soup, q, j)
    return _Ends(p[keep], q[keep], i[keep], j[keep], (False, False))


def _parallel(soup: _Soup, i: NDArray[np.int64], j: NDArray[np.int64]) -> _Ends:
    """Return the middles of where parallel lines run beside each other."""
    level = np.abs(_left(soup.leaving[i], soup.leaving[j])) <= SKEW
    i, j = i[level], j[level]
    unit = soup.leaving[i]
    length = np.sum((soup.end - soup.start)[i] * unit, axis=1)
    s, t = (np.sum((points[j] - soup.start[i]) * unit, axis=1) for points in (soup.start, soup.end))
    low, high = np.maximum(np.minimum(s, t), 0.0), np.minimum(np.maximum(s, t), length)
    beside = high - low > SKEW
    i, j = i[beside], j[beside]
    p = soup.start[i] + (0.5 * (low + high) * unit.T).T[beside]
    return _Ends(p, _foot(soup, p, j), i, j, (False, False))


def _concentric(soup: _Soup, i: NDArray[np.int64], j: NDArray[np.int64]) -> _Ends:
    """Return the middles of where arcs about one centre run beside each other."""
    a, b = (soup.middle - soup.centre)[i], (soup.middle - soup.centre)[j]
    turn = np.arctan2(_left(a, b), np.sum(a * b, axis=1))
    low = np.maximum(-soup.half[i], turn - soup.half[j])
    high = np.minimum(soup.half[i], turn + soup.half[j])
    beside = high - low > SKEW
    i, j, a = i[beside], j[beside], a[beside]
    angle = 0.5 * (low + high)[beside]
    c, s = np.cos(angle), np.sin(angle)
    arm = np.column_stack([c * a[:, 0] - s * a[:, 1], s * a[:, 0] + c * a[:, 1]])
    p = soup.centre[i] + arm
    return _Ends(p, _foot(soup, p, j), i, j, (False, False))
