"""Compiled search for the largest circle in a region between contours.

Tables and trees are those of `cutplan.geometry.index`, over all contours of the region.
"""

# Numbers taken out of arrays are Any to the type checker.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

from cutplan.geometry.index import CX, CY, LEAF, SWEEP, X0, X1, Y0, Y1, R
from cutplan.geometry.kernels import IntArray, inner, kernel, nearest_segment
from cutplan.geometry.path import FloatArray

__all__ = ["clearance", "widest_circle"]

# Step at which the climb to the summit of a distance ends, mm, and its directions.
ROUNDING = 1e-6
COMPASS = 16
# What a step shrinks to where no direction leads on.
SHRINK = 0.7


@inner
def _inside(table: FloatArray, tree: FloatArray, x: float, y: float, stack: IntArray) -> bool:
    """Return whether a point lies in the region: in its chords' polygons, but for the caps between.

    A cap is what lies between an arc and its chord; the region is the symmetric difference of
    the polygons and the caps, so that parities add up.
    """
    leaves = len(tree) // 2
    odd = False
    stack[0, 0] = 1
    top = 1
    while top > 0:
        top -= 1
        node = stack[top, 0]
        if tree[node, 1] > y or tree[node, 3] < y or tree[node, 2] < x:
            continue
        if node < leaves:
            stack[top, 0] = 2 * node
            stack[top + 1, 0] = 2 * node + 1
            top += 2
            continue
        begin = (node - leaves) * LEAF
        for i in range(begin, min(begin + LEAF, len(table))):
            ex, ey = table[i, X1] - table[i, X0], table[i, Y1] - table[i, Y0]
            px, py = x - table[i, X0], y - table[i, Y0]
            aside = ex * py - ey * px
            if aside == 0.0:
                # On the chord's line: as if the point lay a hair to the right, and less of one higher.
                aside = -ey if ey != 0.0 else ex
            if (table[i, Y0] > y) != (table[i, Y1] > y) and (aside > 0.0) == (ey > 0.0):
                odd = not odd
            if table[i, R] > 0.0:
                dx, dy = x - table[i, CX], y - table[i, CY]
                # The cap of a counter-clockwise arc lies to the right of its chord.
                if dx * dx + dy * dy < table[i, R] * table[i, R] and (aside > 0.0) != (table[i, SWEEP] > 0.0):
                    odd = not odd
    return odd


@inner
def _clearance(
    table: FloatArray, tree: FloatArray, x: float, y: float, hint: int, stack: IntArray
) -> tuple[float, int]:
    """Return a point's distance from the contours, negative beyond the region, and the nearest row."""
    square, row = nearest_segment(table, tree, x, y, math.inf, -1.0, hint, stack)
    depth = math.sqrt(square)
    return (depth if _inside(table, tree, x, y, stack) else -depth), row


@inner
def _climb(
    table: FloatArray, tree: FloatArray, step: float, found: FloatArray, hint: int, stack: IntArray
) -> None:
    """Move a point on to the summit of the clearance."""
    offset = 0.0
    while step > ROUNDING:
        best, at_x, at_y = found[0], found[1], found[2]
        for k in range(COMPASS):
            angle = offset + 2.0 * math.pi * k / COMPASS
            x, y = found[1] + step * math.cos(angle), found[2] + step * math.sin(angle)
            depth, hint = _clearance(table, tree, x, y, hint, stack)
            if depth > best:
                best, at_x, at_y = depth, x, y
        if best > found[0]:
            found[0], found[1], found[2] = best, at_x, at_y
        else:
            # Turned a little each time, so that a ridge between two directions is found too.
            step *= SHRINK
            offset += 1.0


@kernel
def clearance(table: FloatArray, tree: FloatArray, x: float, y: float, stack: IntArray) -> float:
    """Return a point's distance from the contours, negative beyond the region."""
    return _clearance(table, tree, x, y, 0, stack)[0]


@kernel
def widest_circle(
    table: FloatArray, tree: FloatArray, tolerance: float, enough: float,
    found: FloatArray, cells: FloatArray, stack: IntArray,
) -> None:  # fmt: skip
    """Find the largest circle in a region, by squares that are split while they may hold a better one.

    After Garcia-Castellanos and Lombardo (2007), "Poles of inaccessibility", with the bounds of
    a quadtree in place of their shrinking grid.

    Parameters
    ----------
    table, tree : ndarray
        See the module.
    tolerance : float
        How far the radius may fall short of the largest, mm.
    enough : float
        Radius from which on the search ends.
    found : ndarray, shape (3,)
        Radius and centre to begin with; filled with the best.
    cells : ndarray, shape (k, 4)
        Room for squares: centre, half of the side, clearance at the centre.
    stack : ndarray of int
        Room for the nodes to visit.
    """
    low_x, low_y, high_x, high_y = tree[1, 0], tree[1, 1], tree[1, 2], tree[1, 3]
    half = 0.5 * max(high_x - low_x, high_y - low_y)
    x, y = 0.5 * (low_x + high_x), 0.5 * (low_y + high_y)
    depth, hint = _clearance(table, tree, x, y, 0, stack)
    if depth > found[0]:
        found[0], found[1], found[2] = depth, x, y
    if 0.0 < depth < enough:
        _climb(table, tree, 0.5 * half, found, hint, stack)
    cells[0, 0], cells[0, 1], cells[0, 2], cells[0, 3] = x, y, half, depth
    top = 1
    while top > 0 and found[0] < enough:
        top -= 1
        x, y, half, depth = cells[top, 0], cells[top, 1], cells[top, 2], cells[top, 3]
        if depth + half * math.sqrt(2.0) <= found[0] + tolerance or top + 4 > len(cells):
            continue
        half *= 0.5
        first, deepest = top, top
        for k in range(4):
            at_x, at_y = x + (half if k % 2 else -half), y + (half if k > 1 else -half)
            depth, hint = _clearance(table, tree, at_x, at_y, hint, stack)
            if depth > found[0]:
                found[0], found[1], found[2] = depth, at_x, at_y
                _climb(table, tree, half, found, hint, stack)
            if depth + half * math.sqrt(2.0) > found[0] + tolerance:
                cells[top, 0], cells[top, 1], cells[top, 2], cells[top, 3] = at_x, at_y, half, depth
                if top > first and depth > cells[deepest, 3]:
                    deepest = top
                top += 1
        # The deepest on top: what it yields cuts the others short.
        if top > first:
            for column in range(4):
                swap = cells[top - 1, column]
                cells[top - 1, column], cells[deepest, column] = cells[deepest, column], swap
