"""Compiled search for how narrow a region gets between stretches of contour that face each other.

Only pairs of segments whose boxes come within the narrowest width found so far are looked at.
"""

# Numbers taken out of arrays are Any to the type checker.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math
from typing import NamedTuple

from cutplan.geometry.index import CX, CY, LEAF, LENGTH, MX, MY, SWEEP, X0, X1, Y0, Y1, R
from cutplan.geometry.kernels import IntArray, faces_arc, inner, kernel
from cutplan.geometry.path import FloatArray

__all__ = ["Layout", "Search", "facing_pairs"]

# Directions count as perpendicular within this, and fractions of a segment as within it.
SKEW = 1e-6
# How far a line of sight keeps from both of its ends, mm.
SIGHT_MARGIN = 0.02
# Pairs of segments looked at before a search gives up.
MOST_PAIRS = 30_000_000


class Layout(NamedTuple):
    """All contours of a region laid out one after the other, the region on the left of each.

    Attributes
    ----------
    table, boxes, tree : ndarray
        As in `cutplan.geometry.index`.
    ways : ndarray, shape (n, 4)
        Unit directions of travel at the start and at the end of each row.
    owners : ndarray of int, shape (2, n)
        The row that arrives where a row leaves, and the contour that it belongs to.
    """

    table: FloatArray
    boxes: FloatArray
    tree: FloatArray
    ways: FloatArray
    owners: IntArray


class Search(NamedTuple):
    """What a search has found, and its room.

    Attributes
    ----------
    bound : ndarray, shape (2,)
        Widths from these on are of no interest: beyond the region, within it.
    found : ndarray, shape (2, 3)
        Width and middle of each; infinity where there is none.
    stack, sight : ndarray of int
        Room for the nodes to visit.
    """

    bound: FloatArray
    found: FloatArray
    stack: IntArray
    sight: IntArray


End = tuple[float, float, int, bool]
"""A point, its row, and whether it is the first vertex of that."""


@inner
def _side(net: Layout, end: End, ax: float, ay: float, width: float) -> int:
    """Return 1 where the other end lies on the region's side, 0 beyond it, −1 where this end is not nearest."""
    table, ways = net.table, net.ways
    px, py, i, vertex = end
    if not vertex:
        if table[i, R] == 0.0:
            return 1 if ways[i, 0] * ay - ways[i, 1] * ax > 0.0 else 0
        if _bends_to(table, i, px, py, ax, ay, width):
            return -1
        turned = (table[i, CX] - px) * ax + (table[i, CY] - py) * ay
        # Of a counter-clockwise arc the centre lies to the left.
        return 1 if (turned > 0.0) == (table[i, SWEEP] > 0.0) else 0
    k = net.owners[0, i]
    onward_x, onward_y, back_x, back_y = ways[i, 0], ways[i, 1], -ways[k, 2], -ways[k, 3]
    lean = onward_x * ax + onward_y * ay
    if lean > SKEW * width or (lean > -SKEW * width and _bends_to(table, i, px, py, ax, ay, width)):
        return -1
    lean = back_x * ax + back_y * ay
    if lean > SKEW * width or (lean > -SKEW * width and _bends_to(table, k, px, py, ax, ay, width)):
        return -1
    turned = (onward_x - back_x) * ay - (onward_y - back_y) * ax
    return 1 if turned > 0.0 else 0


@inner
def _bends_to(table: FloatArray, i: int, px: float, py: float, ax: float, ay: float, width: float) -> bool:
    """Return whether a segment bends towards the other end more than about it."""
    if table[i, R] == 0.0 or width < table[i, R] * (1.0 - SKEW):
        return False
    return (table[i, CX] - px) * ax + (table[i, CY] - py) * ay > 0.0


