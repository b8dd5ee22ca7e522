"""Widths and largest circles of regions, against shapely on fine chords and figures worked out by hand."""

import math

import numpy as np
import pytest
import shapely

from cutplan.base.errors import GeometryError
from cutplan.geometry import Path, Region, chord_points, circle, polygon, polyline, reverse
from cutplan.geometry.index import SegmentIndex

CHORDS = 1e-4


def turned(points: list[tuple[float, float]], angle: float) -> Path:
    c, s = math.cos(angle), math.sin(angle)
    return polygon([(c * x - s * y, s * x + c * y) for x, y in points])


def flower(seed: int) -> list[Path]:
    """A wavy outline of lines and arcs with a round, a bulging and a square hole in it."""
    random = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * math.pi, 24, endpoint=False)
    reach = random.uniform(80, 130, 24)
    bulge = np.where(random.random(24) < 0.5, random.uniform(-0.25, 0.25, 24), 0.0)
    outer = Path(np.column_stack([reach * np.cos(angle), reach * np.sin(angle), bulge]))
    bag = Path(np.array([[-30, -20, 0.6], [-10, -20, 0.0], [-10, 0, -0.3], [-30, 0, 0.0]]))
    return [outer, circle((30, 10), 12, clockwise=True), reverse(bag), reverse(turned([(-9, 30), (9, 30), (9, 48), (-9, 48)], 0.3))]  # fmt: skip


def chorded(contours: list[Path]) -> shapely.Polygon:
    outer, *holes = (chord_points(contour, CHORDS) for contour in contours)
    return shapely.Polygon(outer, holes)


@pytest.mark.parametrize("seed", range(5))
def test_a_regions_tables_are_those_of_its_contours(seed: int) -> None:
    contours = flower(seed)
    table, boxes, tree, _, _ = Region(contours)._tables
    indexes = [SegmentIndex.of(contour) for contour in contours]
    assert np.allclose(table, np.vstack([index.table for index in indexes]), atol=1e-9)
    assert np.allclose(boxes, np.vstack([index.boxes for index in indexes]), atol=1e-9)
    view = chorded(contours)
    assert Region(contours).area == pytest.approx(view.area, rel=1e-5)
    assert Region(contours).bounds == pytest.approx(view.bounds, abs=1e-3)
    assert tree[1].tolist() == pytest.approx(view.bounds, abs=1e-3)


@pytest.mark.parametrize("seed", range(5))
def test_a_places_clearance_is_its_distance_from_the_metals_edge(seed: int) -> None:
    contours = flower(seed)
    region, view = Region(contours), chorded(contours)
    places = np.random.default_rng(seed).uniform(-130, 130, (300, 2))
    places[:100] = np.round(places[:100] / 10) * 10
    away = shapely.distance(view.boundary, shapely.points(places))
    sign = np.where(shapely.contains_xy(view, places), 1.0, -1.0)
    found = [region.clearance((float(x), float(y))) for x, y in places]
    assert np.allclose(found, sign * away, atol=2 * CHORDS)


def test_places_on_the_line_of_a_chord_are_told_apart() -> None:
    # Circles of two halves: the line between their ends runs through all of these places.
    ring = Region([circle((5, 5), 150), circle((5, 5), 90, clockwise=True)])
    assert [ring.clearance((x, 5.0)) for x in (-200.0, -115.0, 5.0, 125.0, 160.0)] == pytest.approx(
        [-55, 30, -90, 30, -5]
    )


@pytest.mark.parametrize("seed", range(12))
def test_the_largest_circle_of_a_turned_box_and_triangle_is_exact(seed: int) -> None:
    random = np.random.default_rng(seed)
    w, h = random.uniform(5, 100, 2).tolist()
    angle = float(random.uniform(0, 6))
    box = Region([turned([(0, 0), (w, 0), (w, h), (0, h)], angle)])
    assert box.largest_circle(0.01).value == pytest.approx(min(w, h), abs=1e-5)
    triangle = Region([turned([(0, 0), (w, 0), (0, h)], angle)])
    assert triangle.largest_circle(0.01).value == pytest.approx(w + h - math.hypot(w, h), abs=1e-5)


@pytest.mark.parametrize("seed", range(5))
def test_the_largest_circle_agrees_with_shapely_and_stops_where_it_is_enough(seed: int) -> None:
    contours = flower(seed)
    spoke = shapely.maximum_inscribed_circle(chorded(contours), tolerance=1e-4)
    found = Region(contours).largest_circle(0.01)
    assert 2 * spoke.length - 0.0105 <= found.value <= 2 * spoke.length + 0.001
    assert 10.0 <= Region(contours).largest_circle(0.01, enough=10.0).value <= found.value + 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_the_narrowest_within_is_the_nearest_of_two_contours_or_a_neck(seed: int) -> None:
    contours = flower(seed)
    rings = [shapely.LinearRing(chord_points(contour, CHORDS)) for contour in contours]
    nearest = min(a.distance(b) for k, a in enumerate(rings) for b in rings[:k])
    within, _ = Region(contours).narrowest(300.0, 300.0)
    assert within is not None and within.value <= nearest + 2 * CHORDS
    middle = shapely.Point(within.place)
    assert sum(middle.distance(ring) <= 0.5 * within.value + 1e-3 for ring in rings) >= 1
    assert Region(contours).narrowest(0.5 * within.value, 300.0)[0] is None


def test_a_comb_of_a_thousand_teeth_is_measured_at_its_narrowest_tooth_and_gap() -> None:
    points, x = [(0.0, 0.0), (10_000.0, 0.0), (10_000.0, 50.0)], 10_000.0
    for k in range(1000):
        tooth, gap = (2.5 if k == 700 else 4.0), (1.5 if k == 300 else 3.0)
        points += [(x - tooth, 50.0), (x - tooth, 10.0), (x - tooth - gap, 10.0), (x - tooth - gap, 50.0)]
        x -= tooth + gap
    points += [(0.0, 50.0)]
    within, beyond = Region([polygon(points)]).narrowest(100.0, 100.0)
    assert within is not None and within.value == pytest.approx(2.5, rel=1e-9)
    assert beyond is not None and beyond.value == pytest.approx(1.5, rel=1e-9)


def test_an_open_path_bounds_no_region() -> None:
    with pytest.raises(GeometryError, match="closed"):
        Region([polyline([(0, 0), (10, 0), (10, 10)])])
