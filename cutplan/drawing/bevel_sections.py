"""The finished solid of a part with prepared edges, as sections at depths under the plate's top.

Terminology
-----------
edge : a stretch of a prepared contour without a corner, in the contour's direction: metal on its left.
run-out : a slope goes straight on beyond the ends of its edge, and takes what it meets of the edges
    beside it: nothing at right angles and sharper, a small triangle of the next edge at blunt corners.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.drawing.bevels import faces_of, stretch_of
from cutplan.drawing.model import EdgePreparation, Part
from cutplan.geometry import (
    FloatArray,
    Path,
    chord_points,
    direction_at,
    length,
    point_at,
    subpath,
    to_polygon,
    vertex_lengths,
)

__all__ = ["EdgePoints", "PreparedEdge", "edge_points", "prepared_edges", "section_at"]

# Breaks of direction under this are none, degrees.
KINK_DEG = 0.5
# Chords of sections stay this close to their arcs, mm.
CHORD = 0.005
# How far a run-out goes beyond the end of its edge, in setbacks; at the bluntest corner one is needed.
RUN_OUT = 1.5
# A look at the contour just before and behind a place, mm.
BESIDE = 1e-4


@dataclass(frozen=True, eq=False)
class PreparedEdge:
    """An edge with its preparation, drawing coordinates.

    Attributes
    ----------
    asked : EdgePreparation
    path : Path
        Closed where the whole contour is one edge.
    turns_deg : tuple of float
        How far the contour turns at its start and at its end, positive where the metal is convex.
    """

    asked: EdgePreparation
    path: Path
    turns_deg: tuple[float, float]


def prepared_edges(part: Part, asked: EdgePreparation) -> tuple[PreparedEdge, ...]:
    """Return the edges of a preparation, split at the corners that it runs over.

    Parameters
    ----------
    part : Part
    asked : EdgePreparation

    Returns
    -------
    tuple of PreparedEdge
    """
    contour = part.outer if asked.hole is None else part.holes[asked.hole]
    stretch = stretch_of(part, asked)
    begin = 0.0 if asked.span is None else asked.span[0]
    stations = vertex_lengths(stretch)
    inner = [float(s) for s in stations[1:-1] if abs(_turn_deg(contour, begin + s)) > KINK_DEG]
    if stretch.closed:
        first_turn = _turn_deg(contour, 0.0)
        cuts = [0.0, *inner] if abs(first_turn) > KINK_DEG else inner
        if not cuts:
            return (PreparedEdge(asked, stretch, (0.0, 0.0)),)
        ends = [*cuts, cuts[0] + float(stations[-1])]
    else:
        ends = [0.0, *inner, float(stations[-1])]
    turns = [_turn_deg(contour, begin + s) for s in ends]
    return tuple(
        PreparedEdge(asked, subpath(stretch, ends[k], ends[k + 1]), (turns[k], turns[k + 1]))
        for k in range(len(ends) - 1)
    )


def _turn_deg(contour: Path, s: float) -> float:
    """Return how far a contour turns to the left at a place along it, degrees."""
    (ax, ay), (bx, by) = direction_at(contour, np.array([s - BESIDE, s + BESIDE])).tolist()
    return math.degrees(math.atan2(ax * by - ay * bx, ax * bx + ay * by))


@dataclass(frozen=True, eq=False)
class EdgePoints:
    """Places along an edge, run out straight at its open ends.

    Attributes
    ----------
    points, inward : ndarray, shape (n, 2)
        Places on the nose, mm, and the unit normal into the metal there.
    on_edge : ndarray of bool, shape (n,)
        Whether it lies on the edge itself, not on a run-out.
    """

    points: FloatArray
    inward: FloatArray
    on_edge: NDArray[np.bool_]


def edge_points(path: Path, beyond: float, step: float = math.inf, chord: float = CHORD) -> EdgePoints:
    """Return places along an edge, and beyond its ends where it is open.

    Parameters
    ----------
    path : Path
        Metal on its left.
    beyond : float
        How far it is run out, mm.
    step : float
        From one place to the next at most, mm.
    chord : float
        How far the chords between the places may stray from an arc, mm.

    Returns
    -------
    EdgePoints
    """
    found: list[float] = []
    stations, segments = vertex_lengths(path), path.segments
    for k in range(len(path)):
        radius, sweep = float(segments.radius[k]), abs(float(segments.sweep[k]))
        count = max(1, math.ceil(float(segments.length[k]) / step))
        if sweep:
            count = max(count, math.ceil(sweep / (2.0 * math.acos(max(1.0 - chord / radius, 0.0)))))
        # Each segment has its own ends: a kink is seen from both sides.
        found += np.linspace(stations[k] + BESIDE, stations[k + 1] - BESIDE, count + 1).tolist()
    s = np.array(found)
    where = point_at(path, s)
    tangent = direction_at(path, s)
    on_edge = np.ones(len(s), dtype=np.bool_)
    if not path.closed and beyond > 0.0:
        where = np.vstack([where[0] - beyond * tangent[0], where, where[-1] + beyond * tangent[-1]])
        tangent = np.vstack([tangent[:1], tangent, tangent[-1:]])
        on_edge = np.concatenate([[False], on_edge, [False]])
    return EdgePoints(where, np.column_stack([-tangent[:, 1], tangent[:, 0]]), on_edge)


def section_at(part: Part, depth: float, thickness: float) -> Any:
    """Return the section of a finished part at a depth under the plate's top.

    Parameters
    ----------
    part : Part
    depth : float
        mm, 0 at the top.
    thickness : float
        mm.

    Returns
    -------
    shapely Polygon or MultiPolygon
        Drawing coordinates.
    """
    whole = to_polygon(part.outer, part.holes, tolerance=CHORD)
    strips = list(_strips(part, depth, thickness))
    return shapely.difference(whole, shapely.union_all(strips)) if strips else whole


def _strips(part: Part, depth: float, thickness: float) -> Iterator[Any]:
    """Yield what the slopes take away of the outline at a depth."""
    for asked in part.bevelled_here:
        faces = faces_of(asked, thickness)
        setback = faces.setback_at(depth, thickness)
        if setback <= 0.0:
            continue
        for edge in prepared_edges(part, asked):
            if edge.path.closed:
                ring = shapely.Polygon(chord_points(edge.path, CHORD))
                inner = shapely.Polygon(_moved(edge.path, setback))
                yield shapely.symmetric_difference(ring, inner)
                continue
            places = edge_points(edge.path, RUN_OUT * setback + float(length(edge.path)) * 1e-6)
            outer = places.points - 0.5 * places.inward
            yield shapely.Polygon([*outer, *(places.points + setback * places.inward)[::-1]]).buffer(0)


def _moved(path: Path, setback: float) -> FloatArray:
    places = edge_points(path, 0.0)
    return np.asarray(places.points + setback * places.inward)
