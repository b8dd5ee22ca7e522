"""What lies loose on the table as the cutting goes on, and the ways that keep clear of it.

Terminology
-----------
obstacle : a part that its outside cut has freed, or a hole too wide for the torch to pass over
    safely once it is cut.  It may tip, stand up or drop.
step : a place in the order; after step i the obstacles of the cuts 0 … i are there.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.cutting import Cut, Made
from cutplan.geometry import FloatArray, to_polygon
from cutplan.sequencing.problem import IntArray

__all__ = ["Ground", "corners_of", "shortest_way", "survey"]

CHORD_MM = 0.05
"""How far the chorded outline of an obstacle may err, to the outside."""
MARGIN_KERFS = 0.4
"""Obstacles are grown by this share of a kerf: less than half, where the torch stands after a cut."""
SHAPE_CHORD_MM = 0.5
"""Coarser outline whose corners are offered as turning points on the way round."""
NEAR_OBSTACLES = 6
"""Obstacles that a way round takes corners from, at most."""


@dataclass(frozen=True, eq=False)
class Ground:
    """The obstacles of a sheet.

    Attributes
    ----------
    cut : int64, shape (k,)
        Which cut makes each obstacle.
    shapes : ndarray of polygons, shape (k,)
        As they lie.
    grown : ndarray of polygons, shape (k,)
        Grown by `margin`.
    margin : float
        mm.
    wide_hole : bool, shape (n,)
        Cuts that leave the torch inside an obstacle.
    """

    cut: IntArray
    shapes: NDArray[np.object_]
    grown: NDArray[np.object_]
    margin: float
    wide_hole: NDArray[np.bool_]
    tree: Any

    def crossed(self, starts: FloatArray, ends: FloatArray, steps: IntArray, step_of: IntArray) -> IntArray:
        """Return how many obstacles each straight way passes over.

        Parameters
        ----------
        starts, ends : float64, shape (m, 2)
        steps : int64, shape (m,)
            The way is taken when the cuts up to and with this step are done.
        step_of : int64, shape (n,)
            Step of each cut.
        """
        count = np.zeros(len(starts), dtype=np.int64)
        if len(starts) == 0 or len(self.cut) == 0:
            return count
        lines = shapely.linestrings(np.stack([starts, ends], axis=1))
        way, obstacle = self.tree.query(lines, predicate="intersects")
        there = step_of[self.cut[obstacle]] <= steps[way]
        np.add.at(count, way[there], 1)
        return count

    def way_round(
        self,
        start: FloatArray,
        end: FloatArray,
        step: int,
        step_of: IntArray,
        longest: float,
        clamps: NDArray[np.object_],
    ) -> FloatArray | None:
        """Return the shortest way low along corners that keeps clear, of clamps too, or None.

        A visibility graph over the obstacles near the straight line (Lozano-Pérez and Wesley
        1979, "An algorithm for planning collision-free paths among polyhedral obstacles").

        Returns
        -------
        float64, shape (k, 2), or None
            None where there is no way of at most `longest` mm.
        """
        reach = shapely.buffer(shapely.linestrings(np.array([start, end])), 0.5 * longest, quad_segs=2)
        there = np.zeros(0, dtype=np.int64)
        if len(self.cut):
            likely = self.tree.query(reach)
            there = np.sort(likely[step_of[self.cut[likely]] <= step])
        grown = np.concatenate([self.grown[there], clamps])
        if len(grown) == 0:
            return np.array([start, end])
        if shapely.intersects_xy(grown, *start).any() or shapely.intersects_xy(grown, *end).any():
            return None
        corners = self._corners(start, end, there, longest, clamps)
        return shortest_way(np.vstack([start, end, corners]), grown, longest)

    def _corners(
        self,
        start: FloatArray,
        end: FloatArray,
        there: IntArray,
        longest: float,
        clamps: NDArray[np.object_],
    ) -> FloatArray:
        line = shapely.linestrings(np.array([start, end]))
        nearest = there[np.argsort(shapely.distance(self.shapes[there], line), kind="stable")]
        # A little further out than the grown outlines, so that the ways themselves do not touch them.
        coarse = shapely.simplify(self.shapes[nearest[:NEAR_OBSTACLES]], SHAPE_CHORD_MM)
        points = np.vstack(
            [
                corners_of(coarse, 2.0 * SHAPE_CHORD_MM + self.margin),
                corners_of(shapely.simplify(clamps, SHAPE_CHORD_MM), 2.0 * SHAPE_CHORD_MM),
            ]
        )
        detour = np.hypot(*(points - start).T) + np.hypot(*(points - end).T)
        return np.asarray(points[detour <= longest])


def survey(cuts: Sequence[Cut], kerf: float, clearance: float) -> Ground:
    """Return the obstacles that the cuts will make.

    Parameters
    ----------
    cuts : sequence of Cut
    kerf : float
        mm.
    clearance : float
        Holes wider than this are obstacles, mm.
    """
    makers: list[int] = []
    outlines: list[Any] = []
    wide = np.zeros(len(cuts), dtype=np.bool_)
    for i, cut in enumerate(cuts):
        opened = [_outline(made) for made in (cut.makes if cut.kind == "hole" else cut.freed)]
        if cut.kind == "hole":
            # Of several holes in one run, the torch ends in the last.
            wide[i] = _width(opened[-1]) > clearance
            opened = [outline for outline in opened if _width(outline) > clearance]
        makers += [i] * len(opened)
        outlines += opened
    shapes = np.array(outlines, dtype=object)
    margin = MARGIN_KERFS * kerf
    grown = np.asarray(shapely.buffer(shapes, margin, quad_segs=8), dtype=object)
    return Ground(
        cut=np.array(makers, dtype=np.int64),
        shapes=shapes,
        grown=grown,
        margin=margin,
        wide_hole=wide,
        tree=shapely.STRtree(grown),
    )


def _outline(made: Made) -> Any:
    return to_polygon(made.contour, tolerance=CHORD_MM, side="outside")


def corners_of(shapes: NDArray[np.object_], out: float) -> FloatArray:
    """Return the corners of shapes grown by `out` mm, shape (n, 2)."""
    grown = shapely.buffer(shapes, out, quad_segs=2, join_style="mitre")
    return np.asarray(shapely.get_coordinates(grown), dtype=np.float64)


def _width(outline: Any) -> float:
    """Return the shorter side of the smallest rectangle around the outline, mm."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline))
    sides = np.hypot(*np.diff(corners[:3], axis=0).T)
    return float(sides.min())


