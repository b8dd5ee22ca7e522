"""The spatial index of a path: its segments as a table, and box trees over them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.measures import arc_middles

if TYPE_CHECKING:
    from cutplan.geometry.path import FloatArray, Path, Segments

__all__ = ["SegmentIndex", "segment_table"]


@dataclass(frozen=True, eq=False)
class SegmentIndex:
    """A path's segments laid out for compiled searches.

    Attributes
    ----------
    table : ndarray, shape (n, 12)
        See `cutplan.geometry.kernels`; segments without length are left out.
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
        from cutplan.geometry import kernels

        boxes: FloatArray = kernels.segment_boxes(self.table)
        return boxes

    @cached_property
    def tree(self) -> FloatArray:
        """Box tree over the segments."""
        from cutplan.geometry import kernels

        tree: FloatArray = kernels.build_tree(self.boxes)
        return tree

    @cached_property
    def rising(self) -> tuple[FloatArray, FloatArray]:
        """The segments cut into rising and falling pieces, and the box tree over those."""
        from cutplan.geometry import kernels

        pieces: FloatArray = kernels.rising_pieces(self.table)
        tree: FloatArray = kernels.build_tree(kernels.piece_boxes(pieces))
        return pieces, tree


def segment_table(segments: Segments) -> FloatArray:
    """Return segments as rows of twelve numbers, see `cutplan.geometry.kernels`."""
    arcs = segments.is_arc
    table = np.zeros((len(segments), 12))
    table[:, 0:2] = segments.start
    table[:, 2:4] = segments.end
    table[:, 4:6] = np.where(arcs[:, None], segments.centre, 0.0)
    table[:, 6] = np.where(arcs, segments.radius, 0.0)
    table[:, 7] = segments.sweep
    table[:, 8:10], table[:, 10] = arc_middles(segments)
    table[:, 11] = segments.length
    return table
