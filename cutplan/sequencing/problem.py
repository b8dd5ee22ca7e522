"""The ordering problem as plain arrays, and the cost of one hop; what it stands for is left to others.

Terminology
-----------
stop : something that must be visited once (a cut; in a matrix problem, a node).
place : one way to visit a stop, with a point of arrival and a point of departure.
hop : the way from one stop's place to the next stop's place.
link : a hop on which the torch burns on, where that is possible: it saves the next start.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit

__all__ = [
    "NO_LINKS",
    "IntArray",
    "LinkTable",
    "Problem",
    "cheapest_between",
    "compressed",
    "find_link",
    "hop",
    "least_over",
    "motion_array",
    "move_time",
    "move_times",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

NEAR_STOPS = 14
"""Neighbours of a stop that are looked at for insertion; a search parameter."""


class LinkTable(NamedTuple):
    """The links from place to place, by the place that they leave.

    Attributes
    ----------
    at : int64, shape (m + 1,)
        Links from place p are at[p] … at[p + 1] − 1.
    to : int64, shape (k,)
        The places that they come to, growing for each place.
    cost : float64, shape (k,)
        Of the hop, s: negative by what the start at the far place would have cost.
    most_saved : float64, shape (1,)
        No link saves more than this, s.
    length : float64, shape (k,)
        mm.
    """

    at: Any
    to: Any
    cost: Any
    most_saved: Any
    length: Any


NO_LINKS = LinkTable(
    np.zeros(1, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(1), np.zeros(0)
)
"""Every hop goes with the torch out."""


class Problem(NamedTuple):
    """Stops with their places, what must come before what, and the cost of hops.

    The stops are numbered 0 … n − 1; stop n is the start and stop n + 1 the end.

    Attributes
    ----------
    first : int64, shape (n + 3,)
        Places of stop i are first[i] … first[i + 1] − 1.
    owner : int64, shape (m,)
        Stop of each place.
    sites : float64, shape (SITE_ROWS, m)
        Where each place lies, by the row numbers below; unused where `matrix` is filled.
    motion : float64, shape (MOTION_SIZE,)
        Speeds and fixed times, by the index numbers below.
    matrix : float64, shape (m, m) or (0, 0)
        Cost from place to place.
    stage : int64, shape (n + 2,)
        Stages never fall along the order.
    before, before_at, after, after_at : int64
        All stops before (after) stop i: before[before_at[i]:before_at[i + 1]].
    near : int64, shape (n + 2, k)
        Nearest stops, padded with −1; k = 0 looks at all.
    ring : float64, shape (n + 2, 3) or (0, 3)
        Middle and radius of a circle that holds all places of a stop.
    unit, members, members_at : int64
        Unit of each stop, −1 for none; stops of unit u: members[members_at[u]:members_at[u + 1]].
    most_open : int
        Units that may be begun and not finished at once.
    links : LinkTable
    """

    first: Any
    owner: Any
    sites: Any
    motion: Any
    matrix: Any
    stage: Any
    before: Any
    before_at: Any
    after: Any
    after_at: Any
    near: Any
    ring: Any
    unit: Any
    members: Any
    members_at: Any
    most_open: Any
    links: Any = NO_LINKS


# Rows of `Problem.sites`.
ARRIVE_X, ARRIVE_Y, DEPART_X, DEPART_Y = 0, 1, 2, 3  # mm
PENALTY = 4  # added whenever the place is chosen
AWAY_X, AWAY_Y = 5, 6  # direction in which the torch can leave low; zero for any
STUCK = 7  # 1 where the torch cannot leave low
GROUP = 8  # number of the group of stops that belong together
WEIGHT = 9  # 0 where the way there costs nothing
SITE_ROWS = 10

# Indices of `Problem.motion`.
RAMP = 0  # length from which a move reaches full speed, mm
PER_MM = 1  # s/mm at full speed
PER_ROOT = 2  # s for the root of a mm below RAMP
LIFT = 3  # seconds added to a raised hop
LOW_REACH = 4  # longest hop that may be low, mm; 0 for none
GROUP_COST = 5  # added to a hop from one group to another
MOTION_SIZE = 6


def motion_array(speed: float, acceleration: float) -> FloatArray:
    """Return `Problem.motion` for a speed in mm/s and an acceleration in mm/s²."""
    motion = np.zeros(MOTION_SIZE)
    motion[RAMP] = speed * speed / acceleration
    motion[PER_MM] = 1.0 / speed
    motion[PER_ROOT] = 2.0 / math.sqrt(acceleration)
    return motion


@njit
def move_time(motion: Any, length: Any) -> Any:
    """Return the time of a move from rest to rest, s.

    L/v + v/a from L = v²/a upwards, 2·√(L/a) below (kinematics); written without a branch,
    as 2·√(min(L, v²/a)/a) + max(0, L − v²/a)/v, so that loops over it run wide.
    """
    ramp = motion[RAMP]
    return motion[PER_ROOT] * math.sqrt(min(length, ramp)) + motion[PER_MM] * max(length - ramp, 0.0)


def move_times(motion: FloatArray, lengths: FloatArray) -> FloatArray:
    """Return the times of moves from rest to rest, s, the same shape as `lengths`."""
    ramp, per_mm, per_root = motion[[RAMP, PER_MM, PER_ROOT]]
    times = per_root * np.sqrt(np.minimum(lengths, ramp)) + per_mm * np.maximum(lengths - ramp, 0.0)
    return np.asarray(times)


@njit
def find_link(links: Any, p: Any, q: Any) -> Any:
    """Return the number of the link from place p to place q, −1 where there is none."""
    low, high = links.at[p], links.at[p + 1]
    while low < high:
        middle = (low + high) // 2
        if links.to[middle] < q:
            low = middle + 1
        else:
            high = middle
    if low < links.at[p + 1] and links.to[low] == q:
        return low
    return -1


@njit
def hop(matrix: Any, links: Any, sites: Any, motion: Any, p: Any, q: Any) -> Any:
    """Return the cost of going from place p to place q."""
    if matrix.shape[0] > 0:
        return matrix[p, q]
    if links.to.shape[0] > 0:
        link = find_link(links, p, q)
        if link >= 0:
            return links.cost[link] + sites[PENALTY, q]
    dx = sites[ARRIVE_X, q] - sites[DEPART_X, p]
    dy = sites[ARRIVE_Y, q] - sites[DEPART_Y, p]
    length = math.sqrt(dx * dx + dy * dy)
    cost = move_time(motion, length)
    if motion[LIFT] > 0.0 and (
        length > motion[LOW_REACH]
        or sites[STUCK, p] > 0.0
        or dx * sites[AWAY_X, p] + dy * sites[AWAY_Y, p] < 0.0
    ):
        cost += motion[LIFT]
    if sites[GROUP, p] != sites[GROUP, q]:
        cost += motion[GROUP_COST]
    return cost * sites[WEIGHT, q] + sites[PENALTY, q]


@njit
def least_over(sites: Any, motion: Any, ring: Any, p: Any, q: Any) -> Any:
    """Return what going from place p over any place inside a ring to place q costs at the least."""
    dx, dy = ring[0] - sites[DEPART_X, p], ring[1] - sites[DEPART_Y, p]
    there = max(math.sqrt(dx * dx + dy * dy) - ring[2], 0.0)
    dx, dy = ring[0] - sites[ARRIVE_X, q], ring[1] - sites[ARRIVE_Y, q]
    back = max(math.sqrt(dx * dx + dy * dy) - ring[2], 0.0)
    return move_time(motion, there) + sites[WEIGHT, q] * move_time(motion, back) + sites[PENALTY, q]


@njit
def cheapest_between(problem: Any, first: Any, last: Any, p: Any, q: Any, scratch: Any) -> Any:
    """Return the least cost of going from place p over one of first … last − 1 to q, and that place.

    `scratch` has room for a number for each of the places.
    """
    matrix, links, sites, motion = problem.matrix, problem.links, problem.sites, problem.motion
    if matrix.shape[0] > 0 or links.to.shape[0] > 0 or last - first < 3:
        for k in range(first, last):
            there = hop(matrix, links, sites, motion, p, k)
            scratch[k - first] = there + hop(matrix, links, sites, motion, k, q)
        extra = 0.0
    else:
        extra = sites[PENALTY, q]
        if sites[GROUP, p] != sites[GROUP, first]:
            extra += motion[GROUP_COST]
        if sites[GROUP, first] != sites[GROUP, q]:
            extra += motion[GROUP_COST] * sites[WEIGHT, q]
        _ways_between(sites, motion, first, last, p, q, scratch)
        if motion[LIFT] > 0.0:
            _add_lifts(sites, motion, first, last, p, q, scratch)
    best = 0
    for i in range(1, last - first):
        if scratch[i] < scratch[best]:
            best = i
    return scratch[best] + extra, first + best


@njit
def _ways_between(sites: Any, motion: Any, first: Any, last: Any, p: Any, q: Any, ways: Any) -> Any:
    """Set `ways` to the time over each place; one loop without branches, which runs wide."""
    ramp, per_mm, per_root = motion[RAMP], motion[PER_MM], motion[PER_ROOT]
    from_x, from_y = sites[DEPART_X, p], sites[DEPART_Y, p]
    to_x, to_y, weight = sites[ARRIVE_X, q], sites[ARRIVE_Y, q], sites[WEIGHT, q]
    for i in range(last - first):
        k = first + i
        dx, dy = sites[ARRIVE_X, k] - from_x, sites[ARRIVE_Y, k] - from_y
        there = math.sqrt(dx * dx + dy * dy)
        dx, dy = sites[DEPART_X, k] - to_x, sites[DEPART_Y, k] - to_y
        back = math.sqrt(dx * dx + dy * dy)
        ways[i] = (
            per_root * math.sqrt(min(there, ramp))
            + per_mm * max(there - ramp, 0.0)
            + weight * (per_root * math.sqrt(min(back, ramp)) + per_mm * max(back - ramp, 0.0))
            + sites[PENALTY, k]
        )


@njit
def _add_lifts(sites: Any, motion: Any, first: Any, last: Any, p: Any, q: Any, ways: Any) -> Any:
    """Add to `ways` the lifts that they need, in the same manner."""
    lift, reach = motion[LIFT], motion[LOW_REACH] * motion[LOW_REACH]
    from_x, from_y, stuck = sites[DEPART_X, p], sites[DEPART_Y, p], sites[STUCK, p]
    away_x, away_y = sites[AWAY_X, p], sites[AWAY_Y, p]
    to_x, to_y, weight = sites[ARRIVE_X, q], sites[ARRIVE_Y, q], sites[WEIGHT, q]
    for i in range(last - first):
        k = first + i
        dx, dy = sites[ARRIVE_X, k] - from_x, sites[ARRIVE_Y, k] - from_y
        there = (dx * dx + dy * dy > reach) | (stuck > 0.0) | (dx * away_x + dy * away_y < 0.0)
        dx, dy = to_x - sites[DEPART_X, k], to_y - sites[DEPART_Y, k]
        across = dx * sites[AWAY_X, k] + dy * sites[AWAY_Y, k] < 0.0
        back = (dx * dx + dy * dy > reach) | (sites[STUCK, k] > 0.0) | across
        ways[i] += lift * there + weight * lift * back


def compressed(lists: list[list[int]]) -> tuple[IntArray, IntArray]:
    """Return lists of numbers one after the other, and where each begins."""
    at = np.zeros(len(lists) + 1, dtype=np.int64)
    at[1:] = np.cumsum([len(row) for row in lists])
    flat = np.array([number for row in lists for number in sorted(row)], dtype=np.int64)
    return flat, at
