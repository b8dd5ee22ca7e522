"""How narrow a region between contours gets, and the largest circle in it; exact with arcs.

A width is measured between two points of the contours that face each other, each the nearest
to the other along its own stretch of contour (a double normal), with nothing but the region or
nothing but what lies beyond it between them.  Corners have no width in this sense, however
sharp, and neither has a circle; both have a largest circle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from cutplan.geometry.index import LEAF
from cutplan.geometry.measures import require_closed
from cutplan.geometry.path import Path

__all__ = ["Region", "Width"]

# The first look is for widths of this share of the region, and at least this wide, mm.
FIRST_LOOK = 1.0 / 64.0
LEAST_LOOK = 0.02
# Squares that a search for a circle holds at once: three a level, of up to forty levels.
_CELLS = 128


class Width(NamedTuple):
    """A width, mm, and the middle of where it is measured."""

    value: float
    place: tuple[float, float]


class Region:
    """What closed contours bound, measured as a whole.

    Parameters
    ----------
    contours : sequence of Path
        Closed, simple, and clear of each other, each with the region on its left: an outside
        counter-clockwise, holes clockwise.

    Raises
    ------
    GeometryError
        If a contour is open.

    Attributes
    ----------
    area, length : float
        Area of the region, mm², and length of all contours, mm.
    bounds : tuple of float
        The box of all contours: xmin, ymin, xmax, ymax, mm.
    """

    def __init__(self, contours: Sequence[Path]) -> None:
        from cutplan.geometry.layout_kernels import grow_tree, lay_out

        for contour in contours:
            require_closed(contour, "a region")
        rows = np.concatenate([contour.vertices for contour in contours])
        counts = np.array([len(contour.vertices) for contour in contours])
        table, boxes, ways = np.empty((len(rows), 12)), np.empty((len(rows), 4)), np.empty((len(rows), 4))
        owners, sums = np.empty((2, len(rows)), dtype=np.int64), np.empty(2)
        kept = lay_out(rows, counts, table, boxes, ways, owners, sums)
        leaves = 1
        while leaves * LEAF < kept:
            leaves *= 2
        tree = np.empty((2 * leaves, 4))
        grow_tree(boxes[:kept], tree)
        self._tables = table[:kept], boxes[:kept], tree, ways[:kept], owners[:, :kept]
        self.area, self.length = sums.tolist()
        x0, y0, x1, y1 = tree[1].tolist()
        self.bounds: tuple[float, float, float, float] = (x0, y0, x1, y1)

    def narrowest(self, within: float, beyond: float) -> tuple[Width | None, Width | None]:
        """Return the narrowest of the region, and of what lies beyond it, between facing stretches.

        Parameters
        ----------
        within, beyond : float
            Widths from these on are of no interest, mm.

        Returns
        -------
        within, beyond : Width or None
            None where there is none below the limit.  Among tens of thousands of segments the
            search may stop short of the limit.
        """
        from cutplan.geometry import kernels, width_kernels

        search = width_kernels.Search(np.empty(2), np.empty((2, 3)), kernels.new_stack(), kernels.new_stack())
        net = width_kernels.Layout(*self._tables)
        x0, y0, x1, y1 = self.bounds
        look = max(FIRST_LOOK * math.hypot(x1 - x0, y1 - y0), LEAST_LOOK)
        width_kernels.facing_pairs(net, search, np.array([beyond, within]), look)
        outside, inside = (
            Width(value, (x, y)) if value < math.inf else None for value, x, y in search.found.tolist()
        )
        return inside, outside

    def clearance(self, place: tuple[float, float]) -> float:
        """Return a place's distance from the contours, mm, negative beyond the region.

        Parameters
        ----------
        place : tuple of float

        Returns
        -------
        float
            mm.
        """
        from cutplan.geometry import circle_kernels, kernels

        return float(circle_kernels.clearance(self._tables[0], self._tables[2], *place, kernels.new_stack()))

    def largest_circle(self, tolerance: float, enough: float = math.inf) -> Width:
        """Return diameter and centre of the largest circle in the region, never too large.

        Parameters
        ----------
        tolerance : float
            How far the diameter may fall short of the largest, mm.
        enough : float, optional
            A circle of this diameter ends the search, mm.

        Returns
        -------
        Width
        """
        from cutplan.geometry import circle_kernels, kernels

        found = np.array([-math.inf, 0.0, 0.0])
        circle_kernels.widest_circle(
            self._tables[0], self._tables[2], 0.5 * tolerance, 0.5 * enough, found, np.empty((_CELLS, 4)),
            kernels.new_stack(),
        )  # fmt: skip
        radius, x, y = found.tolist()
        return Width(2.0 * radius, (x, y))
