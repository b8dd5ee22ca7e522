"""No-fit polygons: where one form may not lie beside another.

A no-fit polygon of a fixed form A and a moving form B is A ⊕ −B: B overlaps A exactly when
B's place relative to A is strictly inside.  How deep it is inside is the least move that parts
the two (penetration depth).

Method: the Minkowski sums of convex pieces (Agarwal, Flato and Halperin 2002, "Polygon
decomposition for efficient construction of Minkowski sums").  A place is inside where it is
inside one of the sums, which half-planes decide; the depth is the distance to the stretches of
the sums' sides that lie in no other sum.  So no polygon has to be put together, and a place
where a form just fits between others is seen as free.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.geometry import FloatArray

__all__ = ["no_fit_rows"]

IntArray = NDArray[np.int64]

# Lengths under this share of the forms' size are noise.
_NOISE = 1e-9


@njit(nogil=True)
def no_fit_rows(
    a: FloatArray, a_starts: IntArray, b: FloatArray, b_starts: IntArray, c: float, s: float
) -> tuple[FloatArray, int, int]:
    """Return the no-fit polygon of two forms in pieces, as one table.

    Parameters
    ----------
    a, b : ndarray, shape (n, 2)
        Vertices of the convex pieces of the fixed and the moving form, counter-clockwise.
    a_starts, b_starts : ndarray of int64
        First vertex of each piece, and the number of all.
    c, s : float
        Cosine and sine of the angle by which the moving form is turned.

    Returns
    -------
    rows : ndarray, shape (n, 10)
        First its sides: columns x, y of the start, y of the end, dx, dy, 1 / length², dx / dy,
        and the inward normal and the distance of the side's line.  Then, unless it is convex,
        its sums: box (4), first row of half-planes and the one past the last, counted from the
        table's start.  Then half-planes, three a row: inward normal and distance.
    sides, sums : int
        How many there are of both.
    """
    turned = np.empty_like(b)
    for k in range(len(b)):
        turned[k, 0] = -(c * b[k, 0] - s * b[k, 1])
        turned[k, 1] = -(s * b[k, 0] + c * b[k, 1])
    points, starts = _convex_sums(a, a_starts, turned, b_starts)
    low, high = np.inf, -np.inf
    for k in range(len(points)):
        low = min(low, points[k, 0], points[k, 1])
        high = max(high, points[k, 0], points[k, 1])
    noise = _NOISE * (high - low)
    planes, sums = _half_planes(points, starts, noise)
    sides = _outer_sides(points, starts, planes, sums, noise)
    return _as_rows(sides, planes, sums)


@njit(nogil=True)
def _lowest(points: FloatArray, first: int, last: int) -> int:
    """The lowest vertex of a piece, of several the leftmost, counted from its first."""
    at = first
    for k in range(first + 1, last):
        if points[k, 1] < points[at, 1] or (points[k, 1] == points[at, 1] and points[k, 0] < points[at, 0]):
            at = k
    return at - first


@njit(nogil=True)
def _convex_sums(
    a: FloatArray, a_starts: IntArray, b: FloatArray, b_starts: IntArray
) -> tuple[FloatArray, IntArray]:
    """Minkowski sums of all pairs of convex pieces, as open rings one after another."""
    most = 0
    for i in range(len(a_starts) - 1):
        for j in range(len(b_starts) - 1):
            most += a_starts[i + 1] - a_starts[i] + b_starts[j + 1] - b_starts[j]
    points = np.empty((most, 2))
    starts = np.zeros((len(a_starts) - 1) * (len(b_starts) - 1) + 1, dtype=np.int64)
    at = 0
    pair = 0
    for i in range(len(a_starts) - 1):
        a0, na = a_starts[i], a_starts[i + 1] - a_starts[i]
        a_low = _lowest(a, a_starts[i], a_starts[i + 1])
        for j in range(len(b_starts) - 1):
            b0, nb = b_starts[j], b_starts[j + 1] - b_starts[j]
            b_low = _lowest(b, b_starts[j], b_starts[j + 1])
            p, q = 0, 0
            while p < na or q < nb:
                k, m = a0 + (a_low + p) % na, b0 + (b_low + q) % nb
                k1, m1 = a0 + (a_low + p + 1) % na, b0 + (b_low + q + 1) % nb
                points[at, 0], points[at, 1] = a[k, 0] + b[m, 0], a[k, 1] + b[m, 1]
                at += 1
                ux, uy = a[k1, 0] - a[k, 0], a[k1, 1] - a[k, 1]
                vx, vy = b[m1, 0] - b[m, 0], b[m1, 1] - b[m, 1]
                turn = ux * vy - uy * vx
                # Parallel edges are taken together; the angles of both chains rise together.
                if q >= nb or (p < na and turn >= 0.0):
                    p += 1
                    if turn == 0.0 and q < nb and ux * vx + uy * vy > 0.0:
                        q += 1
                else:
                    q += 1
            pair += 1
            starts[pair] = at
    return points[:at], starts


@njit(nogil=True)
def _half_planes(points: FloatArray, starts: IntArray, noise: float) -> tuple[FloatArray, FloatArray]:
    """Half-planes and boxes of convex rings."""
    planes = np.empty((len(points), 3))
    sums = np.empty((len(starts) - 1, 6))
    n = 0
    for r in range(len(starts) - 1):
        first, last = starts[r], starts[r + 1]
        sums[r, 0], sums[r, 1], sums[r, 2], sums[r, 3] = np.inf, np.inf, -np.inf, -np.inf
        sums[r, 4] = n
        for k in range(first, last):
            m = k + 1 if k + 1 < last else first
            x, y = points[k, 0], points[k, 1]
            dx, dy = points[m, 0] - x, points[m, 1] - y
            sums[r, 0], sums[r, 1] = min(sums[r, 0], x), min(sums[r, 1], y)
            sums[r, 2], sums[r, 3] = max(sums[r, 2], x), max(sums[r, 3], y)
            long = math.hypot(dx, dy)
            if long <= noise:
                continue
            planes[n, 0], planes[n, 1] = -dy / long, dx / long
            planes[n, 2] = planes[n, 0] * x + planes[n, 1] * y
            n += 1
        sums[r, 5] = n
    return planes[:n].copy(), sums


@njit(nogil=True)
def _covered(
    planes: FloatArray, first: int, last: int, x: float, y: float, dx: float, dy: float,
    noise: float, earlier: bool, span: FloatArray,
) -> bool:  # fmt: skip
    """Whether a part of a side lies inside a sum, from span[0] to span[1] of its length.

    Of sides that lie on one another facing the same way, the earlier sum's is kept.
    """
    low, high = 0.0, 1.0
    for k in range(first, last):
        nx, ny = planes[k, 0], planes[k, 1]
        d0 = nx * x + ny * y - planes[k, 2]
        d1 = d0 + nx * dx + ny * dy
        if d0 <= noise and d1 <= noise:
            along = d0 >= -noise and d1 >= -noise and ny * dx - nx * dy > 0.0
            if along and earlier:
                continue
            return False
        if d0 < 0.0:
            low = max(low, d0 / (d0 - d1))
        elif d1 < 0.0:
            high = min(high, d0 / (d0 - d1))
    span[0], span[1] = low, high
    return high > low


@njit(nogil=True)
def _outer_sides(
    points: FloatArray, starts: IntArray, planes: FloatArray, sums: FloatArray, noise: float
) -> FloatArray:
    """Stretches of the sums' sides that lie inside no other sum, as x, y, dx, dy."""
    count = len(starts) - 1
    found = np.empty((2 * len(points) + 16, 4))
    spans = np.empty((count, 2))
    span = np.empty(2)
    n = 0
    for r in range(count):
        for k in range(starts[r], starts[r + 1]):
            m = k + 1 if k + 1 < starts[r + 1] else starts[r]
            x, y = points[k, 0], points[k, 1]
            dx, dy = points[m, 0] - x, points[m, 1] - y
            long = math.hypot(dx, dy)
            if long <= noise:
                continue
            hidden = 0
            for q in range(count):
                if (
                    q == r
                    or sums[q, 0] > max(x, x + dx) + noise
                    or sums[q, 2] < min(x, x + dx) - noise
                    or sums[q, 1] > max(y, y + dy) + noise
                    or sums[q, 3] < min(y, y + dy) - noise
                ):
                    continue
                first, last = int(sums[q, 4]), int(sums[q, 5])
                if not _covered(planes, first, last, x, y, dx, dy, noise, q < r, span):
                    continue
                if span[0] <= 0.0 and span[1] >= 1.0:
                    hidden = -1
                    break
                at = hidden
                while at > 0 and spans[at - 1, 0] > span[0]:
                    spans[at, 0], spans[at, 1] = spans[at - 1, 0], spans[at - 1, 1]
                    at -= 1
                spans[at, 0], spans[at, 1] = span[0], span[1]
                hidden += 1
            if hidden < 0:
                continue
            reached = 0.0
            for h in range(hidden + 1):
                upto = spans[h, 0] if h < hidden else 1.0
                if (upto - reached) * long > noise:
                    if n == len(found):
                        found = _longer(found)
                    found[n, 0], found[n, 1] = x + reached * dx, y + reached * dy
                    found[n, 2], found[n, 3] = (upto - reached) * dx, (upto - reached) * dy
                    n += 1
                if h < hidden:
                    reached = max(reached, spans[h, 1])
    return found[:n]


