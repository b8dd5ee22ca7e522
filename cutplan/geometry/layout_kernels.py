"""Compiled laying out of many small contours at once: the tables of `cutplan.geometry.index`, without its arrays.

A region of a part has some twenty segments, for which setting up array operations takes longer
than all that they do.
"""

from __future__ import annotations

import math

from cutplan.geometry.index import COS_HALF, CX, CY, LEAF, LENGTH, MX, MY, SWEEP, X0, X1, Y0, Y1, R
from cutplan.geometry.kernels import IntArray, inner, kernel
from cutplan.geometry.path import FloatArray

__all__ = ["grow_tree", "lay_out"]

# Under this sweep, rad, the series of θ − sin θ is more accurate than the difference.
SMALL_SWEEP = 0.1


@inner
def _cap(radius: float, sweep: float) -> float:
    """Return the signed area between an arc and its chord."""
    if abs(sweep) >= SMALL_SWEEP:
        return 0.5 * radius * radius * (sweep - math.sin(sweep))
    square = sweep * sweep
    series = sweep * square / 6.0 * (1.0 - square / 20.0 * (1.0 - square / 42.0 * (1.0 - square / 72.0)))
    return 0.5 * radius * radius * series


@inner
def _fill(table: FloatArray, boxes: FloatArray, ways: FloatArray, k: int, bulge: float) -> None:
    """Fill a row whose ends are given: centre, radius, sweep, middle, length, box and directions."""
    x0, y0, x1, y1 = table[k, X0], table[k, Y0], table[k, X1], table[k, Y1]
    dx, dy = x1 - x0, y1 - y0
    chord = math.sqrt(dx * dx + dy * dy)
    ux, uy = dx / chord, dy / chord
    boxes[k, 0], boxes[k, 1] = min(x0, x1), min(y0, y1)
    boxes[k, 2], boxes[k, 3] = max(x0, x1), max(y0, y1)
    table[k, CX], table[k, CY], table[k, R], table[k, SWEEP] = 0.0, 0.0, 0.0, 0.0
    table[k, MX], table[k, MY], table[k, COS_HALF], table[k, LENGTH] = 0.0, 0.0, 1.0, chord
    c, s = 1.0, 0.0
    if bulge != 0.0:
        square = bulge * bulge
        rise = (1.0 - square) / (4.0 * bulge)
        table[k, CX], table[k, CY] = 0.5 * (x0 + x1) - rise * dy, 0.5 * (y0 + y1) + rise * dx
        radius = chord * (1.0 + square) / (4.0 * abs(bulge))
        sign = 1.0 if bulge > 0.0 else -1.0
        mx, my, within = uy * sign, -ux * sign, (1.0 - square) / (1.0 + square)
        table[k, R], table[k, SWEEP] = radius, 4.0 * math.atan(bulge)
        table[k, MX], table[k, MY], table[k, COS_HALF] = mx, my, within
        table[k, LENGTH] = radius * abs(table[k, SWEEP])
        if -mx > within:
            boxes[k, 0] = min(boxes[k, 0], table[k, CX] - radius)
        if -my > within:
            boxes[k, 1] = min(boxes[k, 1], table[k, CY] - radius)
        if mx > within:
            boxes[k, 2] = max(boxes[k, 2], table[k, CX] + radius)
        if my > within:
            boxes[k, 3] = max(boxes[k, 3], table[k, CY] + radius)
        # Cosine and sine of half the sweep.
        c, s = within, 2.0 * bulge / (1.0 + square)
    ways[k, 0], ways[k, 1] = c * ux + s * uy, c * uy - s * ux
    ways[k, 2], ways[k, 3] = c * ux - s * uy, c * uy + s * ux


@kernel
def lay_out(
    rows: FloatArray, counts: IntArray, table: FloatArray, boxes: FloatArray, ways: FloatArray,
    owners: IntArray, sums: FloatArray,
) -> int:  # fmt: skip
    """Fill the tables of closed contours; segments without length are left out.

    Parameters
    ----------
    rows : ndarray, shape (n, 3)
        Vertices with bulges, contour after contour.
    counts : ndarray of int, shape (m,)
        Vertices of each contour.
    table, boxes : ndarray, shape (n, 12) and (n, 4)
        As in `cutplan.geometry.index`.
    ways : ndarray, shape (n, 4)
        Unit directions of travel at both ends of each segment.
    owners : ndarray of int, shape (2, n)
        The row that arrives where a row leaves, and the contour that it belongs to.
    sums : ndarray, shape (2,)
        Area on the left of the contours, and their length.

    Returns
    -------
    int
        Number of rows filled.
    """
    k, first = 0, 0
    sums[0], sums[1] = 0.0, 0.0
    # Near the contours the products below lose no digits to a far origin.
    ox, oy = rows[0, 0], rows[0, 1]
    for contour in range(len(counts)):
        start = k
        for i in range(first, first + counts[contour]):
            j = i + 1 if i + 1 < first + counts[contour] else first
            if rows[i, 0] == rows[j, 0] and rows[i, 1] == rows[j, 1]:
                continue
            table[k, X0], table[k, Y0] = rows[i, 0], rows[i, 1]
            table[k, X1], table[k, Y1] = rows[j, 0], rows[j, 1]
            _fill(table, boxes, ways, k, rows[i, 2])
            ax, ay, bx, by = rows[i, 0] - ox, rows[i, 1] - oy, rows[j, 0] - ox, rows[j, 1] - oy
            sums[0] += 0.5 * (ax * by - bx * ay) + _cap(table[k, R], table[k, SWEEP])
            sums[1] += table[k, LENGTH]
            owners[0, k], owners[1, k] = k - 1, contour
            k += 1
        if k > start:
            owners[0, start] = k - 1
        first += counts[contour]
    return k


@kernel
def grow_tree(boxes: FloatArray, tree: FloatArray) -> None:
    """Fill the boxes of all nodes, shape (2 m, 4), as `cutplan.geometry.index.build_tree` does."""
    leaves = len(tree) // 2
    for node in range(len(tree) - 1, -1, -1):
        tree[node, 0], tree[node, 1], tree[node, 2], tree[node, 3] = math.inf, math.inf, -math.inf, -math.inf
        if node >= leaves:
            begin = (node - leaves) * LEAF
            for k in range(begin, min(begin + LEAF, len(boxes))):
                for side in range(2):
                    tree[node, side] = min(tree[node, side], boxes[k, side])
                    tree[node, 2 + side] = max(tree[node, 2 + side], boxes[k, 2 + side])
        elif node > 0:
            for side in range(2):
                tree[node, side] = min(tree[2 * node, side], tree[2 * node + 1, side])
                tree[node, 2 + side] = max(tree[2 * node, 2 + side], tree[2 * node + 1, 2 + side])
