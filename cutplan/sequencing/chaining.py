"""Which hops of an order the torch burns on over, within the limits of chains, and the runs that come of it.

The search prices a hop that is a link with what the next start would have cost; here the best
places and links along its order are chosen under the limits, exactly but for the way of a run.

Terminology
-----------
chain : cuts that follow each other over links, one run of the torch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from cutplan.base.compiled import njit
from cutplan.base.machine import Machine
from cutplan.cutting import Cut, Links, chained_cut, cut_time
from cutplan.geometry import length, point_at
from cutplan.process import CutData
from cutplan.sequencing.formulate import SEPARATE_COST_S
from cutplan.sequencing.model import SequenceOptions
from cutplan.sequencing.problem import NO_LINKS, PENALTY, IntArray, LinkTable, Problem, find_link, hop

__all__ = ["Chained", "chain_up", "link_table"]

BARRED = np.inf


def link_table(
    links: Links | None, cuts: Sequence[Cut], machine: Machine, data: CutData, options: SequenceOptions
) -> LinkTable:
    """Return the links as the search sees them, each with its true cost against a hop with a start.

    Parameters
    ----------
    links : Links or None
    cuts : sequence of Cut
    machine : Machine
    data : CutData
    options : SequenceOptions
    """
    if links is None or not len(links.first):
        return NO_LINKS
    first = np.zeros(len(cuts) + 1, dtype=np.int64)
    first[1:] = np.cumsum([len(cut.choices) for cut in cuts])
    one = first[links.first] + links.first_choice
    other = first[links.then] + links.then_choice
    some = cuts[int(links.first[0])].choices[0]
    # What every hop with the torch out has alike is left out of the search's costs.
    alike = options.low_lift_s if options.low_travel else machine.raise_s + machine.lower_s
    start_s = cut_time(some, data, machine).start_s + alike
    cost = links.length * 60.0 / data.feed_mm_min - start_s
    worth = np.flatnonzero(cost < 0.0)
    order = worth[np.lexsort((other[worth], one[worth]))]
    places = int(first[-1]) + 2
    at = np.searchsorted(one[order], np.arange(places + 1)).astype(np.int64)
    to = other[order].astype(np.int64)
    # Linked cuts are of different parts: the next is begun as after any other way.
    begun_s = SEPARATE_COST_S if options.parts_together else 0.0
    return LinkTable(at, to, cost[order] + begun_s, np.array([start_s]), links.length[order])


@dataclass(frozen=True, eq=False)
class Chained:
    """An order with its cuts joined into runs.

    Attributes
    ----------
    cuts : tuple of Cut
        The runs, numbered by their first cut's number among all.
    order : int64, shape (r,)
        Of the runs.
    choices : int64, shape (r,)
        Of each run, by run.
    members : tuple of tuple of int
        By run, its cuts' numbers.
    """

    cuts: tuple[Cut, ...]
    order: IntArray
    choices: IntArray
    members: tuple[tuple[int, ...], ...]

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Cuts that are linked."""
        return [pair for own in self.members for pair in pairwise(own)]

    def nearest_pair(self, place: tuple[float, float] | None) -> tuple[int, int]:
        """Return the linked cuts whose link passes nearest to a place."""
        at = shapely.Point(place or (0.0, 0.0))
        ways = [
            (float(shapely.LineString(point_at(lead.path, np.array(link))).distance(at)), pair)
            for run, own in zip(self.cuts, self.members, strict=True)
            for lead in run.choices[:1]
            for link, pair in zip(lead.links, pairwise(own), strict=False)
        ]
        return min(ways)[1]


