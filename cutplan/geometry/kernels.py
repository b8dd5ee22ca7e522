"""Compiled work on tables of segments: a box tree over them, distances, containment, crossings.

A table has one row a segment, in the order of the path.  Neighbours in a path are
neighbours in the plane, so a binary tree over runs of consecutive rows, each node the box
of its run, finds what is near without sorting (a bounding volume hierarchy, Klosowski et
al. 1998, "Efficient collision detection using bounding volume hierarchies").
"""

# Numbers taken out of arrays are Any to the type checker.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutplan.compiled import njit
from cutplan.geometry.path import FloatArray

IntArray = NDArray[np.int64]

__all__ = [
    "build_tree",
    "contains_points",
    "nearest_points",
    "segment_boxes",
]

# Columns of a table.  R is 0 for lines; (MX, MY) is the unit vector from an arc's centre to
# its middle and COS_HALF the cosine of half its sweep.
X0, Y0, X1, Y1, CX, CY, R, SWEEP, MX, MY, COS_HALF, LENGTH = range(12)

# Segments in a leaf of the tree.
LEAF = 4
# Deeper than any tree of 2³⁰ segments.
STACK = 64


@njit
def segment_boxes(table: FloatArray) -> FloatArray:
    """Return xmin, ymin, xmax, ymax of each segment, shape (n, 4)."""
    boxes = np.empty((len(table), 4))
    for i in range(len(table)):
        boxes[i, 0] = min(table[i, X0], table[i, X1])
        boxes[i, 1] = min(table[i, Y0], table[i, Y1])
        boxes[i, 2] = max(table[i, X0], table[i, X1])
        boxes[i, 3] = max(table[i, Y0], table[i, Y1])
        if table[i, R] > 0.0:
            if -table[i, MX] > table[i, COS_HALF]:
                boxes[i, 0] = min(boxes[i, 0], table[i, CX] - table[i, R])
            if -table[i, MY] > table[i, COS_HALF]:
                boxes[i, 1] = min(boxes[i, 1], table[i, CY] - table[i, R])
            if table[i, MX] > table[i, COS_HALF]:
                boxes[i, 2] = max(boxes[i, 2], table[i, CX] + table[i, R])
            if table[i, MY] > table[i, COS_HALF]:
                boxes[i, 3] = max(boxes[i, 3], table[i, CY] + table[i, R])
    return boxes


@njit
def build_tree(boxes: FloatArray) -> FloatArray:
    """Return the boxes of all nodes, shape (2 m, 4); node k has the children 2k and 2k + 1."""
    leaves = 1
    while leaves * LEAF < len(boxes):
        leaves *= 2
    tree = np.empty((2 * leaves, 4))
    tree[:, 0] = np.inf
    tree[:, 1] = np.inf
    tree[:, 2] = -np.inf
    tree[:, 3] = -np.inf
    for i in range(len(boxes)):
        node = leaves + i // LEAF
        tree[node, 0] = min(tree[node, 0], boxes[i, 0])
        tree[node, 1] = min(tree[node, 1], boxes[i, 1])
        tree[node, 2] = max(tree[node, 2], boxes[i, 2])
        tree[node, 3] = max(tree[node, 3], boxes[i, 3])
    for node in range(leaves - 1, 0, -1):
        a, b = 2 * node, 2 * node + 1
        tree[node, 0] = min(tree[a, 0], tree[b, 0])
        tree[node, 1] = min(tree[a, 1], tree[b, 1])
        tree[node, 2] = max(tree[a, 2], tree[b, 2])
        tree[node, 3] = max(tree[a, 3], tree[b, 3])
    return tree


@njit
def point_on(table: FloatArray, i: int, t: float) -> tuple[float, float]:
    """Return the point at a fraction of a segment."""
    if table[i, R] == 0.0:
        return table[i, X0] + t * (table[i, X1] - table[i, X0]), table[i, Y0] + t * (
            table[i, Y1] - table[i, Y0]
        )
    turn = (t - 0.5) * table[i, SWEEP]
    c, s = math.cos(turn), math.sin(turn)
    return (
        table[i, CX] + table[i, R] * (c * table[i, MX] - s * table[i, MY]),
        table[i, CY] + table[i, R] * (s * table[i, MX] + c * table[i, MY]),
    )


