"""Drives the search over one ordering problem: start, cooling, stopping, the best order."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from cutplan.base.randomness import new_stream
from cutplan.base.stopping import StoppingRule
from cutplan.geometry import FloatArray
from cutplan.sequencing.begun import OVER_COST_S, overs
from cutplan.sequencing.best_places import best_places
from cutplan.sequencing.opening import first_order
from cutplan.sequencing.problem import IntArray, Problem
from cutplan.sequencing.search import (
    Tour,
    empty_tour,
    improve,
    insert_all,
    order_of,
    renumber,
    set_tour,
    tour_of,
)

__all__ = ["Found", "anneal"]

CHUNK = 500
"""Iterations between two questions to the stopping rule."""
HOTTEST, COOLEST = 1.0, 0.01
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
    stream = new_stream(seed)
    scratch = np.empty(int(np.diff(problem.first).max()))
    tour = _first_tour(problem, seed, stream, scratch)
    first_cost = best_places(problem, order_of(tour), tour.place)
    left = np.zeros(len(problem.members_at) - 1, dtype=np.int64)

    def priced() -> float:
        order = order_of(tour)
        return float(best_places(problem, order, tour.place) + OVER_COST_S * overs(problem, order, left))

    best = Tour(*(part.copy() for part in tour))
    costs = np.full(2, priced())
    iterations = accepted = 0
    stopped = False
    try:
        while stops > 1 and (share := stop(iterations, float(costs[1]))) < 1.0:
            if progress is not None:
                progress(share, float(costs[1]))
            heat = first_cost / (stops + 1) * HOTTEST * (COOLEST / HOTTEST) ** share
            accepted += improve(
                problem, tour, best, problem.near[:stops], costs, heat, CHUNK, stream, scratch
            )
            iterations += CHUNK
            renumber(tour)
            costs[0] = priced()
            if costs[0] < costs[1] - 1e-9:
                set_tour(best, tour)
                costs[1] = costs[0]
    except KeyboardInterrupt:
        stopped = True
    counts = {"iterations": iterations, "accepted": accepted, "first_cost": first_cost, "stopped": stopped}
    return _found(problem, best, counts)


def _found(problem: Problem, best: Tour, counts: Mapping[str, float]) -> Found:
    order = order_of(best)
    cost = float(best_places(problem, order, best.place))
    statistics = {name: float(value) for name, value in counts.items()} | {"cost": cost}
    return Found(order=order, place=best.place, cost=cost, statistics=statistics)
