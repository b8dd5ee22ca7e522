"""Moves of whole runs of nodes: two neighbouring runs change places and keep their direction.

The path-preserving 3-exchange of Gambardella and Dorigo 2000, "An ant colony system
hybridized with a new local search for the sequential ordering problem".  Their labels say how
far the right run may reach: to the first node that must come after one of the left run.  Here
the positions of each node's direct followers are looked up instead, which allows the same
exchanges.  A run of one node on either side is the Or-exchange (Or 1976).  The search is
restarted from small random exchanges under simulated annealing; each that is refused is undone.

The nodes carry the numbers 0 … n − 1; the first and the last of the order never move.
"""

from __future__ import annotations

import math
from typing import Any

from cutplan.base.compiled import njit
from cutplan.base.randomness import below, uniform

__all__ = ["exchange"]

LONGEST_KICK = 12
"""Longest run moved by a random exchange; a search parameter."""
MOST_EXCHANGES = 3
"""Random exchanges of one kick at most; a search parameter."""


@njit
def _swap_runs(order: Any, position: Any, spare: Any, h: Any, i: Any, j: Any) -> Any:
    """Exchange the runs h + 1 … i and i + 1 … j; return the last position of the one now ahead."""
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
def _first_beyond(after: Any, after_at: Any, position: Any, node: Any, at: Any) -> Any:
    """Return the first position beyond `at` of those that must come after the node."""
    first = position.shape[0]
    for k in range(after_at[node], after_at[node + 1]):
        where = position[after[k]]
        if at < where < first:
            first = where
    return first


@njit
def _last_until(after: Any, after_at: Any, position: Any, node: Any, at: Any) -> Any:
    """Return the last position up to `at` of those that must come after the node, or 0."""
    last = 0
    for k in range(after_at[node], after_at[node + 1]):
        where = position[after[k]]
        if last < where <= at:
            last = where
    return last


@njit
def _best_exchange(
    matrix: Any, into: Any, after: Any, after_at: Any, order: Any, position: Any, node: Any
) -> Any:
    """Return change, h, i and j of the best exchange that gives the node a cheaper way in.

    Of the three ways that an improving exchange opens, one at least is dearer than the way
    that replaces it at its far end (Lin and Kernighan 1973), so this search from every node
    overlooks nothing but ways in that are not among the candidates.
    """
    n = order.shape[0]
    at = position[node]
    best, best_h, best_i, best_j = -1e-9, -1, -1, -1
    if at == 0:
        return best, best_h, best_i, best_j
    ahead = order[at - 1]
    for candidate in range(into.shape[1]):
        c = into[node, candidate]
        if c < 0 or matrix[c, node] >= matrix[ahead, node] - 1e-9:
            break
        k = position[c]
        behind = order[k + 1]
        base = matrix[c, node] - matrix[ahead, node] - matrix[c, behind]
        if k > at:
            # The node begins the left run, the candidate ends the right one.
            reach = 0
            for i in range(at, k):
                reach = max(reach, _last_until(after, after_at, position, order[i], k))
                if reach > i:
                    if reach == k:
                        break
                    continue
                u, v = order[i], order[i + 1]
                change = base + matrix[u, behind] + matrix[ahead, v] - matrix[u, v]
                if change < best:
                    best, best_h, best_i, best_j = change, at - 1, i, k
        elif k < at - 1:
            # The node begins the right run, the left one begins behind the candidate.
            limit = n - 1
            for m in range(k + 1, at):
                limit = min(limit, _first_beyond(after, after_at, position, order[m], at - 1))
                if limit <= at:
                    break
            for j in range(at, limit):
                u, v = order[j], order[j + 1]
                change = base + matrix[u, behind] + matrix[ahead, v] - matrix[u, v]
                if change < best:
                    best, best_h, best_i, best_j = change, k, at - 1, j
            # The node follows the right run, the candidate ends the left one.
            for h in range(k - 1, -1, -1):
                u, v = order[h], order[h + 1]
                if _first_beyond(after, after_at, position, v, k) < at:
                    break
                change = base + matrix[u, behind] + matrix[ahead, v] - matrix[u, v]
                if change < best:
                    best, best_h, best_i, best_j = change, h, k, at - 1
    return best, best_h, best_i, best_j


