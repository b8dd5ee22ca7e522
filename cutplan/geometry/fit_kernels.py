"""Compiled search for the longest arcs through points, and for segments that are one.

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

from cutplan.geometry.kernels import IntArray, inner, kernel
from cutplan.geometry.path import FloatArray

__all__ = ["NO_LENGTH", "WIDEST_BULGE", "longest_arcs", "off_arc", "whole_again"]

# Arcs whose points stray less than this share of the tolerance from a line are lines.
_STRAIGHT_SHARE = 0.2
# No fitted arc exceeds half a turn, so that it never runs back along its chord.
WIDEST_BULGE = 1.0 + 1e-9
# Ends of a stretch nearer than this, mm, are one point.
NO_LENGTH = 1e-9


@inner
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


@inner
def off_arc(x: float, y: float, ax: float, ay: float, bx: float, by: float, bulge: float) -> float:
    """Return how far a point lies to the left of the line or circle of an arc from a to b."""
    dx, dy = bx - ax, by - ay
    length = math.sqrt(dx * dx + dy * dy)
    if length <= NO_LENGTH:
        return math.sqrt((x - ax) ** 2 + (y - ay) ** 2)
    px, py = x - ax, y - ay
    side = (dx * py - dy * px) / length
    along = (dx * px + dy * py) / length
    # With curvature 4 b / (1 + b²) / length, s solves the circle's equation free of its radius.
    q = 2.0 * bulge / length * (along * along - length * along + side * side)
    value = q - (1.0 - bulge * bulge) * side
    slope = 1.0 + bulge * bulge
    curvature = 4.0 * bulge / (slope * length)
    root = math.sqrt(max(1.0 + 2.0 * curvature * value / slope, 0.0))
    return -2.0 * value / (slope * (1.0 + root))


@inner
def farthest_off(start: float, middle: float, end: float) -> float:
    """Return how far a connection strays from an arc, by how far its ends and middle do.

    Along a straight connection the distance from an arc runs as a parabola does.
    """
    rise, bend = end - start, 2.0 * (start + end - 2.0 * middle)
    most = max(abs(start), abs(end))
    if bend == 0.0:
        return most
    at = 0.5 - 0.5 * rise / bend
    if 0.0 < at < 1.0:
        most = max(most, abs(start + at * (rise - bend) + at * at * bend))
    return most


@inner
def connections_hold(points: FloatArray, i: int, j: int, bulge: float, tolerance: float) -> bool:
    """Return whether the connections of points i to j keep within a tolerance of an arc."""
    ax, ay, bx, by = points[i, 0], points[i, 1], points[j, 0], points[j, 1]
    start = 0.0
    for k in range(i, j):
        x, y = 0.5 * (points[k, 0] + points[k + 1, 0]), 0.5 * (points[k, 1] + points[k + 1, 1])
        middle = off_arc(x, y, ax, ay, bx, by, bulge)
        end = 0.0 if k + 1 == j else off_arc(points[k + 1, 0], points[k + 1, 1], ax, ay, bx, by, bulge)
        if farthest_off(start, middle, end) > tolerance:
            return False
        start = end
    return True


@inner
def arc_between(
    points: FloatArray, i: int, j: int, tolerance: float, chords: bool, bounds: FloatArray
) -> tuple[bool, float]:
    """Return whether one line or arc from point i to point j passes all between, and its bulge."""
    if j == i + 1:
        return True, 0.0
    dx, dy = points[j, 0] - points[i, 0], points[j, 1] - points[i, 1]
    length = math.sqrt(dx * dx + dy * dy)
    if length <= max(tolerance, NO_LENGTH):
        return False, 0.0
    dx, dy = dx / length, dy / length
    bounds[0], bounds[1], bounds[2], bounds[3] = -WIDEST_BULGE, WIDEST_BULGE, 0.0, 0.0
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
    bulge = min(max(bounds[2] / bounds[3], bounds[0]), bounds[1])
    return not chords or connections_hold(points, i, j, bulge, tolerance), bulge


@kernel
def longest_arcs(
    points: FloatArray,
    tolerance: float,
    chords: bool,
    breaks: IntArray,
    bulges: FloatArray,
    bounds: FloatArray,
) -> int:
    """Walk through points in the longest lines and arcs that keep within the tolerance.

    Parameters
    ----------
    points : ndarray, shape (n, 2)
    tolerance : float
        Greatest distance of a point from its arc, and with `chords` of the straight
        connections too.
    breaks : ndarray of int, shape (n,)
        Filled with the points at which one arc ends and the next begins.
    bulges : ndarray, shape (n - 1,)
        Filled with the arcs' bulges.
    bounds : ndarray, shape (4,)
        Room for one arc.

    Returns
    -------
    int
        Number of arcs.
    """
    last = len(points) - 1
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
    return count


@inner
def joined_bulge(rows: FloatArray, i: int, j: int, tolerance: float) -> tuple[bool, float]:
    """Return whether segments i to j − 1 are one line or one arc, and its bulge."""
    n = len(rows)
    ax, ay = rows[i % n, 0], rows[i % n, 1]
    bx, by = rows[j % n, 0], rows[j % n, 1]
    length = math.sqrt((bx - ax) ** 2 + (by - ay) ** 2)
    if length <= NO_LENGTH:
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
            if abs(off_arc(x, y, ax, ay, bx, by, whole)) > tolerance:
                return False, 0.0
        if bulge != 0.0:
            x, y = x + 0.5 * (dx + bulge * dy), y + 0.5 * (dy - bulge * dx)
            if abs(off_arc(x, y, ax, ay, bx, by, whole)) > tolerance:
                return False, 0.0
    return True, whole


@kernel
def whole_again(rows: FloatArray, closed: bool, tolerance: float, joined: FloatArray) -> int:
    """Make lines in a row one line, and arcs in a row of one circle one arc.

    No arc grows past half a turn, and no vertex left out is farther from what takes its
    place than the tolerance.

    Parameters
    ----------
    rows, joined : ndarray, shape (n, 3)
        Vertices before, and room for those left.

    Returns
    -------
    int
        Number of vertices left.
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
        joined[count, 0], joined[count, 1], joined[count, 2] = rows[n - 1, 0], rows[n - 1, 1], 0.0
        count += 1
    return count
