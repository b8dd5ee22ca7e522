"""Outlines for collision: parts grown and plates shrunk by the gap, never understated.

Every part is grown by half the gap and every plate shrunk by the edge less half the gap, so
that the search may let outlines touch.  Outlines err to the side of too much metal and have
few vertices; the exact outline is looked at again in `check`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely import Geometry, LinearRing, Polygon

from cutplan.base.errors import NestingError
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Path, reverse
from cutplan.nesting.model import NestGaps
from cutplan.stock import Plate

__all__ = [
    "coarse_outline",
    "coarse_ring",
    "keepout_area",
    "least_areas",
    "part_outline",
    "usable_area",
    "with_useful_holes",
]

# Arcs are bounded by tangents at multiples of one of these angles, so that the sides of
# different arcs are parallel and no-fit polygons stay small.
_TANGENT_STEPS_DEG = (90.0, 45.0, 30.0, 15.0, 7.5)
# How far a tangent corner may stand off its arc, as a share of the part's size.
_STAND_OFF = 0.004
# Outward simplification: area added by one vertex less, as a share of the part's area.
_COARSEST_CUT = 2e-4
_MOST_VERTICES = 40
# Clearance added to every outline so that touching outlines keep the gap in floats, mm.
_FLOAT_CLEARANCE = 2e-6
# How far outlines of plates and keep-outs, and those for areas, may stand off their arcs, mm.
_PLATE_STAND_OFF = 0.5
# To what share of a polygon's size the radius of the largest circle in it is found.
_CIRCLE_TOLERANCE = 1e-3
_FINE_STAND_OFF = 0.01


def coarse_ring(path: Path, stand_off: float) -> FloatArray:
    """Return points around a contour that take in all metal on its left, shape (n, 2).

    Arcs that bulge away from the metal get corners outside them, others chords.
    """
    segments = path.segments
    points: list[FloatArray] = []
    for k in range(len(segments.length)):
        points.append(segments.start[k][None])
        sweep, radius = float(segments.sweep[k]), float(segments.radius[k])
        if sweep == 0.0:
            continue
        step = _tangent_step(radius, stand_off)
        centre = segments.centre[k]
        first = math.atan2(*(segments.start[k] - centre)[::-1])
        points.append(_arc_points(centre, radius, first, sweep, step))
    return np.vstack(points)


def _tangent_step(radius: float, stand_off: float) -> float:
    for degrees in _TANGENT_STEPS_DEG:
        half = math.radians(0.5 * degrees)
        if radius * (1.0 / math.cos(half) - 1.0) <= stand_off:
            return math.radians(degrees)
    return math.radians(_TANGENT_STEPS_DEG[-1])


def _arc_points(centre: FloatArray, radius: float, first: float, sweep: float, step: float) -> FloatArray:
    """Corners of the tangents (counter-clockwise arcs) or points on the arc (clockwise ones)."""
    low, high = min(first, first + sweep), max(first, first + sweep)
    inner = np.arange(math.floor(low / step) + 1, math.ceil(high / step)) * step
    inner = inner[(inner > low + 1e-9) & (inner < high - 1e-9)]
    if sweep < 0.0:
        angles, reach = inner[::-1], np.full(len(inner), radius)
    else:
        tangents = np.concatenate([[low], inner, [high]])
        angles = 0.5 * (tangents[1:] + tangents[:-1])
        reach = radius / np.cos(0.5 * np.diff(tangents))
    return np.asarray(centre + reach[:, None] * np.column_stack([np.cos(angles), np.sin(angles)]))


def part_outline(part: Part, gaps: NestGaps, foot: Sequence[Path] = ()) -> Polygon:
    """Return a part with its foot grown by half the gap, with the holes that leave room inside them.

    Raises
    ------
    NestingError
        If the outer contour has no area or crosses itself.
    """
    low, high = part.outer.points.min(axis=0), part.outer.points.max(axis=0)
    stand_off = max(0.05, _STAND_OFF * float(np.hypot(*(high - low))))
    metal = Polygon(coarse_ring(part.outer, stand_off))
    if not metal.is_valid or metal.area <= 0.0:
        raise NestingError(
            f"the outer contour of part {part.name!r} crosses itself or has no area",
            where=part.source or None,
            remedy="mend the drawing",
        )
    half = 0.5 * gaps.gap + _FLOAT_CLEARANCE
    taken = [Polygon(coarse_ring(each, stand_off)) for each in foot]
    grown = _grow(_filled(shapely.union_all([metal, *taken])) if taken else metal, half)
    hole_gap = gaps.gap if gaps.hole_gap is None else gaps.hole_gap
    rim = hole_gap - 0.5 * gaps.gap + _FLOAT_CLEARANCE
    room: list[Geometry] = []
    for hole in part.holes:
        opening = Polygon(coarse_ring(hole, stand_off))
        if opening.is_valid:
            room += [p for p in _parts_of(opening.buffer(-rim, join_style="mitre")) if p.area > 0.0]
    outline = _simplified(grown, 1.0)
    holes = [_simplified(p, -1.0) for p in room]
    with_holes = shapely.difference(outline, shapely.union_all(holes)) if holes else outline
    return with_holes if with_holes.geom_type == "Polygon" else outline


def _filled(geometry: Geometry) -> Polygon:
    """Return the outline of the largest piece of a geometry."""
    largest = max(_parts_of(geometry), key=lambda piece: piece.area)
    return Polygon(largest.exterior)


def with_useful_holes(outlines: Sequence[Polygon]) -> list[Polygon]:
    """Return outlines without the holes that none of them could lie in.

    Bolt holes would only slow the search down.
    """
    sizes = [_size(outline) for outline in outlines]

    def serves(ring: LinearRing) -> bool:
        within = _size(Polygon(ring))
        return any(_may_lie_in(size, within) for size in sizes)

    return [Polygon(o.exterior, [ring for ring in o.interiors if serves(ring)]) for o in outlines]


_Size = tuple[float, float, float, float]


def _size(polygon: Polygon) -> _Size:
    """Area within the outer ring, sides of the least box, and diameter of the largest circle inside."""
    whole = Polygon(polygon.exterior)
    inside = shapely.maximum_inscribed_circle(whole, tolerance=_CIRCLE_TOLERANCE * math.sqrt(whole.area))
    return (whole.area, *_least_box(whole), 2.0 * float(inside.length))


def _may_lie_in(part: _Size, hole: _Size) -> bool:
    """Whether sizes alone leave it open that a part lies in a hole.

    Its area, the area of its least box, that box's long side and the largest circle in it are
    at most what the hole has of each, the long side at most the diagonal of the hole's box.
    """
    slack = 1.0 + 1e-9
    return (
        part[0] <= hole[0] * slack
        and part[1] * part[2] <= hole[1] * hole[2] * slack
        and part[2] <= math.hypot(hole[1], hole[2]) * slack
        and part[3] <= hole[3] + 2.0 * _CIRCLE_TOLERANCE * math.sqrt(hole[0])
    )


def _least_box(polygon: Polygon) -> tuple[float, float]:
    """Short and long side of the least rectangle round a polygon, turned as need be."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(polygon))
    first, second = (float(np.hypot(*(corners[k + 1] - corners[k]))) for k in range(2))
    return min(first, second), max(first, second)


