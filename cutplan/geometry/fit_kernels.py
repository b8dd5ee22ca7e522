"""Compiled search for the longest arcs through points, and the longest biarcs along curves.

An arc through two given points has one freedom left, its bulge.  Every point between bounds
it from both sides; the arc exists where the bounds leave room (the tolerance channel of
Heimlich and Held 2008, "Biarc approximation, simplification and smoothing of polygonal
curves by means of Voronoi-based tolerance bands", and Maier 2014, "Optimal arc spline
approximation", with breaks at given points).
"""

# Numbers taken out of arrays are Any to the type checker.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

import numpy as np

from cutplan.compiled import njit
from cutplan.geometry.kernels import IntArray
from cutplan.geometry.path import FloatArray

__all__ = ["biarc_chain", "longest_arcs", "whole_again"]

# Arcs whose points stray less than this share of the tolerance from a line are lines.
_STRAIGHT_SHARE = 0.2
# No fitted arc exceeds half a turn, so that it never runs back along its chord.
_WIDEST_BULGE = 1.0 + 1e-9
# Ends of a stretch nearer than this, mm, are one point.
_NO_LENGTH = 1e-9
# A biarc's arcs that turn less than this, rad, are lines.
_STRAIGHT_SWEEP = 1e-9


@njit
def bound_bulge(
    x: float, y: float, length: float, tolerance: float, counts: bool, bounds: FloatArray
) -> bool:
    """Narrow the bulges between bounds[0] and bounds[1] to those that pass a point closely.

    The chord runs from (0, 0) to (length, 0).  The arc over it that a point lies `off` to the
    left of has the bulge (y − off) / (g − √(g² + y² − off²)), where
    g = (x² − x length + y² − off²) / length.  Where the point `counts`, the bulge through it
    and its weight are added to bounds[2] and bounds[3], which in the end hold the bulge of
    least squares.  Return whether any bulge is left.
    """
    if x < -tolerance or x > length + tolerance:
        return False
    power = (x * x - x * length + y * y) / length
    g = power - tolerance * tolerance / length
    square = g * g + y * y - tolerance * tolerance
    if square < 0.0:
        # So near an end that every arc passes it.
        return True
    if g >= 0.0 and abs(y) <= tolerance:
        return False
    away = g - math.sqrt(square)
    bounds[0] = max(bounds[0], (y + tolerance) / away)
    bounds[1] = min(bounds[1], (y - tolerance) / away)
    weight = power * power if counts else 0.0
    bounds[2] += weight * y / (power - math.sqrt(power * power + y * y))
    bounds[3] += weight
    return bounds[0] <= bounds[1]


@njit
def arc_between(
    points: FloatArray, i: int, j: int, tolerance: float, chords: bool, bounds: FloatArray
) -> tuple[bool, float]:
    """Return whether one line or arc from point i to point j passes all between, and its bulge."""
    if j == i + 1:
        return True, 0.0
    dx, dy = points[j, 0] - points[i, 0], points[j, 1] - points[i, 1]
    length = math.hypot(dx, dy)
    if length <= max(tolerance, _NO_LENGTH):
        return False, 0.0
    dx, dy = dx / length, dy / length
    bounds[0], bounds[1], bounds[2], bounds[3] = -_WIDEST_BULGE, _WIDEST_BULGE, 0.0, 0.0
    last_x, last_y, widest = 0.0, 0.0, 0.0
    for k in range(i + 1, j + 1):
        px, py = points[k, 0] - points[i, 0], points[k, 1] - points[i, 1]
        x, y = px * dx + py * dy, py * dx - px * dy
        if x < last_x - tolerance:
            return False, 0.0
        if k < j and not bound_bulge(x, y, length, tolerance, True, bounds):
            return False, 0.0
        if chords:
            mx, my = 0.5 * (x + last_x), 0.5 * (y + last_y)
            if not bound_bulge(mx, my, length, tolerance, False, bounds):
                return False, 0.0
        widest = max(widest, abs(y))
        last_x, last_y = x, y
    if widest <= _STRAIGHT_SHARE * tolerance or bounds[3] == 0.0:
        return widest <= tolerance, 0.0
    return True, min(max(bounds[2] / bounds[3], bounds[0]), bounds[1])