@njit
def _random_exchange(after: Any, after_at: Any, order: Any, position: Any, stream: Any) -> Any:
    """Return h, i and j of an exchange that the precedences allow; i = j where there is none."""
    n = order.shape[0]
    h = below(stream, n - 3)
    i = h + 1 + below(stream, min(LONGEST_KICK, n - 3 - h))
    limit = n - 1
    for k in range(h + 1, i + 1):
        limit = min(limit, _first_beyond(after, after_at, position, order[k], i))
    j = min(i + 1 + below(stream, min(LONGEST_KICK, n - 2 - i)), limit - 1)
    return h, i, max(i, j)


@njit
def _enqueue(order: Any, waiting: Any, queue: Any, count: Any, h: Any, middle: Any, j: Any) -> Any:
    for at in (h, h + 1, middle, middle + 1, j, j + 1):
        node = order[at]
        if waiting[node] == 0:
            waiting[node] = 1
            queue[count] = node
            count += 1
    return count


@njit
def _kick(
    matrix: Any,
    after: Any,
    after_at: Any,
    order: Any,
    position: Any,
    spare: Any,
    waiting: Any,
    queue: Any,
    log: Any,
    stream: Any,
) -> Any:
    """Make some random exchanges; return the change of cost and the length of the queue."""
    count, change = 0, 0.0
    for _again in range(1 + below(stream, MOST_EXCHANGES)):
        h, i, j = _random_exchange(after, after_at, order, position, stream)
        if i == j:
            continue
        a, b, c, d, e, f = order[h], order[h + 1], order[i], order[i + 1], order[j], order[j + 1]
        change += matrix[a, d] + matrix[e, b] + matrix[c, f] - matrix[a, b] - matrix[c, d] - matrix[e, f]
        middle = _swap_runs(order, position, spare, h, i, j)
        log.append((h, middle, j))
        count = _enqueue(order, waiting, queue, count, h, middle, j)
    return change, count


@njit
def _settle(
    matrix: Any,
    into: Any,
    after: Any,
    after_at: Any,
    order: Any,
    position: Any,
    spare: Any,
    waiting: Any,
    queue: Any,
    count: Any,
    log: Any,
) -> Any:
    """Improve from the nodes in the queue until none of them offers an exchange; return the change."""
    change = 0.0
    while count > 0:
        count -= 1
        node = queue[count]
        waiting[node] = 0
        gain, h, i, j = _best_exchange(matrix, into, after, after_at, order, position, node)
        if i >= 0:
            change += gain
            middle = _swap_runs(order, position, spare, h, i, j)
            log.append((h, middle, j))
            count = _enqueue(order, waiting, queue, count, h, middle, j)
    return change


@njit
def exchange(
    matrix: Any, into: Any, after: Any, after_at: Any,
    order: Any, best: Any, costs: Any, heat: Any, kicks: Any, stream: Any,
) -> Any:  # fmt: skip
    """Kick and settle an order a number of times at one temperature; return how many were kept.

    Parameters
    ----------
    matrix : float64, shape (n, n)
        Cost of the way from node to node; n ≥ 4.
    into : int64, shape (n, k)
        Nodes from which each node is reached at least cost, cheapest first, padded with −1.
    after, after_at : int64
        after[after_at[i]:after_at[i + 1]] must come after node i.
    order, best : int64, shape (n,)
        Current and best order; both change in place.
    costs : float64, shape (2,)
        Cost of the current and the best order; changes in place.
    heat : float
        Temperature of the annealing, in units of cost.
    kicks : int
    stream : int64, shape (1,)
        Random stream; changes in place.
    """
    n = order.shape[0]
    spare, position, queue = order.copy(), order.copy(), order.copy()
    waiting = order * 0
    for k in range(n):
        position[order[k]] = k
    log = [(0, 0, 0)]
    kept = 0
    for _ in range(kicks):
        log.clear()
        change, count = _kick(matrix, after, after_at, order, position, spare, waiting, queue, log, stream)
        change += _settle(matrix, into, after, after_at, order, position, spare, waiting, queue, count, log)
        if change <= -heat * math.log(1.0 - uniform(stream)):
            kept += 1
            costs[0] += change
            if costs[0] < costs[1] - 1e-9:
                costs[1] = costs[0]
                best[:] = order
        else:
            for k in range(len(log) - 1, -1, -1):
                h, i, j = log[k]
                _swap_runs(order, position, spare, h, i, j)
    return kept
