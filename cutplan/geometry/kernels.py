"""Compiled searches over tables of segments: distances, containment, meetings of pairs.

Kernels write into arrays that the caller lays out, and call nothing but arithmetic: what
they would take from libraries would be compiled along with them.
"""

# Numbers taken out of arrays are Any to the type checker.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.geometry.index import COS_HALF, CX, CY, LEAF, LENGTH, MX, MY, SWEEP, X0, X1, Y0, Y1, R
from cutplan.geometry.path import FloatArray

__all__ = ["contains_points", "cut_and_judge", "inner", "kernel", "nearest_points", "new_stack"]

IntArray = NDArray[np.int64]

# Kernels called from Python, and those called from kernels only.  Divisions need no check:
# a segment in a table has length.
kernel = njit(error_model="numpy")
inner = njit(error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)

# Above this cosine of half its sweep an arc's ends are told by their sine: the cosine hardly
# changes there, and on a radius of a kilometre would misplace them by hundredths of a mm.
_FLAT = 0.9

# A search holds at most one node a level, times three for pairs of trees, of up to 2³⁰ leaves.
_STACK = 128


def new_stack() -> IntArray:
    """Return room for the nodes or pairs of nodes that a search has still to visit."""
    return np.empty((_STACK, 2), dtype=np.int64)


@inner
def point_on(table: FloatArray, i: int, t: float) -> tuple[float, float]:
    """Return the point at a fraction of a segment."""
    if table[i, R] == 0.0:
        return (
            table[i, X0] + t * (table[i, X1] - table[i, X0]),
            table[i, Y0] + t * (table[i, Y1] - table[i, Y0]),
        )
    turn = (t - 0.5) * table[i, SWEEP]
    c, s = math.cos(turn), math.sin(turn)
    return (
        table[i, CX] + table[i, R] * (c * table[i, MX] - s * table[i, MY]),
        table[i, CY] + table[i, R] * (s * table[i, MX] + c * table[i, MY]),
    )


@inner
def fraction_of(table: FloatArray, i: int, x: float, y: float) -> float:
    """Return the fraction along a segment's line or circle of the place nearest to a point."""
    if table[i, R] == 0.0:
        dx, dy = table[i, X1] - table[i, X0], table[i, Y1] - table[i, Y0]
        return ((x - table[i, X0]) * dx + (y - table[i, Y0]) * dy) / (dx * dx + dy * dy)
    dx, dy = x - table[i, CX], y - table[i, CY]
    angle = math.atan2(table[i, MX] * dy - table[i, MY] * dx, table[i, MX] * dx + table[i, MY] * dy)
    return 0.5 + angle / table[i, SWEEP]


@inner
def faces_arc(table: FloatArray, i: int, dx: float, dy: float) -> bool:
    """Return whether a direction from its centre points at an arc."""
    along, square = dx * table[i, MX] + dy * table[i, MY], dx * dx + dy * dy
    if table[i, COS_HALF] < _FLAT:
        return along >= math.sqrt(square) * table[i, COS_HALF]
    ex, ey = table[i, X1] - table[i, X0], table[i, Y1] - table[i, Y0]
    across = 2.0 * table[i, R] * (dx * table[i, MY] - dy * table[i, MX])
    return along > 0.0 and across * across <= square * (ex * ex + ey * ey)


@inner
def square_distance(table: FloatArray, i: int, x: float, y: float) -> float:
    """Return the squared distance of a point from a segment."""
    px, py = x - table[i, X0], y - table[i, Y0]
    if table[i, R] > 0.0:
        dx, dy = x - table[i, CX], y - table[i, CY]
        if faces_arc(table, i, dx, dy):
            gap = math.sqrt(dx * dx + dy * dy) - table[i, R]
            return gap * gap
    else:
        dx, dy = table[i, X1] - table[i, X0], table[i, Y1] - table[i, Y0]
        along, square = px * dx + py * dy, dx * dx + dy * dy
        if 0.0 < along < square:
            off = px * dy - py * dx
            return off * off / square
    qx, qy = x - table[i, X1], y - table[i, Y1]
    return min(px * px + py * py, qx * qx + qy * qy)


