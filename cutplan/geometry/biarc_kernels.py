"""Compiled search for the longest biarcs along a curve.

A biarc is two arcs with a common tangent that leave one point and arrive at another in given
directions (Meek and Walton 1992, "Approximation of discrete data by G1 arc splines").
"""

# Numbers taken out of arrays are Any to the type checker.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

from cutplan.geometry.fit_kernels import WIDEST_BULGE, off_arc
from cutplan.geometry.kernels import inner, kernel
from cutplan.geometry.path import FloatArray

__all__ = ["biarc_chain"]

# Arcs that turn less than this, rad, are lines.
_STRAIGHT_SWEEP = 1e-9


@inner
def bulge_from(ux: float, uy: float, dx: float, dy: float) -> float:
    """Return the bulge of the arc that leaves in direction u and spans the chord d."""
    half = math.atan2(ux * dy - uy * dx, ux * dx + uy * dy)
    return math.tan(0.5 * half) if abs(2.0 * half) > _STRAIGHT_SWEEP else 0.0


@inner
def make_biarc(
    ax: float, ay: float, ux: float, uy: float, bx: float, by: float, wx: float, wy: float, share: float,
    biarc: FloatArray,
) -> bool:  # fmt: skip
    """Fill in the biarc from a with direction u to b with direction w; return whether there is one.

    The tangent lengths at the two ends are as `share` to 1.  Filled in are the joint, the two
    bulges, and a vector along the joint's tangent.
    """
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    along = share * (dx * ux + dy * uy) + dx * wx + dy * wy
    curl = 2.0 * share * (1.0 - ux * wx - uy * wy)
    # The lengths p = share · q and q solve curl q² + 2 along q = square.
    root = along * along + curl * square
    if root <= 0.0 or along + math.sqrt(root) <= 0.0:
        return False
    q = square / (along + math.sqrt(root))
    p = share * q
    px, py = ax + p * ux, ay + p * uy
    qx, qy = bx - q * wx, by - q * wy
    jx, jy = (px * q + qx * p) / (p + q), (py * q + qy * p) / (p + q)
    biarc[0], biarc[1] = jx, jy
    biarc[2] = bulge_from(ux, uy, jx - ax, jy - ay)
    biarc[3] = -bulge_from(wx, wy, bx - jx, by - jy)
    biarc[4], biarc[5] = qx - px, qy - py
    return abs(biarc[2]) <= WIDEST_BULGE and abs(biarc[3]) <= WIDEST_BULGE


@inner
def biarc_holds(points: FloatArray, i: int, j: int, tolerance: float, biarc: FloatArray) -> bool:
    """Return whether all samples between two lie on their biarc within the tolerance."""
    for k in range(i + 1, j):
        x, y = points[k, 0], points[k, 1]
        # The common tangent at the joint parts what belongs to either arc.
        if (x - biarc[0]) * biarc[4] + (y - biarc[1]) * biarc[5] <= 0.0:
            off = off_arc(x, y, points[i, 0], points[i, 1], biarc[0], biarc[1], biarc[2])
        else:
            off = off_arc(x, y, biarc[0], biarc[1], points[j, 0], points[j, 1], biarc[3])
        if abs(off) > tolerance:
            return False
    return True


@inner
def biarc_fits(
    points: FloatArray,
    ways: FloatArray,
    bends: FloatArray,
    i: int,
    j: int,
    tolerance: float,
    biarc: FloatArray,
) -> bool:
    """Find a biarc from sample i to sample j that keeps all samples between within a tolerance.

    Over a curve whose curvature grows at the rate k', arcs of length l err least where their
    tangents at the joints fall short of the curve's by k' l² / 12 (the error u³ / 6 − l² u / 24
    times k', u counted from an arc's middle, then vanishes at every joint).  So such tangents
    are tried first at all ends but the curve's own.  The one taken at j is left in biarc[6]
    and biarc[7].
    """
    span = math.sqrt((points[j, 0] - points[i, 0]) ** 2 + (points[j, 1] - points[i, 1]) ** 2)
    lean = (bends[i] - bends[j]) * span / 48.0
    for part in (1.0, 0.5, 0.0):
        if j == len(points) - 1 and part > 0.0:
            continue
        c, s = math.cos(part * lean), math.sin(part * lean)
        wx, wy = c * ways[j, 0] - s * ways[j, 1], s * ways[j, 0] + c * ways[j, 1]
        for share in (1.0, 0.8, 1.25, 0.5, 2.0):
            made = make_biarc(
                points[i, 0],
                points[i, 1],
                ways[i, 0],
                ways[i, 1],
                points[j, 0],
                points[j, 1],
                wx,
                wy,
                share,
                biarc,
            )
            if made and biarc_holds(points, i, j, tolerance, biarc):
                biarc[6], biarc[7] = wx, wy
                return True
    return False


@kernel
def biarc_chain(
    points: FloatArray,
    ways: FloatArray,
    bends: FloatArray,
    tolerance: float,
    rows: FloatArray,
    biarc: FloatArray,
) -> int:
    """Lay the longest biarcs, one after the other, along samples of a curve.

    Parameters
    ----------
    points, ways : ndarray, shape (n, 2)
        Samples and unit tangents; the tangents are overwritten by those taken.
    bends : ndarray, shape (n,)
        Curvatures.
    tolerance : float
        Greatest distance of a sample from its biarc.
    rows : ndarray, shape (2 n, 3)
        Filled with the vertices of an open path.
    biarc : ndarray, shape (8,)
        Room for one biarc.

    Returns
    -------
    int
        Number of vertices.
    """
    last = len(points) - 1
    count, first, guess = 0, 0, 8
    while first < last:
        good, bad, step = 0, last - first + 1, guess
        while bad - good > 1:
            step = min(max(step, good + 1), bad - 1)
            if biarc_fits(points, ways, bends, first, first + step, tolerance, biarc):
                good = step
            else:
                bad = step
            step = 2 * good if bad > last - first else (good + bad) // 2
        rows[count, 0], rows[count, 1] = points[first, 0], points[first, 1]
        if good == 0:
            # In a cusp no biarc connects two samples; they are near enough for a line.
            rows[count, 2] = 0.0
            good = 1
            count += 1
        else:
            biarc_fits(points, ways, bends, first, first + good, tolerance, biarc)
            rows[count, 2] = biarc[2]
            rows[count + 1, 0], rows[count + 1, 1], rows[count + 1, 2] = biarc[0], biarc[1], biarc[3]
            count += 2
            ways[first + good, 0], ways[first + good, 1] = biarc[6], biarc[7]
        first += good
        guess = good
    rows[count, 0], rows[count, 1], rows[count, 2] = points[last, 0], points[last, 1], 0.0
    return count + 1
