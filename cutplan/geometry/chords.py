"""Chorded views of contours, for set operations and drawing; never a source of coordinates.

A view states which side it errs on.  ``"on"`` puts all its points on the path, so that it
cuts convex arcs short and fills concave ones.  ``"outside"`` encloses the whole region of a
closed path and ``"inside"`` stays within it, both by no more than the tolerance.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.base.errors import GeometryError
from cutplan.geometry.measures import arc_middles, is_counter_clockwise
from cutplan.geometry.path import FloatArray, Path, Segments

__all__ = ["Side", "chord_points", "chords_of_many", "to_polygon"]

Side = Literal["on", "inside", "outside"]

# No chord spans more than this, rad, so that the coarsest view of a circle is a square.
_WIDEST_CHORD = 0.5 * np.pi
# Corners of circumscribed chords are moved out by this share of the radius, which is more
# than rounding takes back.
_MARGIN = 1e-12
# A view of a sound contour crosses itself only where the tolerance exceeds its clearances.
_REFINEMENTS = 8


def chord_points(path: Path, tolerance: float, side: Side = "on") -> FloatArray:
    """Return points whose straight connections follow a path within a tolerance.

    Parameters
    ----------
    path : Path
    tolerance : float
        Greatest distance between an arc and its chords, mm.
    side : {"on", "inside", "outside"}
        Side that the chords of a closed path err on (see the module's docstring).

    Returns
    -------
    ndarray, shape (n, 2)
        The path's vertices are among them.  A closed path's first point is not repeated.

    Notes
    -----
    Where two stretches of a contour come within the tolerance of each other, their chords
    may cross; `to_polygon` refines until they do not.

    Raises
    ------
    GeometryError
        If the tolerance is not above zero, or an open path is asked for a side.
    """
    if not tolerance > 0.0:
        raise GeometryError(f"a chord tolerance must be above zero, got {tolerance}")
    segments = path.segments
    around = np.zeros(len(segments), dtype=np.bool_)
    if side != "on":
        if not path.closed:
            raise GeometryError("only a closed path has an inside and an outside")
        bulges_out = (segments.bulge > 0.0) == is_counter_clockwise(path)
        around = segments.is_arc & (bulges_out == (side == "outside"))
    points = _chorded(segments, tolerance, around)
    return points if path.closed else np.vstack([points, path.end])


def chords_of_many(paths: FloatArray, tolerance: float) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return the chords of many open paths of as many vertices each, at once.

    Parameters
    ----------
    paths : float64, shape (n, k, 3)
        x, y in mm and bulge of the k vertices of each path; n ≥ 1, k ≥ 2.
    tolerance : float
        Greatest distance between an arc and its chords, mm.

    Returns
    -------
    points : float64, shape (m, 2)
        As `chord_points` returns them, path after path.
    owner : int64, shape (m,)
        Number of each point's path, growing.

    Raises
    ------
    GeometryError
        If the tolerance is not above zero.
    """
    if not tolerance > 0.0:
        raise GeometryError(f"a chord tolerance must be above zero, got {tolerance}")
    n, k, _ = paths.shape
    rows = paths.copy()
    rows[:, -1, 2] = 0.0
    # One path through all of them: the lines from each to the next give its last point.
    segments = Path(rows.reshape(-1, 3), closed=False).segments
    on = np.zeros(len(segments), dtype=np.bool_)
    counts = [*_chord_counts(segments, tolerance, on), 1]
    points = np.vstack([_chorded(segments, tolerance, on), rows[-1:, -1, :2]])
    return points, np.repeat(np.arange(n * k) // k, counts).astype(np.int64)


def to_polygon(
    outer: Path, holes: Iterable[Path] = (), *, tolerance: float, side: Side = "on"
) -> shapely.Polygon:
    """Return a chorded view of a part or plate as a shapely polygon.

    Parameters
    ----------
    outer : Path
        Closed contour, either direction.
    holes : iterable of Path
        Closed contours within it, either direction.
    tolerance : float
        Greatest distance between an arc and its chords, mm.
    side : {"on", "inside", "outside"}
        "outside" never understates the metal, "inside" never overstates it; holes err the
        other way round than the outer contour, so that this is true of the whole.

    Returns
    -------
    shapely.Polygon
        A view for collision and proof, never a source of coordinates.

    Raises
    ------
    GeometryError
        If a contour crosses itself, or a hole the outer contour.
    """
    opposite: dict[Side, Side] = {"on": "on", "inside": "outside", "outside": "inside"}
    hole_list = list(holes)
    step = tolerance
    for _ in range(_REFINEMENTS):
        view = shapely.Polygon(
            chord_points(outer, step, side), [chord_points(hole, step, opposite[side]) for hole in hole_list]
        )
        if view.is_valid:
            return view
        step *= 0.25
    place = shapely.is_valid_reason(view)
    raise GeometryError(f"a contour crosses or touches itself or one of its holes ({place})")


def _chorded(segments: Segments, tolerance: float, around: NDArray[np.bool_]) -> FloatArray:
    """Segment starts and the points between them; `around` marks arcs to circumscribe."""
    count = _chord_counts(segments, tolerance, around)
    inner = np.where(around, count, count - 1)
    total = inner + 1
    owner = np.repeat(np.arange(len(segments)), total)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(total) - total, total)
    points = np.array(segments.start[owner])
    rows = np.flatnonzero(place > 0)
    if len(rows) == 0:
        return points
    arc = owner[rows]
    step = segments.sweep[arc] / count[arc]
    angle = (place[rows] - 0.5 * around[arc]) * step - 0.5 * segments.sweep[arc]
    reach = np.where(around[arc], (1.0 + _MARGIN) / np.cos(0.5 * step), 1.0) * segments.radius[arc]
    middle, _ = arc_middles(segments)
    c, s = np.cos(angle), np.sin(angle)
    x, y = middle[arc, 0], middle[arc, 1]
    points[rows] = segments.centre[arc] + reach[:, None] * np.column_stack([c * x - s * y, s * x + c * y])
    return points


def _chord_counts(segments: Segments, tolerance: float, around: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return how many equal chords each segment takes."""
    count = np.ones(len(segments), dtype=np.int64)
    arcs = np.flatnonzero(segments.is_arc)
    radius = segments.radius[arcs]
    # 1 − cos of half a chord's angle: r (1 − cos) inside the arc, r (1 / cos − 1) outside it.
    sagitta = np.where(around[arcs], tolerance / (radius + tolerance), np.minimum(tolerance / radius, 1.0))
    widest = 4.0 * np.arcsin(np.sqrt(0.5 * sagitta))
    widest = np.clip(widest, 1e-9, _WIDEST_CHORD)
    count[arcs] = np.maximum(1, np.ceil(np.abs(segments.sweep[arcs]) / widest - 1e-9)).astype(np.int64)
    return count
