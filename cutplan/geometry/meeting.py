"""Compiled work on pairs of segments: where they meet, and how near they come."""

# Numbers taken out of arrays are Any to the type checker.
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

from cutplan.geometry.index import CX, CY, LEAF, LENGTH, X0, X1, Y0, Y1, R
from cutplan.geometry.kernels import (
    IntArray,
    boxes_apart,
    faces_arc,
    fraction_of,
    inner,
    kernel,
    square_distance,
)
from cutplan.geometry.path import FloatArray

__all__ = ["MOST_HITS", "crossing_hits", "least_distance"]

# Two segments meet in at most two crossings and four ends.
MOST_HITS = 6


@inner
def add_hit(hits: FloatArray, count: int, x: float, y: float, ta: float, tb: float, tolerance: float) -> int:
    """Append a meeting unless one stands within the tolerance; return the new count."""
    for k in range(count):
        if abs(hits[k, 0] - x) <= tolerance and abs(hits[k, 1] - y) <= tolerance:
            return count
    hits[count, 0], hits[count, 1], hits[count, 2], hits[count, 3] = x, y, ta, tb
    return count + 1


@inner
def touch_ends(
    a: FloatArray,
    i: int,
    b: FloatArray,
    j: int,
    tolerance: float,
    hits: FloatArray,
    count: int,
    swapped: bool,
) -> int:
    """Append the ends of segment j of `b` that lie on segment i of `a`."""
    slack = tolerance / max(a[i, LENGTH], tolerance)
    for end in range(2):
        x, y = b[j, 2 * end], b[j, 2 * end + 1]
        if a[i, R] == 0.0:
            dx, dy = a[i, X1] - a[i, X0], a[i, Y1] - a[i, Y0]
            off = abs((x - a[i, X0]) * dy - (y - a[i, Y0]) * dx) / max(a[i, LENGTH], tolerance)
        else:
            off = abs(math.sqrt((x - a[i, CX]) ** 2 + (y - a[i, CY]) ** 2) - a[i, R])
        if off > tolerance:
            continue
        t = fraction_of(a, i, x, y)
        if t < -slack or t > 1.0 + slack:
            continue
        t = min(max(t, 0.0), 1.0)
        if swapped:
            count = add_hit(hits, count, x, y, float(end), t, tolerance)
        else:
            count = add_hit(hits, count, x, y, t, float(end), tolerance)
    return count


@inner
def add_inner(
    a: FloatArray,
    i: int,
    b: FloatArray,
    j: int,
    x: float,
    y: float,
    tolerance: float,
    hits: FloatArray,
    count: int,
) -> int:
    """Append a place common to two carriers if it lies within both segments."""
    ta = fraction_of(a, i, x, y)
    if ta <= 0.0 or ta >= 1.0:
        return count
    tb = fraction_of(b, j, x, y)
    if tb <= 0.0 or tb >= 1.0:
        return count
    return add_hit(hits, count, x, y, ta, tb, tolerance)


@inner
def meet(a: FloatArray, i: int, b: FloatArray, j: int, tolerance: float, hits: FloatArray) -> int:
    """Find where segment i of table `a` meets segment j of table `b`.

    Crossings within both come first, then ends that lie on the other segment within the
    tolerance, with the exact fractions 0 and 1.  Coincident stretches are given by their
    ends.

    Parameters
    ----------
    hits : ndarray, shape (6, 4)
        Filled with x, y and the fractions along both segments.

    Returns
    -------
    int
        Number of rows filled.
    """
    if a[i, R] == 0.0 and b[j, R] == 0.0:
        count = meet_lines(a, i, b, j, hits)
        if count > 0:
            return count
    elif a[i, R] > 0.0 and b[j, R] > 0.0:
        count = meet_arcs(a, i, b, j, tolerance, hits)
    elif a[i, R] > 0.0:
        count = meet_line_and_arc(b, j, a, i, tolerance, hits)
        for k in range(count):
            hits[k, 2], hits[k, 3] = hits[k, 3], hits[k, 2]
    else:
        count = meet_line_and_arc(a, i, b, j, tolerance, hits)
    count = touch_ends(a, i, b, j, tolerance, hits, count, False)
    return touch_ends(b, j, a, i, tolerance, hits, count, True)


@inner
def meet_lines(a: FloatArray, i: int, b: FloatArray, j: int, hits: FloatArray) -> int:
    """Find the crossing of two lines within both."""
    ax, ay = a[i, X1] - a[i, X0], a[i, Y1] - a[i, Y0]
    bx, by = b[j, X1] - b[j, X0], b[j, Y1] - b[j, Y0]
    px, py = b[j, X0] - a[i, X0], b[j, Y0] - a[i, Y0]
    cross = ax * by - ay * bx
    if cross == 0.0:
        return 0
    ta = (px * by - py * bx) / cross
    tb = (px * ay - py * ax) / cross
    if ta <= 0.0 or ta >= 1.0 or tb <= 0.0 or tb >= 1.0:
        return 0
    return add_hit(hits, 0, a[i, X0] + ta * ax, a[i, Y0] + ta * ay, ta, tb, 0.0)


