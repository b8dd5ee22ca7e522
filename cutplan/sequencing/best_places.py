"""The best places for a fixed order: a shortest path through layers."""

from __future__ import annotations

from typing import Any

import numpy as np

from cutplan.base.compiled import njit
from cutplan.sequencing.problem import hop

__all__ = ["best_places"]


@njit
def best_places(problem: Any, order: Any, place: Any) -> Any:
    """Set `place` to the cheapest places along `order` and return the cost.

    Each stop is a layer and its places are the nodes; Bellman's recursion through the layers
    (as for clusters in a fixed order, Karapetyan and Gutin 2012, "Efficient local search
    algorithms for known and new neighborhoods for the generalized traveling salesman problem").
    """
    matrix, links, sites, motion = problem.matrix, problem.links, problem.sites, problem.motion
    first = problem.first
    places = problem.owner.shape[0]
    cost = np.empty(places)
    came_from = np.empty(places, dtype=np.int64)
    for p in range(places):
        cost[p] = np.inf
    start = order[0]
    for p in range(first[start], first[start + 1]):
        cost[p] = 0.0
    for i in range(1, order.shape[0]):
        here, there = order[i - 1], order[i]
        for q in range(first[there], first[there + 1]):
            for p in range(first[here], first[here + 1]):
                candidate = cost[p] + hop(matrix, links, sites, motion, p, q)
                if candidate < cost[q]:
                    cost[q] = candidate
                    came_from[q] = p
    last = order[order.shape[0] - 1]
    best = first[last]
    for p in range(first[last], first[last + 1]):
        if cost[p] < cost[best]:
            best = p
    total = cost[best]
    for i in range(order.shape[0] - 1, -1, -1):
        place[order[i]] = best
        best = came_from[best]
    return total