@inner
def _blocked(net: Layout, ax: float, ay: float, bx: float, by: float, stack: IntArray) -> bool:
    """Return whether a line of sight meets a segment."""
    table, boxes, tree = net.table, net.boxes, net.tree
    leaves = len(tree) // 2
    low_x, high_x, low_y, high_y = min(ax, bx), max(ax, bx), min(ay, by), max(ay, by)
    dx, dy = bx - ax, by - ay
    square = dx * dx + dy * dy
    stack[0, 0] = 1
    top = 1
    while top > 0:
        top -= 1
        node = stack[top, 0]
        if tree[node, 0] > high_x or tree[node, 2] < low_x or tree[node, 1] > high_y or tree[node, 3] < low_y:
            continue
        if node < leaves:
            stack[top, 0] = 2 * node
            stack[top + 1, 0] = 2 * node + 1
            top += 2
            continue
        begin = (node - leaves) * LEAF
        for i in range(begin, min(begin + LEAF, len(table))):
            if boxes[i, 0] > high_x or boxes[i, 2] < low_x or boxes[i, 1] > high_y or boxes[i, 3] < low_y:
                continue
            if table[i, R] == 0.0:
                ex, ey = table[i, X1] - table[i, X0], table[i, Y1] - table[i, Y0]
                px, py = table[i, X0] - ax, table[i, Y0] - ay
                cross = dx * ey - dy * ex
                one, two = px * dy - py * dx, (px + ex) * dy - (py + ey) * dx
                if one * two > 0.0 or cross == 0.0:
                    continue
                t = (px * ey - py * ex) / cross
                if 0.0 <= t <= 1.0:
                    return True
                continue
            mx, my = ax - table[i, CX], ay - table[i, CY]
            half, rest = mx * dx + my * dy, mx * mx + my * my - table[i, R] * table[i, R]
            root = half * half - square * rest
            if root < 0.0:
                continue
            root = math.sqrt(root)
            for sign in (-1.0, 1.0):
                t = (-half + sign * root) / square
                if 0.0 <= t <= 1.0 and faces_arc(table, i, mx + t * dx, my + t * dy):
                    return True
    return False


@inner
def _try(net: Layout, search: Search, p: End, q: End) -> None:
    """Take a candidate where it is a double normal in sight, and narrower than the bound."""
    bound, found = search.bound, search.found
    ax, ay = q[0] - p[0], q[1] - p[1]
    width = math.sqrt(ax * ax + ay * ay)
    # Not a number, as from the centre of a circle, is no candidate either.
    if not width > SKEW or (width >= bound[0] and width >= bound[1]):
        return
    side = _side(net, p, ax, ay, width)
    if side < 0 or width >= bound[side] or _side(net, q, -ax, -ay, width) != side:
        return
    inset = min(SIGHT_MARGIN, 0.25 * width) / width
    mx, my = inset * ax, inset * ay
    if not _blocked(net, p[0] + mx, p[1] + my, q[0] - mx, q[1] - my, search.sight):
        bound[side] = width
        found[side, 0], found[side, 1], found[side, 2] = width, p[0] + 0.5 * ax, p[1] + 0.5 * ay


@inner
def _within(table: FloatArray, j: int, x: float, y: float) -> bool:
    """Return whether a point on a segment's line or circle lies strictly within the segment."""
    if table[j, R] == 0.0:
        dx, dy = table[j, X1] - table[j, X0], table[j, Y1] - table[j, Y0]
        share = (x - table[j, X0]) * dx + (y - table[j, Y0]) * dy
        square = dx * dx + dy * dy
        return SKEW * square < share < (1.0 - SKEW) * square
    dx, dy = x - table[j, CX], y - table[j, CY]
    angle = math.atan2(table[j, MX] * dy - table[j, MY] * dx, table[j, MX] * dx + table[j, MY] * dy)
    return abs(angle) < 0.5 * abs(table[j, SWEEP]) * (1.0 - SKEW)


