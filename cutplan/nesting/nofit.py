"""No-fit polygons: where one form may not lie beside another, in flat tables for the kernels.

A no-fit polygon of a fixed form A and a moving form B is A ⊕ −B: B overlaps A exactly when
B's place relative to A is strictly inside.  How deep it is inside is the least move that parts
the two (penetration depth).  Every pair of orientations shares the polygon of its relative
angle, so the tables stay small for many rotations.

Method: union of the Minkowski sums of convex pieces (Agarwal, Flato and Halperin 2002,
"Polygon decomposition for efficient construction of Minkowski sums").
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.compiled import njit
from cutplan.geometry import FloatArray
from cutplan.nesting.shapes import Form, turned

__all__ = ["Orientation", "Tables", "build_tables", "no_fit_rings"]

# Relative size under which vertices of a no-fit polygon are merged and holes are noise.
_NOISE = 1e-9


class Orientation(NamedTuple):
    """A form, by its number, turned by an angle in degrees."""

    form: int
    angle_deg: float


class Tables(NamedTuple):
    """Collision tables for the kernels; O orientations, N no-fit polygons, E edges.

    Attributes
    ----------
    box : ndarray, shape (O, O, 4)
        For fixed and moving orientation: least x, least y, greatest x, greatest y of the
        places of the moving one, relative to the fixed one, at which they can overlap.
    nofit : ndarray of int64, shape (O, O)
        Number of the no-fit polygon.
    turn : ndarray, shape (O, O, 2)
        Cosine and sine that turn the relative place into the no-fit polygon's frame.
    start : ndarray of int64, shape (N + 1,)
        Edges of polygon k are ``start[k]`` up to ``start[k + 1]``.
    edges : ndarray, shape (7, E)
        Rows x, y of the start, y of the end, dx, dy, 1 / length², dx / dy.
    reach : ndarray, shape (O, 4)
        Box of each orientation about its origin.
    """

    box: FloatArray
    nofit: NDArray[np.int64]
    turn: FloatArray
    start: NDArray[np.int64]
    edges: FloatArray
    reach: FloatArray


def build_tables(
    forms: Sequence[Form], orientations: Sequence[Orientation], movable: int | None = None
) -> Tables:
    """Return the collision tables of all pairs of orientations.

    Only the first `movable` ones move (default all); the others never meet each other.
    """
    count = len(orientations)
    movable = count if movable is None else movable
    nofit = np.zeros((count, count), dtype=np.int64)
    turn = np.zeros((count, count, 2))
    box = np.zeros((count, count, 4))
    numbers: dict[tuple[int, int, float], int] = {}
    rings: list[list[FloatArray]] = []
    for i, fixed in enumerate(orientations):
        for j, moving in enumerate(orientations):
            if i >= movable and j >= movable:
                continue
            # One polygon serves both orders of a pair: seen from the other form the place changes sign.
            swap = fixed.form > moving.form
            base, other, sign = (moving, fixed, -1.0) if swap else (fixed, moving, 1.0)
            relative = round((other.angle_deg - base.angle_deg) % 360.0, 6) % 360.0
            key = (base.form, other.form, relative)
            if key not in numbers:
                numbers[key] = len(rings)
                rings.append(no_fit_rings(forms[base.form], forms[other.form], relative))
            nofit[i, j] = numbers[key]
            # Turning back by the base's angle: columns of the rotation applied to x alone.
            turn[i, j] = sign * turned(np.array([[1.0, 0.0]]), base.angle_deg)[0]
            world = sign * turned(np.vstack(rings[nofit[i, j]]), base.angle_deg)
            box[i, j, :2], box[i, j, 2:] = world.min(axis=0), world.max(axis=0)
    start = np.zeros(len(rings) + 1, dtype=np.int64)
    start[1:] = np.cumsum([sum(len(ring) for ring in polygon) for polygon in rings])
    edges = np.hstack([_edge_rows(ring) for polygon in rings for ring in polygon])
    return Tables(box, nofit, turn, start, np.ascontiguousarray(edges), _reaches(forms, orientations))


def _reaches(forms: Sequence[Form], orientations: Sequence[Orientation]) -> FloatArray:
    reach = np.zeros((len(orientations), 4))
    for k, (form, angle) in enumerate(orientations):
        outer = turned(forms[form].rings[0], angle)
        reach[k, :2], reach[k, 2:] = outer.min(axis=0), outer.max(axis=0)
    return reach


def _edge_rows(ring: FloatArray) -> FloatArray:
    end = np.roll(ring, -1, axis=0)
    d = end - ring
    slope = np.divide(d[:, 0], d[:, 1], out=np.zeros(len(d)), where=d[:, 1] != 0.0)
    inverse = 1.0 / (d**2).sum(axis=1)
    return np.vstack([ring[:, 0], ring[:, 1], end[:, 1], d[:, 0], d[:, 1], inverse, slope])


def no_fit_rings(fixed: Form, moving: Form, angle_deg: float) -> list[FloatArray]:
    """Return the rings of the no-fit polygon of a form and another turned by an angle.

    Outer rings and holes alike; a place is inside where it is inside an odd number of them.
    """
    import shapely

    turned_back = [-turned(piece, angle_deg) for piece in moving.pieces]
    points, starts = _convex_sums(*_packed(fixed.pieces), *_packed(turned_back))
    index = np.repeat(np.arange(len(starts) - 1), np.diff(starts))
    sums = shapely.polygons(shapely.linearrings(points, indices=index))
    union = sums[0] if len(sums) == 1 else shapely.union_all(sums)
    size = math.hypot(fixed.size, moving.size)
    union = shapely.simplify(union, _NOISE * size)
    polygons: list[Any] = list(getattr(union, "geoms", [union]))
    rings = [p.exterior for p in polygons]
    noise = _NOISE * size * size
    rings += [hole for p in polygons for hole in p.interiors if shapely.area(shapely.Polygon(hole)) > noise]
    return [np.ascontiguousarray(shapely.get_coordinates(ring)[:-1]) for ring in rings]


def _packed(pieces: Sequence[FloatArray]) -> tuple[FloatArray, NDArray[np.int64]]:
    starts = np.zeros(len(pieces) + 1, dtype=np.int64)
    starts[1:] = np.cumsum([len(piece) for piece in pieces])
    # Each piece begins at its lowest, then leftmost vertex, as the merging of edges needs.
    rolled = [np.roll(piece, -int(np.lexsort((piece[:, 0], piece[:, 1]))[0]), axis=0) for piece in pieces]
    return np.ascontiguousarray(np.vstack(rolled)), starts


@njit
def _convex_sums(
    a: FloatArray, a_starts: NDArray[np.int64], b: FloatArray, b_starts: NDArray[np.int64]
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Minkowski sums of all pairs of convex pieces, as closed rings one after another."""
    pairs = (len(a_starts) - 1) * (len(b_starts) - 1)
    most = 0
    for i in range(len(a_starts) - 1):
        for j in range(len(b_starts) - 1):
            most += a_starts[i + 1] - a_starts[i] + b_starts[j + 1] - b_starts[j] + 1
    points = np.empty((most, 2))
    starts = np.zeros(pairs + 1, dtype=np.int64)
    at = 0
    pair = 0
    for i in range(len(a_starts) - 1):
        a0, na = a_starts[i], a_starts[i + 1] - a_starts[i]
        for j in range(len(b_starts) - 1):
            b0, nb = b_starts[j], b_starts[j + 1] - b_starts[j]
            first = at
            p, q = 0, 0
            while p < na or q < nb:
                ax, ay = a[a0 + p % na, 0], a[a0 + p % na, 1]
                bx, by = b[b0 + q % nb, 0], b[b0 + q % nb, 1]
                points[at, 0], points[at, 1] = ax + bx, ay + by
                at += 1
                ux, uy = a[a0 + (p + 1) % na, 0] - ax, a[a0 + (p + 1) % na, 1] - ay
                vx, vy = b[b0 + (q + 1) % nb, 0] - bx, b[b0 + (q + 1) % nb, 1] - by
                turn = ux * vy - uy * vx
                # Parallel edges are taken together; the angles of both chains rise together.
                if q >= nb or (p < na and turn >= 0.0):
                    p += 1
                    if turn == 0.0 and q < nb and ux * vx + uy * vy > 0.0:
                        q += 1
                else:
                    q += 1
            points[at, 0], points[at, 1] = points[first, 0], points[first, 1]
            at += 1
            pair += 1
            starts[pair] = at
    return points[:at], starts
