"""Compiled test that every search of the room shares: how much a form overlaps the others.

Arrays are handed over one by one, and filled and copied in plain loops: tuples of arrays cost
more to pass on than the work is, and array expressions take long to compile.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.geometry import FloatArray

__all__ = ["depth", "weighted_loss"]

IntArray = NDArray[np.int64]

# What the sums of a depth may be reordered by; nothing here is infinite or not a number.
_FAST = {"nnan", "nsz", "reassoc", "contract"}


@njit(nogil=True, fastmath=_FAST, error_model="numpy")
def depth(edges: FloatArray, first: int, last: int, convex: bool, x: float, y: float) -> float:
    """Distance to the boundary of a no-fit polygon from a place inside it; 0 outside."""
    nearest = 1e300
    if convex:
        for k in range(first, last):
            d = edges[k, 7] * x + edges[k, 8] * y - edges[k, 9]
            if d < nearest:
                nearest = d
                if d <= 0.0:
                    return 0.0
        return nearest
    crossings = 0
    for k in range(first, last):
        px = x - edges[k, 0]
        py = y - edges[k, 1]
        t = min(1.0, max(0.0, (px * edges[k, 3] + py * edges[k, 4]) * edges[k, 5]))
        qx = px - t * edges[k, 3]
        qy = py - t * edges[k, 4]
        nearest = min(nearest, qx * qx + qy * qy)
        if (edges[k, 1] > y) != (edges[k, 2] > y) and px < py * edges[k, 6]:
            crossings += 1
    return math.sqrt(nearest) if crossings & 1 else 0.0


@njit(nogil=True, error_model="numpy")
def weighted_loss(
    pairs: FloatArray,
    edges: FloatArray,
    places: FloatArray,
    orientations: IntArray,
    weights: FloatArray,
    out: FloatArray,
    tolerance: float,
    i: int,
    turn: int,
    x: float,
    y: float,
    bound: float,
) -> float:
    """Weighted loss of form i at a place, or `bound` as soon as it is reached.

    The single losses go to `out` where it has room.  Arrays are passed one by one: handing the
    tuples on would cost more than the work.
    """
    total = 0.0
    keep = len(out) > 0
    for j in range(len(orientations)):
        other = orientations[j]
        dx = x - places[j, 0]
        dy = y - places[j, 1]
        loss = 0.0
        if (
            dx > pairs[other, turn, 0]
            and dx < pairs[other, turn, 2]
            and dy > pairs[other, turn, 1]
            and dy < pairs[other, turn, 3]
            and j != i
        ):
            c, s = pairs[other, turn, 4], pairs[other, turn, 5]
            first, last = int(pairs[other, turn, 6]), int(pairs[other, turn, 7])
            convex = pairs[other, turn, 8] != 0.0
            inside = depth(edges, first, last, convex, c * dx + s * dy, c * dy - s * dx)
            if inside > tolerance:
                loss = inside * pairs[other, turn, 9]
                total += loss * weights[j]
                if total >= bound:
                    return bound
        if keep:
            out[j] = loss
    return total
