"""What congruence is judged by: measures and landmarks of many parts, taken all at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.drawing.edges import Edges, edges_of
from cutplan.drawing.model import Part
from cutplan.geometry import FloatArray

__all__ = ["Shape", "shapes_of"]

# Turns below this, rad, and curvatures that agree within this share, make no corner.
SMOOTH = 1e-3
# Arcs whose centres and radii agree to this, mm, are one circle.
ROUND = 1e-6


@dataclass(frozen=True)
class Shape:
    """A part with what congruence is judged by.

    `measures` are metal area, length of all contours and their number, `middles` the centroids
    of the contours' lengths; `radii` of holes are 0 where they are not round.  Most parts of a
    drawing differ by their measures, so landmarks are looked at only when asked for.
    """

    part: Part
    measures: FloatArray
    middles: FloatArray
    radii: FloatArray
    lengths: FloatArray
    corners: FloatArray

    @cached_property
    def centre(self) -> FloatArray:
        """Centroid of the length of all contours."""
        return np.asarray(self.lengths @ self.middles / self.measures[1])

    @cached_property
    def spots(self) -> FloatArray:
        """Landmarks: corners, then middles of holes."""
        return np.vstack([self.corners, self.middles[1:]])

    @cached_property
    def classes(self) -> FloatArray:
        """Kind of each landmark (0 for a corner, else the length of a hole) and distance from the centre."""
        kinds = np.concatenate([np.zeros(len(self.corners)), self.lengths[1:]])
        return np.column_stack([kinds, np.hypot(*(self.spots - self.centre).T)])

    @property
    def reach(self) -> float:
        """Distance of the farthest landmark from the centre, mm."""
        return float(self.classes[:, 1].max(initial=0.0))


class _Contour(NamedTuple):
    rows: FloatArray
    closed: bool = True


def shapes_of(parts: Sequence[Part]) -> list[Shape]:
    """Return what congruence is judged by, measured for all parts together."""
    if not parts:
        return []
    runs = [_Contour(contour.vertices) for part in parts for contour in (part.outer, *part.holes)]
    counts = np.array([len(run.rows) for run in runs])
    firsts = np.cumsum(counts) - counts
    edges = edges_of(runs)
    arc = edges.bulge != 0.0
    half = np.where(arc, edges.half_turn, 1.0)
    along = np.where(arc, 2.0 * half * edges.radius, edges.chord)
    lean = np.where(arc, np.sin(half) / half, 1.0)[:, None]
    balance = np.where(arc[:, None], edges.centre + lean * (edges.middle - edges.centre), edges.middle)
    lengths = np.add.reduceat(along, firsts)
    middles = np.add.reduceat(along[:, None] * balance, firsts, axis=0) / lengths[:, None]
    areas = _areas(edges, middles, firsts)
    radii = np.where(_round(edges, middles, firsts), edges.radius[firsts], 0.0)
    cornered = _cornered(edges, firsts, counts)
    sizes = np.array([1 + len(part.holes) for part in parts])
    outers = np.cumsum(sizes) - sizes
    metal = 2.0 * areas[outers] - np.add.reduceat(areas, outers)
    measures = np.column_stack([metal, np.add.reduceat(lengths, outers), sizes])
    result = []
    for part, first, size, measured in zip(parts, outers.tolist(), sizes.tolist(), measures, strict=True):
        own = slice(first, first + size)
        rows = slice(firsts[first], firsts[first + size - 1] + counts[first + size - 1])
        corners = edges.start[rows][cornered[rows]]
        result.append(Shape(part, measured, middles[own], radii[own], lengths[own], corners))
    return result


def _areas(edges: Edges, middles: FloatArray, firsts: NDArray[np.int64]) -> FloatArray:
    a, b = edges.start - middles[edges.stroke], edges.end - middles[edges.stroke]
    sweep = 4.0 * np.arctan(edges.bulge)
    caps = np.where(edges.bulge != 0.0, 0.5 * edges.radius**2 * (sweep - np.sin(sweep)), 0.0)
    triangles = 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    return np.asarray(np.abs(np.add.reduceat(triangles + caps, firsts)))


def _round(edges: Edges, middles: FloatArray, firsts: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return which contours are circles."""
    off = np.hypot(*(edges.centre - middles[edges.stroke]).T)
    uneven = np.abs(edges.radius - edges.radius[firsts][edges.stroke])
    wrong = (edges.bulge == 0.0) | (off > ROUND) | (uneven > ROUND)
    return np.asarray(~np.bitwise_or.reduceat(wrong, firsts))


def _cornered(edges: Edges, firsts: NDArray[np.int64], counts: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return at which segments' starts a contour turns or changes its curvature."""
    before = np.arange(len(edges.bulge)) - 1
    before[firsts] = firsts + counts - 1
    chord = np.arctan2(*(edges.end - edges.start).T[::-1])
    half = 2.0 * np.arctan(edges.bulge)
    turn = np.remainder(chord - half - (chord + half)[before] + np.pi, 2.0 * np.pi) - np.pi
    bend = np.where(edges.bulge != 0.0, np.sign(edges.bulge) / edges.radius, 0.0)
    slack = SMOOTH * np.maximum(np.abs(bend), np.abs(bend[before])) + 1e-9
    return np.asarray((np.abs(turn) > SMOOTH) | (np.abs(bend - bend[before]) > slack))
