"""Round tours over a symmetric distance matrix: chained Lin–Kernighan.

Lin and Kernighan 1973, "An effective heuristic algorithm for the traveling-salesman problem",
each step carried out as a reversal; restarted from small local double bridges (Martin, Otto
and Felten 1991; Applegate, Cook and Rohe 2003, "Chained Lin–Kernighan for large traveling
salesman problems"), each undone where it does not pay.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from cutplan.base.compiled import njit
from cutplan.base.randomness import below
from cutplan.sequencing.problem import FloatArray, IntArray

__all__ = ["chained_steps", "nearest_nodes", "tour_length"]

DEEPEST = 5
"""Reversals in one Lin–Kernighan move at most."""
BREADTH = (5, 3, 1)
"""Candidates tried at the first depths; one below."""
KICK_REACH = 30
"""Longest piece moved by a double bridge."""


def nearest_nodes(matrix: FloatArray, count: int) -> IntArray:
    """Return candidates for the other end of an edge at each node, nearest first.

    Half are the nearest nodes; half the nearest of those that no candidate chosen before lies
    nearer to than the node itself does, so that clusters are bridged too (after Toussaint
    1980, "The relative neighbourhood graph of a finite planar set").

    Returns
    -------
    int64, shape (n, count)
    """
    n = len(matrix)
    count = min(count, n - 1)
    others = matrix + np.diag(np.full(n, np.inf))
    by_distance = np.argsort(others, axis=1, kind="stable").astype(np.int64)
    candidates = np.empty((n, count), dtype=np.int64)
    for i in range(n):
        chosen = list(by_distance[i, : (count + 1) // 2])
        bridging: list[int] = []
        row = by_distance[i, : n - 1]
        free = np.ones(n - 1, dtype=np.bool_)
        while free.any() and len(set(chosen) | set(bridging)) < count:
            k = int(np.argmax(free))
            bridging.append(int(row[k]))
            free &= matrix[row[k], row] >= matrix[i, row]
            free[k] = False
        chosen = list(dict.fromkeys([*chosen, *bridging, *by_distance[i, :count]]))[:count]
        candidates[i] = sorted(chosen, key=lambda j: (matrix[i, j], j))
    return candidates


@njit
def tour_length(matrix: Any, tour: Any) -> Any:
    """Return the length of the closed tour."""
    total = 0.0
    for i in range(tour.shape[0]):
        total += matrix[tour[i - 1], tour[i]]
    return total


@njit
def _flip(tour: Any, at: Any, turned: Any, a: Any, b: Any) -> Any:
    """Reverse the way from node a to node b; the shorter side is moved."""
    n = tour.shape[0]
    i, j = at[a], at[b]
    if turned[0]:
        i, j = j, i
    inside = j - i + 1
    if inside <= 0:
        inside += n
    if 2 * inside > n:
        i, j = j + 1, i - 1
        inside = n - inside
        turned[0] = 1 - turned[0]
        if i >= n:
            i -= n
        if j < 0:
            j += n
    for _ in range(inside // 2):
        u, v = tour[i], tour[j]
        tour[i], at[v] = v, i
        tour[j], at[u] = u, j
        i += 1
        if i == n:
            i = 0
        j -= 1
        if j < 0:
            j = n - 1


@njit
def _next(tour: Any, at: Any, turned: Any, node: Any) -> Any:
    n = tour.shape[0]
    i = at[node]
    if turned[0]:
        return tour[i - 1] if i > 0 else tour[n - 1]
    return tour[i + 1] if i + 1 < n else tour[0]


@njit
def _previous(tour: Any, at: Any, turned: Any, node: Any) -> Any:
    n = tour.shape[0]
    i = at[node]
    if turned[0]:
        return tour[i + 1] if i + 1 < n else tour[0]
    return tour[i - 1] if i > 0 else tour[n - 1]


@njit
def _lk_move(matrix: Any, near: Any, tour: Any, at: Any, turned: Any, t1: Any, log: Any, logged: Any) -> Any:
    """Look for one improving move from node t1; return its gain and the length of the log."""
    levels = DEEPEST
    tried = np.zeros(levels, dtype=np.int64)
    gains = np.empty(levels + 1)
    begun = logged
    for side in range(2):
        turned[0] = 1 - turned[0]
        t2 = _next(tour, at, turned, t1)
        gains[0] = matrix[t1, t2]
        level = 0
        tried[0] = 0
        while level >= 0:
            t2 = _next(tour, at, turned, t1)
            breadth = 1
            if level < 3:
                breadth = BREADTH[level]
            best_value, c, t4 = -1.0, np.int64(-1), np.int64(-1)
            if tried[level] < breadth and level < levels:
                # The candidate after those tried: the next lower value.
                for i in range(near.shape[1]):
                    other = near[t2, i]
                    g = gains[level] - matrix[t2, other]
                    if g <= 1e-9:
                        break
                    if other == t1:
                        continue
                    ahead = _previous(tour, at, turned, other)
                    if ahead == t2:
                        continue
                    value = g + matrix[ahead, other]
                    if value > best_value and (tried[level] == 0 or value < gains[level + 1] - 1e-9):
                        best_value, c, t4 = value, other, ahead
            if c < 0:
                level -= 1
                if level >= 0:
                    logged -= 1
                    _flip(tour, at, turned, log[logged, 1], log[logged, 0])
                continue
            tried[level] += 1
            gains[level + 1] = best_value
            _flip(tour, at, turned, t2, t4)
            log[logged, 0], log[logged, 1] = t2, t4
            logged += 1
            level += 1
            closed = best_value - matrix[t4, t1]
            if closed > 1e-9:
                if side == 0:
                    # The log is read in the direction in which the move was asked for.
                    turned[0] = 1 - turned[0]
                    for k in range(begun, logged):
                        log[k, 0], log[k, 1] = log[k, 1], log[k, 0]
                return closed, logged
            if level < levels:
                tried[level] = 0
            else:
                level -= 1
                logged -= 1
                _flip(tour, at, turned, log[logged, 1], log[logged, 0])
    return 0.0, begun


@njit
def _settle(
    matrix: Any, near: Any, tour: Any, at: Any, turned: Any, queue: Any, waiting: Any, count: Any, log: Any
) -> Any:
    """Improve from the nodes in the queue until none of them offers a move; return gain, log length."""
    total = 0.0
    logged = np.int64(0)
    n = tour.shape[0]
    head: Any = np.int64(0)
    while count > 0:
        t1 = queue[head]
        head = head + 1 if head + 1 < n else 0
        count -= 1
        waiting[t1] = 0
        while True:
            before = logged
            gain, logged = _lk_move(matrix, near, tour, at, turned, t1, log, logged)
            if gain <= 0.0:
                break
            total += gain
            for i in range(before, logged):
                for side in range(2):
                    node = log[i, side]
                    for step in range(3):
                        who = node
                        if step == 1:
                            who = _next(tour, at, turned, node)
                        elif step == 2:
                            who = _previous(tour, at, turned, node)
                        if waiting[who] == 0:
                            waiting[who] = 1
                            tail = head + count
                            if tail >= n:
                                tail -= n
                            queue[tail] = who
                            count += 1
            if logged + 2 * DEEPEST + 8 >= log.shape[0]:
                return total, logged
    return total, logged


@njit
def chained_steps(matrix: Any, near: Any, tour: Any, kicks: Any, stream: Any) -> Any:
    """Improve a closed tour in place: settle it, then kick it `kicks` times; return the gain."""
    n = tour.shape[0]
    at = np.empty(n, dtype=np.int64)
    for i in range(n):
        at[tour[i]] = i
    turned = np.zeros(1, dtype=np.int64)
    queue = np.empty(n, dtype=np.int64)
    waiting = np.zeros(n, dtype=np.int64)
    log = np.empty((200 * n + 1000, 2), dtype=np.int64)
    total = 0.0
    for i in range(n):
        queue[i] = tour[i]
        waiting[i] = 1
    gain, logged = _settle(matrix, near, tour, at, turned, queue, waiting, n, log)
    total += gain
    if n < 8:
        return total
    reach = min(KICK_REACH, (n - 2) // 3)
    for _ in range(kicks):
        # Neighbouring pieces b … c and d … e change places.
        i = below(stream, n)
        first = 1 + below(stream, reach)
        second = 1 + below(stream, reach)
        a = tour[i]
        b = tour[(i + 1) % n]
        c = tour[(i + first) % n]
        d = tour[(i + first + 1) % n]
        e = tour[(i + first + second) % n]
        f = tour[(i + first + second + 1) % n]
        lost = matrix[a, d] + matrix[e, b] + matrix[c, f] - matrix[a, b] - matrix[c, d] - matrix[e, f]
        turned[0] = 0
        _flip(tour, at, turned, b, e)
        _flip(tour, at, turned, e, d)
        _flip(tour, at, turned, c, b)
        count = np.int64(0)
        for node in (a, b, c, d, e, f):
            if waiting[node] == 0:
                waiting[node] = 1
                queue[count] = node
                count += 1
        gain, logged = _settle(matrix, near, tour, at, turned, queue, waiting, count, log)
        if gain >= lost - 1e-9:
            total += gain - lost
        else:
            for k in range(logged - 1, -1, -1):
                _flip(tour, at, turned, log[k, 1], log[k, 0])
            _flip(tour, at, turned, b, c)
            _flip(tour, at, turned, d, e)
            _flip(tour, at, turned, e, b)
    return total
