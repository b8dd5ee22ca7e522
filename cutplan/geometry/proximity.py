"""Where paths lie to points and to each other: inside, nearest, how far, crossing."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cutplan.errors import GeometryError
from cutplan.geometry.along import vertex_lengths
from cutplan.geometry.index import SegmentIndex
from cutplan.geometry.measures import require_closed
from cutplan.geometry.path import FloatArray, Path

__all__ = [
    "COINCIDENT",
    "contains",
    "crossings",
    "distance",
    "is_simple",
    "nearest",
    "path_distance",
    "reaches_within",
    "self_crossings",
]

# Places nearer to each other than this, mm, are one place: far below what a machine resolves
# (1e-3 mm) and far above the rounding of coordinates of some metres (1e-12 mm).
COINCIDENT = 1e-9
# A path that meets itself again within so short a way, mm, has a rounded corner, not a knot.
_KNOT = 1e-5


def contains(path: Path, points: ArrayLike) -> NDArray[np.bool_]:
    """Return whether each point lies within a closed path, exact with arcs.

    Parameters
    ----------
    path : Path
        Closed, either direction.
    points : array_like, shape (k, 2)

    Returns
    -------
    ndarray of bool, shape (k,)

    Notes
    -----
    A point on the path itself falls on either side, as rounding has it; use `distance`
    where the border matters.
    """
    from cutplan.geometry import kernels

    require_closed(path, "containment")
    pieces, tree = path.index.rising
    inside: NDArray[np.bool_] = kernels.contains_points(pieces, tree, _points(points))
    return inside


def distance(path: Path, points: ArrayLike) -> FloatArray:
    """Return the distance of each point from a path, mm, never negative, shape (k,)."""
    return nearest(path, points)[0]


def nearest(path: Path, points: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return each point's distance from a path and where on the path it is measured.

    Parameters
    ----------
    path : Path
    points : array_like, shape (k, 2)

    Returns
    -------
    distances : ndarray, shape (k,)
        mm, never negative.
    s : ndarray, shape (k,)
        Arc-length of the nearest place, for `point_at`.
    """
    from cutplan.geometry import kernels

    index = path.index
    away, row, fraction = kernels.nearest_points(index.table, index.tree, _points(points))
    segment = index.number[row]
    return away, vertex_lengths(path)[segment] + fraction * path.segments.length[segment]


def crossings(a: Path, b: Path) -> FloatArray:
    """Return the places where two paths cross or touch, shape (k, 2).

    Where they run together, the ends of the common stretch are given.
    """
    return _distinct(_hits(a.index, b.index, same=False)[0])


def self_crossings(path: Path) -> FloatArray:
    """Return the places where a path crosses or touches itself, shape (k, 2).

    Where it runs along itself, the ends of the common stretch are given.  The ends of an
    open path count like any other place.  Knots with less than 1e-5 mm of path in them are
    rounding, and are left out.
    """
    index = SegmentIndex.of(path, shortest=COINCIDENT)
    places, fractions, pairs = _hits(index, index, same=True, closed=path.closed)
    if len(places) == 0:
        return places
    stations, number = vertex_lengths(path), index.number[pairs]
    s = stations[number] + fractions * path.segments.length[number]
    between = np.abs(s[:, 1] - s[:, 0])
    if path.closed:
        between = np.minimum(between, stations[-1] - between)
    return _distinct(places[between > _KNOT])


def is_simple(path: Path) -> bool:
    """Return whether a path neither crosses nor touches itself."""
    return len(self_crossings(path)) == 0


def path_distance(a: Path, b: Path) -> float:
    """Return the least distance between two paths, mm; 0 where they cross or touch."""
    return _least_distance(a, b, math.inf)


def reaches_within(a: Path, b: Path, d: float) -> bool:
    """Return whether two paths come nearer than `d` mm to each other.

    Cheaper than `path_distance`, since nothing farther away is looked at.
    """
    return _least_distance(a, b, d) < d


def _least_distance(a: Path, b: Path, limit: float) -> float:
    from cutplan.geometry import meeting

    if len(a) > len(b):
        a, b = b, a
    first, second = a.index, b.index
    return float(
        meeting.least_distance(first.table, first.boxes, second.table, second.boxes, second.tree, limit)
    )


def _hits(
    a: SegmentIndex, b: SegmentIndex, *, same: bool, closed: bool = False
) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Places where segments meet, the fractions along both, and their rows in the indexes."""
    from cutplan.geometry import meeting

    hits, pairs = meeting.crossing_hits(
        a.table, a.boxes, a.tree, b.table, b.boxes, b.tree, same, closed, COINCIDENT
    )
    return hits[:, :2], hits[:, 2:], pairs


def _distinct(places: FloatArray) -> FloatArray:
    """Keep one of places that coincide, in the order found."""
    kept: list[FloatArray] = []
    for place in places:
        if all(abs(place - other).max() > COINCIDENT for other in kept):
            kept.append(place)
    return np.array(kept).reshape(-1, 2)


def _points(points: ArrayLike) -> FloatArray:
    array = np.ascontiguousarray(points, dtype=np.float64)
    if array.ndim == 1 and array.shape == (2,):
        array = array[None, :]
    if array.ndim != 2 or array.shape[1] != 2:
        raise GeometryError(f"points must have shape (k, 2), got {array.shape}")
    return array
