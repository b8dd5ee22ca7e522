"""Compiled first half of the offset: parallel curves, their cuts, and which pieces survive.

Every point of a true offset has its nearest point of the contour either within a segment,
and then lies on that segment's parallel curve, or at a vertex, and then lies on the arc
about it between the two neighbours' normals.  So the offset is a selection of pieces of
these raw curves: those that keep the distance from the whole contour (pair-wise offset and
trimming, Choi and Park 1999, "A pair-wise offset algorithm for 2D point-sequence curve";
Liu, Yong, Zheng and Sun 2007, "An offset algorithm for polyline curves").
"""

# Numbers taken out of arrays are Any to the type checker.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

import numpy as np

from cutplan.compiled import njit
from cutplan.geometry.kernels import (
    COS_HALF,
    CX,
    CY,
    LEAF,
    LENGTH,
    MX,
    MY,
    STACK,
    SWEEP,
    X0,
    X1,
    Y0,
    Y1,
    IntArray,
    R,
    box_square_distance,
    point_on,
    square_distance,
)
from cutplan.geometry.path import FloatArray

__all__ = ["cluster", "cut_and_keep", "follow", "raw_curves"]

# Directions that differ from a full reversal by less than this, rad, are told apart by
# curvature.
_REVERSAL = 1e-9


@njit
def end_direction(table: FloatArray, i: int, side: float) -> tuple[float, float]:
    """Return a segment's unit tangent at its start (side −1) or its end (side 1)."""
    if table[i, R] == 0.0:
        dx, dy = table[i, X1] - table[i, X0], table[i, Y1] - table[i, Y0]
        size = math.hypot(dx, dy)
        return dx / size, dy / size
    # At its middle an arc runs square to the spoke.
    sign = 1.0 if table[i, SWEEP] > 0.0 else -1.0
    dx, dy = -sign * table[i, MY], sign * table[i, MX]
    turn = 0.5 * side * table[i, SWEEP]
    c, s = math.cos(turn), math.sin(turn)
    return c * dx - s * dy, s * dx + c * dy


@njit
def turn_between(table: FloatArray, i: int, j: int) -> float:
    """Return the signed turn, rad, from the end of segment i to the start of segment j."""
    ax, ay = end_direction(table, i, 1.0)
    bx, by = end_direction(table, j, -1.0)
    cross, dot = ax * by - ay * bx, ax * bx + ay * by
    if dot < 0.0 and abs(cross) < _REVERSAL:
        # In a cusp the side is decided by which of the two curves bends away.
        bend = table[i, SWEEP] / table[i, LENGTH] + table[j, SWEEP] / table[j, LENGTH]
        return -math.pi if bend > 0.0 else math.pi
    return math.atan2(cross, dot)


@njit
def raw_curves(table: FloatArray, distance: float, tolerance: float) -> FloatArray:
    """Return the parallel curves of a closed contour's segments and the arcs about its vertices.

    Parameters
    ----------
    table : ndarray, shape (n, 12)
        Segments of a counter-clockwise contour, none shorter than the tolerance.
    distance : float
        Positive to the right of the travel, outwards.
    tolerance : float
        Radii up to this vanish, gaps up to this are closed.

    Returns
    -------
    ndarray, shape (m, 12)
        In the order and direction of the contour.
    """
    n = len(table)
    raw = np.zeros((2 * n, 12))
    count = 0
    for i in range(n):
        ax, ay = end_direction(table, i, -1.0)
        bx, by = end_direction(table, i, 1.0)
        radius = 0.0
        if table[i, R] > 0.0:
            radius = table[i, R] + (distance if table[i, SWEEP] > 0.0 else -distance)
        if table[i, R] == 0.0 or radius > tolerance:
            raw[count] = table[i]
            raw[count, X0] += distance * ay
            raw[count, Y0] -= distance * ax
            raw[count, X1] += distance * by
            raw[count, Y1] -= distance * bx
            raw[count, R] = radius
            if radius > 0.0:
                raw[count, LENGTH] = radius * abs(table[i, SWEEP])
            count += 1
        turn = turn_between(table, i, (i + 1) % n)
        if turn * distance > tolerance:
            vx, vy = table[i, X1], table[i, Y1]
            c, s = math.cos(turn), math.sin(turn)
            ex, ey = c * bx - s * by, s * bx + c * by
            raw[count, X0], raw[count, Y0] = vx + distance * by, vy - distance * bx
            raw[count, X1], raw[count, Y1] = vx + distance * ey, vy - distance * ex
            raw[count, CX], raw[count, CY] = vx, vy
            raw[count, R] = abs(distance)
            raw[count, SWEEP] = turn
            c, s = math.cos(0.5 * turn), math.sin(0.5 * turn)
            side = 1.0 if distance > 0.0 else -1.0
            raw[count, MX], raw[count, MY] = side * (s * bx + c * by), -side * (c * bx - s * by)
            raw[count, COS_HALF] = c
            raw[count, LENGTH] = abs(distance * turn)
            count += 1
    return raw[:count].copy()


@njit
def clearance(
    source: FloatArray,
    tree: FloatArray,
    x: float,
    y: float,
    far: float,
    near: float,
    hint: int,
    stack: IntArray,
) -> tuple[float, int]:
    """Return the squared distance of a point from a contour where it is below `far`.

    The search ends at the first segment below `near`.  Both limits are squared.  The row
    returned is that of the nearest segment looked at, or the hint.
    """
    leaves = len(tree) // 2
    best, owner = far, hint
    square = square_distance(source, hint, x, y)
    if square < near:
        return square, hint
    stack[0] = 1
    top = 1
    while top > 0:
        top -= 1
        node = stack[top]
        if box_square_distance(tree, node, x, y) >= best:
            continue
        if node < leaves:
            stack[top] = 2 * node
            stack[top + 1] = 2 * node + 1
            top += 2
            continue
        begin = (node - leaves) * LEAF
        for i in range(begin, min(begin + LEAF, len(source))):
            square = square_distance(source, i, x, y)
            if square < best:
                best, owner = square, i
                if square < near:
                    return best, owner
    return best, owner


