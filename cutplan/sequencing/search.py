"""Order and places improved together: ruin and recreate under simulated annealing.

After Christiaens and Vanden Berghe 2020, "Slack induction by string removals for vehicle
routing problems": strings of the order around a random stop are taken out and put back one
by one where they cost least, each with its best place, within the precedences.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from cutplan.base.compiled import njit
from cutplan.base.randomness import below, uniform
from cutplan.sequencing.begun import LONGEST_REACH, OVER_COST_S, mark_reach
from cutplan.sequencing.linked import link, unlink
from cutplan.sequencing.problem import cheapest_between, hop, least_over

__all__ = ["improve", "insert_all"]

BLINK = 0.01
"""Share of the positions overlooked by chance (Christiaens and Vanden Berghe 2020)."""
LONGEST_STRING = 10
AVERAGE_REMOVED = 10.0


@njit
def _window(problem: Any, tour: Any, stop: Any) -> Any:
    """Return the last stop in the tour that must come before, the first that must come after."""
    preceding, key = tour.preceding, tour.key
    stops = preceding.shape[0] - 2
    low, high = stops, stops + 1
    before, after = problem.before, problem.after
    for i in range(problem.before_at[stop], problem.before_at[stop + 1]):
        other = before[i]
        if preceding[other] >= 0 and key[other] > key[low]:
            low = other
    for i in range(problem.after_at[stop], problem.after_at[stop + 1]):
        other = after[i]
        if preceding[other] >= 0 and key[other] < key[high]:
            high = other
    return low, high


@njit
def _dearer(problem: Any, tour: Any, after: Any, head: Any, tail: Any) -> Any:
    """Return what the over of an insertion behind a stop costs, s; inf where it lies too far.

    `head` and `tail` are the ends of the rest of the unit, −1 for none, as `mark_reach` left them.
    """
    key = tour.key
    if head < 0 or key[head] <= key[after] < key[tail]:
        return OVER_COST_S * max(0, tour.open[after] - problem.most_open)
    if tour.seen[after] != tour.serial[0]:
        return np.inf
    return OVER_COST_S * tour.over[after]


@njit
def _cheaper_at(problem: Any, tour: Any, stop: Any, after: Any, ends: Any, best: Any, scratch: Any) -> Any:
    """Return the cost and the place of putting a stop in behind another; inf where it is above `best`."""
    matrix, links, sites, motion = problem.matrix, problem.links, problem.sites, problem.motion
    stage, slack = problem.stage, 2.0 * problem.links.most_saved[0]
    behind = tour.following[after]
    if not stage[after] <= stage[stop] <= stage[behind]:
        return np.inf, -1
    p, q = tour.place[after], tour.place[behind]
    saved = hop(matrix, links, sites, motion, p, q)
    saved += slack
    if problem.ring.shape[0] > 0 and least_over(sites, motion, problem.ring[stop], p, q) - saved >= best:
        return np.inf, -1
    dearer = _dearer(problem, tour, after, ends[0], ends[1])
    if dearer - saved >= best:
        return np.inf, -1
    first, last = problem.first[stop], problem.first[stop + 1]
    cost, k = cheapest_between(problem, first, last, p, q, scratch)
    return cost - (saved - slack) + dearer, k


@njit
def _best_position(problem: Any, tour: Any, stop: Any, stream: Any, scratch: Any) -> Any:
    """Return cost, stop to go behind and place of the cheapest insertion."""
    near = problem.near
    following, preceding, key = tour.following, tour.preceding, tour.key
    low, high = _window(problem, tour, stop)
    low_key, high_key = key[low], key[high]
    ends = mark_reach(problem, tour, stop, low, high, LONGEST_REACH)
    best, best_after, best_place = np.inf, -1, -1
    blink = BLINK
    tried = 2 * near.shape[1] + 2 if near.shape[1] > 0 else 0
    for i in range(tried):
        if i == 0:
            after = low
        elif i == 1:
            after = preceding[high]
        else:
            other = near[stop, (i - 2) // 2]
            if other < 0:
                break
            if following[other] < 0 or uniform(stream) < blink:
                continue
            after = other if i % 2 == 0 else preceding[other]
            if after < 0 or key[after] < low_key or key[after] >= high_key:
                continue
        cost, k = _cheaper_at(problem, tour, stop, after, ends, best, scratch)
        if cost < best:
            best, best_after, best_place = cost, after, k
    while best_after < 0:
        ends = mark_reach(problem, tour, stop, low, high, following.shape[0])
        after = low
        while after != high:
            if uniform(stream) >= blink:
                cost, k = _cheaper_at(problem, tour, stop, after, ends, best, scratch)
                if cost < best:
                    best, best_after, best_place = cost, after, k
            after = following[after]
        blink = 0.0
    return best, best_after, best_place


@njit
def insert_all(problem: Any, tour: Any, stops: Any, stream: Any, scratch: Any) -> Any:
    """Put the stops in, one after the other, each where it costs least; return the cost added."""
    total = 0.0
    for i in range(stops.shape[0]):
        cost, after, place = _best_position(problem, tour, stops[i], stream, scratch)
        link(problem, tour, stops[i], after, place)
        total += cost
    return total


@njit
def _ruin(problem: Any, tour: Any, around: Any, stream: Any, out: Any, out_after: Any, out_place: Any) -> Any:
    """Take strings near a random stop out of the tour; return how many stops, and the cost change."""
    matrix, links, sites, motion = problem.matrix, problem.links, problem.sites, problem.motion
    stops = tour.following.shape[0] - 2
    longest = min(LONGEST_STRING, stops)
    most = 4.0 * AVERAGE_REMOVED / (1.0 + longest) - 1.0
    strings = 1 + int(uniform(stream) * most)
    seed = below(stream, stops)
    count = 0
    change = 0.0
    done = 0
    for i in range(-1, around.shape[1]):
        if done >= strings:
            break
        stop = seed if i < 0 else around[seed, i]
        if stop < 0 or stop >= stops or tour.following[stop] < 0:
            continue
        length = 1 + below(stream, longest)
        back = below(stream, length)
        while back > 0 and tour.preceding[stop] < stops:
            stop = tour.preceding[stop]
            back -= 1
        kept = 0
        if length > 2 and uniform(stream) < 0.5:
            kept = 1 + below(stream, length - 1)
        skip_from = 1 + below(stream, length)
        for j in range(length + kept):
            if stop >= stops or count >= out.shape[0]:
                break
            behind = tour.following[stop]
            if not skip_from <= j < skip_from + kept:
                ahead = tour.preceding[stop]
                p, k, q = tour.place[ahead], tour.place[stop], tour.place[behind]
                change += hop(matrix, links, sites, motion, p, q)
                change -= hop(matrix, links, sites, motion, p, k) + hop(matrix, links, sites, motion, k, q)
                out[count], out_after[count], out_place[count] = stop, ahead, k
                count += 1
                change += OVER_COST_S * unlink(problem, tour, stop)
            stop = behind
        done += 1
    return count, change


@njit
def _polish(problem: Any, tour: Any, stop: Any, scratch: Any) -> Any:
    """Give one stop its best place between its neighbours; return the cost change."""
    matrix, links, sites, motion = problem.matrix, problem.links, problem.sites, problem.motion
    p = tour.place[tour.preceding[stop]]
    q = tour.place[tour.following[stop]]
    k = tour.place[stop]
    now = hop(matrix, links, sites, motion, p, k) + hop(matrix, links, sites, motion, k, q)
    first, last = problem.first[stop], problem.first[stop + 1]
    cost, better = cheapest_between(problem, first, last, p, q, scratch)
    if cost > now - 1e-9:
        return 0.0
    tour.place[stop] = better
    return cost - now


@njit
def _keep(tour: Any, best: Any) -> Any:
    best.open[:] = tour.open
    best.following[:] = tour.following
    best.preceding[:] = tour.preceding
    best.place[:] = tour.place


@njit
def improve(
    problem: Any,
    tour: Any,
    best: Any,
    around: Any,
    costs: Any,
    heat: Any,
    iterations: Any,
    stream: Any,
    scratch: Any,
) -> Any:
    """Run iterations at one temperature; return how many were accepted.

    Parameters
    ----------
    tour, best : Tour
        Current and best tour; both change in place.
    around : int64, shape (n, k)
        Stops near each stop.
    scratch : float64
        Room for a number for each place of a stop.
    costs : float64, shape (2,)
        Cost of the current and the best tour; changes in place.
    heat : float
        Temperature of the annealing, in units of cost.
    """
    stops = tour.following.shape[0] - 2
    room = 6 * LONGEST_STRING
    out = np.empty(room, dtype=np.int64)
    out_after = np.empty(room, dtype=np.int64)
    out_place = np.empty(room, dtype=np.int64)
    touched = np.empty(3 * room, dtype=np.int64)
    old_place = np.empty(3 * room, dtype=np.int64)
    put = np.empty(room, dtype=np.int64)
    accepted = 0
    for _ in range(iterations):
        count, change = _ruin(problem, tour, around, stream, out, out_after, out_place)
        for i in range(count):
            put[i] = out[i]
        for i in range(count - 1, 0, -1):
            j = below(stream, i + 1)
            put[i], put[j] = put[j], put[i]
        change += insert_all(problem, tour, put[:count], stream, scratch)
        logged = 0
        for i in range(count):
            for side in range(3):
                stop = put[i]
                if side == 0:
                    stop = tour.preceding[stop]
                elif side == 1:
                    stop = tour.following[stop]
                if stop < stops and problem.first[stop + 1] - problem.first[stop] > 1:
                    before = tour.place[stop]
                    gain = _polish(problem, tour, stop, scratch)
                    if gain < 0.0:
                        touched[logged], old_place[logged] = stop, before
                        logged += 1
                        change += gain
        if change <= -heat * math.log(1.0 - uniform(stream)):
            accepted += 1
            costs[0] += change
            if costs[0] < costs[1] - 1e-9:
                costs[1] = costs[0]
                _keep(tour, best)
        else:
            for i in range(logged - 1, -1, -1):
                tour.place[touched[i]] = old_place[i]
            for i in range(count):
                unlink(problem, tour, put[i])
            for i in range(count - 1, -1, -1):
                link(problem, tour, out[i], out_after[i], out_place[i])
    return accepted
