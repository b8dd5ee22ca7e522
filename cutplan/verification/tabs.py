"""Tabs held against the plan: each is there and as wide as planned, and it is the only metal left.

Terminology
-----------
tab : a stretch of an outside that is planned to be left uncut.
neck : the narrowest metal of a tab, between the kerf's round ends on its two sides.
middle : half way between those ends, on the line of the torch's centre.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from cutplan.geometry import (
    FloatArray,
    Path,
    direction_at,
    is_counter_clockwise,
    length,
    nearest,
    place,
    point_at,
)
from cutplan.verification.burns import Runs
from cutplan.verification.measure import stretches_of
from cutplan.verification.model import Fault, Planned, PlannedTab
from cutplan.verification.placed import PlacedParts
from cutplan.verification.strokes import BoolArray, IntArray, Strokes, distance_to, gap_between

__all__ = [
    "PlacedTab",
    "held_by_tabs",
    "neck_of",
    "place_tabs",
    "posts_in_tabs",
    "tab_faults",
    "uncovered_pieces",
]

TAB_TOLERANCE = 0.1
"""A tab may be so much narrower or wider than planned, mm."""
# Torch paths that end within this of where they should are a tab's, mm.
REACH = 0.5
# A place this near to an edge lies on it, mm.
ON_EDGE = 1e-3


@dataclass(frozen=True, eq=False)
class PlacedTab:
    """A planned tab on its sheet.

    Attributes
    ----------
    planned : PlannedTab
    placement, contour : int
    outside : Path
        The drawn outside, placed.
    middle : ndarray, shape (2,)
    along : ndarray, shape (2,)
        Direction of the outside there.
    """

    planned: PlannedTab
    placement: int
    contour: int
    outside: Path
    middle: FloatArray
    along: FloatArray

    def holds(self, s: FloatArray) -> BoolArray:
        """Return which places along the outside, mm, lie in the tab."""
        first, last = self.planned.span
        whole = float(length(self.outside))
        return np.asarray((s - first) % whole <= (last - first) % whole)


def place_tabs(parts: PlacedParts, planned: Planned | None, radius: float) -> list[PlacedTab]:
    """Return the planned tabs of the parts on a sheet.

    Parameters
    ----------
    parts : PlacedParts
    planned : Planned or None
    radius : float
        Half the kerf, mm.
    """
    number = {(p.part.name, p.copy): k for k, p in enumerate(parts.sheet.placements)}
    outsides: dict[int, Path] = {}
    found = []
    for tab in planned.tabs if planned is not None else ():
        index = number.get((tab.part, tab.copy))
        if index is None:
            continue
        placement = parts.sheet.placements[index]
        outside = outsides.setdefault(index, place(placement.part.outer, placement.pose))
        whole = float(length(outside))
        half = 0.5 * ((tab.span[1] - tab.span[0]) % whole)
        at = np.array([(tab.span[0] + half) % whole])
        along = direction_at(outside, at)[0]
        sign = 1.0 if is_counter_clockwise(outside) else -1.0
        outward = sign * np.array([along[1], -along[0]])
        middle = point_at(outside, at)[0] + radius * outward
        found.append(PlacedTab(tab, index, int(parts.first_contour[index]), outside, middle, along))
    return found


def held_by_tabs(parts: PlacedParts, tabs: Sequence[PlacedTab]) -> BoolArray:
    """Return which placements tabs are to hold."""
    held = np.zeros(len(parts.sheet.placements), dtype=np.bool_)
    held[[tab.placement for tab in tabs]] = True
    return held


def uncovered_pieces(parts: PlacedParts, tabs: Sequence[PlacedTab]) -> tuple[Strokes, IntArray]:
    """Return the pieces of edge that must be cut clean, those of tabs left out, and their contours."""
    pieces, contours = parts.pieces, parts.piece_contour
    for tab in tabs:
        own = np.flatnonzero(contours == tab.contour)
        others = np.flatnonzero(contours != tab.contour)
        split = _split_at(pieces[own], point_at(tab.outside, np.array(tab.planned.span)))
        inside = tab.holds(nearest(tab.outside, split.at(np.full(len(split), 0.5)))[1])
        kept = split[~inside]
        pieces = Strokes.joined([pieces[others], kept])
        contours = np.concatenate([contours[others], np.full(len(kept), tab.contour)])
    return pieces, contours


def posts_in_tabs(parts: PlacedParts, tabs: Sequence[PlacedTab]) -> BoolArray:
    """Return which posts, where the torch has to pass, lie beside the stretch of edge that a tab leaves uncut."""
    inside = np.zeros(len(parts.posts), dtype=np.bool_)
    for tab in tabs:
        own = np.flatnonzero(parts.post_contour == tab.contour)
        if len(own):
            inside[own] |= tab.holds(nearest(tab.outside, parts.posts[own])[1])
    return inside


def _split_at(pieces: Strokes, places: FloatArray) -> Strokes:
    """Return pieces split where one of some places lies on them."""
    for place_ in places:
        points = np.tile(place_, (len(pieces), 1))
        share = pieces.share_beside(points)
        on = (distance_to(points, pieces) <= ON_EDGE) & (share > 0.0) & (share < 1.0)
        split, share = pieces[on], share[on]
        first = stretches_of(split, np.zeros(len(split)), share)
        second = stretches_of(split, share, np.ones(len(split)))
        pieces = Strokes.joined([pieces[~on], first, second])
    return pieces


def tab_faults(runs: Runs, tabs: Sequence[PlacedTab], radius: float) -> Iterator[Fault]:
    """Yield the tabs that are not as planned.

    Parameters
    ----------
    runs : Runs
        The torch's.
    tabs : sequence of PlacedTab
    radius : float
        Half the kerf, mm.
    """
    for tab in tabs:
        planned = tab.planned
        width = neck_of(runs.strokes, tab, radius)
        if abs(width - planned.width_mm) <= TAB_TOLERANCE:
            continue
        if width <= 0.0:
            told = "a tab is cut through"
        elif np.isfinite(width):
            told = f"a tab is {width:.2f} mm wide, the plan has {planned.width_mm:g} mm"
        else:
            told = f"a tab is wider than the {planned.width_mm:g} mm planned, or lies elsewhere"
        x, y = tab.middle.tolist()
        yield Fault("tab", told, None, (x, y), planned.part, planned.copy)


def neck_of(strokes: Strokes, tab: PlacedTab, radius: float) -> float:
    """Return the narrowest metal of a tab, mm; inf where the torch comes to it from one side at most.

    A kerf that reaches nearer to the middle than the tab's ends takes metal of the tab, from
    whichever side it comes.
    """
    half = 0.5 * tab.planned.width_mm + radius
    boxes = strokes.boxes()
    reach = half + REACH
    near = np.flatnonzero(
        (boxes[:, :2] <= tab.middle + reach).all(axis=1) & (boxes[:, 2:] >= tab.middle - reach).all(axis=1)
    )
    own = _in_short(strokes[near], 0.5 * reach)
    away = distance_to(np.tile(tab.middle, (len(own), 1)), own)
    own, away = own[away <= reach], away[away <= reach]
    if not len(own):
        return float("inf")
    closest = 2.0 * (float(away.min()) - radius)
    side = _side(own, tab)
    before, after = own[side < 0.0], own[side > 0.0]
    if closest < tab.planned.width_mm - 2.0 * TAB_TOLERANCE:
        return min(closest, tab.planned.width_mm - 2.0 * TAB_TOLERANCE)
    if not len(before) or not len(after):
        return float("inf")
    one = np.repeat(np.arange(len(before)), len(after))
    other = np.tile(np.arange(len(after)), len(before))
    return float(gap_between(before[one], after[other])[0].min()) - 2.0 * radius


def _in_short(strokes: Strokes, longest: float) -> Strokes:
    """Return strokes in pieces, none longer than that: one may come to a tab from both sides."""
    counts = np.maximum(1, np.ceil(strokes.length / longest)).astype(np.int64)
    rows = np.repeat(np.arange(len(strokes)), counts)
    number = np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts, counts)
    return stretches_of(strokes[rows], number / counts[rows], (number + 1) / counts[rows])


def _side(strokes: Strokes, tab: PlacedTab) -> FloatArray:
    """Return on which side of a tab's middle each stroke comes nearest to it, by the sign along the edge."""
    share = np.linspace(0.0, 1.0, 33)
    rows = np.repeat(np.arange(len(strokes)), len(share))
    points = strokes[rows].at(np.tile(share, len(strokes))) - tab.middle
    away = np.hypot(*points.T).reshape(-1, len(share))
    nearest_ = away.argmin(axis=1)
    return np.asarray((points @ tab.along).reshape(-1, len(share))[np.arange(len(strokes)), nearest_])
