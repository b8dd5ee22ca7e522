"""Arcs from curves, points and chords: fewest segments within a stated tolerance.

Curves become tangent-continuous biarcs (Meek and Walton 1992, "Approximation of discrete data
by G1 arc splines"), each as long as the tolerance lets it be.  Points become the longest arcs
through their ends that keep every point within the tolerance (a greedy form of Maier 2014,
"Optimal arc spline approximation").
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cutplan.errors import GeometryError
from cutplan.geometry.path import FloatArray, Path, circle

__all__ = ["fit_arcs", "fit_curve", "recover_arcs"]

MOST_SAMPLES = 16_385
FIRST_SAMPLES = 65
STRAIGHT = 1e-9
"""Sweep below which an arc is written as a line, rad."""
WIDEST_SWEEP = 2.6
"""Widest arc of a fit, rad: a wider one cannot be told from its rest by the ends."""

CHORD_TURN = math.radians(20.0)
"""Turns above this are corners: a circle of fewer than 18 chords is taken as a polygon."""
CHORD_SAGITTA = 0.5
"""Chords that stand off their arc by more than this, mm, are taken as drawn edges."""
CHORD_RATIO = 3.0
"""Neighbouring chords of one export differ in length by less than this."""
LEAST_CHORDS = 4


def fit_curve(
    point: Callable[[FloatArray], FloatArray],
    derivative: Callable[[FloatArray], FloatArray],
    t0: float,
    t1: float,
    tolerance: float,
) -> Path:
    """Return a smooth curve as tangent-continuous lines and arcs.

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
        If the curve stands still or is too rough for the tolerance.
    """
    points, tangents = _samples(point, derivative, t0, t1, tolerance)
    rows: list[FloatArray] = []
    first, last = 0, len(points) - 1
    reach = last
    while first < last:
        reach = min(last - first, max(1, reach))
        step = _longest(first, last, reach, lambda i, j: _biarc_fits(points, tangents, i, j, tolerance))
        joint, bulges = _biarc(points[first], tangents[first], points[first + step], tangents[first + step])
        rows.append(np.array([*points[first], bulges[0]]))
        rows.append(np.array([*joint, bulges[1]]))
        first += step
        reach = 2 * step
    rows.append(np.array([*points[last], 0.0]))
    return Path(_without_empty(np.array(rows)), closed=False)


def _samples(
    point: Callable[[FloatArray], FloatArray],
    derivative: Callable[[FloatArray], FloatArray],
    t0: float,
    t1: float,
    tolerance: float,
) -> tuple[FloatArray, FloatArray]:
    """Sample a curve so densely that its chords stray less than a tenth of the tolerance."""
    count = FIRST_SAMPLES
    points = point(np.linspace(t0, t1, count))
    while True:
        finer = point(np.linspace(t0, t1, 2 * count - 1))
        sagitta = np.hypot(*(finer[1::2] - 0.5 * (finer[:-1:2] + finer[2::2])).T)
        points, count = finer, 2 * count - 1
        if sagitta.max() < 0.1 * tolerance or count >= MOST_SAMPLES:
            break
    # The sampling may not hide a turn of more than half a right angle between neighbours.
    parameters = np.linspace(t0, t1, count)
    slopes = derivative(parameters)
    speed = np.hypot(slopes[:, 0], slopes[:, 1])
    still = speed < 1e-12 * max(1.0, float(speed.max()))
    if still.all():
        raise GeometryError("a curve has no length", place=(float(points[0, 0]), float(points[0, 1])))
    if still.any():
        slopes = _chord_slopes(points, slopes, still)
        speed = np.hypot(slopes[:, 0], slopes[:, 1])
    return points, slopes / speed[:, None]


def _chord_slopes(points: FloatArray, slopes: FloatArray, still: NDArray[np.bool_]) -> FloatArray:
    """Take the chord's direction where a curve's derivative vanishes."""
    mended = slopes.copy()
    for i in map(int, np.flatnonzero(still)):
        low, high = max(0, i - 1), min(len(points) - 1, i + 1)
        mended[i] = points[high] - points[low]
        if not np.any(mended[i]):
            raise GeometryError("a curve stands still", place=(float(points[i, 0]), float(points[i, 1])))
    return mended


def _longest(first: int, last: int, guess: int, fits: Callable[[int, int], bool]) -> int:
    """Return the longest step from `first` that fits: galloping, then halving."""
    good, bad = 1, last - first + 1
    step = min(guess, last - first)
    while good < bad - 1:
        if fits(first, first + step):
            good = step
            step = min(2 * step, (good + bad) // 2) if bad <= last - first else min(2 * step, last - first)
            if good == last - first:
                return good
            step = max(step, good + 1)
            if bad <= last - first:
                step = (good + bad) // 2
        else:
            bad = step
            step = (good + bad) // 2
    return good


def _biarc(
    start: FloatArray, start_way: FloatArray, end: FloatArray, end_way: FloatArray
) -> tuple[FloatArray, tuple[float, float]]:
    """Return the joint and the two bulges of the biarc with equal tangent lengths."""
    chord = end - start
    total = start_way + end_way
    square = float(chord @ chord)
    along = float(chord @ total)
    denominator = 2.0 * (1.0 - float(start_way @ end_way))
    if denominator < 1e-12:
        reach = square / (2.0 * along) if along > 0.0 else math.sqrt(square)
    else:
        reach = (-along + math.sqrt(along * along + denominator * square)) / denominator
    joint = 0.5 * (start + end + reach * (start_way - end_way))
    return joint, (_bulge_from(start_way, joint - start), -_bulge_from(end_way, end - joint))


def _bulge_from(way: FloatArray, chord: FloatArray) -> float:
    """Return the bulge of the arc that leaves along `way` and spans the chord."""
    cross = way[0] * chord[1] - way[1] * chord[0]
    half_sweep = math.atan2(float(cross), float(way @ chord))
    return math.tan(half_sweep / 2.0) if abs(half_sweep) > STRAIGHT / 2.0 else 0.0


def _biarc_fits(points: FloatArray, tangents: FloatArray, i: int, j: int, tolerance: float) -> bool:
    joint, (first, second) = _biarc(points[i], tangents[i], points[j], tangents[j])
    widest = math.tan(WIDEST_SWEEP / 4.0)
    if abs(first) > widest or abs(second) > widest:
        return False
    inner = points[i + 1 : j]
    if len(inner) == 0:
        return True
    # The joint's tangent parts the samples of the first arc from those of the second.
    chord = joint - points[i]
    angle = 2.0 * math.atan(first)
    c, s = math.cos(angle), math.sin(angle)
    way = np.array([c * chord[0] - s * chord[1], s * chord[0] + c * chord[1]])
    before = (inner - joint) @ way <= 0.0
    off_first = _off_arc(inner[before], points[i], joint, first)
    off_second = _off_arc(inner[~before], joint, points[j], second)
    return bool(off_first <= tolerance and off_second <= tolerance)


def _off_arc(points: FloatArray, start: FloatArray, end: FloatArray, bulge: float) -> float:
    """Return how far points stray from the circle or line of an arc at most."""
    if len(points) == 0:
        return 0.0
    chord = end - start
    length = float(np.hypot(chord[0], chord[1]))
    if length < 1e-12:
        return float(np.hypot(*(points - start).T).max())
    normal = np.array([-chord[1], chord[0]])
    if abs(bulge) < STRAIGHT:
        return float(np.abs((points - start) @ normal).max()) / length
    centre = 0.5 * (start + end) + normal * (1.0 - bulge * bulge) / (4.0 * bulge)
    radius = length * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    return float(np.abs(np.hypot(*(points - centre).T) - radius).max())


def fit_arcs(points: ArrayLike, tolerance: float, *, closed: bool = False) -> Path:
    """Return the fewest lines and arcs that a greedy walk finds through points.

    Parameters
    ----------
    points : array_like, shape (n, 2)
        At least two, mm; the first and, for an open path, the last are kept exactly.
    tolerance : float
        Greatest distance of a point from the path, mm.
    closed : bool
        Whether the last point is joined to the first.
    """
    array = np.asarray(points, dtype=np.float64)
    if array.ndim != 2 or array.shape[1] != 2 or len(array) < 2:
        raise GeometryError(f"points to fit must have shape (n, 2), n at least 2, got {array.shape}")
    if closed:
        whole = _whole_circle(array, tolerance)
        if whole is not None:
            return whole
        array = np.vstack([array, array[:1]])
    rows = _arc_rows(array, tolerance)
    return Path(rows[:-1] if closed else rows, closed=closed)


def _arc_rows(points: FloatArray, tolerance: float) -> FloatArray:
    rows: list[list[float]] = []
    first, last = 0, len(points) - 1
    reach = 8
    while first < last:
        step = _longest(
            first,
            last,
            min(last - first, max(reach, 1)),
            lambda i, j: _run_bulge(points, i, j, tolerance) is not None,
        )
        bulge = _run_bulge(points, first, first + step, tolerance)
        rows.append([*points[first], bulge or 0.0])
        first += step
        reach = 2 * step
    rows.append([*points[last], 0.0])
    return np.array(rows)


def _run_bulge(points: FloatArray, i: int, j: int, tolerance: float) -> float | None:
    """Return the bulge of the arc through points i and j that keeps those between, if any does."""
    inner = points[i + 1 : j] - points[i]
    if len(inner) == 0:
        return 0.0
    chord = points[j] - points[i]
    length = float(np.hypot(chord[0], chord[1]))
    if length < 1e-12:
        return None
    way = chord / length
    x, y = inner @ way, inner @ np.array([-way[1], way[0]])
    if np.any(np.diff(np.concatenate([[0.0], x, [length]])) <= 0.0):
        return None
    if np.abs(y).max() <= 0.2 * tolerance:
        return 0.0
    # Circles through both ends: x² − Lx + y² = 2ky; least squares in k.
    k = float(np.sum(y * (x * x - length * x + y * y)) / (2.0 * np.sum(y * y)))
    radius = math.hypot(length / 2.0, k)
    side = 1.0 if float(np.sum(y)) > 0.0 else -1.0
    sagitta = radius + k * side
    if sagitta > 0.9 * length:
        return None
    bulge = -side * 2.0 * sagitta / length
    if _off_arc(points[i + 1 : j], points[i], points[j], bulge) <= tolerance:
        return bulge
    return 0.0 if np.abs(y).max() <= tolerance else None


def _whole_circle(points: FloatArray, tolerance: float) -> Path | None:
    """Return the circle that all points lie on, if they do."""
    if len(points) < 3:
        return None
    system = np.column_stack([2.0 * points, np.ones(len(points))])
    solution, _, rank, _ = np.linalg.lstsq(system, np.sum(points * points, axis=1), rcond=None)
    if rank < 3:
        return None
    centre = solution[:2]
    radius = math.sqrt(max(0.0, float(solution[2] + centre @ centre)))
    reach = points - centre
    if radius <= tolerance or np.abs(np.hypot(*reach.T) - radius).max() > tolerance:
        return None
    angles = np.arctan2(reach[:, 1], reach[:, 0])
    turns = np.mod(np.diff(np.append(angles, angles[0])) + math.pi, math.tau) - math.pi
    if abs(abs(float(turns.sum())) - math.tau) > 1e-6 or not (np.all(turns > 0) or np.all(turns < 0)):
        return None
    return circle(centre, radius, clockwise=bool(turns[0] < 0), start=float(angles[0]))


def recover_arcs(path: Path, tolerance: float) -> Path:
    """Return a path with chorded arcs, split arcs and collinear runs made whole again.

    A run of lines counts as chords where its turns are small and equal in sense, its lengths
    alike and its arc near: polygons of up to 17 corners stay polygons, and so do edges that
    stand off their arc by more than `CHORD_SAGITTA`.

    Parameters
    ----------
    path : Path
    tolerance : float
        How far vertices may lie from the arc that takes their place, mm.
    """
    vertices = _merged(np.array(path.vertices), path.closed, tolerance)
    if len(vertices) < LEAST_CHORDS + 1:
        return Path(vertices, closed=path.closed)
    chordal = _chordal(vertices, path.closed)
    if path.closed and chordal.all():
        return fit_arcs(vertices[:, :2], tolerance, closed=True)
    if not chordal.any():
        return Path(vertices, closed=path.closed)
    if path.closed:
        # Begin behind a corner, so that no run passes the first vertex.
        vertices = np.roll(vertices, -int(np.flatnonzero(~chordal)[0]), axis=0)
        chordal = _chordal(vertices, True)
        vertices = np.vstack([vertices, [[*vertices[0, :2], 0.0]]])
        chordal = np.append(chordal, False)
    rows = _with_runs_fitted(vertices, chordal, tolerance)
    return Path(_merged(rows[:-1] if path.closed else rows, path.closed, tolerance), closed=path.closed)


def _chordal(vertices: FloatArray, closed: bool) -> NDArray[np.bool_]:
    """Tell the vertices where two chords of one arc seem to meet."""
    points, bulges = vertices[:, :2], vertices[:, 2]
    after = np.roll(points, -1, axis=0) - points
    before = np.roll(after, 1, axis=0)
    long_after, long_before = np.hypot(*after.T), np.hypot(*before.T)
    turn = np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], np.sum(before * after, axis=1))
    straight = (bulges == 0.0) & (np.roll(bulges, 1) == 0.0)
    longer, shorter = np.maximum(long_after, long_before), np.minimum(long_after, long_before)
    sagitta = 0.25 * longer * np.abs(np.tan(turn / 2.0))
    small = (np.abs(turn) < CHORD_TURN) & (np.abs(turn) > 1e-7) & (sagitta < CHORD_SAGITTA)
    chordal = straight & small & (longer < CHORD_RATIO * shorter)
    if not closed:
        chordal[[0, -1]] = False
    return np.asarray(chordal)


def _with_runs_fitted(vertices: FloatArray, chordal: NDArray[np.bool_], tolerance: float) -> FloatArray:
    rows: list[FloatArray] = []
    i = 0
    while i < len(vertices):
        end = i + 1
        while end < len(vertices) and chordal[end]:
            end += 1
        # Chords reach from vertex i to vertex `end`, through the chordal ones between.
        if end < len(vertices) and end - i >= LEAST_CHORDS:
            fitted = _arc_rows(vertices[i : end + 1, :2], tolerance)
            rows.append(fitted[:-1] if 2 * (len(fitted) - 1) <= end - i else vertices[i:end])
            i = end
        else:
            rows.append(vertices[i : i + 1])
            i += 1
    return np.vstack(rows)


def _merged(vertices: FloatArray, closed: bool, tolerance: float) -> FloatArray:
    """Join collinear lines, and neighbouring arcs of one circle, into one segment each."""
    rows = [row.copy() for row in _without_empty(vertices, closed)]
    i, checked = 0, 0
    least = 3 if closed else 2
    while checked < len(rows) and len(rows) > least:
        last = len(rows) - 1
        if not closed and i >= last - 1:
            break
        a, b, c = rows[i % len(rows)], rows[(i + 1) % len(rows)], rows[(i + 2) % len(rows)]
        bulge = _joined_bulge(a, b, c, tolerance)
        if bulge is None:
            i += 1
            checked += 1
        else:
            rows[i % len(rows)][2] = bulge
            del rows[(i + 1) % len(rows)]
            i, checked = max(0, i - 1), max(0, checked - 1)
    return np.array(rows)


def _joined_bulge(a: FloatArray, b: FloatArray, c: FloatArray, tolerance: float) -> float | None:
    """Return the bulge of one segment from a to c in place of two by b, None if it takes two."""
    chord = c[:2] - a[:2]
    length = float(np.hypot(chord[0], chord[1]))
    if length < 1e-9:
        return None
    if a[2] == 0.0 and b[2] == 0.0:
        step = b[:2] - a[:2]
        off = abs(chord[0] * step[1] - chord[1] * step[0]) / length
        # Far tighter than the tolerance: what drifts by little each time drifts far in the end.
        ahead = 0.0 < float(step @ chord) < length * length
        return 0.0 if ahead and off < 1e-3 * tolerance else None
    if a[2] * b[2] <= 0.0:
        return None
    sweep = 4.0 * (math.atan(a[2]) + math.atan(b[2]))
    if abs(sweep) > math.pi:
        return None
    (first, first_radius), (second, second_radius) = _circle_of(a, b), _circle_of(b, c)
    if np.hypot(*(first - second)) > 0.1 * tolerance or abs(first_radius - second_radius) > 0.1 * tolerance:
        return None
    return math.tan(sweep / 4.0)


def _circle_of(a: FloatArray, b: FloatArray) -> tuple[FloatArray, float]:
    chord = b[:2] - a[:2]
    normal = np.array([-chord[1], chord[0]])
    centre = 0.5 * (a[:2] + b[:2]) + normal * (1.0 - a[2] * a[2]) / (4.0 * a[2])
    return centre, float(np.hypot(*(a[:2] - centre)))


def _without_empty(vertices: FloatArray, closed: bool = False) -> FloatArray:
    """Drop vertices whose segment has no length; the last of an open path stays."""
    following = np.roll(vertices[:, :2], -1, axis=0)
    keep = np.hypot(*(following - vertices[:, :2]).T) > 1e-12
    if not closed:
        keep[-1] = True
    kept: FloatArray = vertices[keep]
    return kept
