"""Moves of whole runs of stops: two neighbouring runs change places and keep their direction.

The path-preserving 3-exchange of Gambardella and Dorigo 2000, "An ant colony system
hybridized with a new local search for the sequential ordering problem".  Their labels say how
far the right run may reach: to the first stop that must come after one of the left run.  Here
the positions of each stop's direct followers are looked up instead, which allows the same
exchanges.  A run of one stop on either side is the Or-exchange (Or 1976).  The search is
restarted from small random exchanges under simulated annealing; each that is refused is undone.

The places of the stops stay as they are; `search` chooses them.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from cutplan.base.compiled import njit
from cutplan.base.randomness import below, uniform
from cutplan.sequencing.begun import OVER_COST_S, overs
from cutplan.sequencing.problem import IntArray, Problem, compressed, hop

__all__ = ["Exchanges", "Line", "exchange", "exchanges_of", "line_of"]

LONGEST_KICK = 12
"""Longest run moved by a random exchange; a search parameter."""
MOST_EXCHANGES = 3
"""Random exchanges of one kick at most; a search parameter."""
LONGEST_RUN = 500
"""Longest run looked at; a search parameter."""
WAYS_IN = 12
"""Stops from which a cheaper way into a stop is sought; a search parameter."""


class Exchanges(NamedTuple):
    """What exchanges of runs look up, of one problem.

    Attributes
    ----------
    into : int64, shape (n + 2, k)
        Stops from which each stop is reached at least cost, cheapest first, padded with −1.
    after, after_at : int64
        after[after_at[i]:after_at[i + 1]] come after stop i, and not only because others do.
    """

    into: Any
    after: Any
    after_at: Any


def exchanges_of(problem: Problem) -> Exchanges:
    """Return what exchanges of runs look up."""
    stops = len(problem.first) - 3
    before = [set(problem.before[a:b].tolist()) for a, b in pairwise(problem.before_at[: stops + 1].tolist())]
    after: list[list[int]] = [[] for _ in range(stops + 2)]
    for later, earlier in enumerate(before):
        for i in earlier.difference(*(before[k] for k in earlier)):
            after[i].append(later)
    flat, at = compressed(after)
    return Exchanges(_ways_in(problem, before), flat, at)


def _ways_in(problem: Problem, before: list[set[int]]) -> IntArray:
    stops = len(before)
    into = np.full((stops + 2, WAYS_IN), -1, dtype=np.int64)
    ranked = np.argsort(problem.matrix, axis=0, kind="stable").T if len(problem.matrix) else problem.near
    for later in range(stops + 2):
        earlier = before[later] if later < stops else set()
        past: set[int] = set().union(*(before[k] for k in earlier))
        found = [
            i for i in ranked[later].tolist()
            if 0 <= i != later and i not in past and i != stops + 1
            and (i >= stops or later not in before[i]) and (i < stops or not earlier)
        ]  # fmt: skip
        into[later, : len(found[:WAYS_IN])] = found[:WAYS_IN]
    return into


class Line(NamedTuple):
    """An order with what is kept beside it while runs are exchanged.

    Attributes
    ----------
    order, position : int64, shape (n + 2,)
        Stops in order, and where each stands.
    place : int64, shape (n + 2,)
        Place of each stop; stays.
    spare, waiting, queue : int64, shape (n + 2,)
        Scratch: a run on its way; which stops wait to be looked at, and these in turn.
    left : int64
        Scratch of `begun.overs`, empty where no units are watched.
    """

    order: Any
    position: Any
    place: Any
    spare: Any
    waiting: Any
    queue: Any
    left: Any


def line_of(problem: Problem, order: IntArray, place: IntArray) -> Line:
    """Return an order with room for exchanges; the order is copied, the places are not."""
    order = order.copy()
    position = np.empty_like(order)
    position[order] = np.arange(len(order))
    left = np.empty(len(problem.members_at) - 1, dtype=np.int64)
    return Line(order, position, place, order.copy(), np.zeros_like(order), order.copy(), left)


@njit
def _swap_runs(line: Any, h: Any, i: Any, j: Any) -> Any:
    """Exchange the runs h + 1 … i and i + 1 … j; return the last position of the one now ahead."""
    order, position, spare = line.order, line.position, line.spare
    left = i - h
    for k in range(left):
        spare[k] = order[h + 1 + k]
    for k in range(j - i):
        order[h + 1 + k] = order[i + 1 + k]
    for k in range(left):
        order[j - left + 1 + k] = spare[k]
    for k in range(h + 1, j + 1):
        position[order[k]] = k
    return h + j - i


@njit
def _first_beyond(looked_up: Any, position: Any, stop: Any, at: Any) -> Any:
    """Return the first position beyond `at` of those that must come after the stop."""
    first = position.shape[0]
    for k in range(looked_up.after_at[stop], looked_up.after_at[stop + 1]):
        where = position[looked_up.after[k]]
        if at < where < first:
            first = where
    return first


@njit
def _last_until(looked_up: Any, position: Any, stop: Any, at: Any) -> Any:
    """Return the last position up to `at` of those that must come after the stop, or 0."""
    last = 0
    for k in range(looked_up.after_at[stop], looked_up.after_at[stop + 1]):
        where = position[looked_up.after[k]]
        if last < where <= at:
            last = where
    return last


@njit
def _way(problem: Any, line: Any, a: Any, b: Any) -> Any:
    """Return the cost of the hop from the stop at one position to that at another."""
    p, q = line.place[line.order[a]], line.place[line.order[b]]
    return hop(problem.matrix, problem.links, problem.sites, problem.motion, p, q)


@njit
def _as_left_run(problem: Any, looked_up: Any, line: Any, at: Any, k: Any, base: Any, least: Any) -> Any:
    """Let the run that begins at `at` change with the one up to k; return the change, h, i and j."""
    best, best_i, reach = least, -1, 0
    for i in range(at, k):
        reach = max(reach, _last_until(looked_up, line.position, line.order[i], k))
        if reach == k:
            break
        if reach > i:
            continue
        change = (
            base
            + _way(problem, line, i, k + 1)
            + _way(problem, line, at - 1, i + 1)
            - _way(problem, line, i, i + 1)
        )
        if change < best:
            best, best_i = change, i
    return best, at - 1, best_i, k


@njit
def _as_right_run(problem: Any, looked_up: Any, line: Any, at: Any, k: Any, base: Any, least: Any) -> Any:
    """Let the run that begins at `at` change with the one from k + 1; return the change, h, i and j."""
    best, best_j = least, -1
    order, stage = line.order, problem.stage
    limit = min(order.shape[0] - 1, at + LONGEST_RUN)
    for m in range(k + 1, at):
        limit = min(limit, _first_beyond(looked_up, line.position, order[m], at - 1))
        if limit <= at:
            break
    for j in range(at, limit):
        if stage[order[j]] != stage[order[k + 1]]:
            break
        change = (
            base
            + _way(problem, line, j, k + 1)
            + _way(problem, line, at - 1, j + 1)
            - _way(problem, line, j, j + 1)
        )
        if change < best:
            best, best_j = change, j
    return best, k, (at - 1 if best_j >= 0 else -1), best_j


@njit
def _behind_right_run(problem: Any, looked_up: Any, line: Any, at: Any, k: Any, base: Any, least: Any) -> Any:
    """Let the run up to k change with the one up to `at` − 1; return the change, h, i and j."""
    best, best_h = least, -1
    order, stage = line.order, problem.stage
    for h in range(k - 1, max(-1, k - 1 - LONGEST_RUN), -1):
        left = order[h + 1]
        if stage[left] != stage[order[at - 1]] or _first_beyond(looked_up, line.position, left, k) < at:
            break
        change = (
            base
            + _way(problem, line, h, k + 1)
            + _way(problem, line, at - 1, h + 1)
            - _way(problem, line, h, h + 1)
        )
        if change < best:
            best, best_h = change, h
    return best, best_h, (k if best_h >= 0 else -1), at - 1


@njit
def _best_exchange(problem: Any, looked_up: Any, line: Any, stop: Any) -> Any:
    """Return change, h, i and j of the best exchange that gives the stop a cheaper way in; i < 0 for none.

    Of the three ways that an improving exchange opens, one at least is dearer than the way
    that replaces it at its far end (Lin and Kernighan 1973), so this search from every stop
    overlooks nothing but ways in that are not among the candidates.
    """
    into, at = looked_up.into, line.position[stop]
    best = (-1e-9, -1, -1, -1)
    if at == 0:
        return best
    now = _way(problem, line, at - 1, at)
    for candidate in range(into.shape[1]):
        c = into[stop, candidate]
        if c < 0:
            break
        k = line.position[c]
        gain = _way(problem, line, k, at) - now
        if gain >= -1e-9:
            continue
        base = gain - _way(problem, line, k, k + 1)
        if at < k <= at + LONGEST_RUN and problem.stage[stop] == problem.stage[c]:
            found = _as_left_run(problem, looked_up, line, at, k, base, best[0])
            if found[2] >= 0:
                best = found
        elif at - 1 - LONGEST_RUN <= k < at - 1:
            found = _as_right_run(problem, looked_up, line, at, k, base, best[0])
            if found[2] >= 0:
                best = found
            found = _behind_right_run(problem, looked_up, line, at, k, base, best[0])
            if found[2] >= 0:
                best = found
    return best


@njit
def _random_exchange(problem: Any, looked_up: Any, line: Any, stream: Any) -> Any:
    """Return h, i and j of an exchange that the precedences allow; i = j where there is none."""
    order = line.order
    n = order.shape[0]
    h = below(stream, n - 3)
    i = h + 1 + below(stream, min(LONGEST_KICK, n - 3 - h))
    limit = n - 1
    for k in range(h + 1, i + 1):
        limit = min(limit, _first_beyond(looked_up, line.position, order[k], i))
    j = min(i + 1 + below(stream, min(LONGEST_KICK, n - 2 - i)), limit - 1)
    if j > i and problem.stage[order[h + 1]] != problem.stage[order[j]]:
        j = i
    return h, i, max(i, j)


@njit
def _change_of(problem: Any, line: Any, h: Any, i: Any, j: Any) -> Any:
    """Return the change of cost by an exchange of runs, the over left out."""
    return (
        _way(problem, line, h, i + 1)
        + _way(problem, line, j, h + 1)
        + _way(problem, line, i, j + 1)
        - _way(problem, line, h, h + 1)
        - _way(problem, line, i, i + 1)
        - _way(problem, line, j, j + 1)
    )


@njit
def _enqueue(line: Any, count: Any, h: Any, middle: Any, j: Any) -> Any:
    for at in (h, h + 1, middle, middle + 1, j, j + 1):
        stop = line.order[at]
        if line.waiting[stop] == 0:
            line.waiting[stop] = 1
            line.queue[count] = stop
            count += 1
    return count


@njit
def _over(problem: Any, line: Any) -> Any:
    return overs(problem, line.order, line.left) if line.left.shape[0] > 0 else 0


@njit
def _kick(problem: Any, looked_up: Any, line: Any, log: Any, stream: Any) -> Any:
    """Make some random exchanges; return the change of cost, the over left out, and the length of the queue."""
    count, change = 0, 0.0
    for _ in range(1 + below(stream, MOST_EXCHANGES)):
        h, i, j = _random_exchange(problem, looked_up, line, stream)
        if i < j:
            change += _change_of(problem, line, h, i, j)
            middle = _swap_runs(line, h, i, j)
            log.append((h, middle, j))
            count = _enqueue(line, count, h, middle, j)
    return change, count


@njit
def _settled(problem: Any, looked_up: Any, line: Any, count: Any, over: Any, log: Any) -> Any:
    """Improve from the stops in the queue until none offers an exchange; return the change and the over."""
    change = 0.0
    while count > 0:
        count -= 1
        stop = line.queue[count]
        line.waiting[stop] = 0
        gain, h, i, j = _best_exchange(problem, looked_up, line, stop)
        if i < 0:
            continue
        middle = _swap_runs(line, h, i, j)
        now = _over(problem, line)
        if gain + OVER_COST_S * (now - over) > -1e-9:
            _swap_runs(line, h, middle, j)
            continue
        over = now
        change += gain
        log.append((h, middle, j))
        count = _enqueue(line, count, h, middle, j)
    return change, over


@njit
def exchange(
    problem: Any, looked_up: Any, line: Any, best: Any, costs: Any, heat: Any, kicks: Any, stream: Any
) -> Any:
    """Kick and settle an order a number of times at one temperature; return how many were kept.

    Parameters
    ----------
    problem : Problem
        Of two stops at least.
    looked_up : Exchanges
    line : Line
        The current order; changes in place.
    best : int64, shape (n + 2,)
        The best order; changes in place.
    costs : float64, shape (2,)
        Cost of the current and the best order, the over included; changes in place.
    heat : float
        Temperature of the annealing, in units of cost.
    kicks : int
    stream : int64, shape (1,)
        Random stream; changes in place.
    """
    over = _over(problem, line)
    log = [(0, 0, 0)]
    kept = 0
    for _ in range(kicks):
        log.clear()
        before = over
        change, count = _kick(problem, looked_up, line, log, stream)
        more, over = _settled(problem, looked_up, line, count, _over(problem, line), log)
        change += more + OVER_COST_S * (over - before)
        if change <= -heat * math.log(1.0 - uniform(stream)):
            kept += 1
            costs[0] += change
            if costs[0] < costs[1] - 1e-9:
                costs[1] = costs[0]
                best[:] = line.order
        else:
            for k in range(len(log) - 1, -1, -1):
                h, i, j = log[k]
                _swap_runs(line, h, i, j)
            over = before
    return kept