def shortest_way(points: FloatArray, obstacles: NDArray[np.object_], longest: float) -> FloatArray | None:
    """Return the shortest way from the first to the second point along free straight lines."""
    a, b = np.triu_indices(len(points), 1)
    length = np.hypot(*(points[b] - points[a]).T)
    apart = np.hypot(*(points - points[0]).T), np.hypot(*(points - points[1]).T)
    useful = np.minimum(apart[0][a] + apart[1][b], apart[0][b] + apart[1][a]) + length <= longest
    a, b, length = a[useful], b[useful], length[useful]
    lines = shapely.linestrings(np.stack([points[a], points[b]], axis=1))
    blocked = np.zeros(len(lines), dtype=np.bool_)
    blocked[shapely.STRtree(obstacles).query(lines, predicate="intersects")[0]] = True
    return _dijkstra(points, a[~blocked], b[~blocked], length[~blocked], longest)


def _dijkstra(
    points: FloatArray, a: IntArray, b: IntArray, length: FloatArray, longest: float
) -> FloatArray | None:
    """Return the shortest way from point 0 to point 1 (Dijkstra 1959), dense."""
    count = len(points)
    matrix = np.full((count, count), np.inf)
    matrix[a, b] = matrix[b, a] = length
    distance = np.full(count, np.inf)
    came_from = np.full(count, -1, dtype=np.int64)
    open_ = np.ones(count, dtype=np.bool_)
    distance[0] = 0.0
    for _ in range(count):
        here = int(np.where(open_, distance, np.inf).argmin())
        if here == 1 or not distance[here] < longest:
            break
        open_[here] = False
        onward = distance[here] + matrix[here]
        better = onward < distance
        distance[better], came_from[better] = onward[better], here
    if not math.isfinite(distance[1]):
        return None
    way = [1]
    while way[-1] != 0:
        way.append(int(came_from[way[-1]]))
    return np.asarray(points[way[::-1]])