@njit
def longest_arcs(points: FloatArray, tolerance: float, chords: bool) -> tuple[IntArray, FloatArray]:
    """Walk through points in the longest lines and arcs that keep within the tolerance.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
    tolerance : float
        Greatest distance of a point from its arc, and with `chords` of the middle of the
        connection of two points.

    Returns
    -------
    breaks : ndarray of int, shape (k + 1,)
        Points at which one arc ends and the next begins.
    bulges : ndarray, shape (k,)
    """
    last = len(points) - 1
    breaks = np.empty(last + 1, dtype=np.int64)
    bulges = np.empty(last)
    bounds = np.empty(4)
    count, first, guess = 0, 0, 4
    breaks[0] = 0
    while first < last:
        # Gallop to the first stretch that fails, then halve between good and bad.
        good, bad, step = 1, last - first + 1, max(2, guess)
        while bad - good > 1:
            step = min(max(step, good + 1), bad - 1)
            fits, _ = arc_between(points, first, first + step, tolerance, chords, bounds)
            if fits:
                good = step
            else:
                bad = step
            step = 2 * good if bad > last - first else (good + bad) // 2
        _, bulges[count] = arc_between(points, first, first + good, tolerance, chords, bounds)
        first += good
        guess = good
        count += 1
        breaks[count] = first
    return breaks[: count + 1].copy(), bulges[:count].copy()


@njit
def bulge_from(ux: float, uy: float, dx: float, dy: float) -> float:
    """Return the bulge of the arc that leaves in direction u and spans the chord d."""
    half = math.atan2(ux * dy - uy * dx, ux * dx + uy * dy)
    return math.tan(0.5 * half) if abs(2.0 * half) > _STRAIGHT_SWEEP else 0.0


@njit
def off_arc(x: float, y: float, ax: float, ay: float, bx: float, by: float, bulge: float) -> float:
    """Return the distance of a point from the line or circle of an arc from a to b."""
    dx, dy = bx - ax, by - ay
    length = math.hypot(dx, dy)
    if length <= _NO_LENGTH:
        return math.hypot(x - ax, y - ay)
    px, py = x - ax, y - ay
    side = (dx * py - dy * px) / length
    along = (dx * px + dy * py) / length
    # With curvature 4 b / (1 + b²) / length, s solves the circle's equation free of its radius.
    q = 2.0 * bulge / length * (along * along - length * along + side * side)
    value = q - (1.0 - bulge * bulge) * side
    slope = 1.0 + bulge * bulge
    curvature = 4.0 * bulge / (slope * length)
    root = math.sqrt(max(1.0 + 2.0 * curvature * value / slope, 0.0))
    return abs(2.0 * value / (slope * (1.0 + root)))


@njit
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
    return abs(biarc[2]) <= _WIDEST_BULGE and abs(biarc[3]) <= _WIDEST_BULGE


@njit
def biarc_holds(points: FloatArray, i: int, j: int, tolerance: float, biarc: FloatArray) -> bool:
    """Return whether all samples between two lie on their biarc within the tolerance."""
    for k in range(i + 1, j):
        x, y = points[k, 0], points[k, 1]
        # The common tangent at the joint parts what belongs to either arc.
        if (x - biarc[0]) * biarc[4] + (y - biarc[1]) * biarc[5] <= 0.0:
            off = off_arc(x, y, points[i, 0], points[i, 1], biarc[0], biarc[1], biarc[2])
        else:
            off = off_arc(x, y, biarc[0], biarc[1], points[j, 0], points[j, 1], biarc[3])
        if off > tolerance:
            return False
    return True


@njit
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
    span = math.hypot(points[j, 0] - points[i, 0], points[j, 1] - points[i, 1])
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


