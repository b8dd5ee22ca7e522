"""What encloses what: the forest of contours that neither cross nor touch."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.drawing.contours import Contours
from cutplan.geometry import FloatArray, contains

__all__ = ["Enclosure", "enclosure"]

# Comparisons of points with segments from which building a contour's index pays.
WORTH_AN_INDEX = 4096
# Pairs of contours compared in one go, to bound the memory.
BATCH = 4096


@dataclass(frozen=True)
class Enclosure:
    """Which contour lies directly in which.

    Attributes
    ----------
    parent : ndarray of int, shape (n,)
        The smallest contour around each; −1 for none.
    depth : ndarray of int, shape (n,)
        How many contours lie around each: even ones bound parts, odd ones holes.
    """

    parent: NDArray[np.int64]
    depth: NDArray[np.int64]

    @cached_property
    def children(self) -> list[list[int]]:
        """The contours directly in each."""
        held: list[list[int]] = [[] for _ in self.parent]
        for k, parent in enumerate(self.parent.tolist()):
            if parent >= 0:
                held[parent].append(k)
        return held


def enclosure(contours: Contours) -> Enclosure:
    """Return what encloses what; any point of a contour decides, as none cross or touch."""
    boxes = shapely.box(*contours.boxes.T)
    inner, outer = shapely.STRtree(boxes).query(boxes, predicate="within")
    inner, outer = inner[inner != outer], outer[inner != outer]
    inside = _inside(contours, outer, inner)
    inner, outer = inner[inside], outer[inside]
    # Of all that lie around a contour the smallest comes last, and stays.
    order = np.argsort(-np.abs(contours.areas[outer]), kind="stable")
    parent = np.full(len(contours), -1, dtype=np.int64)
    parent[inner[order]] = outer[order]
    return Enclosure(parent, np.bincount(inner, minlength=len(contours)).astype(np.int64))


def _inside(contours: Contours, outer: NDArray[np.int64], inner: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return for pairs of contours whether the second's first vertex lies in the first.

    Small contours are taken together; those with much to compare are worth an index each.
    """
    points = contours.edges.start[contours.firsts]
    inside = np.zeros(len(outer), dtype=bool)
    work = np.bincount(outer, minlength=len(contours)) * contours.counts
    large = work[outer] > WORTH_AN_INDEX
    for k in np.unique(outer[large]).tolist():
        pairs = np.flatnonzero(outer == k)
        inside[pairs] = contains(contours.path(k), points[inner[pairs]])
    small = np.flatnonzero(~large)
    for batch in np.array_split(small, 1 + len(small) // BATCH):
        if len(batch):
            inside[batch] = _even_odd(contours, outer[batch], points[inner[batch]])
    return inside


def _even_odd(contours: Contours, outer: NDArray[np.int64], points: FloatArray) -> NDArray[np.bool_]:
    """Return whether each point lies in its contour.

    It does where the chords around it are crossed an odd number of times on the way to the
    right; each cap between chord and arc that holds the point turns that over.
    """
    edges, counts = contours.edges, contours.counts[outer]
    begins = np.cumsum(counts) - counts
    pair = np.repeat(np.arange(len(outer)), counts)
    e = contours.firsts[outer][pair] + np.arange(len(pair)) - begins[pair]
    a, b = edges.start[e] - points[pair], edges.end[e] - points[pair]
    side = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    # A point on a chord counts as a little above it, or to its right where it is upright: the
    # same for the crossing and for the cap, and as the comparison of heights has it.
    above = (b[:, 0] > a[:, 0]) | ((b[:, 0] == a[:, 0]) & (b[:, 1] < a[:, 1]))
    left = (side > 0.0) | ((side == 0.0) & above)
    crossed = ((a[:, 1] > 0.0) != (b[:, 1] > 0.0)) & (left == (b[:, 1] > a[:, 1]))
    in_circle = np.hypot(*(edges.centre[e] - points[pair]).T) < edges.radius[e]
    capped = (edges.bulge[e] != 0.0) & in_circle & (left != (edges.bulge[e] > 0.0))
    return np.asarray(np.bitwise_xor.reduceat(crossed ^ capped, begins))