@inner
def box_square_distance(boxes: FloatArray, i: int, x: float, y: float) -> float:
    """Return the squared distance of a point from a box, 0 inside."""
    dx = max(max(boxes[i, 0] - x, x - boxes[i, 2]), 0.0)
    dy = max(max(boxes[i, 1] - y, y - boxes[i, 3]), 0.0)
    return dx * dx + dy * dy


@inner
def nearest_segment(
    table: FloatArray, tree: FloatArray, x: float, y: float, far: float, near: float, hint: int, stack: IntArray
) -> tuple[float, int]:  # fmt: skip
    """Return the squared distance and the row of the segment nearest to a point.

    Only segments below `far` are looked for, and the first one below `near` ends the search
    (both squared).  The row `hint` is tried before the search, and is returned, with `far`,
    where none is found.
    """
    leaves = len(tree) // 2
    best, owner = far, hint
    square = square_distance(table, hint, x, y)
    if square < best:
        best = square
    if square < near:
        return best, owner
    stack[0, 0] = 1
    top = 1
    while top > 0:
        top -= 1
        node = stack[top, 0]
        if box_square_distance(tree, node, x, y) >= best:
            continue
        if node >= leaves:
            begin = (node - leaves) * LEAF
            for i in range(begin, min(begin + LEAF, len(table))):
                square = square_distance(table, i, x, y)
                if square < best:
                    best, owner = square, i
                    if square < near:
                        return best, owner
            continue
        nearer = 2 * node
        if box_square_distance(tree, nearer + 1, x, y) < box_square_distance(tree, nearer, x, y):
            nearer += 1
        # The nearer child on top: what it yields cuts the other short.
        stack[top, 0] = 4 * node + 1 - nearer
        stack[top + 1, 0] = nearer
        top += 2
    return best, owner


@kernel
def nearest_points(
    table: FloatArray,
    tree: FloatArray,
    points: FloatArray,
    found: FloatArray,
    owner: IntArray,
    stack: IntArray,
) -> None:
    """Find for each point its distance and the fraction along the nearest segment, and its row.

    Parameters
    ----------
    points, found : ndarray, shape (k, 2)
    owner : ndarray of int, shape (k,)
    """
    last = 0
    for k in range(len(points)):
        x, y = points[k, 0], points[k, 1]
        square, last = nearest_segment(table, tree, x, y, math.inf, -1.0, last, stack)
        found[k, 0] = math.sqrt(square)
        owner[k] = last
        t = fraction_of(table, last, x, y)
        if t < 0.0 or t > 1.0:
            px, py = x - table[last, X0], y - table[last, Y0]
            qx, qy = x - table[last, X1], y - table[last, Y1]
            t = 0.0 if px * px + py * py <= qx * qx + qy * qy else 1.0
        found[k, 1] = t


