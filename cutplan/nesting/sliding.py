"""Closes up a packing on the outlines themselves: each form slides left as far as it can go.

The search packs outlines with fewer points that cover the true ones; what room that leaves
between them is taken back here, by the distance of points from edges along the slide.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.geometry import FloatArray

__all__ = ["slide_left"]

IntArray = NDArray[np.int64]

# Rounds over all forms, at most.
_MOST_ROUNDS = 4


def slide_left(
    rings: Sequence[Sequence[FloatArray]], places: FloatArray, start: float, touch: float
) -> FloatArray:
    """Return the places of forms that have slid left, to `start` or until they touch another.

    Parameters
    ----------
    rings : sequence of sequence of ndarray, shape (n, 2)
        Rings of each form as turned, about its own place.
    places : ndarray, shape (n, 2)
        Where they lie, without overlap.
    start : float
        Least x that a form may reach.
    touch : float
        What is left between forms, and counts as touching.
    """
    edges = [np.vstack([np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in form]) for form in rings]
    first = np.concatenate([[0], np.cumsum([len(some) for some in edges])]).astype(np.int64)
    rows = np.vstack(edges)
    boxes = np.array([[*some[:, :2].min(axis=0), *some[:, :2].max(axis=0)] for some in edges])
    moved = np.ascontiguousarray(places, dtype=np.float64).copy()
    for _ in range(_MOST_ROUNDS):
        order = np.argsort(moved[:, 0] + boxes[:, 0], kind="stable")
        if _slide_all(rows, first, boxes, moved, order, start, touch) <= touch:
            break
    return moved


@njit(nogil=True)
def _slide_all(
    rows: FloatArray, first: IntArray, boxes: FloatArray, places: FloatArray, order: IntArray,
    start: float, touch: float,
) -> float:  # fmt: skip
    """Slide every form once; returns the longest way."""
    longest = 0.0
    for i in order:
        way = places[i, 0] + boxes[i, 0] - start
        for j in range(len(places)):
            if (
                j == i
                or places[j, 0] + boxes[j, 0] > places[i, 0] + boxes[i, 2]
                or places[j, 0] + boxes[j, 2] < places[i, 0] + boxes[i, 0] - way
                or places[j, 1] + boxes[j, 1] > places[i, 1] + boxes[i, 3]
                or places[j, 1] + boxes[j, 3] < places[i, 1] + boxes[i, 1]
            ):
                continue
            apart_x, apart_y = places[j, 0] - places[i, 0], places[j, 1] - places[i, 1]
            way = _clear(
                rows, first[i], first[i + 1], first[j], first[j + 1], apart_x, apart_y, way, touch, 1.0
            )
            way = _clear(
                rows, first[j], first[j + 1], first[i], first[i + 1], -apart_x, -apart_y, way, touch, -1.0
            )
            if way <= touch:
                break
        if way > touch:
            places[i, 0] -= way - touch
            longest = max(longest, way - touch)
    return longest


@njit(nogil=True)
def _clear(
    rows: FloatArray, points: int, past_points: int, edges: int, past_edges: int,
    apart_x: float, apart_y: float, way: float, touch: float, side: float,
) -> float:  # fmt: skip
    """How far along −x (side 1) or +x (−1) the points of a form go before they meet the other's edges."""
    for p in range(points, past_points):
        x, y = rows[p, 0], rows[p, 1]
        for e in range(edges, past_edges):
            y0, y1 = rows[e, 1] + apart_y, rows[e, 3] + apart_y
            if (y0 > y and y1 > y) or (y0 < y and y1 < y):
                continue
            x0, x1 = rows[e, 0] + apart_x, rows[e, 2] + apart_x
            if y0 == y1:
                gaps = (side * (x - x0), side * (x - x1))
            else:
                across = x0 + (y - y0) / (y1 - y0) * (x1 - x0)
                gaps = (side * (x - across), side * (x - across))
            for gap in gaps:
                if -touch <= gap < way:
                    way = max(0.0, gap)
    return way
