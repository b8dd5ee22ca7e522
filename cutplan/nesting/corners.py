"""Places where a form touches what already lies on the plate: candidates of the constructive fit.

A bottom-left place is a vertex of the free region: a corner of the plate's inner box, a vertex
of a no-fit polygon, or a crossing of two such boundaries.  `Corners` keeps those that are free
for one orientation, and brings them up to date as parts are laid down.

Method: bottom-left fill on no-fit polygons (Burke, Hellier, Kendall and Whitwell 2007,
"Complete and robust no-fit polygon generation for the irregular stock cutting problem", for
the setting; the incremental upkeep is our own).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.geometry import FloatArray
from cutplan.nesting.kernels import weighted_loss
from cutplan.nesting.tables import TableStore

__all__ = ["Corners"]


class Corners:
    """Free touching places of one orientation on one plate.

    Parameters
    ----------
    store : TableStore
    orientation : int
    box : tuple of float
        Least x, least y, greatest x, greatest y that the form may reach.
    tolerance : float
        Depth of overlap taken as touching, mm.
    """

    def __init__(
        self, store: TableStore, orientation: int, box: tuple[float, float, float, float], tolerance: float
    ) -> None:
        reach = store.reach[orientation]
        self.store = store
        self.orientation = orientation
        self.tolerance = tolerance
        self.window = np.array(
            [box[0] - reach[0], box[1] - reach[1], box[2] - reach[2], box[3] - reach[3]], dtype=np.float64
        )
        low, high = self.window[:2], self.window[2:]
        # A part exactly as large as the plate must not be lost to rounding.
        self.fits = bool((high >= low - tolerance).all())
        x0, y0, x1, y1 = low[0], low[1], max(low[0], high[0]), max(low[1], high[1])
        self.window[2:] = x1, y1
        four = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        self.places: FloatArray = four if self.fits else np.zeros((0, 2))
        self.known = 0

    def update(self, places: FloatArray, orientations: NDArray[np.int64], count: int) -> FloatArray:
        """Return the free touching places, shape (n, 2), once `count` forms lie on the plate."""
        if self.fits and self.known < count:
            laid = np.unique(orientations[:count], return_inverse=True)
            pairs, sides = self.store.rows(laid[0], self.orientation)
            pairs = np.ascontiguousarray(pairs[laid[1]])
            while self.known < count:
                self.places = _after_placing(
                    pairs,
                    sides,
                    self.window,
                    self.places,
                    places,
                    self.known,
                    self.tolerance,
                )
                self.known += 1
        return self.places


@njit(nogil=True)
def _after_placing(
    pairs: FloatArray,
    sides: FloatArray,
    window: FloatArray,
    old: FloatArray,
    places: FloatArray,
    new: int,
    tolerance: float,
) -> FloatArray:
    """Old candidates that stay free of form `new`, and those that touch it.

    `pairs` has a row for each form that lies on the plate, and one column for the moving one.
    Crossings with forms laid down later come when these are taken up in turn.
    """
    segments = _world_sides(pairs, sides, new, places[new, 0], places[new, 1])
    found = np.empty((len(old) + 4096, 2))
    n = 0
    for k in range(len(old)):
        found[n, 0], found[n, 1] = old[k, 0], old[k, 1]
        n += 1
    kept = n
    for k in range(len(segments)):
        if n + 5 > len(found):
            found = _grown(found, n + 5)
        n = _window_crossings(segments[k], window, found, n)
    for j in range(new):
        apart_x, apart_y = places[j, 0] - places[new, 0], places[j, 1] - places[new, 1]
        if (
            apart_x + pairs[j, 0, 0] > pairs[new, 0, 2]
            or apart_x + pairs[j, 0, 2] < pairs[new, 0, 0]
            or apart_y + pairs[j, 0, 1] > pairs[new, 0, 3]
            or apart_y + pairs[j, 0, 3] < pairs[new, 0, 1]
        ):
            continue
        beside = _world_sides(pairs, sides, j, places[j, 0], places[j, 1])
        if n + len(segments) * len(beside) > len(found):
            found = _grown(found, n + len(segments) * len(beside))
        n = _crossings(segments, beside, found, n)
    return _free_ones(pairs, sides, window, found, kept, n, places, new, tolerance)


@njit(nogil=True)
def _free_ones(
    pairs: FloatArray,
    sides: FloatArray,
    window: FloatArray,
    found: FloatArray,
    kept: int,
    n: int,
    places: FloatArray,
    new: int,
    tolerance: float,
) -> FloatArray:
    """Of n candidates, the first `kept` free but for form `new`, those that overlap nothing."""
    ones = np.ones(new + 1)
    numbers = np.arange(new + 1)
    at = 0
    for k in range(n):
        x, y = found[k, 0], found[k, 1]
        if x < window[0] or y < window[1] or x > window[2] or y > window[3]:
            continue
        since = new if k < kept else 0
        loss = weighted_loss(
            pairs,
            sides,
            places[since : new + 1],
            numbers[since : new + 1],
            ones,
            ones[:0],
            tolerance,
            -1,
            0,
            x,
            y,
            1e-300,
        )
        if loss == 0.0:
            found[at, 0], found[at, 1] = x, y
            at += 1
    return found[:at].copy()


@njit(nogil=True)
def _grown(array: FloatArray, least: int) -> FloatArray:
    larger = np.empty((max(2 * len(array), least), 2))
    for k in range(len(array)):
        larger[k, 0], larger[k, 1] = array[k, 0], array[k, 1]
    return larger


@njit(nogil=True)
def _world_sides(pairs: FloatArray, sides: FloatArray, fixed: int, x: float, y: float) -> FloatArray:
    """Sides of the no-fit polygon of a placed form as rows x, y, dx, dy in plate coordinates."""
    first, last = int(pairs[fixed, 0, 6]), int(pairs[fixed, 0, 7])
    c, s = pairs[fixed, 0, 4], pairs[fixed, 0, 5]
    rows = np.empty((last - first, 4))
    for k in range(first, last):
        ex, ey, dx, dy = sides[k, 0], sides[k, 1], sides[k, 3], sides[k, 4]
        rows[k - first, 0] = x + c * ex - s * ey
        rows[k - first, 1] = y + s * ex + c * ey
        rows[k - first, 2] = c * dx - s * dy
        rows[k - first, 3] = s * dx + c * dy
    return rows


@njit(nogil=True)
def _window_crossings(segment: FloatArray, window: FloatArray, found: FloatArray, n: int) -> int:
    """Append the start of a segment and its crossings with the sides of the window."""
    x, y, dx, dy = segment[0], segment[1], segment[2], segment[3]
    found[n, 0], found[n, 1] = x, y
    n += 1
    for side in range(4):
        along = dx if side % 2 == 0 else dy
        at = x if side % 2 == 0 else y
        t = (window[side] - at) / along if along != 0.0 else -1.0
        if 0.0 <= t <= 1.0:
            # The coordinate on the side is set, not computed, so that it is not just outside.
            found[n, 0] = window[side] if side % 2 == 0 else x + t * dx
            found[n, 1] = window[side] if side % 2 == 1 else y + t * dy
            n += 1
    return n


@njit(nogil=True, error_model="numpy")
def _crossings(first: FloatArray, second: FloatArray, found: FloatArray, n: int) -> int:
    """Append the crossings of the segments of two no-fit polygons, each as x, y, dx, dy."""
    x0, y0, x1, y1 = np.inf, np.inf, -np.inf, -np.inf
    for b in range(len(second)):
        x, y, dx, dy = second[b, 0], second[b, 1], second[b, 2], second[b, 3]
        x0, x1 = min(x0, x, x + dx), max(x1, x, x + dx)
        y0, y1 = min(y0, y, y + dy), max(y1, y, y + dy)
    for a in range(len(first)):
        ax, ay, ux, uy = first[a, 0], first[a, 1], first[a, 2], first[a, 3]
        low_x, high_x = min(ax, ax + ux), max(ax, ax + ux)
        low_y, high_y = min(ay, ay + uy), max(ay, ay + uy)
        if low_x > x1 or high_x < x0 or low_y > y1 or high_y < y0:
            continue
        for b in range(len(second)):
            ox, oy, vx, vy = second[b, 0] - ax, second[b, 1] - ay, second[b, 2], second[b, 3]
            cross = ux * vy - uy * vx
            # Each end of one on its own side of the other's line, or on it.
            from_a = ux * oy - uy * ox
            if from_a * (from_a + cross) > 0.0:
                continue
            if math.fabs(cross) < 1e-12 * (math.fabs(ux) + math.fabs(uy)) * (math.fabs(vx) + math.fabs(vy)):
                continue
            t = (ox * vy - oy * vx) / cross
            if 0.0 <= t <= 1.0:
                found[n, 0], found[n, 1] = ax + t * ux, ay + t * uy
                n += 1
    return n
