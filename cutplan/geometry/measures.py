"""Length, area, centroid, bounds and direction of paths, exact with arcs."""

from __future__ import annotations

import numpy as np

from cutplan.base.errors import GeometryError
from cutplan.geometry.path import FloatArray, Path, Segments, reverse

__all__ = ["area", "bounds", "centroid", "is_counter_clockwise", "length", "oriented", "require_closed"]

# Under this sweep, rad, the series of θ − sin θ is more accurate than the difference.
_SMALL_SWEEP = 0.1


def require_closed(path: Path, purpose: str) -> None:
    """Raise GeometryError where a path is open; `purpose` names what needs a contour."""
    if not path.closed:
        raise GeometryError(
            f"{purpose} needs a closed contour, got an open path that ends",
            place=(float(path.end[0]), float(path.end[1])),
        )


def length(path: Path) -> float:
    """Return the length of a path, mm.

    Parameters
    ----------
    path : Path

    Returns
    -------
    float
        mm.
    """
    return float(path.segments.length.sum())


def area(path: Path) -> float:
    """Return the area a closed path encloses, mm²; positive where it runs counter-clockwise.

    Parameters
    ----------
    path : Path

    Returns
    -------
    float
        mm².

    Raises
    ------
    GeometryError
        If the path is open.
    """
    require_closed(path, "an area")
    # Near the path the products below lose no digits to a far origin.
    origin = path.points[0]
    start, end = path.segments.start - origin, path.segments.end - origin
    chords = 0.5 * (start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1])
    return float(chords.sum() + _cap_areas(path.segments).sum())


def is_counter_clockwise(path: Path) -> bool:
    """Return whether a closed path runs counter-clockwise.

    Parameters
    ----------
    path : Path

    Returns
    -------
    bool
    """
    return area(path) > 0.0


def oriented(path: Path, counter_clockwise: bool = True) -> Path:
    """Return a closed path in the direction asked for, reversed where it runs the other way.

    Parameters
    ----------
    path : Path
    counter_clockwise : bool, optional
        Direction asked for.

    Returns
    -------
    Path
    """
    return path if is_counter_clockwise(path) == counter_clockwise else reverse(path)


def centroid(path: Path) -> FloatArray:
    """Return the centroid, shape (2,), mm: of the area enclosed, or of an open path's length.

    Parameters
    ----------
    path : Path

    Returns
    -------
    ndarray, shape (2,)
        mm.

    Raises
    ------
    GeometryError
        If a closed path encloses no area.
    """
    return _area_centroid(path) if path.closed else _length_centroid(path)


def bounds(path: Path) -> tuple[float, float, float, float]:
    """Return xmin, ymin, xmax, ymax of a path, mm, exact with arcs.

    Parameters
    ----------
    path : Path

    Returns
    -------
    tuple of float
        xmin, ymin, xmax, ymax, mm.
    """
    low, high = path.points.min(axis=0), path.points.max(axis=0)
    segments = path.segments
    arcs = segments.is_arc
    if arcs.any():
        centre, radius = segments.centre[arcs], segments.radius[arcs]
        middle, cos_half = arc_middles(segments)
        for axis in (0, 1):
            reach = middle[arcs, axis]
            top, bottom = reach > cos_half[arcs], -reach > cos_half[arcs]
            high[axis] = max(high[axis], np.max(centre[top, axis] + radius[top], initial=-np.inf))
            low[axis] = min(low[axis], np.min(centre[bottom, axis] - radius[bottom], initial=np.inf))
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def arc_middles(segments: Segments) -> tuple[FloatArray, FloatArray]:
    """Return unit vectors from arc centres to arc middles, and cosines of half the sweep.

    A direction u lies within an arc where u · middle ≥ cosine.  Rows of lines hold zeros
    and ones.
    """
    chord = segments.end - segments.start
    size = np.hypot(chord[:, 0], chord[:, 1])
    unit = np.divide(chord, size[:, None], out=np.zeros_like(chord), where=size[:, None] > 0.0)
    # Left of the chord for clockwise arcs, right of it for counter-clockwise ones.
    sign = np.sign(segments.bulge)
    middle = np.column_stack([unit[:, 1] * sign, -unit[:, 0] * sign])
    square = segments.bulge**2
    return middle, (1.0 - square) / (1.0 + square)


def _cap_areas(segments: Segments) -> FloatArray:
    """Signed areas between each arc and its chord; 0 for lines."""
    sweep = segments.sweep
    square = sweep * sweep
    series = sweep * square / 6.0 * (1.0 - square / 20.0 * (1.0 - square / 42.0 * (1.0 - square / 72.0)))
    excess = np.where(np.abs(sweep) < _SMALL_SWEEP, series, sweep - np.sin(sweep))
    radius = np.where(segments.is_arc, segments.radius, 0.0)
    return np.asarray(0.5 * radius * radius * excess)


def _area_centroid(path: Path) -> FloatArray:
    total = area(path)
    if total == 0.0:
        raise GeometryError("a contour without area has no centroid", place=tuple(path.start.tolist()))
    origin = path.points[0]
    segments = path.segments
    start, end = segments.start - origin, segments.end - origin
    cross = start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1]
    moment = ((start + end) * cross[:, None]).sum(axis=0) / 6.0
    arcs = segments.is_arc
    if arcs.any():
        middle, _ = arc_middles(segments)
        caps = _cap_areas(segments)[arcs]
        # First moment of a cap about its arc's centre: ⅔ r³ sin³(θ/2) towards its middle.
        reach = 2.0 / 3.0 * (segments.radius[arcs] * np.sin(0.5 * segments.sweep[arcs])) ** 3
        moment = moment + (caps[:, None] * (segments.centre[arcs] - origin)).sum(axis=0)
        moment = moment + (reach[:, None] * middle[arcs]).sum(axis=0)
    return np.asarray(origin + moment / total)


def _length_centroid(path: Path) -> FloatArray:
    segments = path.segments
    middles = 0.5 * (segments.start + segments.end)
    arcs = segments.is_arc
    if arcs.any():
        middle, _ = arc_middles(segments)
        half = 0.5 * np.abs(segments.sweep[arcs])
        reach = segments.radius[arcs] * np.sin(half) / half
        middles = middles.copy()
        middles[arcs] = segments.centre[arcs] + reach[:, None] * middle[arcs]
    total = segments.length.sum()
    if total == 0.0:
        return np.array(path.start)
    return np.asarray((segments.length[:, None] * middles).sum(axis=0) / total)
