"""An order as a linked list, for a search that takes single stops out and puts them in.

A number on each stop that grows along the list makes the test of a precedence one comparison.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from cutplan.base.compiled import njit
from cutplan.sequencing.begun import count_in, count_out
from cutplan.sequencing.problem import IntArray, Problem

__all__ = [
    "Tour",
    "empty_tour",
    "link",
    "order_of",
    "rearrange",
    "renumber",
    "set_tour",
    "tour_of",
    "unlink",
]

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
    rearrange(problem, tour, order, tour.place.copy())
    return tour


@njit
def rearrange(problem: Any, tour: Any, order: Any, place: Any) -> Any:
    """Make a tour go along an order that holds all stops, each at its place."""
    count = order.shape[0]
    for k in range(count):
        tour.place[order[k]] = place[order[k]]
        tour.following[order[k]] = -1
        tour.preceding[order[k]] = -1
        tour.open[order[k]] = 0
    start, end = order[0], order[count - 1]
    tour.following[start], tour.preceding[end] = end, start
    tour.key[start], tour.key[end] = 0.0, count - 1.0
    for k in range(1, count - 1):
        stop, ahead = order[k], order[k - 1]
        tour.following[ahead], tour.preceding[stop] = stop, ahead
        tour.following[stop], tour.preceding[end] = end, stop
        tour.key[stop] = float(k)
        count_in(problem, tour, stop)


def set_tour(target: Tour, source: Tour) -> None:
    """Make one tour the same as another."""
    for old, new in zip(target, source, strict=True):
        old[:] = new


@njit
def order_of(tour: Any) -> Any:
    """Return the stops that are in, in order, start and end included."""
    stops = tour.following.shape[0] - 2
    order = np.empty(stops + 2, dtype=np.int64)
    order[0] = stops
    count = 1
    while order[count - 1] != stops + 1:
        order[count] = tour.following[order[count - 1]]
        count += 1
    return order[:count]


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
