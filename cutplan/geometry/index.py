"""The spatial index of a path: its segments as a table, and box trees over them.

A table has one row a segment, in the order of the path.  Neighbours in a path are
neighbours in the plane, so a binary tree over runs of consecutive rows, each node the box
of its run, finds what is near without sorting (a bounding volume hierarchy, Klosowski et
al. 1998, "Efficient collision detection using bounding volume hierarchies").
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.measures import arc_middles
from cutplan.geometry.path import FloatArray, Path, Segments

__all__ = [
    "SegmentIndex",
    "build_tree",
    "index_of",
    "points_on",
    "rising_pieces",
    "segment_boxes",
    "segment_table",
]

# Columns of a table.  R is 0 for lines; (MX, MY) is the unit vector from an arc's centre to
# its middle and COS_HALF the cosine of half its sweep.
X0, Y0, X1, Y1, CX, CY, R, SWEEP, MX, MY, COS_HALF, LENGTH = range(12)

_KEPT = "_segment_index"
# Segments in a leaf of the tree.
LEAF = 4


@dataclass(frozen=True, eq=False)
class SegmentIndex:
    """A path's segments laid out for compiled searches.

    Attributes
    ----------
    table : ndarray, shape (n, 12)
        Segments without length are left out.
    number : ndarray of int, shape (n,)
        Which segment of the path each row is.
    """

    table: FloatArray
    number: NDArray[np.int64]

    @classmethod
    def of(cls, path: Path, shortest: float = 0.0) -> SegmentIndex:
        """Return the index of a path's segments longer than `shortest` mm."""
        number = np.flatnonzero(path.segments.length > shortest)
        return cls(segment_table(path.segments)[number], number)

    @cached_property
    def boxes(self) -> FloatArray:
        """Boxes of the segments, shape (n, 4)."""
        return segment_boxes(self.table)

    @cached_property
    def tree(self) -> FloatArray:
        """Box tree over the segments."""
        return build_tree(self.boxes)

    @cached_property
    def rising(self) -> tuple[FloatArray, FloatArray]:
        """The segments cut into rising and falling pieces, and the box tree over those."""
        pieces = rising_pieces(self.table)
        low, high = np.minimum(pieces[:, 0:2], pieces[:, 2:4]), np.maximum(pieces[:, 0:2], pieces[:, 2:4])
        # A piece of an arc passes the side of its circle where it passes the centre's height.
        bulges = (pieces[:, 6] > 0.0) & (low[:, 1] < pieces[:, 5]) & (pieces[:, 5] < high[:, 1])
        side = np.where(bulges, pieces[:, 4] + pieces[:, 7] * pieces[:, 6], low[:, 0])
        low[:, 0], high[:, 0] = np.minimum(low[:, 0], side), np.maximum(high[:, 0], side)
        return pieces, build_tree(np.column_stack([low, high]))


def segment_table(segments: Segments) -> FloatArray:
    """Return segments as rows of twelve numbers, the columns named above."""
    arcs = segments.is_arc
    table = np.zeros((len(segments), 12))
    table[:, X0 : Y0 + 1] = segments.start
    table[:, X1 : Y1 + 1] = segments.end
    table[:, CX : CY + 1] = np.where(arcs[:, None], segments.centre, 0.0)
    table[:, R] = np.where(arcs, segments.radius, 0.0)
    table[:, SWEEP] = segments.sweep
    table[:, MX : MY + 1], table[:, COS_HALF] = arc_middles(segments)
    table[:, LENGTH] = segments.length
    return table


def segment_boxes(table: FloatArray) -> FloatArray:
    """Return xmin, ymin, xmax, ymax of each segment, shape (n, 4)."""
    start, end = table[:, X0 : Y0 + 1], table[:, X1 : Y1 + 1]
    low, high = np.minimum(start, end), np.maximum(start, end)
    centre, middle = table[:, CX : CY + 1], table[:, MX : MY + 1]
    radius, within = table[:, R, None], table[:, COS_HALF, None]
    low = np.where(-middle > within, np.minimum(low, centre - radius), low)
    high = np.where(middle > within, np.maximum(high, centre + radius), high)
    return np.ascontiguousarray(np.column_stack([low, high]))