def _grow(metal: Polygon, distance: float) -> Polygon:
    """Outer ring grown with square corners, which stay few and lie outside round ones."""
    grown = Polygon(metal.exterior).buffer(distance, join_style="mitre", mitre_limit=1.5)
    return Polygon(grown.exterior)


def _parts_of(geometry: Geometry) -> list[Polygon]:
    return [g for g in getattr(geometry, "geoms", [geometry]) if g.geom_type == "Polygon" and not g.is_empty]


def _simplified(polygon: Polygon, side: float) -> Polygon:
    """Polygon of one ring with fewer vertices that covers it (side 1) or lies in it (−1)."""
    ring = shapely.get_coordinates(shapely.orient_polygons(polygon).exterior)[:-1]
    points = [(float(x), float(y)) for x, y in (ring if side > 0.0 else ring[::-1])]
    allowance = _COARSEST_CUT * polygon.area
    while len(points) > 4:
        cost, k, corner = min((_cut(points, k) for k in range(len(points))), key=lambda cut: cut[:2])
        if cost > allowance and (len(points) <= _MOST_VERTICES or not math.isfinite(cost)):
            break
        if corner is None:
            del points[k]
        else:
            points[k] = corner
            del points[(k + 1) % len(points)]
    simple = Polygon(points)
    slack = 1e-9 * math.sqrt(polygon.area)
    right = simple.is_valid and (
        simple.buffer(slack).covers(polygon) if side > 0.0 else polygon.buffer(slack).covers(simple)
    )
    return simple if right else polygon