@inner
def meet_line_and_arc(
    line: FloatArray, i: int, arc: FloatArray, j: int, tolerance: float, hits: FloatArray
) -> int:
    """Find the crossings of a line and an arc within both."""
    dx = (line[i, X1] - line[i, X0]) / line[i, LENGTH]
    dy = (line[i, Y1] - line[i, Y0]) / line[i, LENGTH]
    px, py = arc[j, CX] - line[i, X0], arc[j, CY] - line[i, Y0]
    off = px * dy - py * dx
    if abs(off) > arc[j, R] + tolerance:
        return 0
    along = px * dx + py * dy
    reach = math.sqrt(max((arc[j, R] - off) * (arc[j, R] + off), 0.0))
    count = 0
    for k in range(2):
        sign = 2.0 * k - 1.0
        s = along + sign * reach
        if 0.0 < s < line[i, LENGTH]:
            count = add_inner(
                line, i, arc, j, line[i, X0] + s * dx, line[i, Y0] + s * dy, tolerance, hits, count
            )
    return count


@inner
def meet_arcs(a: FloatArray, i: int, b: FloatArray, j: int, tolerance: float, hits: FloatArray) -> int:
    """Find the crossings of two arcs within both."""
    dx, dy = b[j, CX] - a[i, CX], b[j, CY] - a[i, CY]
    ra, rb = a[i, R], b[j, R]
    apart = math.sqrt(dx * dx + dy * dy)
    if apart <= tolerance or apart > ra + rb + tolerance or apart < abs(ra - rb) - tolerance:
        return 0
    dx, dy = dx / apart, dy / apart
    along = 0.5 * (apart + (ra - rb) * (ra + rb) / apart)
    along = min(max(along, -ra), ra)
    reach = math.sqrt(max((ra - along) * (ra + along), 0.0))
    count = 0
    for k in range(2):
        sign = 2.0 * k - 1.0
        x = a[i, CX] + along * dx - sign * reach * dy
        y = a[i, CY] + along * dy + sign * reach * dx
        count = add_inner(a, i, b, j, x, y, tolerance, hits, count)
    return count


@inner
def at_shared_vertex(
    a: FloatArray, i: int, j: int, x: float, y: float, closed: bool, tolerance: float
) -> bool:
    """Return whether a meeting of neighbours is only the vertex that they share."""
    last = len(a) - 1
    # Two curves that leave a vertex the same way, one of radius r, part by s² / 2r.
    radius = max(a[i, R], a[j, R])
    if a[i, R] > 0.0 and a[j, R] > 0.0:
        radius = min(a[i, R], a[j, R])
    reach = 10.0 * tolerance + 2.0 * math.sqrt(radius * tolerance)
    for k in range(2):
        before, after = (i, j) if k == 0 else (j, i)
        if after != before + 1 and not (closed and before == last and after == 0):
            continue
        vx, vy = a[before, X1], a[before, Y1]
        if abs(vx - a[after, X0]) > tolerance or abs(vy - a[after, Y0]) > tolerance:
            continue
        if math.sqrt((x - vx) ** 2 + (y - vy) ** 2) <= reach:
            return True
    return False


@kernel
def crossing_hits(
    a: FloatArray,
    boxes_a: FloatArray,
    tree_a: FloatArray,
    b: FloatArray,
    boxes_b: FloatArray,
    tree_b: FloatArray,
    same: bool,
    closed: bool,
    tolerance: float,
    places: FloatArray,
    pairs: IntArray,
    hits: FloatArray,
    stack: IntArray,
) -> int:
    """Find all meetings of the segments of two tables, or of one with itself.

    Parameters
    ----------
    a, b : ndarray, shape (n, 12), (m, 12)
        Tables; with `same` they are one, and each pair is looked at once, the vertex that
        neighbours share left out (where `closed`, the last and the first are neighbours too).
    boxes_a, boxes_b, tree_a, tree_b : ndarray
        Boxes of the segments, and the trees over them.
    places : ndarray, shape (k, 4)
        Filled with x, y and the fractions along both segments.
    pairs : ndarray, shape (k, 2)
        Filled with the rows of the segments.
    hits : ndarray, shape (6, 4)
        Room for one pair.

    Returns
    -------
    int
        Number of meetings; those beyond the k-th are not written down.
    """
    found = 0
    leaves_a, leaves_b = len(tree_a) // 2, len(tree_b) // 2
    stack[0, 0], stack[0, 1] = 1, 1
    top = 1
    while top > 0:
        top -= 1
        p, q = stack[top, 0], stack[top, 1]
        if boxes_apart(tree_a, p, tree_b, q, tolerance):
            continue
        if p < leaves_a or q < leaves_b:
            parts_p, parts_q = 2 if p < leaves_a else 1, 2 if q < leaves_b else 1
            for u in range(parts_p * p, parts_p * p + parts_p):
                for v in range(parts_q * q, parts_q * q + parts_q):
                    if not same or u <= v:
                        stack[top, 0], stack[top, 1] = u, v
                        top += 1
            continue
        begin, stop = (q - leaves_b) * LEAF, min((q - leaves_b + 1) * LEAF, len(b))
        for i in range((p - leaves_a) * LEAF, min((p - leaves_a + 1) * LEAF, len(a))):
            for j in range(max(begin, i + 1) if same else begin, stop):
                if boxes_apart(boxes_a, i, boxes_b, j, tolerance):
                    continue
                for k in range(meet(a, i, b, j, tolerance, hits)):
                    if same and at_shared_vertex(a, i, j, hits[k, 0], hits[k, 1], closed, tolerance):
                        continue
                    if found < len(places):
                        places[found, 0], places[found, 1] = hits[k, 0], hits[k, 1]
                        places[found, 2], places[found, 3] = hits[k, 2], hits[k, 3]
                        pairs[found, 0], pairs[found, 1] = i, j
                    found += 1
    return found


