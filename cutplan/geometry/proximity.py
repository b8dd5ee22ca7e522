"""Where paths lie to points and to each other: inside, nearest, how far, crossing."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cutplan.base.errors import GeometryError
from cutplan.geometry.along import vertex_lengths
from cutplan.geometry.index import SegmentIndex, index_of
from cutplan.geometry.measures import require_closed
from cutplan.geometry.path import FloatArray, Path

__all__ = [
    "COINCIDENT",
    "contains",
    "crossings",
    "distance",
    "is_simple",
    "meetings",
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
    array = _points(points)
    inside = np.empty(len(array), dtype=np.bool_)
    kernels.contains_points(*index_of(path).rising, array, inside, kernels.new_stack())
    return inside


def distance(path: Path, points: ArrayLike) -> FloatArray:
    """Return the distance of each point from a path, mm, never negative, shape (k,).

    Parameters
    ----------
    path : Path
    points : array_like, shape (n, 2)

    Returns
    -------
    ndarray, shape (k,)
        mm.
    """
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

    index, array = index_of(path), _points(points)
    found, row = np.empty((len(array), 2)), np.empty(len(array), dtype=np.int64)
    kernels.nearest_points(index.table, index.tree, array, found, row, kernels.new_stack())
    segment = index.number[row]
    return found[:, 0].copy(), vertex_lengths(path)[segment] + found[:, 1] * path.segments.length[segment]


def crossings(a: Path, b: Path) -> FloatArray:
    """Return the places where two paths cross or touch, shape (k, 2).

    Where they run together, the ends of the common stretch are given.

    Parameters
    ----------
    a : Path
    b : Path

    Returns
    -------
    ndarray, shape (k, 2)
        mm.
    """
    return _distinct(meetings(index_of(a), index_of(b), same=False)[0])


def self_crossings(path: Path) -> FloatArray:
    """Return the places where a path crosses or touches itself, shape (k, 2).

    Where it runs along itself, the ends of the common stretch are given.  The ends of an
    open path count like any other place.  Knots with less than 1e-5 mm of path in them are
    rounding, and are left out.

    Parameters
    ----------
    path : Path

    Returns
    -------
    ndarray, shape (k, 2)
        mm.
    """
    short = path.segments.length.min(initial=np.inf) <= COINCIDENT
    index = SegmentIndex.of(path, shortest=COINCIDENT) if short else index_of(path)
    places, fractions, pairs = meetings(index, index, same=True, closed=path.closed)
    if len(places) == 0:
        return places
    stations, number = vertex_lengths(path), index.number[pairs]
    s = stations[number] + fractions * path.segments.length[number]
    between = np.abs(s[:, 1] - s[:, 0])
    if path.closed:
        between = np.minimum(between, stations[-1] - between)
    return _distinct(places[between > _KNOT])


def is_simple(path: Path) -> bool:
    """Return whether a path neither crosses nor touches itself.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bool
    """
    return len(self_crossings(path)) == 0


def path_distance(a: Path, b: Path) -> float:
    """Return the least distance between two paths, mm; 0 where they cross or touch.

    Parameters
    ----------
    a : Path
    b : Path

    Returns
    -------
    float
        mm.
    """
    return _least_distance(a, b, math.inf)


def reaches_within(a: Path, b: Path, d: float) -> bool:
    """Return whether two paths come nearer than `d` mm to each other.

    Cheaper than `path_distance`, since nothing farther away is looked at.

    Parameters
    ----------
    a : Path
    b : Path
    d : float
        mm.

    Returns
    -------
    bool
    """
    return _least_distance(a, b, d) < d


def _least_distance(a: Path, b: Path, limit: float) -> float:
    from cutplan.geometry import kernels, meeting

    if len(a) > len(b):
        a, b = b, a
    one, two = index_of(a), index_of(b)
    room = np.empty((meeting.MOST_HITS, 4)), kernels.new_stack()
    return float(meeting.least_distance(one.table, one.boxes, two.table, two.boxes, two.tree, limit, *room))


def meetings(
    a: SegmentIndex, b: SegmentIndex, *, same: bool, closed: bool = False, tolerance: float = COINCIDENT
) -> tuple[FloatArray, FloatArray, NDArray[np.int64]]:
    """Find where the segments of two indexes meet, or those of one with each other.

    Parameters
    ----------
    a, b : SegmentIndex
        With `same`, one and the same.
    same : bool
        Look at each pair once, and leave out the vertex that neighbours share.
    closed : bool
        Whether the last and the first segment are neighbours.
    tolerance : float
        Distance within which an end lies on a segment, mm.

    Returns
    -------
    places : ndarray, shape (k, 2)
    fractions : ndarray, shape (k, 2)
        Along both segments.
    pairs : ndarray of int, shape (k, 2)
        Rows of both segments.
    """
    from cutplan.geometry import kernels, meeting

    room = 2 * (len(a.table) + len(b.table))
    while True:
        places, pairs = np.empty((room, 4)), np.empty((room, 2), dtype=np.int64)
        found = meeting.crossing_hits(
            a.table, a.boxes, a.tree, b.table, b.boxes, b.tree, same, closed, tolerance,
            places, pairs, np.empty((meeting.MOST_HITS, 4)), kernels.new_stack(),
        )  # fmt: skip
        if found <= room:
            return places[:found, :2].copy(), places[:found, 2:].copy(), pairs[:found]
        room = found


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
