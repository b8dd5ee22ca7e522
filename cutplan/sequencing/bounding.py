"""A lower bound on the travel of any order: no order of these cuts travels for less."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from cutplan.base.compiled import njit
from cutplan.sequencing.problem import (
    ARRIVE_X,
    ARRIVE_Y,
    DEPART_X,
    DEPART_Y,
    LIFT,
    STUCK,
    WEIGHT,
    FloatArray,
    IntArray,
    Problem,
    move_times,
)

__all__ = ["at_places", "least_hops", "one_tree_bound", "travel_bound"]

ASCENT_STEPS = 120
CLOSE_STOPS = 40
"""Pairs of stops among so many nearest are measured place by place, others by their rings."""


def travel_bound(problem: Problem, before: Sequence[set[int]]) -> float:
    """Return a lower bound on the cost of the cheapest order of a problem of places, penalties left out.

    Every order is a round through the stops and the start, so it costs no less than the
    cheapest one-tree over the cheapest hops between stops in either direction (Held and Karp
    1970, "The traveling-salesman problem and minimum spanning trees"), whatever places are
    chosen.  Hops that the precedences forbid are left out.  From stage to stage every order
    goes just once, which a toll on such hops makes the one-tree heed.

    Parameters
    ----------
    problem : Problem
    before : sequence of set of int
        For each stop all that must come before it.

    Returns
    -------
    float
        s; raising and lowering on every hop alike left out.
    """
    hops = least_hops(problem)
    stops = len(hops) - 2
    _forbid(hops, before, problem.stage)
    n = stops + 1
    there = hops[:stops, :stops]
    weights = np.zeros((n, n))
    weights[:stops, :stops] = np.minimum(there, there.T)
    if stops == 0:
        return float(hops[0, 1])
    weights[stops, :stops] = np.minimum(hops[stops, :stops], hops[:stops, stops + 1])
    weights[:stops, stops] = weights[stops, :stops]
    if stops == 1:
        return float(hops[1, 0] + hops[0, 2])
    steps = max(20, ASCENT_STEPS if n <= 500 else ASCENT_STEPS * 500 // n)
    stage = np.unique(problem.stage[:stops], return_inverse=True)[1].astype(np.int64)
    return float(one_tree_bound(weights, steps, stage))


def at_places(problem: Problem, place: IntArray) -> Problem:
    """Return a problem with but the one place of each stop that is given.

    Parameters
    ----------
    problem : Problem
        Without links.
    place : int64, shape (n,)
        Place of each stop, start and end left out.
    """
    kept = np.concatenate([place, problem.first[-3:-1]])
    counted = np.arange(len(kept) + 1, dtype=np.int64)
    sites = np.ascontiguousarray(problem.sites[:, kept])
    return problem._replace(first=counted, owner=counted[:-1], sites=sites, ring=np.zeros((0, 3)))


def least_hops(problem: Problem) -> FloatArray:
    """Return for each pair of stops what the hop costs at the least, shape (n + 2, n + 2)."""
    first = problem.first
    counts = np.diff(first)
    arrive, depart = problem.sites[[ARRIVE_X, ARRIVE_Y]].T, problem.sites[[DEPART_X, DEPART_Y]].T
    middle = np.add.reduceat(0.5 * (arrive + depart), first[:-1], axis=0) / counts[:, None]
    spread = np.repeat(middle, counts, axis=0)
    ring = np.maximum.reduceat(
        np.maximum(np.hypot(*(arrive - spread).T), np.hypot(*(depart - spread).T)), first[:-1]
    )
    gaps = np.hypot(*(middle[:, None] - middle[None]).transpose(2, 0, 1)) - ring[:, None] - ring[None]
    close = np.argsort(gaps, axis=1, kind="stable")[:, :CLOSE_STOPS]
    lengths = np.maximum(gaps, 0.0)
    for i, others in enumerate(close):
        rows = np.concatenate([np.arange(first[j], first[j + 1]) for j in others])
        starts = np.concatenate([[0], np.cumsum(counts[others])[:-1]])
        leaving = depart[first[i] : first[i + 1]]
        apart = np.hypot(*(arrive[rows, None] - leaving[None]).transpose(2, 0, 1)).min(axis=1)
        lengths[i, others] = np.minimum.reduceat(apart, starts)
    return _as_seconds(problem, lengths)


def _as_seconds(problem: Problem, lengths: FloatArray) -> FloatArray:
    seconds = move_times(problem.motion, lengths)
    stuck = problem.sites[STUCK, problem.first[:-3]] > 0.0
    seconds[:-2, :-2] += problem.motion[LIFT] * stuck[:, None]
    return np.asarray(seconds * problem.sites[WEIGHT, problem.first[:-1]])


def _forbid(hops: FloatArray, before: Sequence[set[int]], stage: IntArray) -> None:
    """Make the hops dear that no order holds: backwards, past a stop between, first or last too early."""
    stops = len(before)
    dear = 1e3 * (1.0 + float(hops.max()))
    followed = set().union(*before) if stops else set()
    for later, earlier in enumerate(before):
        rows = list(earlier)
        hops[later, rows] = dear
        past = set().union(*(before[k] for k in earlier)) & earlier
        hops[list(past), later] = dear
        if earlier:
            hops[stops, later] = dear
        if later in followed:
            hops[later, stops + 1] = dear
    _, step = np.unique(stage[:stops], return_inverse=True)
    ahead = step[None, :] - step[:, None]
    hops[:stops, :stops][(ahead < 0) | (ahead > 1)] = dear
    hops[stops, :stops][step > 0] = dear
    hops[:stops, stops + 1][step < step.max(initial=0)] = dear


@njit
def one_tree_bound(weights: Any, steps: Any, stage: Any) -> Any:
    """Return the best one-tree bound of a subgradient ascent on node prices and the toll.

    The last node is the one joined to the tree by its two cheapest edges.

    Parameters
    ----------
    weights : float64, shape (n, n)
        Symmetric, n ≥ 3.
    steps : int
    stage : int64, shape (n − 1,)
        Stage of each node but the last, 0, 1, …; a round has as many edges between stages as
        there are stages but one, and each of these edges pays the toll.
    """
    n = weights.shape[0]
    price = np.zeros(n)
    degree = np.zeros(n, dtype=np.int64)
    changes = stage.max()
    best = -1e300
    length, toll = 0.0, 0.0
    for step in range(steps):
        tree, tolls = _one_tree(weights, price, degree, stage, toll)
        tree -= toll * changes
        if tree > best:
            best = tree
        norm = abs(tolls - changes)
        for i in range(n):
            norm += (degree[i] - 2) * (degree[i] - 2)
        if norm == 0:
            break
        if step == 0:
            length = 0.2 * tree / n
        size = length * (1.0 - step / steps)
        for i in range(n):
            price[i] += size * (degree[i] - 2)
        toll += size * (tolls - changes)
    return best


@njit
def _one_tree(weights: Any, price: Any, degree: Any, stage: Any, toll: Any) -> Any:
    """Return the cost of the cheapest one-tree and its tolls paid, and set the degrees (Prim 1957)."""
    n = weights.shape[0]
    last = n - 1
    nearest = np.empty(n)
    joined_to = np.zeros(n, dtype=np.int64)
    done = np.zeros(n, dtype=np.int64)
    total, tolls = 0.0, 0
    for i in range(n):
        total -= 2.0 * price[i]
        degree[i] = 0
        nearest[i] = weights[0, i] + price[0] + price[i]
        if i < last and stage[i] != stage[0]:
            nearest[i] += toll
    done[0] = 1
    for _ in range(last - 1):
        pick = -1
        for i in range(last):
            if done[i] == 0 and (pick < 0 or nearest[i] < nearest[pick]):
                pick = i
        total += nearest[pick]
        done[pick] = 1
        degree[pick] += 1
        degree[joined_to[pick]] += 1
        tolls += stage[pick] != stage[joined_to[pick]]
        for i in range(last):
            cost = weights[pick, i] + price[pick] + price[i] + toll * (stage[pick] != stage[i])
            if done[i] == 0 and cost < nearest[i]:
                nearest[i], joined_to[i] = cost, pick
    first, second = -1, -1
    for i in range(last):
        cost = weights[last, i] + price[last] + price[i]
        if first < 0 or cost < weights[last, first] + price[last] + price[first]:
            first, second = i, first
        elif second < 0 or cost < weights[last, second] + price[last] + price[second]:
            second = i
    degree[last] = 2
    degree[first] += 1
    degree[second] += 1
    total += weights[last, first] + weights[last, second]
    return total + 2.0 * price[last] + price[first] + price[second], tolls