def coarse_outline(polygon: Polygon) -> Polygon:
    """Return a polygon of few points that covers one of many; holes are kept as they are."""
    if len(polygon.exterior.coords) - 1 <= _MOST_VERTICES:
        return polygon
    whole = _simplified(Polygon(polygon.exterior), 1.0)
    return Polygon(whole.exterior, polygon.interiors)


def _cut(points: list[tuple[float, float]], k: int) -> tuple[float, int, tuple[float, float] | None]:
    """Area that one vertex less adds on the left-hand metal's outside at vertex k.

    A re-entrant vertex is left out; an edge between two others is swallowed by lengthening its
    neighbours up to their crossing.
    """
    n = len(points)
    a, b, c, d = points[k - 1], points[k], points[(k + 1) % n], points[(k + 2) % n]
    turn = _cross(a, b, c)
    if turn <= 0.0:
        return -0.5 * turn, k, None
    if _cross(b, c, d) <= 0.0:
        return math.inf, k, None
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], c[0] - d[0], c[1] - d[1]
    cross = ux * vy - uy * vx
    # Neighbours that run apart, or nearly along each other, have no sensible crossing.
    if cross >= -1e-9 * math.hypot(ux, uy) * math.hypot(vx, vy):
        return math.inf, k, None
    t = ((c[0] - b[0]) * vy - (c[1] - b[1]) * vx) / cross
    corner = (b[0] + t * ux, b[1] + t * uy)
    return 0.5 * abs(_cross(b, corner, c)), k, corner


def _cross(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def usable_area(plate: Plate, gaps: NestGaps) -> Geometry | None:
    """Return where grown parts may lie on a plate, keep-outs not yet taken out.

    None where the edge leaves nothing.

    Raises
    ------
    NestingError
        If the plate's outline is open, crosses itself or has no area.
    """

    remedy = "close and mend the remnant's outline"
    if not plate.outline.closed:
        raise NestingError(f"the outline of plate {plate.id!r} is open", remedy=remedy)
    metal = _understated(plate.outline, _PLATE_STAND_OFF)
    if not metal.is_valid or metal.area <= 0.0:
        raise NestingError(f"the outline of plate {plate.id!r} crosses itself or has no area", remedy=remedy)
    inner = metal.buffer(0.5 * gaps.gap - gaps.edge, join_style="mitre", mitre_limit=10.0)
    return None if inner.is_empty else inner


def _understated(path: Path, stand_off: float) -> Polygon:
    """Polygon within a contour: walked clockwise, the metal is on the other side of the corners."""
    ring = coarse_ring(path, stand_off)
    clockwise = reverse(path) if shapely.is_ccw(shapely.linearrings(ring)) else path
    return Polygon(coarse_ring(clockwise, stand_off))


def keepout_area(contour: Path, gaps: NestGaps, *, stands: bool = False) -> Polygon:
    """Return a keep-out grown so that parts keep the gap from it, from what stands the torch's room too."""
    area = Polygon(coarse_ring(contour, _PLATE_STAND_OFF))
    if not contour.closed or not area.is_valid:
        raise NestingError("a keep-out's contour is open or crosses itself", remedy="draw it closed")
    # Parts carry the other half of the gap themselves.
    more = max(gaps.gap, gaps.clamp_gap) - 0.5 * gaps.gap if stands else 0.5 * gaps.gap
    return _simplified(_grow(area, more + _FLOAT_CLEARANCE), 1.0)


def least_areas(parts: Sequence[Part], gaps: NestGaps) -> list[float]:
    """Return the areas that parts of one batch and their halves of the gap take at least, mm².

    A hole counts as room only where one of the parts may lie in it.
    """
    half = 0.5 * gaps.gap
    hole_gap = gaps.gap if gaps.hole_gap is None else gaps.hole_gap
    rim = hole_gap - half
    grown = [_understated(part.outer, _FINE_STAND_OFF).buffer(half) for part in parts]
    sizes = [_size(polygon) for polygon in grown]
    areas = []
    for part, polygon in zip(parts, grown, strict=True):
        room = 0.0
        for hole in part.holes:
            opening = shapely.Polygon(coarse_ring(reverse(hole), _FINE_STAND_OFF)).buffer(-rim)
            for piece in _parts_of(opening):
                within = _size(piece)
                room += piece.area if any(_may_lie_in(size, within) for size in sizes) else 0.0
        areas.append(float(max(0.0, polygon.area - room)))
    return areas