def build_tree(boxes: FloatArray) -> FloatArray:
    """Return the boxes of all nodes, shape (2 m, 4); node k has the children 2k and 2k + 1."""
    leaves = 1
    while leaves * LEAF < len(boxes):
        leaves *= 2
    # With the upper bounds negated, all four grow by taking the minimum.
    level = np.full((leaves * LEAF, 4), np.inf)
    level[: len(boxes)] = boxes
    level[: len(boxes), 2:] *= -1.0
    tree = np.full((2 * leaves, 4), np.inf)
    while len(level) > 1:
        level = np.minimum(level[::2], level[1::2])
        if len(level) <= leaves:
            tree[len(level) : 2 * len(level)] = level
    tree[:, 2:] *= -1.0
    return tree


def points_on(table: FloatArray, t: FloatArray) -> FloatArray:
    """Return the point at a fraction of each segment, shape (n, 2)."""
    line = table[:, X0 : Y0 + 1] + t[:, None] * (table[:, X1 : Y1 + 1] - table[:, X0 : Y0 + 1])
    turn = (t - 0.5) * table[:, SWEEP]
    c, s = np.cos(turn), np.sin(turn)
    spoke = np.column_stack([c * table[:, MX] - s * table[:, MY], s * table[:, MX] + c * table[:, MY]])
    arc = table[:, CX : CY + 1] + table[:, R, None] * spoke
    return np.where(table[:, R, None] > 0.0, arc, line)


def rising_pieces(table: FloatArray) -> FloatArray:
    """Return a table's segments cut where arcs turn from rising to falling.

    Returns
    -------
    ndarray, shape (m, 8)
        x0, y0, x1, y1, centre x, centre y, radius (0 for lines) and the side of the centre
        (−1 left, 1 right) that the piece lies on.
    """
    lines, arcs = table[table[:, R] == 0.0], table[table[:, R] > 0.0]
    flat = np.zeros((len(lines), 8))
    flat[:, :4] = lines[:, :4]
    half, sign = 0.5 * np.abs(arcs[:, SWEEP]), np.sign(arcs[:, SWEEP])
    middle = np.arctan2(arcs[:, MY], arcs[:, MX])
    # Angles from the arc's middle, in the direction of travel, of its top and bottom.
    quarters = 0.5 * np.pi * np.array([1.0, -1.0])
    turns = sign[:, None] * ((quarters - middle[:, None] + np.pi) % (2.0 * np.pi) - np.pi)
    order = np.argsort(turns, axis=1)
    turns = np.take_along_axis(turns, order, axis=1)
    inside = np.abs(turns) < half[:, None] - 1e-12
    # Cuts that fall outside close up with the arc's nearer end.
    cuts = np.column_stack([-half, np.where(inside, turns, np.sign(turns) * half[:, None]), half])
    places = np.empty((len(arcs), 4, 2))
    places[:, 0], places[:, 3] = arcs[:, X0 : Y0 + 1], arcs[:, X1 : Y1 + 1]
    for k in (0, 1):
        extreme = np.column_stack(
            [arcs[:, CX], arcs[:, CY] + np.where(order[:, k] == 0, 1.0, -1.0) * arcs[:, R]]
        )
        end = np.where(turns[:, k, None] < 0.0, places[:, 0], places[:, 3])
        places[:, k + 1] = np.where(inside[:, k, None], extreme, end)
    parts = [flat]
    for k in range(3):
        direction = middle + sign * 0.5 * (cuts[:, k] + cuts[:, k + 1])
        side = np.where(np.cos(direction) > 0.0, 1.0, -1.0)
        piece = np.column_stack([places[:, k], places[:, k + 1], arcs[:, CX : R + 1], side])
        parts.append(piece[cuts[:, k + 1] > cuts[:, k]])
    return np.ascontiguousarray(np.vstack(parts))


def index_of(path: Path) -> SegmentIndex:
    """Return the index that distance, containment and crossings search.

    A path never changes, so it is made once and kept with the path.
    """
    kept = vars(path)
    if _KEPT not in kept:
        kept[_KEPT] = SegmentIndex.of(path)
    index: SegmentIndex = kept[_KEPT]
    return index
