"""From a point, or two, to the stretch of edge that is meant by it.

Terminology
-----------
edge : what runs on without a corner along one line or one circle, however many pieces it is drawn in.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from cutplan.drawing.model import Part
from cutplan.geometry import FloatArray, Path, direction_at, length, nearest, vertex_lengths

__all__ = ["FoundEdge", "edge_at", "stretch_between"]

# Pieces whose directions and centres agree to this are one edge, rad and mm.
SAME_WAY, SAME_CENTRE = 1e-3, 0.05


class FoundEdge(NamedTuple):
    """An edge of a part: its hole (None for the outside), its span (None all round), and how far away."""

    hole: int | None
    span: tuple[float, float] | None
    distance: float


def edge_at(part: Part, place: tuple[float, float], *, all_round: bool = False) -> FoundEdge:
    """Return the edge of a part that is nearest to a place.

    Parameters
    ----------
    part : Part
    place : tuple of float
        Drawing coordinates, mm.
    all_round : bool
        The whole of its contour is meant.

    Returns
    -------
    FoundEdge
    """
    hole, path, s, away = _nearest(part, place)
    return FoundEdge(hole, None if all_round else _edge_span(path, s), away)


def stretch_between(
    part: Part, place: tuple[float, float], ends: tuple[tuple[float, float], tuple[float, float]]
) -> FoundEdge:
    """Return the stretch of a contour that runs between two places by way of a third.

    Parameters
    ----------
    part : Part
    place : tuple of float
        On the stretch, drawing coordinates, mm.
    ends : tuple of two places
        On the same contour, in either order.

    Returns
    -------
    FoundEdge
        Its distance is the farthest of the three places from the contour.
    """
    hole, path, s, away = _nearest(part, place)
    apart, at = nearest(path, np.array(ends))
    one, other, whole = float(at[0]), float(at[1]), float(length(path))
    span = (one, other) if (s - one) % whole <= (other - one) % whole else (other, one)
    return FoundEdge(hole, span, max(away, float(np.max(apart))))


def _nearest(part: Part, place: tuple[float, float]) -> tuple[int | None, Path, float, float]:
    """Return the contour nearest to a place, where along it that is, and how far away."""
    found: list[tuple[float, int | None, Path, float]] = []
    contours: list[tuple[int | None, Path]] = [(None, part.outer), *enumerate(part.holes)]
    for hole, path in contours:
        away, s = nearest(path, np.array([place]))
        found.append((float(away[0]), hole, path, float(s[0])))
    away_, hole, path, s_ = min(found, key=lambda each: each[0])
    return hole, path, s_, away_


def _edge_span(path: Path, s: float) -> tuple[float, float] | None:
    """Return from where to where the edge runs that holds a place, None where it is the whole contour."""
    segments, stations = path.segments, vertex_lengths(path)
    count = len(segments)
    k = min(int(np.searchsorted(stations, s, side="right")) - 1, count - 1)
    first = last = k
    while first > k - count + 1 and _one_edge(path, (first - 1) % count, first % count):
        first -= 1
    while last < first + count - 1 and _one_edge(path, last % count, (last + 1) % count):
        last += 1
    if last - first == count - 1 and _one_edge(path, last % count, first % count):
        return None
    return float(stations[first % count]), float(stations[last % count + 1])


def _one_edge(path: Path, one: int, other: int) -> bool:
    """Return whether a segment goes straight on in the next, on the same line or circle."""
    segments, stations = path.segments, vertex_lengths(path)
    if bool(segments.is_arc[one]) != bool(segments.is_arc[other]):
        return False
    if segments.is_arc[one]:
        apart = float(np.hypot(*(segments.centre[one] - segments.centre[other])))
        return apart <= SAME_CENTRE and segments.sweep[one] * segments.sweep[other] > 0.0
    middle = 0.5 * (stations[[one, other]] + stations[[one + 1, other + 1]])
    directions: FloatArray = direction_at(path, middle)
    cross = directions[0, 0] * directions[1, 1] - directions[0, 1] * directions[1, 0]
    return abs(math.atan2(float(cross), float(directions[0] @ directions[1]))) <= SAME_WAY
