"""What lies in the way on a sheet: finished parts, keep-outs and the plate's edge.

Views are chorded so that they never understate the metal or overstate the plate; they only
decide which leads are clear, and give no coordinates to a program.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.base.errors import GeometryError
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Pose, place_points, to_polygon
from cutplan.stock import NestedPlate

__all__ = ["KEEPOUT", "NOTHING", "PLATE_EDGE", "Obstacles", "points_of", "strings"]

# How far the views may err, mm, always to the safe side.
VIEW_TOLERANCE = 0.005
# Kept from clamps beyond the torch's radius, mm: rounding and views.
CLAMP_ROUNDING = 0.1
# Stand for the plate's edge and for keep-outs where an obstacle is named by its placement.
PLATE_EDGE, KEEPOUT, NOTHING = -1, -2, -3


class Obstacles:
    """The obstacles of one sheet, ready for many questions.

    Parameters
    ----------
    sheet : NestedPlate
    torch_height, torch_radius : float
        Of the torch as it cuts, mm: it keeps off the clamps that bar it at that height.
    """

    def __init__(self, sheet: NestedPlate, torch_height: float = 0.0, torch_radius: float = 0.0) -> None:
        clamps = [
            to_polygon(k.outline, tolerance=VIEW_TOLERANCE, side="outside")
            for k in sheet.plate.keepouts
            if k.bars(torch_height)
        ]
        self._clamps = shapely.STRtree(clamps)
        self._torch_radius = torch_radius + CLAMP_ROUNDING
        self._views: dict[int, shapely.Polygon] = {}
        self.metal: list[shapely.Polygon] = [self._view(p.part, p.pose) for p in sheet.placements]
        keepouts = [to_polygon(k, tolerance=VIEW_TOLERANCE, side="outside") for k in sheet.plate.barred]
        self._owner = np.array([*range(len(self.metal)), *([KEEPOUT] * len(keepouts))], dtype=np.int64)
        self._tree = shapely.STRtree([*self.metal, *keepouts])
        self._plate = to_polygon(sheet.plate.outline, tolerance=VIEW_TOLERANCE, side="inside")
        self.edge = self._plate.boundary
        shapely.prepare(self.edge)

    def _view(self, part: Part, pose: Pose) -> shapely.Polygon:
        view = self._views.get(id(part))
        if view is None:
            try:
                view = to_polygon(part.outer, part.holes, tolerance=VIEW_TOLERANCE, side="outside")
            except GeometryError as problem:
                raise GeometryError(
                    problem.message, where=f"part '{part.name}'", place=problem.place
                ) from None
            self._views[id(part)] = view
        return shapely.transform(view, lambda points: place_points(points, pose))

    def near(
        self,
        geometries: NDArray[np.object_],
        owners: NDArray[np.int64],
        clearance: float,
        *,
        edge_clearance: float | None = None,
    ) -> NDArray[np.int64]:
        """Return what comes nearer than a clearance to each geometry, `NOTHING` where nothing does.

        Parameters
        ----------
        geometries : ndarray of shapely geometries, shape (n,)
            Places in scrap beside the placement that owns them.
        owners : ndarray, shape (n,)
            Placements whose own metal does not count.
        clearance : float
            mm, to other parts, keep-outs and voids.
        edge_clearance : float, optional
            mm, to the plate's edge; not looked at by default.

        Returns
        -------
        ndarray, shape (n,)
            Index of a placement in the way, `KEEPOUT`, `PLATE_EDGE` or `NOTHING`.
        """
        found = np.full(len(geometries), NOTHING, dtype=np.int64)
        if not len(geometries):
            return found
        which, obstacle = self._tree.query(geometries, predicate="dwithin", distance=clearance)
        other = self._owner[obstacle]
        strange = other != owners[which]
        found[which[strange]] = other[strange]
        by_clamp, _ = self._clamps.query(geometries, predicate="dwithin", distance=self._torch_radius)
        found[by_clamp] = KEEPOUT
        if edge_clearance is not None:
            over = shapely.dwithin(self.edge, geometries, edge_clearance)
            found[over] = PLATE_EDGE
        return found

    def within(
        self, geometries: NDArray[np.object_], distance: float
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return which geometries come nearer than a distance, mm, to which placements.

        Returns
        -------
        rows, placements : ndarray, shape (k,)
        """
        rows, obstacle = self._tree.query(geometries, predicate="dwithin", distance=distance)
        placements = self._owner[obstacle]
        return rows[placements >= 0], placements[placements >= 0]

    def kerfs_near(
        self, geometries: NDArray[np.object_], owners: NDArray[np.int64], reach: float
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return which geometries come nearer than `reach` to which placements that are cut by themselves.

        The part in whose hole a place lies is left out: that hole is cut after all that lies
        in it.

        Returns
        -------
        rows, placements : ndarray, shape (k,)
        """
        if not len(geometries):
            nothing = np.zeros(0, dtype=np.int64)
            return nothing, nothing
        which, obstacle = self._tree.query(geometries, predicate="dwithin", distance=reach)
        other, own = self._owner[obstacle], owners[which]
        free = (other >= 0) & (other != own)
        around = self.hosts
        outside = np.array(
            [
                o not in _chain(p, around)
                for p, o in zip(own[free].tolist(), other[free].tolist(), strict=True)
            ],
            dtype=np.bool_,
        )
        return which[free][outside], other[free][outside]

    def off_plate(self, margin: float) -> NDArray[np.bool_]:
        """Return which placements come nearer than a margin to the plate's edge or lie beyond it."""
        metal = np.array(self.metal, dtype=np.object_)
        return np.asarray(
            shapely.dwithin(self.edge, metal, margin) | ~shapely.intersects(self._plate, metal),
            dtype=np.bool_,
        )

    def by_clamps(self, kerf: float) -> NDArray[np.bool_]:
        """Return which placements the torch cannot cut round without meeting a clamp."""
        near = np.zeros(len(self.metal), dtype=np.bool_)
        metal = np.array(self.metal, dtype=np.object_)
        reach = self._torch_radius - CLAMP_ROUNDING + 0.5 * kerf
        near[self._clamps.query(metal, predicate="dwithin", distance=reach)[0]] = True
        return near

    def close_pairs(self, margin: float) -> list[tuple[int, int, float, tuple[float, float]]]:
        """Return pairs of placements nearer each other than a margin, mm, with their distance and place."""
        metal = np.array(self.metal, dtype=np.object_)
        one, other = self._tree.query(metal, predicate="dwithin", distance=margin)
        pairs = (self._owner[other] > one) & (self._owner[other] >= 0)
        found = []
        for i, j in zip(one[pairs].tolist(), other[pairs].tolist(), strict=True):
            between = shapely.shortest_line(metal[i], metal[j])
            middle = shapely.get_coordinates(between).mean(axis=0)
            found.append((i, j, float(shapely.length(between)), (float(middle[0]), float(middle[1]))))
        return found

    def middle(self, index: int) -> tuple[float, float]:
        """Return a place on a placement's metal."""
        point = self.metal[index].representative_point()
        return float(point.x), float(point.y)

    @cached_property
    def hosts(self) -> list[int | None]:
        """For each placement the placement in whose hole it lies; the tightest hole counts."""
        rims, owners = [], []
        for index, metal in enumerate(self.metal):
            rims += [shapely.Polygon(ring) for ring in metal.interiors]
            owners += [index] * len(metal.interiors)
        hosts: list[int | None] = [None] * len(self.metal)
        if not rims:
            return hosts
        tree = shapely.STRtree(rims)
        inner, outer = tree.query(np.array(self.metal, dtype=np.object_), predicate="within")
        for which in np.argsort(-shapely.area(np.array(rims, dtype=np.object_))[outer], kind="stable"):
            hosts[int(inner[which])] = owners[outer[which]]
        return hosts


def _chain(placement: int, hosts: list[int | None]) -> list[int]:
    """Return the placements around one, from hole to hole."""
    chain: list[int] = []
    host = hosts[placement]
    while host is not None:
        chain.append(host)
        host = hosts[host]
    return chain


def strings(points: FloatArray) -> NDArray[np.object_]:
    """Return shapely lines for points of shape (n, k, 2)."""
    lines: NDArray[np.object_] = shapely.linestrings(points)
    return lines


def points_of(points: FloatArray) -> NDArray[np.object_]:
    """Return shapely points for points of shape (n, 2)."""
    made: NDArray[np.object_] = shapely.points(points)
    return made
