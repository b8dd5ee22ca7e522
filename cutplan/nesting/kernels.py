"""Compiled tests that every search of the room shares: how deep two placed forms overlap."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutplan.compiled import njit
from cutplan.geometry import FloatArray
from cutplan.nesting.nofit import Tables

__all__ = ["depth_inside", "is_free", "pair_depth"]


@njit(nogil=True, fastmath={"nnan", "nsz", "reassoc", "contract"}, error_model="numpy")
def depth_inside(edges: FloatArray, first: int, last: int, x: float, y: float) -> float:
    """Distance to the boundary of a no-fit polygon from a place inside it; 0 outside."""
    crossings = 0
    nearest = 1e300
    for k in range(first, last):
        px = x - edges[0, k]
        py = y - edges[1, k]
        dx = edges[3, k]
        dy = edges[4, k]
        t = min(1.0, max(0.0, (px * dx + py * dy) * edges[5, k]))
        qx = px - t * dx
        qy = py - t * dy
        nearest = min(nearest, qx * qx + qy * qy)
        above = (edges[1, k] > y) != (edges[2, k] > y)
        crossings += 1 if (above and px < py * edges[6, k]) else 0
    return math.sqrt(nearest) if crossings & 1 else 0.0


@njit(nogil=True, error_model="numpy")
def pair_depth(tables: Tables, fixed: int, moving: int, x: float, y: float) -> float:
    """Penetration depth of two orientations, the moving one at (x, y) from the fixed one."""
    if (
        x <= tables.box[fixed, moving, 0]
        or x >= tables.box[fixed, moving, 2]
        or y <= tables.box[fixed, moving, 1]
        or y >= tables.box[fixed, moving, 3]
    ):
        return 0.0
    c, s = tables.turn[fixed, moving, 0], tables.turn[fixed, moving, 1]
    k = tables.nofit[fixed, moving]
    return depth_inside(tables.edges, tables.start[k], tables.start[k + 1], c * x + s * y, c * y - s * x)


@njit(nogil=True, error_model="numpy")
def is_free(
    tables: Tables,
    moving: int,
    x: float,
    y: float,
    places: FloatArray,
    orientations: NDArray[np.int64],
    count: int,
    tolerance: float,
) -> bool:
    """Tell whether an orientation at (x, y) keeps clear of the first `count` placed ones.

    The latest placed are tried first: bottom-left candidates lie beside them.
    """
    for j in range(count - 1, -1, -1):
        if pair_depth(tables, orientations[j], moving, x - places[j, 0], y - places[j, 1]) > tolerance:
            return False
    return True
