"""Forms as the search sees them: straight-edged outlines, cut into convex pieces.

Turning parts into outlines with a gap belongs to `outlines`; collision to `nofit`.

Terminology
-----------
form : an outline (or its mirror image), moved so that its box is centred on the origin.
orientation : a form turned by one of its allowed angles.
piece : a convex part of a form; the pieces cover the form without overlap.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from cutplan.geometry import FloatArray

__all__ = ["Form", "convex_pieces", "make_form", "picture", "smallest_box_angle", "turned"]

Point = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Form:
    """An outline ready for collision.

    Attributes
    ----------
    rings : tuple of ndarray, shape (n, 2)
        Outer ring counter-clockwise, then holes clockwise, first point not repeated, mm.
    pieces : tuple of ndarray, shape (n, 2)
        Convex pieces, counter-clockwise.
    shift : tuple of float
        What was added to the outline's coordinates to centre its box on the origin.
    area : float
        mm², holes taken out.
    """

    rings: tuple[FloatArray, ...]
    pieces: tuple[FloatArray, ...]
    shift: Point
    area: float

    @property
    def size(self) -> float:
        """Diagonal of the form's box, mm."""
        low, high = self.rings[0].min(axis=0), self.rings[0].max(axis=0)
        return float(np.hypot(*(high - low)))


def make_form(outline: Polygon, *, mirrored: bool = False) -> Form:
    """Return the form of a polygon, mirrored in the y axis (x becomes −x) where asked."""
    if mirrored:
        outline = shapely.transform(outline, lambda xy: xy * np.array([-1.0, 1.0]))
    low_x, low_y, high_x, high_y = outline.bounds
    shift = (-0.5 * (low_x + high_x), -0.5 * (low_y + high_y))
    centred = shapely.orient_polygons(shapely.transform(outline, lambda xy: xy + np.array(shift)))
    rings = tuple(
        np.ascontiguousarray(shapely.get_coordinates(ring)[:-1])
        for ring in (centred.exterior, *centred.interiors)
    )
    return Form(rings, convex_pieces(centred), shift, float(centred.area))


def turned(points: FloatArray, angle: float) -> FloatArray:
    """Return points turned counter-clockwise by an angle in degrees; quarter turns are exact."""
    quarter = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    radians = math.radians(angle)
    c, s = quarter.get(angle % 360.0, (math.cos(radians), math.sin(radians)))
    return np.asarray(points @ np.array([[c, s], [-s, c]]))


def smallest_box_angle(outline: Polygon) -> float:
    """Rotation, degrees, that lays the least box round an outline along the axes."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline))
    side = corners[1] - corners[0]
    return round(-float(np.degrees(np.arctan2(side[1], side[0]))), 6) % 90.0


def picture(form: Form, angle: float) -> bytes:
    """The same bytes for turns that a symmetric form looks alike in."""
    points = np.round(turned(np.vstack(form.rings), angle) / max(1e-6 * form.size, 1e-9)) + 0.0
    order = np.lexsort((points[:, 1], points[:, 0]))
    return points[order].tobytes()


def convex_pieces(polygon: Polygon) -> tuple[FloatArray, ...]:
    """Return convex polygons that cover a polygon with holes without overlap.

    Method: constrained Delaunay triangles, merged across diagonals as long as the union stays
    convex (Hertel and Mehlhorn 1983, at most four times the least number of pieces).
    """
    triangles = shapely.constrained_delaunay_triangles(shapely.orient_polygons(polygon))
    pieces: list[list[Point] | None] = []
    owner: dict[tuple[Point, Point], int] = {}
    for triangle in triangles.geoms:
        ring = [(float(x), float(y)) for x, y in shapely.get_coordinates(triangle)[:-1]]
        if _doubled_area(ring) < 0.0:
            ring.reverse()
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            owner[a, b] = len(pieces)
        pieces.append(ring)
    diagonals = [(a, b) for a, b in owner if (b, a) in owner and a < b]
    diagonals.sort(key=lambda d: (-math.dist(*d), d))
    for a, b in diagonals:
        first, second = owner[a, b], owner[b, a]
        merged = _merge(pieces[first], pieces[second], a, b)
        if merged is None:
            continue
        pieces[first], pieces[second] = merged, None
        for edge in zip(merged, merged[1:] + merged[:1], strict=True):
            owner[edge] = first
    return tuple(np.array(_without_collinear(piece)) for piece in pieces if piece is not None)


def _merge(first: list[Point] | None, second: list[Point] | None, a: Point, b: Point) -> list[Point] | None:
    """Union of two pieces across the edge from `a` to `b` of the first, if it is convex."""
    if first is None or second is None or first is second:
        return None
    i, j = first.index(b), second.index(a)
    # First runs b … a, second runs a … b.
    merged = first[i:] + first[:i] + (second[j:] + second[:j])[1:-1]
    for at in (a, b):
        k = merged.index(at)
        before, after = merged[k - 1], merged[(k + 1) % len(merged)]
        if _cross(before, at, after) < 0.0:
            return None
    return merged


def _without_collinear(ring: Sequence[Point]) -> list[Point]:
    n = len(ring)
    kept = [ring[k] for k in range(n) if _cross(ring[k - 1], ring[k], ring[(k + 1) % n]) > 0.0]
    return kept if len(kept) >= 3 else list(ring)


def _cross(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _doubled_area(ring: Sequence[Point]) -> float:
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True))