@inner
def pair_square_distance(a: FloatArray, i: int, b: FloatArray, j: int, hits: FloatArray) -> float:
    """Return the squared distance between two segments."""
    if meet(a, i, b, j, 0.0, hits) > 0:
        return 0.0
    best = min(square_distance(a, i, b[j, X0], b[j, Y0]), square_distance(a, i, b[j, X1], b[j, Y1]))
    best = min(best, square_distance(b, j, a[i, X0], a[i, Y0]))
    best = min(best, square_distance(b, j, a[i, X1], a[i, Y1]))
    if a[i, R] > 0.0 and b[j, R] > 0.0:
        return arcs_square_distance(a, i, b, j, best)
    if a[i, R] > 0.0:
        return line_and_arc_square_distance(b, j, a, i, best)
    if b[j, R] > 0.0:
        return line_and_arc_square_distance(a, i, b, j, best)
    return best


@inner
def arcs_square_distance(a: FloatArray, i: int, b: FloatArray, j: int, best: float) -> float:
    """Lower the squared distance of two arcs by their nearest inner points."""
    dx, dy = b[j, CX] - a[i, CX], b[j, CY] - a[i, CY]
    apart = math.sqrt(dx * dx + dy * dy)
    if apart == 0.0:
        return best
    dx, dy = dx / apart, dy / apart
    for k in range(4):
        # The nearest inner points lie on the line through both centres, either side of each.
        from_a, from_b = 2.0 * (k // 2) - 1.0, 2.0 * (k % 2) - 1.0
        if faces_arc(a, i, from_a * dx, from_a * dy) and faces_arc(b, j, from_b * dx, from_b * dy):
            gap = apart + from_b * b[j, R] - from_a * a[i, R]
            best = min(best, gap * gap)
    return best


@inner
def line_and_arc_square_distance(line: FloatArray, i: int, arc: FloatArray, j: int, best: float) -> float:
    """Lower the squared distance of a line and an arc by their nearest inner points."""
    t = fraction_of(line, i, arc[j, CX], arc[j, CY])
    if t < 0.0 or t > 1.0:
        return best
    dx = line[i, X0] + t * (line[i, X1] - line[i, X0]) - arc[j, CX]
    dy = line[i, Y0] + t * (line[i, Y1] - line[i, Y0]) - arc[j, CY]
    if faces_arc(arc, j, dx, dy):
        best = min(best, (math.sqrt(dx * dx + dy * dy) - arc[j, R]) ** 2)
    return best


@kernel
def least_distance(
    a: FloatArray,
    boxes_a: FloatArray,
    b: FloatArray,
    boxes_b: FloatArray,
    tree: FloatArray,
    limit: float,
    hits: FloatArray,
    stack: IntArray,
) -> float:
    """Return the least distance between the segments of two tables, at most `limit`.

    Parameters
    ----------
    a, boxes_a, b, boxes_b : ndarray
        Tables and the boxes of their segments.
    tree : ndarray
        Tree over `boxes_b`.
    hits : ndarray, shape (6, 4)
        Room for the meetings of one pair.
    """
    best, reach = limit * limit, limit
    leaves = len(tree) // 2
    for i in range(len(a)):
        stack[0, 0] = 1
        top = 1
        while top > 0:
            top -= 1
            node = stack[top, 0]
            if boxes_apart(boxes_a, i, tree, node, reach):
                continue
            if node < leaves:
                stack[top, 0] = 2 * node
                stack[top + 1, 0] = 2 * node + 1
                top += 2
                continue
            begin = (node - leaves) * LEAF
            for j in range(begin, min(begin + LEAF, len(b))):
                if boxes_apart(boxes_a, i, boxes_b, j, reach):
                    continue
                square = pair_square_distance(a, i, b, j, hits)
                if square < best:
                    best = square
                    reach = math.sqrt(square)
                    if best == 0.0:
                        return 0.0
    return reach