@njit(nogil=True)
def _longer(rows: FloatArray) -> FloatArray:
    longer = np.empty((2 * len(rows), rows.shape[1]))
    for k in range(len(rows)):
        for m in range(rows.shape[1]):
            longer[k, m] = rows[k, m]
    return longer


@njit(nogil=True)
def _as_rows(sides: FloatArray, planes: FloatArray, sums: FloatArray) -> tuple[FloatArray, int, int]:
    """The table of a no-fit polygon; its sums the largest first, since most places inside lie there."""
    n = len(sides)
    count = len(sums) if len(sums) > 1 else 0
    most = n + count
    for h in range(count):
        most += (int(sums[h, 5] - sums[h, 4]) + 2) // 3
    rows = np.zeros((most, 10))
    for k in range(n):
        x, y, dx, dy = sides[k, 0], sides[k, 1], sides[k, 2], sides[k, 3]
        square = dx * dx + dy * dy
        long = math.sqrt(square)
        rows[k, 0], rows[k, 1], rows[k, 2], rows[k, 3], rows[k, 4] = x, y, y + dy, dx, dy
        rows[k, 5] = 1.0 / square
        rows[k, 6] = dx / dy if dy != 0.0 else 0.0
        rows[k, 7], rows[k, 8] = -dy / long, dx / long
        rows[k, 9] = rows[k, 7] * x + rows[k, 8] * y
    size = np.empty(count)
    for h in range(count):
        size[h] = (sums[h, 2] - sums[h, 0]) * (sums[h, 3] - sums[h, 1])
    at = n + count
    for place in range(count):
        h = 0
        for other in range(1, count):
            if size[other] > size[h]:
                h = other
        size[h] = -1.0
        for k in range(4):
            rows[n + place, k] = sums[h, k]
        first = int(sums[h, 4])
        many = int(sums[h, 5]) - first
        rows[n + place, 4], rows[n + place, 5] = at, at + (many + 2) // 3
        for k in range(3 * ((many + 2) // 3)):
            row, column = at + k // 3, 3 * (k % 3)
            # What is left over in the last row bars nothing.
            rows[row, column + 2] = -1.0
            for m in range(3 if k < many else 0):
                rows[row, column + m] = planes[first + k, m]
        at += (many + 2) // 3
    return rows, n, count
