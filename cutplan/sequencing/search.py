"""Order and places improved together: ruin and recreate under simulated annealing.

After Christiaens and Vanden Berghe 2020, "Slack induction by string removals for vehicle
routing problems": strings of the order around a random stop are taken out and put back one
by one where they cost least, each with its best place, within the precedences.  The order
is a linked list; a number on each stop that grows along the list makes the test of a
precedence one comparison.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from cutplan.base.compiled import njit
from cutplan.base.randomness import below, uniform
from cutplan.sequencing.begun import LONGEST_REACH, OVER_COST_S, count_in, count_out, mark_reach
from cutplan.sequencing.problem import IntArray, Problem, cheapest_between, hop, least_over

__all__ = [
    "Tour",
    "empty_tour",
    "improve",
    "insert_all",
    "link",
    "order_of",
    "renumber",
    "set_tour",
    "tour_of",
    "unlink",
]

BLINK = 0.01
"""Share of the positions overlooked by chance (Christiaens and Vanden Berghe 2020)."""
LONGEST_STRING = 10
AVERAGE_REMOVED = 10.0
_LAST_KEY = 1e9


class Tour(NamedTuple):
    """A (partial) order as a linked list.

    Attributes
    ----------
    following, preceding : int64, shape (n + 2,)
        −1 for stops that are not in.
    key : float64, shape (n + 2,)
        Grows along the list.
    place : int64, shape (n + 2,)
    open : int64, shape (n + 2,)
        Units begun and not finished on the way from each stop to the next.
    over, seen, serial : int64
        Scratch of `begun.mark_reach`.
    """

    following: Any
    preceding: Any
    key: Any
    place: Any
    open: Any
    over: Any
    seen: Any
    serial: Any


def empty_tour(problem: Problem) -> Tour:
    """Return the tour that goes from the start to the end without a stop between."""
    stops = len(problem.first) - 3
    start, end = stops, stops + 1
    following = np.full(stops + 2, -1, dtype=np.int64)
    preceding = np.full(stops + 2, -1, dtype=np.int64)
    key = np.zeros(stops + 2)
    following[start], preceding[end], key[end] = end, start, _LAST_KEY
    zeros = np.zeros(stops + 2, dtype=np.int64)
    return Tour(
        following,
        preceding,
        key,
        problem.first[:-1].copy(),
        zeros,
        zeros.copy(),
        zeros.copy(),
        np.zeros(1, dtype=np.int64),
    )


def tour_of(problem: Problem, order: IntArray) -> Tour:
    """Return the tour along an order that holds all stops, start and end included."""
    tour = empty_tour(problem)
    for ahead, stop in pairwise(order[:-1]):
        link(problem, tour, stop, ahead, problem.first[stop])
    renumber(tour)
    return tour


def set_tour(target: Tour, source: Tour) -> None:
    """Make one tour the same as another."""
    for old, new in zip(target, source, strict=True):
        old[:] = new


def order_of(tour: Tour) -> IntArray:
    """Return the stops in order, start and end included."""
    stops = len(tour.following) - 2
    order = [stops]
    while order[-1] != stops + 1:
        order.append(int(tour.following[order[-1]]))
    return np.array(order, dtype=np.int64)


@njit
def renumber(tour: Any) -> Any:
    """Spread the keys evenly again."""
    stops = tour.following.shape[0] - 2
    at = stops
    number = 0.0
    while at != stops + 1:
        tour.key[at] = number
        number += 1.0
        at = tour.following[at]
    tour.key[stops + 1] = number


@njit
def link(problem: Any, tour: Any, stop: Any, after: Any, place: Any) -> Any:
    """Put a stop in behind another; return the change of the over."""
    behind = tour.following[after]
    key = 0.5 * (tour.key[after] + tour.key[behind])
    tour.following[after] = stop
    tour.preceding[stop] = after
    tour.following[stop] = behind
    tour.preceding[behind] = stop
    tour.place[stop] = place
    tour.key[stop] = key
    if not tour.key[after] < key < tour.key[behind]:
        renumber(tour)
    return count_in(problem, tour, stop)


@njit
def unlink(problem: Any, tour: Any, stop: Any) -> Any:
    """Take a stop out; return the change of the over."""
    change = count_out(problem, tour, stop)
    ahead, behind = tour.preceding[stop], tour.following[stop]
    tour.following[ahead] = behind
    tour.preceding[behind] = ahead
    tour.following[stop] = -1
    tour.preceding[stop] = -1
    return change


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