@inner
def _foot(table: FloatArray, j: int, x: float, y: float) -> tuple[float, float]:
    """Return the nearest place on a segment's line or circle; nan at the centre of a circle."""
    if table[j, R] == 0.0:
        dx, dy = table[j, X1] - table[j, X0], table[j, Y1] - table[j, Y0]
        share = ((x - table[j, X0]) * dx + (y - table[j, Y0]) * dy) / (dx * dx + dy * dy)
        return table[j, X0] + share * dx, table[j, Y0] + share * dy
    dx, dy = x - table[j, CX], y - table[j, CY]
    reach = table[j, R] / math.sqrt(dx * dx + dy * dy)
    return table[j, CX] + reach * dx, table[j, CY] + reach * dy


@inner
def _vertex_inside(net: Layout, search: Search, i: int, j: int) -> None:
    """Try the foot of the perpendicular from a segment's first vertex on another segment."""
    table = net.table
    px, py = table[i, X0], table[i, Y0]
    qx, qy = _foot(table, j, px, py)
    most = max(search.bound[0], search.bound[1])
    if (qx - px) * (qx - px) + (qy - py) * (qy - py) < most * most and _within(table, j, qx, qy):
        _try(net, search, (px, py, i, True), (qx, qy, j, False))


@inner
def _line_and_arc(net: Layout, search: Search, i: int, j: int) -> None:
    """Try the perpendicular from an arc's centre on a line."""
    table = net.table
    px, py = _foot(table, i, table[j, CX], table[j, CY])
    if _within(table, i, px, py):
        qx, qy = _foot(table, j, px, py)
        if _within(table, j, qx, qy):
            _try(net, search, (px, py, i, False), (qx, qy, j, False))


@inner
def _two_lines(net: Layout, search: Search, i: int, j: int) -> None:
    """Try the middle of where parallel lines run beside each other."""
    table = net.table
    ways = net.ways
    ux, uy = ways[i, 0], ways[i, 1]
    if abs(ux * ways[j, 1] - uy * ways[j, 0]) > SKEW:
        return
    s = (table[j, X0] - table[i, X0]) * ux + (table[j, Y0] - table[i, Y0]) * uy
    t = (table[j, X1] - table[i, X0]) * ux + (table[j, Y1] - table[i, Y0]) * uy
    low, high = max(min(s, t), 0.0), min(max(s, t), table[i, LENGTH])
    if high - low > SKEW:
        px, py = table[i, X0] + 0.5 * (low + high) * ux, table[i, Y0] + 0.5 * (low + high) * uy
        qx, qy = _foot(table, j, px, py)
        _try(net, search, (px, py, i, False), (qx, qy, j, False))


@inner
def _two_arcs(net: Layout, search: Search, i: int, j: int) -> None:
    """Try the places of two arcs on the line through their centres, or beside each other about one."""
    table = net.table
    dx, dy = table[j, CX] - table[i, CX], table[j, CY] - table[i, CY]
    apart = math.sqrt(dx * dx + dy * dy)
    ri, rj = table[i, R], table[j, R]
    if apart <= SKEW * min(ri, rj):
        cross = table[i, MX] * table[j, MY] - table[i, MY] * table[j, MX]
        turn = math.atan2(cross, table[i, MX] * table[j, MX] + table[i, MY] * table[j, MY])
        half_i, half_j = 0.5 * abs(table[i, SWEEP]), 0.5 * abs(table[j, SWEEP])
        low, high = max(-half_i, turn - half_j), min(half_i, turn + half_j)
        if high - low > SKEW:
            c, s = math.cos(0.5 * (low + high)), math.sin(0.5 * (low + high))
            px = table[i, CX] + ri * (c * table[i, MX] - s * table[i, MY])
            py = table[i, CY] + ri * (s * table[i, MX] + c * table[i, MY])
            qx, qy = _foot(table, j, px, py)
            _try(net, search, (px, py, i, False), (qx, qy, j, False))
        return
    dx, dy = dx / apart, dy / apart
    most = max(search.bound[0], search.bound[1])
    for side_i in (1.0, -1.0):
        for side_j in (1.0, -1.0):
            if abs(apart + side_j * rj - side_i * ri) >= most:
                continue
            px, py = table[i, CX] + side_i * ri * dx, table[i, CY] + side_i * ri * dy
            qx, qy = table[j, CX] + side_j * rj * dx, table[j, CY] + side_j * rj * dy
            if _within(table, i, px, py) and _within(table, j, qx, qy):
                _try(net, search, (px, py, i, False), (qx, qy, j, False))


