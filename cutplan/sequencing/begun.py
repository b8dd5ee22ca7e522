"""How many parts are begun and not finished along an order, kept up to date move by move.

A plate that shifts spoils every part that is begun: what is cut before the shift no longer fits
what comes after it.

Terminology
-----------
unit : the cuts of one part, or of parts that share cuts; a part of a single cut is never open, and
    marks begin none.
link : the way from one stop of the order to the next.
open : a unit is open on a link that has cuts of it on both sides.
over : by how many the open units of a link exceed the cap; summed, of an order.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import networkx as nx
import numpy as np

from cutplan.base.compiled import njit
from cutplan.cutting import Cut
from cutplan.sequencing.problem import IntArray, compressed

__all__ = [
    "LONGEST_REACH",
    "OVER_COST_S",
    "count_in",
    "count_out",
    "mark_reach",
    "most_open",
    "overs",
    "units_of",
]

OVER_COST_S = 60.0
"""Seconds that a part too many, begun and not finished, counts on each way from cut to cut: above what
travel is worth, and under what a plate 10 K too hot counts."""
LONGEST_REACH = 60
"""Links between a cut and the others of its part that an insertion looks at; a search parameter."""


def units_of(cuts: Sequence[Cut], cap: int) -> tuple[IntArray, IntArray, IntArray, int]:
    """Return the unit of each stop, −1 for none, each unit's stops, one after the other, and the units' cap.

    Start and end are counted as stops.  Where the parts are no more than the cap there are no
    units: nothing needs watching.  Units of several parts may be open the fewer at once.
    """
    shared: nx.Graph = nx.Graph()
    for cut in cuts:
        nx.add_path(shared, cut.placements)
    of_part = {p: min(some) for some in nx.connected_components(shared) for p in some}
    widest = max(Counter(of_part.values()).values(), default=1)
    cap = max(1, cap // widest)
    parts: dict[int, list[int]] = {}
    for i, cut in enumerate(cuts):
        for placement in cut.placements[:1] if cut.kind != "mark" else ():
            parts.setdefault(of_part[placement], []).append(i)
    several = [stops for stops in parts.values() if len(stops) > 1]
    if len(several) <= cap:
        several = []
    unit = np.full(len(cuts) + 2, -1, dtype=np.int64)
    for number, stops in enumerate(several):
        unit[stops] = number
    members, members_at = compressed(several)
    return unit, members, members_at, cap


def most_open(cuts: Sequence[Cut]) -> int:
    """Return how many parts are begun and not finished at once along cuts in order, at the most.

    Parameters
    ----------
    cuts : sequence of Cut
        In the order of cutting.
    """
    makes = [cut.placements if cut.kind != "mark" else () for cut in cuts]
    left = Counter(placement for some in makes for placement in some)
    begun: set[int] = set()
    most = 0
    for some in makes:
        for placement in some:
            left[placement] -= 1
            begun.add(placement)
            if not left[placement]:
                begun.remove(placement)
        most = max(most, len(begun))
    return most


@njit
def overs(problem: Any, order: Any, left: Any) -> Any:
    """Return the over of an order; `left` has room for a number for each unit."""
    unit, cap = problem.unit, problem.most_open
    for i in range(left.shape[0]):
        left[i] = problem.members_at[i + 1] - problem.members_at[i]
    count, over = 0, 0
    for k in range(order.shape[0]):
        mine = unit[order[k]]
        if mine >= 0:
            if left[mine] == problem.members_at[mine + 1] - problem.members_at[mine]:
                count += 1
            left[mine] -= 1
            if left[mine] == 0:
                count -= 1
        over += max(0, count - cap)
    return over


@njit
def _ends_of(problem: Any, tour: Any, stop: Any) -> Any:
    """Return the first and the last of the other stops of a stop's unit that are in, −1 for none."""
    unit = problem.unit[stop]
    first, last = -1, -1
    for i in range(problem.members_at[unit], problem.members_at[unit + 1]):
        other = problem.members[i]
        if other != stop and tour.following[other] >= 0:
            if first < 0 or tour.key[other] < tour.key[first]:
                first = other
            if last < 0 or tour.key[other] > tour.key[last]:
                last = other
    return first, last


@njit
def _add(problem: Any, tour: Any, at: Any, until: Any, by: Any) -> Any:
    """Add to what is open on the links from one stop to another; return the change of the over."""
    cap, change = problem.most_open, 0
    while at != until:
        now = tour.open[at] + by
        change += max(0, now - cap) - max(0, now - by - cap)
        tour.open[at] = now
        at = tour.following[at]
    return change


@njit
def _stretch(problem: Any, tour: Any, stop: Any, by: Any) -> Any:
    """Count a stop that lies outside the rest of its unit in or out; return the change of the over."""
    first, last = _ends_of(problem, tour, stop)
    if first < 0:
        return 0
    if tour.key[stop] < tour.key[first]:
        return _add(problem, tour, stop, first, by)
    if tour.key[stop] > tour.key[last]:
        return _add(problem, tour, last, stop, by)
    return 0


@njit
def count_in(problem: Any, tour: Any, stop: Any) -> Any:
    """Set what is open once a stop has been linked in; return the change of the over."""
    ahead = tour.preceding[stop]
    tour.open[stop] = tour.open[ahead]
    change = max(0, tour.open[stop] - problem.most_open)
    if problem.unit[stop] >= 0:
        change += _stretch(problem, tour, stop, 1)
    return change


@njit
def count_out(problem: Any, tour: Any, stop: Any) -> Any:
    """Set what is open before a stop is taken out; return the change of the over."""
    change = 0
    if problem.unit[stop] >= 0:
        change = _stretch(problem, tour, stop, -1)
    # The links before and behind the stop become one.
    return change - max(0, tour.open[stop] - problem.most_open)


@njit
def mark_reach(problem: Any, tour: Any, stop: Any, low: Any, high: Any, longest: Any) -> Any:
    """Set in `tour.over` what putting the stop in behind others adds to the over.

    Only stops from `low` to the one before `high`, and `longest` links from the rest of its
    unit, are looked at; they carry the new `tour.serial` in `tour.seen`.  Returns the first and
    the last of the rest of the unit, −1 where none is in the order.
    """
    if problem.unit[stop] < 0:
        return -1, -1
    first, last = _ends_of(problem, tour, stop)
    if first < 0:
        return -1, -1
    cap = problem.most_open
    tour.serial[0] += 1
    serial = tour.serial[0]
    passed = 0
    at = first if tour.key[first] > tour.key[low] else low
    for _ in range(longest):
        if at == low:
            break
        at = tour.preceding[at]
        tour.over[at] = passed + max(0, tour.open[at] + 1 - cap)
        tour.seen[at] = serial
        if tour.open[at] >= cap:
            passed += 1
    passed = 0
    at = last if tour.key[last] < tour.key[high] else high
    for _ in range(longest):
        if at == high:
            break
        if tour.open[at] >= cap:
            passed += 1
        tour.over[at] = passed + max(0, tour.open[at] - cap)
        tour.seen[at] = serial
        at = tour.following[at]
    return first, last
