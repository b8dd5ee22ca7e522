"""Lines and arcs in place of points and curves, few of them and within a stated tolerance."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cutplan.base.errors import GeometryError
from cutplan.geometry.path import FloatArray, Path, circle

__all__ = [
    "fit_arcs",
    "fit_curve",
    "longest_arcs",
    "require_tolerance",
    "whole_again",
    "whole_circle",
]

# Points nearer to each other than this, mm, are one.
_SAME = 1e-9
# Shares of a curve's tolerance: what the samples' chords may miss, and what neighbouring arcs
# of one circle may differ by.  The biarcs get the rest.
_SAMPLING = 0.02
_MERGING = 0.02
# Rounding may not take a point over the tolerance.
_STRICTLY = 1.0 - 1e-9
_FIRST_SAMPLES = 33
# A curve that asks for more samples is no curve a part is drawn with.
_MOST_SAMPLES = 400_000


def fit_arcs(points: ArrayLike, tolerance: float, *, closed: bool = False) -> Path:
    """Return lines and arcs along points, few of them.

    Each is the longest one that begins at the point where the one before ended and keeps the
    points passed, and the straight connections between them, within the tolerance.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        At least two, mm.  The first, and of an open path the last, is kept exactly.
    tolerance : float
        Greatest distance of points and connections from the path, mm.
    closed : bool
        Whether the last point is joined to the first.  Points all on one circle give that
        circle.

    Returns
    -------
    Path

    Raises
    ------
    GeometryError
        If the points have the wrong shape, or all lie in one place.
    """
    require_tolerance(tolerance)
    array = _without_repeats(points, closed)
    if closed:
        whole = whole_circle(array, tolerance, chords=True)
        if whole is not None:
            return whole
        array = np.vstack([array, array[:1]])
    breaks, bulges = longest_arcs(array, tolerance * _STRICTLY, chords=True)
    rows = np.column_stack([array[breaks], np.append(bulges, 0.0)])
    if closed and len(rows) < 3:
        raise GeometryError("points in one place close no contour", place=_place(array))
    return Path(rows[:-1] if closed else rows, closed=closed)


def fit_curve(
    point: Callable[[FloatArray], FloatArray],
    derivative: Callable[[FloatArray], FloatArray],
    t0: float,
    t1: float,
    tolerance: float,
) -> Path:
    """Return a smooth curve as tangent-continuous lines and arcs.

    Biarcs take their tangents from the curve (Meek and Walton 1992, "Approximation of
    discrete data by G1 arc splines"); each is as long as the tolerance lets it be.

    Parameters
    ----------
    point, derivative : callable
        Take parameters of shape (k,) and return points and derivatives of shape (k, 2), mm.
    t0, t1 : float
        Range of the parameter; both ends are kept exactly.
    tolerance : float
        Greatest distance between curve and arcs, mm.

    Returns
    -------
    Path
        Open.

    Raises
    ------
    GeometryError
        If the curve has no length, or is too rough for the tolerance.
    """
    require_tolerance(tolerance)
    from cutplan.geometry import biarc_kernels

    points, ways = _samples(point, derivative, t0, t1, _SAMPLING * tolerance)
    left = tolerance * (1.0 - 2.0 * _SAMPLING - _MERGING)
    rows = np.empty((2 * len(points), 3))
    count = biarc_kernels.biarc_chain(points, ways, _bends(points, ways), left, rows, np.empty(8))
    return Path(whole_again(rows[:count], _MERGING * tolerance, closed=False), closed=False)


def longest_arcs(
    points: FloatArray, tolerance: float, *, chords: bool
) -> tuple[NDArray[np.int64], FloatArray]:
    """Return the breaks and bulges of the longest arcs through points within a tolerance.

    With `chords` the straight connections of the points must keep within it too.
    """
    from cutplan.geometry import fit_kernels

    breaks, bulges = np.zeros(len(points), dtype=np.int64), np.empty(len(points) - 1)
    count = fit_kernels.longest_arcs(points, tolerance, chords, breaks, bulges, np.empty(4))
    return breaks[: count + 1], bulges[:count]


def whole_again(rows: FloatArray, tolerance: float, *, closed: bool) -> FloatArray:
    """Return vertices with lines in a row made one line, and arcs of one circle one arc.

    No vertex left out is farther from what takes its place than the tolerance.
    """
    from cutplan.geometry import fit_kernels

    joined = np.empty_like(rows)
    return joined[: fit_kernels.whole_again(rows, closed, tolerance, joined)]


def whole_circle(points: FloatArray, tolerance: float, *, chords: bool) -> Path | None:
    """Return the circle that all points of a contour lie on, if there is one.

    With `chords` the connections of neighbours must keep within the tolerance too.
    """
    if len(points) < 3:
        return None
    origin = points.mean(axis=0)
    near = points - origin
    # Circle of least squares in its linear form (Kåsa 1976): x² + y² = 2 c · p + rest.
    system = np.column_stack([2.0 * near, np.ones(len(near))])
    solution, _, rank, _ = np.linalg.lstsq(system, np.sum(near * near, axis=1), rcond=None)
    if rank < 3:
        return None
    spokes = near - solution[:2]
    radius = math.sqrt(max(0.0, float(solution[2] + solution[:2] @ solution[:2])))
    tested = np.vstack([spokes, 0.5 * (spokes + np.roll(spokes, -1, axis=0))]) if chords else spokes
    if radius <= tolerance or np.abs(np.hypot(*tested.T) - radius).max() > tolerance:
        return None
    angles = np.arctan2(spokes[:, 1], spokes[:, 0])
    turns = np.mod(np.diff(np.append(angles, angles[0])) + math.pi, math.tau) - math.pi
    if abs(abs(float(turns.sum())) - math.tau) > 1e-6 or not (np.all(turns > 0.0) or np.all(turns < 0.0)):
        return None
    centre = origin + solution[:2]
    return circle(centre.tolist(), radius, clockwise=bool(turns[0] < 0.0), start=float(angles[0]))


def _without_repeats(points: ArrayLike, closed: bool) -> FloatArray:
    """Return points of shape (n, 2) without those that repeat their predecessor."""
    array = np.ascontiguousarray(points, dtype=np.float64)
    if array.ndim != 2 or array.shape[1] != 2 or len(array) < 2:
        raise GeometryError(f"points to fit must have shape (n, 2), n at least 2, got {array.shape}")
    if not np.isfinite(array).all():
        raise GeometryError("points to fit hold a coordinate that is not a finite number")
    step = np.hypot(*(array - np.roll(array, 1, axis=0)).T)
    keep = step > _SAME
    if not closed:
        keep[0] = True
        if not keep[-1]:
            # The last point stays; the one that it repeats goes instead.
            keep[np.flatnonzero(keep)[-1]], keep[-1] = False, True
            keep[0] = True
    kept: FloatArray = array[keep]
    if len(kept) < 2:
        raise GeometryError("the points to fit all lie in one place", place=_place(array))
    return kept


def require_tolerance(tolerance: float) -> None:
    """Raise GeometryError where a tolerance is not above zero."""
    if not tolerance > 0.0:
        raise GeometryError(f"a tolerance must be above zero, got {tolerance}")


def _samples(
    point: Callable[[FloatArray], FloatArray],
    derivative: Callable[[FloatArray], FloatArray],
    t0: float,
    t1: float,
    limit: float,
) -> tuple[FloatArray, FloatArray]:
    """Sample points and unit tangents, so densely that no chord misses the curve by the limit."""
    t = np.linspace(t0, t1, _FIRST_SAMPLES)
    points, slopes = point(t), derivative(t)
    doubtful = np.ones(len(t) - 1, dtype=np.bool_)
    while doubtful.any():
        if len(t) > _MOST_SAMPLES:
            raise GeometryError("a curve is too rough to be cut", place=_place(points))
        at = np.flatnonzero(doubtful)
        middles = 0.5 * (t[at] + t[at + 1])
        between = point(middles)
        missed = _off_chords(between, points[at], points[at + 1]) > limit
        t = np.insert(t, at + 1, middles)
        points = np.insert(points, at + 1, between, axis=0)
        slopes = np.insert(slopes, at + 1, derivative(middles), axis=0)
        halves = at + np.arange(len(at))
        doubtful = np.zeros(len(t) - 1, dtype=np.bool_)
        doubtful[halves], doubtful[halves + 1] = missed, missed
        doubtful |= _leans(points, slopes, limit)
        doubtful &= np.abs(np.diff(t)) > 1e-12 * abs(t1 - t0)
    keep = np.append(True, np.hypot(*np.diff(points, axis=0).T) > _SAME)
    keep[-1] = True
    if keep.sum() < 2 or not np.any(points[keep] != points[0]):
        raise GeometryError("a curve has no length", place=_place(points))
    return np.ascontiguousarray(points[keep]), _ways(points[keep], slopes[keep])


def _off_chords(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Return the distance of each point from the line through its own start and end."""
    chord, reach = end - start, points - start
    length = np.hypot(chord[:, 0], chord[:, 1])
    cross = np.abs(chord[:, 0] * reach[:, 1] - chord[:, 1] * reach[:, 0])
    near = np.hypot(reach[:, 0], reach[:, 1])
    return np.asarray(np.where(length > _SAME, cross / np.maximum(length, _SAME), near))


def _leans(points: FloatArray, slopes: FloatArray, limit: float) -> NDArray[np.bool_]:
    """Return which chords lean so far from the tangents at their ends that the curve may miss them.

    A cubic whose end tangent leans by the sine s strays 4/27 s from a chord of length 1.
    """
    chord = np.diff(points, axis=0)
    off = np.zeros(len(chord))
    for slope in (slopes[:-1], slopes[1:]):
        speed = np.hypot(slope[:, 0], slope[:, 1])
        cross = np.abs(chord[:, 0] * slope[:, 1] - chord[:, 1] * slope[:, 0])
        off = np.maximum(off, np.divide(cross, speed, out=np.zeros_like(cross), where=speed > 0.0))
    return np.asarray(off * (4.0 / 27.0) > limit)


def _ways(points: FloatArray, slopes: FloatArray) -> FloatArray:
    """Return unit tangents; where a curve stands still, the direction between its neighbours."""
    speed = np.hypot(slopes[:, 0], slopes[:, 1])
    still = speed <= 1e-9 * float(speed.max(initial=0.0))
    if still.any():
        slopes = slopes.copy()
        at = np.flatnonzero(still)
        slopes[at] = points[np.minimum(at + 1, len(points) - 1)] - points[np.maximum(at - 1, 0)]
        speed = np.hypot(slopes[:, 0], slopes[:, 1])
    return np.ascontiguousarray(slopes / np.maximum(speed, 1e-300)[:, None])


def _bends(points: FloatArray, ways: FloatArray) -> FloatArray:
    """Return curvatures at samples, by the turn from the one before to the one after."""
    if len(points) < 3:
        return np.zeros(len(points))
    turn = ways[:-2, 0] * ways[2:, 1] - ways[:-2, 1] * ways[2:, 0]
    inner = turn / np.maximum(np.hypot(*(points[2:] - points[:-2]).T), _SAME)
    return np.concatenate([inner[:1], inner, inner[-1:]])


def _place(points: FloatArray) -> tuple[float, float]:
    return float(points[0, 0]), float(points[0, 1])