@njit
def biarc_chain(points: FloatArray, ways: FloatArray, tolerance: float) -> FloatArray:
    """Return vertices of the longest biarcs, one after the other, along samples of a curve.

    Parameters
    ----------
    points, ways : ndarray, shape (n, 2)
        Samples and unit tangents; the tangents are overwritten by those taken.
    tolerance : float
        Greatest distance of a sample from its biarc.

    Returns
    -------
    ndarray, shape (m, 3)
        Vertices of an open path.
    """
    last = len(points) - 1
    bends = np.zeros(last + 1)
    for k in range(1, last):
        turn = ways[k - 1, 0] * ways[k + 1, 1] - ways[k - 1, 1] * ways[k + 1, 0]
        bends[k] = turn / math.hypot(points[k + 1, 0] - points[k - 1, 0], points[k + 1, 1] - points[k - 1, 1])
    bends[0], bends[last] = bends[min(1, last)], bends[max(0, last - 1)]
    rows = np.zeros((2 * last + 1, 3))
    biarc = np.empty(8)
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
    rows[count, 0], rows[count, 1] = points[last, 0], points[last, 1]
    return rows[: count + 1].copy()


@njit
def joined_bulge(rows: FloatArray, i: int, j: int, tolerance: float) -> tuple[bool, float]:
    """Return whether segments i to j − 1 are one line or one arc, and its bulge."""
    n = len(rows)
    ax, ay = rows[i % n, 0], rows[i % n, 1]
    bx, by = rows[j % n, 0], rows[j % n, 1]
    length = math.hypot(bx - ax, by - ay)
    if length <= _NO_LENGTH:
        return False, 0.0
    first, sweep = rows[i % n, 2], 0.0
    for k in range(i, j):
        bulge = rows[k % n, 2]
        if (bulge == 0.0) != (first == 0.0) or bulge * first < 0.0:
            return False, 0.0
        sweep += 4.0 * math.atan(bulge)
    if abs(sweep) > math.pi * (1.0 + 1e-12):
        return False, 0.0
    whole = math.tan(0.25 * sweep)
    last = 0.0
    for k in range(i, j):
        x, y, bulge = rows[k % n, 0], rows[k % n, 1], rows[k % n, 2]
        dx, dy = rows[(k + 1) % n, 0] - x, rows[(k + 1) % n, 1] - y
        if k > i:
            along = ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length
            if whole == 0.0 and (along <= last or along >= length):
                return False, 0.0
            last = along
            if off_arc(x, y, ax, ay, bx, by, whole) > tolerance:
                return False, 0.0
        if bulge != 0.0:
            x, y = x + 0.5 * (dx + bulge * dy), y + 0.5 * (dy - bulge * dx)
            if off_arc(x, y, ax, ay, bx, by, whole) > tolerance:
                return False, 0.0
    return True, whole


@njit
def whole_again(rows: FloatArray, closed: bool, tolerance: float) -> FloatArray:
    """Return vertices with lines in a row made one line, and arcs of one circle one arc.

    No arc grows past half a turn, and no vertex left out is farther from what takes its
    place than the tolerance.
    """
    n = len(rows)
    first, last = 0, n if closed else n - 1
    if closed:
        # Begin where two segments meet that are not one.
        for k in range(n):
            one, _ = joined_bulge(rows, k + n - 1, k + n + 1, tolerance)
            if not one:
                first, last = k, k + n
                break
    joined = np.zeros((last - first + 1, 3))
    count, i = 0, first
    while i < last:
        j, bulge = i + 1, rows[i % n, 2]
        while j < last:
            one, wider = joined_bulge(rows, i, j + 1, tolerance)
            if not one:
                break
            j, bulge = j + 1, wider
        joined[count, 0], joined[count, 1], joined[count, 2] = rows[i % n, 0], rows[i % n, 1], bulge
        count += 1
        i = j
    if not closed:
        joined[count, 0], joined[count, 1] = rows[n - 1, 0], rows[n - 1, 1]
        count += 1
    return joined[:count].copy()