@kernel
def cut_and_judge(
    curves: FloatArray,
    places: FloatArray,
    fractions: FloatArray,
    pairs: IntArray,
    table: FloatArray,
    tree: FloatArray,
    sure: float,
    doubtful: float,
    tolerance: float,
    slots: IntArray,
    cuts: IntArray,
    labels: IntArray,
    pieces: FloatArray,
    stack: IntArray,
) -> int:
    """Cut curves where they meet, and find which pieces keep a distance from all segments.

    Parameters
    ----------
    curves : ndarray, shape (m, 12)
        Table of the curves.
    places, fractions, pairs : ndarray, shape (k, 2)
        Where they meet, the fractions along both curves, and their rows.
    table, tree : ndarray
        The segments, and the tree over them.
    sure, doubtful : float
        Squares of the distance, and of the distance less a tolerance.
    tolerance : float
        Pieces no longer than this, mm, are left out.
    slots : ndarray of int, shape (m + 1,)
        Where the cuts of each curve begin in `cuts`.
    cuts : ndarray of int, shape (2 k,)
        Room for the cuts of each curve in order, as numbers of entries of `fractions`.
    labels, pieces : ndarray, shape (m + 2 k, 2) and (m + 2 k, 6)
        Filled with the curve and the verdict on each piece kept (1 where its middle keeps the
        distance, 0 where it falls short by up to the tolerance), and with the fractions at
        both ends, its first and its last point.

    Returns
    -------
    int
        Number of pieces kept.
    """
    for i in range(len(slots) - 1):
        for c in range(slots[i], slots[i + 1]):
            # Insertion into the few cuts of a curve.
            entry, at = cuts[c], c
            t = fractions[entry // 2, entry % 2]
            while at > slots[i] and fractions[cuts[at - 1] // 2, cuts[at - 1] % 2] > t:
                cuts[at] = cuts[at - 1]
                at -= 1
            cuts[at] = entry
    found, hint = 0, 0
    for i in range(len(curves)):
        t0, x0, y0 = 0.0, curves[i, X0], curves[i, Y0]
        for c in range(slots[i], slots[i + 1] + 1):
            t1, x1, y1 = 1.0, curves[i, X1], curves[i, Y1]
            if c < slots[i + 1]:
                k = cuts[c] // 2
                t1, x1, y1 = fractions[k, cuts[c] % 2], places[k, 0], places[k, 1]
            if (t1 - t0) * curves[i, LENGTH] <= tolerance:
                continue
            x, y = point_on(curves, i, 0.5 * (t0 + t1))
            square, hint = nearest_segment(table, tree, x, y, sure, doubtful, hint, stack)
            if square >= doubtful:
                labels[found, 0], labels[found, 1] = i, 1 if square >= sure else 0
                pieces[found, 0], pieces[found, 1] = t0, t1
                pieces[found, 2], pieces[found, 3] = x0, y0
                pieces[found, 4], pieces[found, 5] = x1, y1
                found += 1
            t0, x0, y0 = t1, x1, y1
    return found


@kernel
def contains_points(
    pieces: FloatArray, tree: FloatArray, points: FloatArray, inside: NDArray[np.bool_], stack: IntArray
) -> None:
    """Find whether each point lies within a closed path, by the crossings to its right.

    Parameters
    ----------
    pieces, tree : ndarray
        Rising and falling pieces of the path, and the box tree over them.
    points : ndarray, shape (k, 2)
    inside : ndarray of bool, shape (k,)
    """
    leaves = len(tree) // 2
    for k in range(len(points)):
        x, y = points[k, 0], points[k, 1]
        odd = False
        stack[0, 0] = 1
        top = 1
        while top > 0:
            top -= 1
            node = stack[top, 0]
            # Half-open in y, so that a vertex at the point's height counts once.
            if tree[node, 1] > y or tree[node, 3] <= y or tree[node, 2] <= x:
                continue
            if node < leaves:
                stack[top, 0] = 2 * node
                stack[top + 1, 0] = 2 * node + 1
                top += 2
                continue
            begin = (node - leaves) * LEAF
            for i in range(begin, min(begin + LEAF, len(pieces))):
                if (pieces[i, 1] > y) == (pieces[i, 3] > y):
                    continue
                if pieces[i, 6] == 0.0:
                    rise = (y - pieces[i, 1]) / (pieces[i, 3] - pieces[i, 1])
                    at = pieces[i, 0] + rise * (pieces[i, 2] - pieces[i, 0])
                else:
                    height = y - pieces[i, 5]
                    at = pieces[i, 4] + pieces[i, 7] * math.sqrt(
                        max(pieces[i, 6] ** 2 - height * height, 0.0)
                    )
                if at > x:
                    odd = not odd
        inside[k] = odd


@inner
def boxes_apart(boxes_a: FloatArray, i: int, boxes_b: FloatArray, j: int, margin: float) -> bool:
    """Return whether two boxes keep more than a margin in x or y."""
    return (
        boxes_a[i, 0] > boxes_b[j, 2] + margin
        or boxes_b[j, 0] > boxes_a[i, 2] + margin
        or boxes_a[i, 1] > boxes_b[j, 3] + margin
        or boxes_b[j, 1] > boxes_a[i, 3] + margin
    )