@njit
def sorted_cuts(count: int, places: FloatArray, pairs: IntArray) -> tuple[IntArray, FloatArray]:
    """Gather the cuts of each curve in order.

    Returns
    -------
    first : ndarray of int, shape (count + 1,)
        Where each curve's cuts begin in `cuts`.
    cuts : ndarray, shape (2 k, 3)
        Fraction along the curve, x and y.
    """
    first = np.zeros(count + 1, dtype=np.int64)
    for k in range(len(pairs)):
        first[pairs[k, 0] + 1] += 1
        first[pairs[k, 1] + 1] += 1
    for i in range(count):
        first[i + 1] += first[i]
    filled = first.copy()
    cuts = np.empty((2 * len(pairs), 3))
    for k in range(len(pairs)):
        for side in range(2):
            i = pairs[k, side]
            t = places[k, 2 + side]
            slot = filled[i]
            while slot > first[i] and cuts[slot - 1, 0] > t:
                cuts[slot] = cuts[slot - 1]
                slot -= 1
            cuts[slot, 0], cuts[slot, 1], cuts[slot, 2] = t, places[k, 0], places[k, 1]
            filled[i] += 1
    return first, cuts


@njit
def cut_and_keep(
    raw: FloatArray,
    places: FloatArray,
    pairs: IntArray,
    source: FloatArray,
    tree: FloatArray,
    distance: float,
    tolerance: float,
    exact: float,
) -> tuple[IntArray, FloatArray]:
    """Cut raw curves where they meet, and keep the pieces at the distance from the contour.

    Parameters
    ----------
    raw : ndarray, shape (m, 12)
        Raw curves.
    places, pairs : ndarray
        Their meetings, as `crossing_hits` gives them.
    source, tree : ndarray
        The contour's segments and the box tree over them.
    distance : float
        Size of the offset.
    tolerance, exact : float
        A piece whose middle lies within `exact` of the distance is sure; one that falls
        short by up to `tolerance` may be a touch, and is decided by its neighbours.

    Returns
    -------
    labels : ndarray of int, shape (k, 2)
        Raw curve of each piece; 1 for sure pieces, 0 for doubtful ones.
    pieces : ndarray, shape (k, 6)
        Fractions t0 and t1 along the raw curve; first point; last point.
    """
    first, cuts = sorted_cuts(len(raw), places, pairs)
    labels = np.empty((len(raw) + len(cuts), 2), dtype=np.int64)
    pieces = np.empty((len(labels), 6))
    stack = np.empty(STACK, dtype=np.int64)
    far, near = (distance - exact) ** 2, max(distance - tolerance, 0.0) ** 2
    found, hint = 0, 0
    for i in range(len(raw)):
        t0, x0, y0 = 0.0, raw[i, X0], raw[i, Y0]
        for k in range(first[i], first[i + 1] + 1):
            t1, x1, y1 = 1.0, raw[i, X1], raw[i, Y1]
            if k < first[i + 1]:
                t1, x1, y1 = cuts[k, 0], cuts[k, 1], cuts[k, 2]
            if (t1 - t0) * raw[i, LENGTH] <= tolerance:
                continue
            x, y = point_on(raw, i, 0.5 * (t0 + t1))
            square, hint = clearance(source, tree, x, y, far, near, hint, stack)
            if square >= near:
                labels[found, 0] = i
                labels[found, 1] = 1 if square >= far else 0
                pieces[found, 0], pieces[found, 1] = t0, t1
                pieces[found, 2], pieces[found, 3] = x0, y0
                pieces[found, 4], pieces[found, 5] = x1, y1
                found += 1
            t0, x0, y0 = t1, x1, y1
    return labels[:found], pieces[:found]


@njit
def root(parent: IntArray, i: int) -> int:
    """Return the representative of a set, halving the way to it (union-find)."""
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit
def cluster(points: FloatArray, tolerance: float) -> IntArray:
    """Return for each point the lowest index of the points that coincide with it."""
    # Along a slanting direction the vertices of upright and level drawings seldom coincide.
    key = points[:, 0] * math.cos(1.0) + points[:, 1] * math.sin(1.0)
    order = np.argsort(key)
    parent = np.arange(len(points))
    for m in range(len(order)):
        i = order[m]
        for k in range(m + 1, len(order)):
            j = order[k]
            if key[j] - key[i] > tolerance:
                break
            if math.hypot(points[i, 0] - points[j, 0], points[i, 1] - points[j, 1]) <= tolerance:
                a, b = root(parent, i), root(parent, j)
                parent[max(a, b)] = min(a, b)
    for i in range(len(points)):
        parent[i] = root(parent, i)
    return parent


@njit
def follow(following: IntArray) -> tuple[IntArray, IntArray]:
    """Return the cycles of a permutation: its items in order, and where each cycle begins."""
    order = np.empty(len(following), dtype=np.int64)
    begins = np.empty(len(following) + 1, dtype=np.int64)
    seen = np.zeros(len(following), dtype=np.bool_)
    found, cycles = 0, 0
    for i in range(len(following)):
        if seen[i]:
            continue
        begins[cycles] = found
        cycles += 1
        while not seen[i]:
            seen[i] = True
            order[found] = i
            found += 1
            i = following[i]
    begins[cycles] = found
    return order, begins[: cycles + 1].copy()
