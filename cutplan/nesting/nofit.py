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

from cutplan.base.compiled import njit
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
    """Collision tables for the kernels; O orientations, E edges.

    Attributes
    ----------
    pairs : ndarray, shape (O, O, 10)
        For fixed and moving orientation, side by side for the cache: box (4) of the places of
        the moving one, relative to the fixed one, at which they can overlap; cosine and sine
        into the no-fit polygon's frame; its first edge and the one past its last; 1 where it
        is convex; and the weight of the pair's overlaps.
    edges : ndarray, shape (E, 10)
        Columns x, y of the start, y of the end, dx, dy, 1 / length², dx / dy, and the inward
        normal and the distance of the edge's line.
    reach : ndarray, shape (O, 4)
        Box of each orientation about its origin.
    """

    pairs: FloatArray
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
    pairs = np.zeros((count, count, 10))
    pairs[..., 9] = 1.0
    numbers: dict[tuple[int, int, float], int] = {}
    polygons: list[_NoFit] = []
    edges = 0
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
                numbers[key] = len(polygons)
                polygons.append(_NoFit(no_fit_rings(forms[base.form], forms[other.form], relative), edges))
                edges += len(polygons[-1].rows)
            nofit = polygons[numbers[key]]
            world = sign * turned(nofit.points, base.angle_deg)
            pairs[i, j, :2], pairs[i, j, 2:4] = world.min(axis=0), world.max(axis=0)
            pairs[i, j, 4:6] = sign * turned(np.array([[1.0, 0.0]]), base.angle_deg)[0]
            pairs[i, j, 6:9] = nofit.first, nofit.first + len(nofit.rows), nofit.convex
    rows = np.ascontiguousarray(np.vstack([nofit.rows for nofit in polygons]))
    return Tables(pairs, rows, _reaches(forms, orientations))


class _NoFit:
    """One no-fit polygon: its points, its rows of the edge table and where they begin."""

    def __init__(self, rings: Sequence[FloatArray], first: int) -> None:
        self.points = np.vstack(rings)
        self.rows = np.vstack([_edge_rows(ring) for ring in rings])
        self.first = first
        self.convex = len(rings) == 1 and _is_convex(rings[0])


def _is_convex(ring: FloatArray) -> bool:
    """Whether a ring turns left all the way round, once; collinear points count as turning."""
    d = np.roll(ring, -1, axis=0) - ring
    e = np.roll(d, -1, axis=0)
    cross, along = d[:, 0] * e[:, 1] - d[:, 1] * e[:, 0], (d * e).sum(axis=1)
    small = _NOISE * (d**2).sum(axis=1).max()
    return bool((cross >= -small).all() and abs(np.arctan2(cross, along).sum() - 2.0 * np.pi) < 1e-3)


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
    normal = np.column_stack([-d[:, 1], d[:, 0]]) * np.sqrt(inverse)[:, None]
    away = (normal * ring).sum(axis=1)
    return np.column_stack([ring, end[:, 1], d, inverse, slope, normal, away])


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
    polygons: list[Any] = list(getattr(shapely.orient_polygons(union), "geoms", [union]))
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
