"""Leads as rows of numbers: each a single line or arc, many handled at once.

Terminology
-----------
segment : the two vertices of an open path of one segment, rows of x, y and bulge as in `Path`;
    shape (2, 3), the second bulge 0.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np

from cutplan.cutting.stations import Station
from cutplan.geometry import FloatArray

__all__ = ["arc_in", "arc_out", "points_along", "segment_lengths", "straight", "straight_in"]


def straight(start: FloatArray, end: FloatArray) -> FloatArray:
    """Return the segment of a line."""
    return np.array([[start[0], start[1], 0.0], [end[0], end[1], 0.0]])


def straight_in(station: Station, depth: float, long: float) -> FloatArray:
    """Return a straight approach from `depth` in the scrap, coming along with the travel."""
    along = math.sqrt(max(long * long - depth * depth, 0.0))
    return straight(station.point - along * station.tangent + depth * station.scrap, station.point)


def arc_in(station: Station, depth: float, long: float) -> FloatArray:
    """Return a tangential arc from `depth` in the scrap: a quarter, or as shallow as `long` makes it."""
    far, bulge = _tangential(station, depth, long, -1.0)
    return np.array([[far[0], far[1], bulge], [station.point[0], station.point[1], 0.0]])


def arc_out(station: Station, depth: float, long: float) -> FloatArray:
    """Return a tangential arc that leaves the contour, shaped as `arc_in`."""
    far, bulge = _tangential(station, depth, long, 1.0)
    return np.array([[station.point[0], station.point[1], bulge], [far[0], far[1], 0.0]])


def _tangential(station: Station, depth: float, long: float, sense: float) -> tuple[FloatArray, float]:
    """Return the far end and the bulge of an arc tangent to the contour; `sense` −1 for arriving ones."""
    angle = _arc_angle(depth / long)
    radius = depth / (1.0 - math.cos(angle))
    far = station.point + sense * radius * math.sin(angle) * station.tangent + depth * station.scrap
    return far, math.tan(0.25 * angle) * (1.0 if station.scrap_left else -1.0)


@lru_cache(maxsize=256)
def _arc_angle(ratio: float) -> float:
    """Return the sweep, at most a quarter turn, whose depth is `ratio` of its length."""
    if ratio >= 2.0 / math.pi:
        return 0.5 * math.pi
    angle = 2.0 * ratio
    for _ in range(20):
        # Newton on (1 − cos ψ) / ψ = ratio.
        value = (1.0 - math.cos(angle)) / angle - ratio
        angle -= value * angle * angle / (angle * math.sin(angle) - (1.0 - math.cos(angle)))
    return angle


def segment_lengths(segments: FloatArray) -> FloatArray:
    """Return the lengths of segments of shape (n, 2, 3), mm, shape (n,)."""
    chord = segments[:, 1, :2] - segments[:, 0, :2]
    half = 2.0 * np.arctan(segments[:, 0, 2])
    return np.asarray(np.hypot(chord[:, 0], chord[:, 1]) / np.sinc(half / np.pi))


def points_along(segments: FloatArray, count: int) -> FloatArray:
    """Return evenly spaced points along segments of shape (n, 2, 3), ends included, shape (n, count, 2)."""
    fraction = np.linspace(0.0, 1.0, count)[None, :]
    start = segments[:, 0, :2]
    chord = segments[:, 1, :2] - start
    half = 2.0 * np.arctan(segments[:, 0, 2])[:, None]
    # From the start the chord is sin(fθ/2) / sin(θ/2) of the whole, turned by (f − 1)·θ/2.
    ratio = fraction * np.sinc(fraction * half / np.pi) / np.sinc(half / np.pi)
    turn = (fraction - 1.0) * half
    c, s = ratio * np.cos(turn), ratio * np.sin(turn)
    x, y = chord[:, :1], chord[:, 1:]
    return np.asarray(start[:, None, :] + np.stack([c * x - s * y, s * x + c * y], axis=2))
