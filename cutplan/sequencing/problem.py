"""The ordering problem as plain arrays, and the cost of one hop; what it stands for is left to others.

Terminology
-----------
stop : something that must be visited once (a cut; in a matrix problem, a node).
place : one way to visit a stop, with a point of arrival and a point of departure.
hop : the way from one stop's place to the next stop's place.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.compiled import njit

__all__ = ["IntArray", "Problem", "compressed", "hop", "trapezoid"]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

NEAR_STOPS = 14
"""Neighbours of a stop that are looked at for insertion; a search parameter."""


class Problem(NamedTuple):
    """Stops with their places, what must come before what, and the cost of hops.

    The stops are numbered 0 … n − 1; stop n is the start and stop n + 1 the end.

    Attributes
    ----------
    first : int64, shape (n + 3,)
        Places of stop i are first[i] … first[i + 1] − 1.
    owner : int64, shape (m,)
        Stop of each place.
    sites : float64, shape (m, SITE_COLUMNS)
        Where each place lies, by the column numbers below; unused where `matrix` is filled.
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


# Columns of `Problem.sites`.
ARRIVE_X, ARRIVE_Y, DEPART_X, DEPART_Y = 0, 1, 2, 3  # mm
PENALTY = 4  # added whenever the place is chosen
AWAY_X, AWAY_Y = 5, 6  # direction in which the torch can leave low; zero for any
STUCK = 7  # 1 where the torch cannot leave low
GROUP = 8  # number of the group of stops that belong together
WEIGHT = 9  # 0 where the way there costs nothing
SITE_COLUMNS = 10

# Indices of `Problem.motion`.
SPEED, ACCELERATION = 0, 1  # mm/s, mm/s²
LIFT = 2  # seconds added to a raised hop
LOW_REACH = 3  # longest hop that may be low, mm; 0 for none
GROUP_COST = 4  # added to a hop from one group to another
MOTION_SIZE = 5


@njit
def trapezoid(length: Any, speed: Any, acceleration: Any) -> Any:
    """Return the time of a move from rest to rest, s (kinematics)."""
    if length * acceleration >= speed * speed:
        return length / speed + speed / acceleration
    return 2.0 * math.sqrt(length / acceleration)


@njit
def hop(matrix: Any, sites: Any, motion: Any, p: Any, q: Any) -> Any:
    """Return the cost of going from place p to place q."""
    if matrix.shape[0] > 0:
        return matrix[p, q]
    dx = sites[q, ARRIVE_X] - sites[p, DEPART_X]
    dy = sites[q, ARRIVE_Y] - sites[p, DEPART_Y]
    length = math.sqrt(dx * dx + dy * dy)
    cost = trapezoid(length, motion[SPEED], motion[ACCELERATION])
    if (
        length > motion[LOW_REACH]
        or sites[p, STUCK] > 0.0
        or dx * sites[p, AWAY_X] + dy * sites[p, AWAY_Y] < 0.0
    ):
        cost += motion[LIFT]
    if sites[p, GROUP] != sites[q, GROUP]:
        cost += motion[GROUP_COST]
    return cost * sites[q, WEIGHT] + sites[q, PENALTY]


def compressed(lists: list[list[int]]) -> tuple[IntArray, IntArray]:
    """Return lists of numbers one after the other, and where each begins."""
    at = np.zeros(len(lists) + 1, dtype=np.int64)
    at[1:] = np.cumsum([len(row) for row in lists])
    flat = np.array([number for row in lists for number in sorted(row)], dtype=np.int64)
    return flat, at
