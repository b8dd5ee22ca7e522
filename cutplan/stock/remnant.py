"""What is worth keeping of a cut plate, as outlines that never cover metal that is not there.

Where the metal is, the caller says, as a polygon; how it was found is left to it.

Terminology
-----------
opening : the set of all places that a square of a given side reaches without leaving a region
    (J. Serra, Image Analysis and Mathematical Morphology, 1982): necks narrower than the
    square go, what is left lies within the region.
void : a hole in a remnant.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import shapely

from cutplan.geometry import Path, Pose, bounds, place, polygon

__all__ = ["KEEP_MM", "RemnantShape", "remnant_shapes"]

KEEP_MM = (300.0, 300.0)
"""Smallest remnant kept unless told otherwise; common practice, each shop has its own."""
NECK_SHARE = 1.0 / 3.0
"""Necks narrower than this share of the smaller side are no part of a remnant."""
SIMPLE_MM = 1.0
"""How far a simplified edge may lie within the true one, halved: inset, then simplification."""
SLACK_MM = 0.05
"""By how much the region may be smaller than the metal: twice the proof's 0.02 mm, and rounding."""


@dataclass(frozen=True)
class RemnantShape:
    """A remnant's contour and voids, mm, the lower left corner of its box at the origin.

    `corner` is where that corner lay on the plate.
    """

    outline: Path
    voids: tuple[Path, ...]
    corner: tuple[float, float]


def remnant_shapes(metal: Any, keep: tuple[float, float] = KEEP_MM) -> tuple[RemnantShape, ...]:
    """Return the remnants in what is left of a plate.

    Parameters
    ----------
    metal : shapely Polygon or MultiPolygon
        Where there is metal, mm; it may be less than there is, but not more.
    keep : (float, float)
        Sides of the smallest remnant worth keeping, mm: a circle of the smaller fits in it,
        and the box about it, turned as it may, is as long as the larger.

    Returns
    -------
    tuple of RemnantShape
        Largest first; parts of the plate that only hang together by necks narrower than a
        third of the smaller side are remnants of their own.
    """

    short, long = min(keep), max(keep)
    if shapely.is_empty(metal):
        return ()
    kept = [
        simple
        for region in _polygons(_opened(metal, NECK_SHARE * short))
        if region.area > 0.5 * short**2
        for simple in _simplified(region)
        if _worth_keeping(simple, short, long)
    ]
    kept.sort(key=lambda region: (-region.area, region.bounds))
    return tuple(_shape(region) for region in kept)


def _opened(metal: Any, side: float) -> Any:
    """Return the metal without its necks: what squares of a side reach, along the plate or turned.

    Mitred offsets follow edges of any direction, but a short edge in a corner costs them that
    corner; the exact opening by a square along the plate's sides knows no such loss.
    """
    eroded = shapely.buffer(metal, -0.5 * side, join_style="mitre")
    turned = shapely.buffer(eroded, 0.5 * side, join_style="mitre")
    frame = shapely.box(*shapely.bounds(metal)).buffer(2.0 * side, join_style="mitre")
    reached = shapely.difference(metal, _swept(shapely.difference(frame, metal), side))
    # A mitre may reach past the metal at sharp corners of the opened region.
    return shapely.intersection(shapely.union(turned, _swept(reached, side)), metal)


def _swept(region: Any, side: float) -> Any:
    """Return what a square along the axes covers while its middle runs over a region.

    The square is its lower side swept along its left one, so the region is swept along one axis
    and then along the other.
    """
    return _swept_along(_swept_along(region, side, 0), side, 1)


def _swept_along(region: Any, side: float, axis: int) -> Any:
    """Return what a line along an axis covers while its middle runs over a region.

    Beside the region that is what each stretch of its boundary that rises or falls all the way
    across the axis sweeps: a polygon between the stretch moved one way and the other.
    """
    import numpy as np

    shift = np.zeros(2)
    shift[axis] = 0.5 * side
    swept = [region]
    for part in _polygons(region):
        for ring in (part.exterior, *part.interiors):
            points = shapely.get_coordinates(ring)
            way = np.sign(np.diff(points[:, 1 - axis]))
            bends = np.flatnonzero(np.diff(way)) + 1
            for first, last in zip([0, *bends], [*bends, len(way)], strict=True):
                if way[first] != 0.0:
                    stretch = points[first : last + 1]
                    swept.append(shapely.Polygon(np.vstack([stretch + shift, stretch[::-1] - shift])))
    return shapely.union_all(swept)


def _polygons(region: Any) -> list[Any]:
    return [part for part in shapely.get_parts(region) if part.geom_type == "Polygon" and part.area > 0.0]


def _simplified(region: Any) -> Iterable[Any]:
    """Return a region with fewer corners, nowhere outside the true one.

    Its boundary moves inwards, and then by no more than that when corners are left out.
    """
    inset = shapely.buffer(region, -SIMPLE_MM, join_style="mitre")
    simple = shapely.simplify(inset, 0.95 * SIMPLE_MM)
    return _polygons(simple if shapely.covers(region, simple) else inset)


def _worth_keeping(region: Any, short: float, long: float) -> bool:
    # What the simplification takes off the edges does not count against a remnant.
    lost = 2.0 * SIMPLE_MM + SLACK_MM
    if shapely.buffer(region, 0.5 * (lost - short)).is_empty:
        return False
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(region))
    sides = shapely.distance(shapely.points(corners[:2]), shapely.points(corners[1:3]))
    return bool(max(sides) >= long - lost)


def _shape(region: Any) -> RemnantShape:
    region = shapely.orient_polygons(region)
    outline = _contour(region.exterior)
    x0, y0, _, _ = bounds(outline)
    home = Pose(x=-x0, y=-y0)
    voids = tuple(place(_contour(shapely.reverse(ring)), home) for ring in region.interiors)
    return RemnantShape(place(outline, home), voids, (x0, y0))


def _contour(ring: Any) -> Path:
    return polygon([(float(x), float(y)) for x, y in shapely.get_coordinates(ring)[:-1]])