@njit
def fraction_of(table: FloatArray, i: int, x: float, y: float) -> float:
    """Return the fraction along a segment's line or circle of the place nearest to a point."""
    if table[i, R] == 0.0:
        dx, dy = table[i, X1] - table[i, X0], table[i, Y1] - table[i, Y0]
        square = dx * dx + dy * dy
        if square == 0.0:
            return 0.0
        return ((x - table[i, X0]) * dx + (y - table[i, Y0]) * dy) / square
    dx, dy = x - table[i, CX], y - table[i, CY]
    angle = math.atan2(table[i, MX] * dy - table[i, MY] * dx, table[i, MX] * dx + table[i, MY] * dy)
    return 0.5 + angle / table[i, SWEEP]


@njit
def square_distance(table: FloatArray, i: int, x: float, y: float) -> float:
    """Return the squared distance of a point from a segment."""
    if table[i, R] > 0.0:
        dx, dy = x - table[i, CX], y - table[i, CY]
        reach = math.sqrt(dx * dx + dy * dy)
        if dx * table[i, MX] + dy * table[i, MY] >= reach * table[i, COS_HALF]:
            return (reach - table[i, R]) ** 2
        return min(
            (x - table[i, X0]) ** 2 + (y - table[i, Y0]) ** 2,
            (x - table[i, X1]) ** 2 + (y - table[i, Y1]) ** 2,
        )
    dx, dy = table[i, X1] - table[i, X0], table[i, Y1] - table[i, Y0]
    px, py = x - table[i, X0], y - table[i, Y0]
    along = px * dx + py * dy
    square = dx * dx + dy * dy
    if along <= 0.0 or square == 0.0:
        return px * px + py * py
    if along >= square:
        return (x - table[i, X1]) ** 2 + (y - table[i, Y1]) ** 2
    return (px * dy - py * dx) ** 2 / square


@njit
def box_square_distance(boxes: FloatArray, i: int, x: float, y: float) -> float:
    """Return the squared distance of a point from a box, 0 inside."""
    dx = max(boxes[i, 0] - x, x - boxes[i, 2], 0.0)
    dy = max(boxes[i, 1] - y, y - boxes[i, 3], 0.0)
    return dx * dx + dy * dy


@njit
def nearest_segment(
    table: FloatArray, tree: FloatArray, x: float, y: float, limit: float, first: int, stack: IntArray
) -> tuple[float, int]:
    """Return the squared distance and the row of the segment nearest to a point.

    Only segments nearer than the square root of `limit` are looked for; `first` is a row to
    try before the search.  Where none is nearer, the row is −1.
    """
    leaves = len(tree) // 2
    best, owner = limit, -1
    if first >= 0:
        square = square_distance(table, first, x, y)
        if square < best:
            best, owner = square, first
    stack[0] = 1
    top = 1
    while top > 0:
        top -= 1
        node = stack[top]
        if box_square_distance(tree, node, x, y) >= best:
            continue
        if node >= leaves:
            begin = (node - leaves) * LEAF
            for i in range(begin, min(begin + LEAF, len(table))):
                square = square_distance(table, i, x, y)
                if square < best:
                    best, owner = square, i
            continue
        a, b = 2 * node, 2 * node + 1
        if box_square_distance(tree, a, x, y) < box_square_distance(tree, b, x, y):
            a, b = b, a
        stack[top] = a
        stack[top + 1] = b
        top += 2
    return best, owner


