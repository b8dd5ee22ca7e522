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
def depth(sides: FloatArray, first: int, last: int, last_sum: int, x: float, y: float) -> float:
    """Distance to the boundary of a no-fit polygon from a place inside it; 0 outside.

    Its sides run from row `first` to `last`, its sums on to `last_sum`.
    """
    nearest = 1e300
    if last == last_sum:
        for k in range(first, last):
            d = sides[k, 7] * x + sides[k, 8] * y - sides[k, 9]
            if d < nearest:
                nearest = d
                if d <= 0.0:
                    return 0.0
        return nearest
    inside = False
    for h in range(last, last_sum):
        if x <= sides[h, 0] or y <= sides[h, 1] or x >= sides[h, 2] or y >= sides[h, 3]:
            continue
        inside = True
        for k in range(int(sides[h, 4]), int(sides[h, 5])):
            if (
                sides[k, 0] * x + sides[k, 1] * y <= sides[k, 2]
                or sides[k, 3] * x + sides[k, 4] * y <= sides[k, 5]
                or sides[k, 6] * x + sides[k, 7] * y <= sides[k, 8]
            ):
                inside = False
                break
        if inside:
            break
    if not inside:
        return 0.0
    for k in range(first, last):
        px = x - sides[k, 0]
        py = y - sides[k, 1]
        t = min(1.0, max(0.0, (px * sides[k, 3] + py * sides[k, 4]) * sides[k, 5]))
        qx = px - t * sides[k, 3]
        qy = py - t * sides[k, 4]
        nearest = min(nearest, qx * qx + qy * qy)
    return math.sqrt(nearest)


@njit(nogil=True, error_model="numpy")
def weighted_loss(
    pairs: FloatArray,
    sides: FloatArray,
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
            last_sum = int(pairs[other, turn, 8])
            inside = depth(sides, first, last, last_sum, c * dx + s * dy, c * dy - s * dx)
            if inside > tolerance:
                loss = inside * pairs[other, turn, 9]
                total += loss * weights[j]
                if total >= bound:
                    return bound
        if keep:
            out[j] = loss
    return total
