"""Arcs and long lines back from the short chords and split lines of a careless export.

Terminology
-----------
chord : a line that an export wrote in place of a piece of an arc or spline.
chordal vertex : a vertex at which two chords of one arc seem to meet: the turn is slight,
    and the chords stand off their arc by little.
run : consecutive chords with chordal vertices between them.
corner : any other vertex; corners stay where they are.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.fitting import longest_arcs, require_tolerance, whole_again, whole_circle
from cutplan.geometry.path import FloatArray, Path

__all__ = ["recover_arcs"]

# A circle of fewer chords than this is a polygon on purpose: exports use 24 to 360 chords a
# turn, and drawn polygons seldom have more than 16 sides (common practice).
_LEAST_CHORDS_A_TURN = 18
_CHORDAL_TURN = math.tau / _LEAST_CHORDS_A_TURN * (1.0 + 1e-6)
# Edges that would stand off their arc by more than this, mm, were drawn on purpose.
_CHORDAL_RISE = 0.5
# Chords of one export are about equally long, but for the first and the last of an arc, whose
# vertices then still lie on one circle.
_LENGTH_RATIO = 3.0
_CURVATURE_RATIO = 1.1
# In fine chords a turn so many times that of its neighbours, and above 3 degrees, is a corner.
_CORNER_RATIO = 5.0
_CORNER_TURN = math.radians(3.0)
# Three points lie on a circle by nature and four of an even bend by symmetry; five are evidence.
_LEAST_CHORDS = 4
# Vertices straighter than this, rad, belong to collinear runs, not to arcs.
_STRAIGHT_TURN = 1e-7
# Shares of the tolerance: collinear before arcs are looked for, arcs, and merging afterwards.
_COLLINEAR, _FITTING, _MERGING = 1e-3, 0.9, 0.099


def recover_arcs(path: Path, tolerance: float) -> Path:
    """Return a path with chorded arcs, split arcs and collinear runs made whole again.

    A run of chords becomes arcs where at least five of its vertices lie on each, or where
    the chords themselves keep within the tolerance.  Polygons of up to 17 sides stay
    polygons, and so do edges that would stand off their arc by more than 0.5 mm.  Corners
    stay where they are.

    Parameters
    ----------
    path : Path
    tolerance : float
        Greatest distance of the vertices left out from what takes their place, mm.

    Returns
    -------
    Path
        Open or closed as the path is; a closed one may start at another of its vertices.
    """
    require_tolerance(tolerance)
    rows = whole_again(_without_empty(path), _COLLINEAR * tolerance, closed=path.closed)
    chordal = _chordal_vertices(rows, path.closed)
    if path.closed and chordal.all():
        whole = whole_circle(rows[:, :2], _FITTING * tolerance, chords=False)
        if whole is not None:
            return whole
    if chordal.any():
        rows = _with_arcs(rows, chordal, path.closed, tolerance)
    return Path(whole_again(rows, _MERGING * tolerance, closed=path.closed), closed=path.closed)


def _without_empty(path: Path) -> FloatArray:
    """Vertices without those whose segment has no length; the last of an open path stays."""
    keep = path.segments.length > 0.0
    return np.array(path.vertices[keep if path.closed else np.append(keep, True)])


def _chordal_vertices(rows: FloatArray, closed: bool) -> NDArray[np.bool_]:
    """Tell the vertices where two chords of one arc seem to meet."""
    if len(rows) < _LEAST_CHORDS + 1:
        return np.zeros(len(rows), dtype=np.bool_)
    points, straight = rows[:, :2], rows[:, 2] == 0.0
    after = np.roll(points, -1, axis=0) - points
    before = np.roll(after, 1, axis=0)
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = np.arctan2(cross, np.sum(before * after, axis=1))
    size = np.abs(turn)
    long_after, long_before = np.hypot(after[:, 0], after[:, 1]), np.hypot(before[:, 0], before[:, 1])
    longer, shorter = np.maximum(long_after, long_before), np.minimum(long_after, long_before)
    # Curvature of the circle through the vertex and its two neighbours.
    span = np.hypot(*(before + after).T)
    curvature = 2.0 * np.sin(turn) / np.maximum(span, 1e-300)
    alike = longer < _LENGTH_RATIO * shorter
    for neighbour in (np.roll(curvature, 1), np.roll(curvature, -1)):
        alike |= (curvature * neighbour > 0.0) & (
            np.maximum(np.abs(curvature), np.abs(neighbour))
            < _CURVATURE_RATIO * np.minimum(np.abs(curvature), np.abs(neighbour))
        )
    rise = 0.25 * longer * np.tan(0.5 * np.minimum(size, 1.0))
    corner = (size > _CORNER_TURN) & (size > _CORNER_RATIO * np.maximum(np.roll(size, 1), np.roll(size, -1)))
    chordal = straight & np.roll(straight, 1) & alike & ~corner
    chordal &= (size > _STRAIGHT_TURN) & (size < _CHORDAL_TURN) & (rise < _CHORDAL_RISE)
    if not closed:
        chordal[[0, -1]] = False
    return np.asarray(chordal)


def _with_arcs(rows: FloatArray, chordal: NDArray[np.bool_], closed: bool, tolerance: float) -> FloatArray:
    """Return vertices with the runs of chords replaced by arcs where they are arcs."""
    if closed:
        # Begin at a corner, so that no run passes the first vertex.
        first = int(np.argmin(chordal)) if not chordal.all() else 0
        rows, chordal = np.roll(rows, -first, axis=0), np.roll(chordal, -first)
        rows = np.vstack([rows, [[*rows[0, :2], 0.0]]])
        chordal = np.append(chordal, False)
        chordal[0] = False
    corners = np.flatnonzero(~chordal)
    parts = []
    for begin, end in itertools.pairwise(corners.tolist()):
        run = rows[begin : end + 1]
        parts.append(_run(run, tolerance) if end - begin >= _LEAST_CHORDS else run[:-1])
    if not closed:
        parts.append(rows[-1:])
    return np.vstack(parts)


def _run(rows: FloatArray, tolerance: float) -> FloatArray:
    """Return the arcs of a run of chords, without its last vertex; lines where it is none."""
    points = np.ascontiguousarray(rows[:, :2])
    breaks, bulges = longest_arcs(points, _FITTING * tolerance, chords=False)
    begin, end = breaks[:-1], breaks[1:]
    chords = np.hypot(*np.diff(points, axis=0).T)
    span = np.hypot(*(points[end] - points[begin]).T)
    radius = span * (1.0 + bulges * bulges) / np.maximum(4.0 * np.abs(bulges), 1e-300)
    rise = np.maximum.reduceat(chords, begin) ** 2 / (8.0 * radius)
    is_arc = (end - begin >= _LEAST_CHORDS) | (rise <= _FITTING * tolerance)
    # Of an arc the first vertex is kept, of chords that make none every one.
    kept = ~np.repeat(is_arc, end - begin)
    kept[begin] = True
    result = rows[:-1].copy()
    result[begin[is_arc], 2] = bulges[is_arc]
    return np.asarray(result[kept])
