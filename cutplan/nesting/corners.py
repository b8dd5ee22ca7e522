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

from cutplan.compiled import njit
from cutplan.geometry import FloatArray
from cutplan.nesting.kernels import is_free, pair_depth
from cutplan.nesting.nofit import Tables

__all__ = ["Corners"]


class Corners:
    """Free touching places of one orientation on one plate.

    Parameters
    ----------
    tables : Tables
    orientation : int
    box : tuple of float
        Least x, least y, greatest x, greatest y that the form may reach.
    tolerance : float
        Depth of overlap taken as touching, mm.
    """

    def __init__(
        self, tables: Tables, orientation: int, box: tuple[float, float, float, float], tolerance: float
    ) -> None:
        reach = tables.reach[orientation]
        self.tables = tables
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
        while self.fits and self.known < count:
            self.places = _after_placing(
                self.tables,
                self.orientation,
                self.window,
                self.places,
                places,
                orientations,
                self.known,
                count,
                self.tolerance,
            )
            self.known += 1
        return self.places


@njit(nogil=True)
def _after_placing(
    tables: Tables,
    moving: int,
    window: FloatArray,
    old: FloatArray,
    places: FloatArray,
    orientations: NDArray[np.int64],
    new: int,
    count: int,
    tolerance: float,
) -> FloatArray:
    """Old candidates that stay free of form `new`, and those that touch it.

    Crossings with forms laid down later come when these are taken up in turn.
    """
    segments = _world_edges(tables, orientations[new], moving, places[new, 0], places[new, 1])
    room = 4096
    found = np.empty((room, 2))
    n = 0
    for k in range(len(old)):
        dx, dy = old[k, 0] - places[new, 0], old[k, 1] - places[new, 1]
        if pair_depth(tables, orientations[new], moving, dx, dy) <= tolerance:
            if n == len(found):
                found = _grown(found)
            found[n] = old[k]
            n += 1
    kept = n
    for k in range(len(segments)):
        if n + 5 > len(found):
            found = _grown(found)
        n = _window_crossings(segments[k], window, found, n)
    box = tables.box[orientations[new], moving]
    for j in range(new):
        other = tables.box[orientations[j], moving]
        gap_x, gap_y = places[j, 0] - places[new, 0], places[j, 1] - places[new, 1]
        if (
            gap_x + other[0] > box[2]
            or gap_x + other[2] < box[0]
            or gap_y + other[1] > box[3]
            or gap_y + other[3] < box[1]
        ):
            continue
        beside = _world_edges(tables, orientations[j], moving, places[j, 0], places[j, 1])
        for a in range(len(segments)):
            for b in range(len(beside)):
                if n == len(found):
                    found = _grown(found)
                n = _crossing(segments[a], beside[b], found, n)
    at = kept
    for k in range(kept, n):
        x, y = found[k, 0], found[k, 1]
        if x < window[0] or y < window[1] or x > window[2] or y > window[3]:
            continue
        if is_free(tables, moving, x, y, places, orientations, new + 1, tolerance):
            found[at, 0], found[at, 1] = x, y
            at += 1
    return found[:at].copy()


@njit(nogil=True)
def _grown(array: FloatArray) -> FloatArray:
    larger = np.empty((2 * len(array), 2))
    larger[: len(array)] = array
    return larger


@njit(nogil=True)
def _world_edges(tables: Tables, fixed: int, moving: int, x: float, y: float) -> FloatArray:
    """Edges of the no-fit polygon of a placed form as rows x, y, dx, dy in plate coordinates."""
    number = tables.nofit[fixed, moving]
    first, last = tables.start[number], tables.start[number + 1]
    c, s = tables.turn[fixed, moving, 0], tables.turn[fixed, moving, 1]
    rows = np.empty((last - first, 4))
    for k in range(first, last):
        ex, ey, dx, dy = tables.edges[0, k], tables.edges[1, k], tables.edges[3, k], tables.edges[4, k]
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


@njit(nogil=True)
def _crossing(a: FloatArray, b: FloatArray, found: FloatArray, n: int) -> int:
    """Append the crossing of two segments, if there is one."""
    cross = a[2] * b[3] - a[3] * b[2]
    if math.fabs(cross) < 1e-12 * (math.fabs(a[2]) + math.fabs(a[3])) * (math.fabs(b[2]) + math.fabs(b[3])):
        return n
    ox, oy = b[0] - a[0], b[1] - a[1]
    t = (ox * b[3] - oy * b[2]) / cross
    u = (ox * a[3] - oy * a[2]) / cross
    if 0.0 <= t <= 1.0 and 0.0 <= u <= 1.0:
        found[n, 0], found[n, 1] = a[0] + t * a[2], a[1] + t * a[3]
        return n + 1
    return n
