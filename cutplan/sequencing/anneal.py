"""Drives the search over one ordering problem: start, cooling, stopping, the best order.

Two kinds of moves take turns.  Ruin and recreate (`search`) moves single stops and chooses
their places; exchanges of runs (`exchanges`) move many stops at once and leave the places.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from cutplan.base.randomness import new_stream
from cutplan.base.stopping import StoppingRule
from cutplan.geometry import FloatArray
from cutplan.sequencing.begun import OVER_COST_S, overs
from cutplan.sequencing.best_places import best_places
from cutplan.sequencing.exchanges import Exchanges, exchange, exchanges_of, line_of
from cutplan.sequencing.linked import (
    Tour,
    empty_tour,
    order_of,
    rearrange,
    renumber,
    set_tour,
    tour_of,
)
from cutplan.sequencing.opening import first_order
from cutplan.sequencing.problem import IntArray, Problem
from cutplan.sequencing.search import improve, insert_all

__all__ = ["Found", "anneal"]

CHUNK = 300
"""Iterations between two questions to the stopping rule."""
KICKS = 1500
"""Exchanges tried between, divided by the places of a stop: they leave the places, so they are
worth the most where there is but one; a search parameter."""
HOTTEST, COOLEST = 1.0, 0.01
HOTTEST_KICK, COOLEST_KICK = 2.0, 0.05
"""Temperatures of the annealing as shares of the average hop; search parameters."""


@dataclass(frozen=True, eq=False)
class Found:
    """The best order of a search.

    Attributes
    ----------
    order : int64, shape (n + 2,)
        Stops, with the start and the end.
    place : int64, shape (n + 2,)
        Place of each stop.
    cost : float
    statistics : mapping
    """

    order: IntArray
    place: IntArray
    cost: float
    statistics: Mapping[str, float]


def _first_tour(problem: Problem, seed: int, stream: IntArray, scratch: FloatArray) -> Tour:
    """Return a first order: a short round through the parts, or over a matrix any order put in well."""
    if len(problem.matrix) > 0:
        tour = empty_tour(problem)
        stops = len(problem.first) - 3
        shuffled = np.random.default_rng(seed).permutation(stops).astype(np.int64)
        insert_all(problem, tour, shuffled, stream, scratch)
    else:
        tour = tour_of(problem, first_order(problem, seed))
    renumber(tour)
    return tour


def anneal(
    problem: Problem,
    *,
    seed: int,
    stop: StoppingRule,
    progress: Callable[[float, float], None] | None = None,
) -> Found:
    """Return the best order found until the stopping rule is met or the user interrupts.

    The same seed and a rule that counts work give the same order.
    """
    stops = len(problem.first) - 3
    search = _begun(problem, seed)
    first_cost = float(search.costs[0])
    iterations = accepted = kept = 0
    stopped = False
    try:
        while stops > 1 and (share := stop(iterations, float(search.costs[1]))) < 1.0:
            if progress is not None:
                progress(share, float(search.costs[1]))
            hop = float(search.costs[1]) / (stops + 1)
            accepted += search.recreated(hop * HOTTEST * (COOLEST / HOTTEST) ** share)
            kept += search.exchanged(hop * HOTTEST_KICK * (COOLEST_KICK / HOTTEST_KICK) ** share)
            iterations += CHUNK
    except KeyboardInterrupt:
        stopped = True
    counts = {
        "iterations": iterations, "accepted": accepted, "exchanges": kept, "first_cost": first_cost,
        "stopped": stopped,
    }  # fmt: skip
    return _found(problem, search.best, counts)


@dataclass(frozen=True, eq=False)
class _Search:
    """A search at work: its current and its best tour, and what their costs are."""

    problem: Problem
    tour: Tour
    best: Tour
    costs: FloatArray
    looked_up: Exchanges
    stream: IntArray
    scratch: FloatArray

    def recreated(self, heat: float) -> int:
        """Take stops out and put them in for a chunk of iterations; return how many were kept."""
        around = self.problem.near[: len(self.problem.first) - 3]
        kept = improve(
            self.problem, self.tour, self.best, around, self.costs, heat, CHUNK, self.stream, self.scratch
        )
        renumber(self.tour)
        self.settle()
        return int(kept)

    def exchanged(self, heat: float) -> int:
        """Exchange runs for a number of kicks; return how many were kept."""
        stops = len(self.problem.first) - 3
        kicks = round(KICKS * stops / int(self.problem.first[stops]))
        line, before = line_of(self.problem, order_of(self.tour), self.tour.place), self.costs[1]
        shortest = line.order.copy()
        kept = exchange(self.problem, self.looked_up, line, shortest, self.costs, heat, kicks, self.stream)
        if self.costs[1] < before:
            rearrange(self.problem, self.best, shortest, self.tour.place)
        rearrange(self.problem, self.tour, line.order, self.tour.place)
        self.settle()
        return int(kept)

    def settle(self) -> None:
        """Give the tour the best places along its order, and keep it where it is the best."""
        order = order_of(self.tour)
        left = np.zeros(len(self.problem.members_at) - 1, dtype=np.int64)
        over = OVER_COST_S * overs(self.problem, order, left)
        self.costs[0] = best_places(self.problem, order, self.tour.place) + over
        if self.costs[0] < self.costs[1] - 1e-9:
            set_tour(self.best, self.tour)
            self.costs[1] = self.costs[0]


def _begun(problem: Problem, seed: int) -> _Search:
    stream, scratch = new_stream(seed), np.empty(int(np.diff(problem.first).max()))
    tour = _first_tour(problem, seed, stream, scratch)
    best = Tour(*(part.copy() for part in tour))
    search = _Search(problem, tour, best, np.full(2, np.inf), exchanges_of(problem), stream, scratch)
    search.settle()
    return search


def _found(problem: Problem, best: Tour, counts: Mapping[str, float]) -> Found:
    order = order_of(best)
    cost = float(best_places(problem, order, best.place))
    statistics = {name: float(value) for name, value in counts.items()} | {"cost": cost}
    return Found(order=order, place=best.place, cost=cost, statistics=statistics)