def chain_up(
    problem: Problem,
    cuts: Sequence[Cut],
    links: Links,
    order: IntArray,
    barred: set[tuple[int, int]],
) -> Chained:
    """Return the runs along an order, with the best places and links that the limits allow.

    Parameters
    ----------
    problem : Problem
    cuts : sequence of Cut
    links : Links
    order : int64, shape (n + 2,)
        Start and end included.
    barred : set of (int, int)
        Pairs of cuts that are not linked.
    """
    cost = problem.links.cost.copy()
    owner = problem.owner
    leaving = np.repeat(np.arange(len(problem.links.at) - 1), np.diff(problem.links.at))
    for number, (p, q) in enumerate(zip(leaving.tolist(), problem.links.to.tolist(), strict=True)):
        if (int(owner[p]), int(owner[q])) in barred:
            cost[number] = BARRED
    n = len(cuts)
    most = np.concatenate([links.most, [1, 1]]).astype(np.int64)
    longest = np.concatenate([links.longest, [np.inf, np.inf]])
    size = np.array([max(float(length(lead.path)) for lead in cut.choices) for cut in cuts] + [0.0, 0.0])
    place = problem.first[:-1].copy()
    joined = np.zeros(n + 2, dtype=np.bool_)
    limits = most, longest, size
    _best_chains(problem, problem.links._replace(cost=cost), NO_LINKS, order, limits, place, joined)
    return _as_runs(cuts, order[1:-1], place[:n] - problem.first[:n], joined)


def _as_runs(cuts: Sequence[Cut], order: IntArray, choices: IntArray, joined: Any) -> Chained:
    chains: list[list[int]] = []
    for stop in order.tolist():
        if joined[stop]:
            chains[-1].append(stop)
        else:
            chains.append([stop])
    by_first = sorted(range(len(chains)), key=lambda k: min(chains[k]))
    number = {k: i for i, k in enumerate(by_first)}
    runs, chosen = [], []
    for k in by_first:
        own = chains[k]
        alone = len(own) == 1
        picks = [int(choices[i]) for i in own]
        runs.append(cuts[own[0]] if alone else chained_cut([cuts[i] for i in own], picks))
        chosen.append(picks[0] if alone else 0)
    return Chained(
        tuple(runs),
        np.array([number[k] for k in range(len(chains))], dtype=np.int64),
        np.array(chosen, dtype=np.int64),
        tuple(tuple(chains[k]) for k in by_first),
    )


@njit
def _best_chains(
    problem: Any, links: Any, none: Any, order: Any, limits: Any, place: Any, joined: Any
) -> Any:
    """Set `place` and `joined` to the cheapest along an order; return the cost.

    Bellman's recursion as in `best_places`, with the number of cuts in the present chain as a
    second coordinate of each node; the way of the chain so far, and the least of its cuts'
    limits, go along with the cheapest label.
    """
    matrix, sites, motion, first = problem.matrix, problem.sites, problem.motion, problem.first
    most, longest, size = limits
    places, deep = problem.owner.shape[0], most.max() + 1
    cost = np.full((places, deep), np.inf)
    way = np.zeros((places, deep))
    room = np.full((places, deep), np.inf)
    cap = np.zeros((places, deep), dtype=np.int64)
    from_place = np.full((places, deep), -1, dtype=np.int64)
    from_deep = np.zeros((places, deep), dtype=np.int64)
    start = order[0]
    cost[first[start], 1] = 0.0
    cap[first[start], 1] = 1
    for i in range(1, order.shape[0]):
        here, there = order[i - 1], order[i]
        for q in range(first[there], first[there + 1]):
            for p in range(first[here], first[here + 1]):
                link = find_link(links, p, q)
                plain = hop(matrix, none, sites, motion, p, q)
                for k in range(1, deep):
                    if not cost[p, k] < np.inf:
                        continue
                    if cost[p, k] + plain < cost[q, 1]:
                        cost[q, 1] = cost[p, k] + plain
                        from_place[q, 1], from_deep[q, 1] = p, k
                        way[q, 1], room[q, 1], cap[q, 1] = size[there], longest[there], most[there]
                    if link < 0 or k + 1 > min(cap[p, k], most[there]):
                        continue
                    far = way[p, k] + links.length[link] + size[there]
                    total = cost[p, k] + links.cost[link] + sites[PENALTY, q]
                    if far <= min(room[p, k], longest[there]) and total < cost[q, k + 1]:
                        cost[q, k + 1] = total
                        from_place[q, k + 1], from_deep[q, k + 1] = p, k
                        way[q, k + 1] = far
                        room[q, k + 1] = min(room[p, k], longest[there])
                        cap[q, k + 1] = min(cap[p, k], most[there])
    last = order[order.shape[0] - 1]
    best, k = first[last], 1
    total = cost[best, 1]
    for i in range(order.shape[0] - 1, -1, -1):
        place[order[i]] = best
        joined[order[i]] = k > 1
        best, k = from_place[best, k], from_deep[best, k]
    return total
