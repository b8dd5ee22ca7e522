"""Places along a path by arc-length: points, directions, stretches, and new starts."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cutplan.base.errors import GeometryError
from cutplan.geometry.measures import require_closed
from cutplan.geometry.path import FloatArray, Path, Segments

__all__ = ["direction_at", "normal_at", "point_at", "start_at", "subpath", "vertex_lengths"]

# A cut closer than this to a vertex, mm, is made at the vertex: no sliver is left over.
_AT_VERTEX = 1e-9


def vertex_lengths(path: Path) -> FloatArray:
    """Return the arc-length of each segment's start and of the path's end, shape (len(path) + 1,).

    Parameters
    ----------
    path : Path

    Returns
    -------
    ndarray, shape (n + 1,)
        mm.
    """
    return np.concatenate([[0.0], np.cumsum(path.segments.length)])


def point_at(path: Path, s: ArrayLike) -> FloatArray:
    """Return the points at arc-lengths along a path.

    Parameters
    ----------
    path : Path
    s : array_like, shape (k,) or scalar
        Arc-lengths from the first vertex, mm.  They wrap round closed paths and are held
        to the ends of open ones.

    Returns
    -------
    ndarray, shape (k, 2)
    """
    index, fraction = _locate(path, s)
    return _points_within(path.segments, index, fraction)


def direction_at(path: Path, s: ArrayLike) -> FloatArray:
    """Return the unit tangents at arc-lengths along a path, shape (k, 2).

    At a vertex the tangent is that of the segment that leaves it; `s` is read as in
    `point_at`.

    Parameters
    ----------
    path : Path
    s : array_like, shape (k,)
        mm along the path.

    Returns
    -------
    ndarray, shape (k, 2)
    """
    index, fraction = _locate(path, s)
    segments = path.segments
    chord = segments.end[index] - segments.start[index]
    turn = (fraction - 0.5) * segments.sweep[index]
    return _unit(_rotated(chord, turn))


def normal_at(path: Path, s: ArrayLike) -> FloatArray:
    """Return the unit normals to the left of the travel at arc-lengths, shape (k, 2).

    Parameters
    ----------
    path : Path
    s : array_like, shape (k,)
        mm along the path.

    Returns
    -------
    ndarray, shape (k, 2)
    """
    tangent = direction_at(path, s)
    return np.column_stack([-tangent[:, 1], tangent[:, 0]])


def subpath(path: Path, s0: float, s1: float) -> Path:
    """Return the stretch of a path from arc-length `s0` to `s1` as an open path.

    Parameters
    ----------
    path : Path
    s0, s1 : float
        Arc-lengths, mm.  On a closed path the stretch runs past the first vertex where
        ``s1 <= s0`` or ``s1`` exceeds the length, and may go round more than once.

    Returns
    -------
    Path

    Raises
    ------
    GeometryError
        If an open path has no such stretch.
    """
    stations = vertex_lengths(path)
    total = float(stations[-1])
    if path.closed:
        turn = np.floor(s0 / total) * total
        s0, s1 = s0 - turn, s1 - turn
        if s1 <= s0:
            s1 += total * (1.0 + np.floor((s0 - s1) / total))
    elif not (-_AT_VERTEX <= s0 < s1 <= total + _AT_VERTEX):
        raise GeometryError(
            f"an open path of {total:.3f} mm has no stretch from {s0:.3f} to {s1:.3f} mm",
            place=(float(path.start[0]), float(path.start[1])),
        )
    rows: list[FloatArray] = []
    lap = 0.0
    while True:
        rows.append(_rows_between(path, stations, s0 - lap, s1 - lap))
        lap += total
        if s1 - lap <= _AT_VERTEX:
            break
    last = point_at(path, s1 - (lap - total))
    return Path(np.vstack([*rows, [[last[0, 0], last[0, 1], 0.0]]]), closed=False)


def start_at(path: Path, s: float) -> Path:
    """Return a closed path restarted at arc-length `s`, split there where no vertex is.

    Parameters
    ----------
    path : Path
    s : float
        mm along the path.

    Returns
    -------
    Path

    Raises
    ------
    GeometryError
        If the path is open.
    """
    require_closed(path, "a new start")
    stations = vertex_lengths(path)
    place = float(s % stations[-1])
    nearest = int(np.argmin(np.abs(stations - place)))
    if abs(stations[nearest] - place) <= _AT_VERTEX:
        return Path(np.roll(path.vertices, -(nearest % len(path)), axis=0), closed=True)
    opened = subpath(path, place, place + float(stations[-1]))
    return Path(opened.vertices[:-1], closed=True)


def _rows_between(path: Path, stations: FloatArray, s0: float, s1: float) -> FloatArray:
    """Vertex rows of the segments that lie, in whole or part, between two arc-lengths."""
    first = max(int(np.searchsorted(stations, s0 + _AT_VERTEX, side="right")) - 1, 0)
    stop = int(np.searchsorted(stations, s1 - _AT_VERTEX, side="left"))
    stop = max(min(stop, len(path)), first + 1)
    rows = np.array(path.vertices[np.arange(first, stop)])
    index = np.arange(first, stop)
    size = path.segments.length[index]
    with np.errstate(invalid="ignore", divide="ignore"):
        begin = np.clip(np.nan_to_num((s0 - stations[index]) / size), 0.0, 1.0)
        finish = np.clip(np.nan_to_num((s1 - stations[index]) / size, nan=1.0, posinf=1.0), 0.0, 1.0)
    begin[np.abs(s0 - stations[index]) <= _AT_VERTEX] = 0.0
    finish[np.abs(s1 - stations[index + 1]) <= _AT_VERTEX] = 1.0
    cut = (begin > 0.0) | (finish < 1.0)
    rows[cut, 2] = np.tan((finish - begin)[cut] * path.segments.sweep[index][cut] / 4.0)
    if begin[0] > 0.0:
        rows[0, :2] = _points_within(path.segments, index[:1], begin[:1])[0]
    return rows


def _locate(path: Path, s: ArrayLike) -> tuple[NDArray[np.intp], FloatArray]:
    """Segment index and fraction along it for arc-lengths."""
    stations = vertex_lengths(path)
    wanted = np.atleast_1d(np.asarray(s, dtype=np.float64))
    wanted = wanted % stations[-1] if path.closed else np.clip(wanted, 0.0, stations[-1])
    index = np.clip(np.searchsorted(stations, wanted, side="right") - 1, 0, len(path) - 1)
    size = path.segments.length[index]
    fraction = np.divide(wanted - stations[index], size, out=np.zeros_like(wanted), where=size > 0.0)
    return index, np.clip(fraction, 0.0, 1.0)


def _points_within(segments: Segments, index: NDArray[np.intp], fraction: FloatArray) -> FloatArray:
    start, end = segments.start[index], segments.end[index]
    chord = end - start
    half = 0.5 * segments.sweep[index]
    # From the start to the point the chord is 2 r sin(fθ/2) long, and turned by (f − 1) θ/2
    # from the whole chord: exact however large the radius.
    shallow = np.abs(segments.bulge[index]) <= 1.0
    whole = np.where(shallow & (half != 0.0), np.sin(half), 1.0)
    ratio = np.where(half == 0.0, fraction, np.sin(fraction * half) / whole)
    points = start + ratio[:, None] * _rotated(chord, (fraction - 1.0) * half)
    deep = ~shallow
    if deep.any():
        # Past half a turn the chord shrinks to nothing, and the centre is the safer pivot.
        centre = segments.centre[index[deep]]
        spoke = start[deep] - centre
        points[deep] = centre + _rotated(spoke, fraction[deep] * segments.sweep[index[deep]])
    points[fraction == 1.0] = end[fraction == 1.0]
    return np.asarray(points)


def _rotated(vectors: FloatArray, angle: FloatArray) -> FloatArray:
    c, s = np.cos(angle), np.sin(angle)
    x, y = vectors[:, 0], vectors[:, 1]
    return np.column_stack([c * x - s * y, s * x + c * y])


def _unit(vectors: FloatArray) -> FloatArray:
    size = np.hypot(vectors[:, 0], vectors[:, 1])
    return np.asarray(vectors / np.where(size > 0.0, size, 1.0)[:, None])