@inner
def _pair(net: Layout, search: Search, i: int, j: int) -> None:
    """Try all double normals between two segments."""
    table = net.table
    px, py, qx, qy = table[i, X0], table[i, Y0], table[j, X0], table[j, Y0]
    most = max(search.bound[0], search.bound[1])
    if (qx - px) * (qx - px) + (qy - py) * (qy - py) < most * most:
        _try(net, search, (px, py, i, True), (qx, qy, j, True))
    _vertex_inside(net, search, i, j)
    _vertex_inside(net, search, j, i)
    if table[i, R] == 0.0 and table[j, R] == 0.0:
        _two_lines(net, search, i, j)
    elif table[i, R] == 0.0:
        _line_and_arc(net, search, i, j)
    elif table[j, R] == 0.0:
        _line_and_arc(net, search, j, i)
    else:
        _two_arcs(net, search, i, j)


@inner
def _near(a: FloatArray, i: int, b: FloatArray, j: int, reach: float) -> bool:
    """Return whether two boxes come nearer to each other than a reach."""
    dx = max(max(a[i, 0] - b[j, 2], b[j, 0] - a[i, 2]), 0.0)
    dy = max(max(a[i, 1] - b[j, 3], b[j, 1] - a[i, 3]), 0.0)
    return dx * dx + dy * dy < reach * reach


@inner
def _look(net: Layout, search: Search) -> int:
    """Try all pairs of segments that come within the bound; return how many there were."""
    bound, boxes, tree, stack = search.bound, net.boxes, net.tree, search.stack
    leaves, pairs = len(tree) // 2, 0
    for i in range(len(boxes)):
        stack[0, 0] = 1
        top = 1
        while top > 0:
            top -= 1
            node = stack[top, 0]
            if not _near(boxes, i, tree, node, max(bound[0], bound[1])):
                continue
            if node < leaves:
                stack[top, 0] = 2 * node
                stack[top + 1, 0] = 2 * node + 1
                top += 2
                continue
            begin = (node - leaves) * LEAF
            for j in range(max(begin, i + 1), min(begin + LEAF, len(boxes))):
                # Beyond the region, a contour faces itself alone.
                alone = net.owners[1, i] != net.owners[1, j]
                if _near(boxes, i, boxes, j, bound[1] if alone else max(bound[0], bound[1])):
                    pairs += 1
                    _pair(net, search, i, j)
        if pairs > MOST_PAIRS:
            break
    return pairs


@kernel
def facing_pairs(net: Layout, search: Search, limits: FloatArray, look: float) -> None:
    """Find the narrowest double normal beyond the region and within it.

    The search looks for the narrow first and for twice as wide each time, and what it has found
    bounds what it looks at after that.

    Parameters
    ----------
    net : Layout
    search : Search
        Takes what is found.
    limits : ndarray, shape (2,)
        Widths from these on are of no interest: beyond the region, within it.
    look : float
        Widths that are looked for first, mm.
    """
    found = search.found
    found[:, 0] = math.inf
    pairs = 0
    while pairs <= MOST_PAIRS:
        done = True
        for side in range(2):
            # What was found by a narrower look is the narrowest there is.
            search.bound[side] = min(look, limits[side]) if found[side, 0] == math.inf else 0.0
        pairs += _look(net, search)
        for side in range(2):
            done = done and (found[side, 0] < math.inf or look >= limits[side])
        if done:
            return
        look *= 2.0