@njit
def nearest_points(
    table: FloatArray, tree: FloatArray, points: FloatArray
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Return for each point its distance, the nearest segment and the fraction along it."""
    count = len(points)
    distance = np.empty(count)
    owner = np.empty(count, dtype=np.int64)
    fraction = np.empty(count)
    stack = np.empty(STACK, dtype=np.int64)
    last = 0
    for k in range(count):
        x, y = points[k, 0], points[k, 1]
        square, last = nearest_segment(table, tree, x, y, np.inf, last, stack)
        distance[k] = math.sqrt(square)
        owner[k] = last
        t = fraction_of(table, last, x, y)
        if t < 0.0 or t > 1.0:
            to_start = (x - table[last, X0]) ** 2 + (y - table[last, Y0]) ** 2
            to_end = (x - table[last, X1]) ** 2 + (y - table[last, Y1]) ** 2
            t = 0.0 if to_start <= to_end else 1.0
        fraction[k] = t
    return distance, owner, fraction


@njit
def half_turned(angle: float) -> float:
    """Return an angle brought between −π and π."""
    return angle - 2.0 * math.pi * math.floor(angle / (2.0 * math.pi) + 0.5)


@njit
def rising_pieces(table: FloatArray) -> FloatArray:
    """Return a table's segments cut where arcs turn from rising to falling.

    Each row holds x0, y0, x1, y1, centre x, centre y, radius (0 for lines) and the side of
    the centre (−1 left, 1 right) that the piece lies on.
    """
    pieces = np.zeros((3 * len(table), 8))
    count = 0
    cuts = np.empty(4)
    for i in range(len(table)):
        if table[i, R] == 0.0:
            pieces[count, :4] = table[i, :4]
            count += 1
            continue
        half = 0.5 * abs(table[i, SWEEP])
        sign = 1.0 if table[i, SWEEP] > 0.0 else -1.0
        middle = math.atan2(table[i, MY], table[i, MX])
        # Angles from the arc's middle, in the direction of travel, of its top and bottom.
        top = sign * half_turned(0.5 * math.pi - middle)
        bottom = sign * half_turned(-0.5 * math.pi - middle)
        cuts[0] = -half
        n = 1
        for angle in (min(top, bottom), max(top, bottom)):
            if abs(angle) < half - 1e-12:
                cuts[n] = angle
                n += 1
        cuts[n] = half
        x, y = table[i, X0], table[i, Y0]
        for k in range(n):
            piece = pieces[count]
            piece[0], piece[1] = x, y
            if k == n - 1:
                x, y = table[i, X1], table[i, Y1]
            else:
                x = table[i, CX]
                y = table[i, CY] + (table[i, R] if cuts[k + 1] == top else -table[i, R])
            piece[2], piece[3] = x, y
            piece[4], piece[5], piece[6] = table[i, CX], table[i, CY], table[i, R]
            direction = middle + sign * 0.5 * (cuts[k] + cuts[k + 1])
            piece[7] = 1.0 if math.cos(direction) > 0.0 else -1.0
            count += 1
    return pieces[:count].copy()


@njit
def piece_boxes(pieces: FloatArray) -> FloatArray:
    """Return the boxes of the rising and falling pieces, shape (n, 4)."""
    boxes = np.empty((len(pieces), 4))
    for i in range(len(pieces)):
        piece = pieces[i]
        boxes[i, 0] = min(piece[0], piece[2])
        boxes[i, 1] = min(piece[1], piece[3])
        boxes[i, 2] = max(piece[0], piece[2])
        boxes[i, 3] = max(piece[1], piece[3])
        if piece[6] > 0.0 and boxes[i, 1] < piece[5] < boxes[i, 3]:
            side = piece[4] + piece[7] * piece[6]
            boxes[i, 0] = min(boxes[i, 0], side)
            boxes[i, 2] = max(boxes[i, 2], side)
    return boxes


@njit
def contains_points(pieces: FloatArray, tree: FloatArray, points: FloatArray) -> NDArray[np.bool_]:
    """Return whether each point lies within a closed path, by the crossings to its right."""
    leaves = len(tree) // 2
    inside = np.zeros(len(points), dtype=np.bool_)
    stack = np.empty(STACK, dtype=np.int64)
    for k in range(len(points)):
        x, y = points[k, 0], points[k, 1]
        odd = False
        stack[0] = 1
        top = 1
        while top > 0:
            top -= 1
            node = stack[top]
            box = tree[node]
            # Half-open in y, so that a vertex at the point's height counts once.
            if box[1] > y or box[3] <= y or box[2] <= x:
                continue
            if node < leaves:
                stack[top] = 2 * node
                stack[top + 1] = 2 * node + 1
                top += 2
                continue
            begin = (node - leaves) * LEAF
            for i in range(begin, min(begin + LEAF, len(pieces))):
                piece = pieces[i]
                if (piece[1] > y) == (piece[3] > y):
                    continue
                if piece[6] == 0.0:
                    rise = (y - piece[1]) / (piece[3] - piece[1])
                    at = piece[0] + rise * (piece[2] - piece[0])
                else:
                    height = y - piece[5]
                    at = piece[4] + piece[7] * math.sqrt(max(piece[6] ** 2 - height * height, 0.0))
                if at > x:
                    odd = not odd
        inside[k] = odd
    return inside
