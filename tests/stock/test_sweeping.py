"""What a square covers while its middle runs over a region, against shapely's hulls of every edge."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely

from cutplan.stock.remnant import _swept

SIDE = 90.0


def by_hulls(region: shapely.Geometry, side: float) -> shapely.Geometry:
    """The Minkowski sum by its definition: the hull of the square at both ends of each edge."""
    corners = 0.5 * side * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
    hulls = [region]
    for part in shapely.get_parts(region):
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)
            hulls += [
                shapely.convex_hull(shapely.multipoints(np.vstack([a + corners, b + corners])))
                for a, b in pairwise(points)
            ]
    return shapely.union_all(hulls)


@pytest.mark.parametrize(
    "region",
    [
        shapely.box(0, 0, 300, 100),
        shapely.Point(0, 0).buffer(200) - shapely.Point(20, 30).buffer(120),
        shapely.box(0, 0, 400, 400) - shapely.box(100, 100, 300, 250) - shapely.Point(400, 400).buffer(150),
        shapely.Polygon([(0, 0), (500, 60), (480, 300), (250, 90), (30, 280)]),
        shapely.union_all([shapely.Point(37 * k, 91 * (k % 3)).buffer(20) for k in range(9)]),
    ],
)
def test_a_swept_square_covers_what_the_hulls_of_its_edges_cover(region: shapely.Geometry) -> None:
    assert shapely.symmetric_difference(_swept(region, SIDE), by_hulls(region, SIDE)).area < 1e-6
