"""Measures of parts against figures worked out by hand, and the narrowest against dense points."""

import math

import numpy as np
import pytest
import shapely

from cutplan.drawing import Part, inscribed_circle, measure_part
from cutplan.geometry import Path, chord_points, circle, polygon, reverse


def rectangle(x: float, y: float, width: float, height: float) -> Path:
    return polygon([(x, y), (x + width, y), (x + width, y + height), (x, y + height)])


def slot(x: float, y: float, length: float, width: float) -> Path:
    r = width / 2
    rows = [[x + r, y - r, 0], [x + length - r, y - r, 1], [x + length - r, y + r, 0], [x + r, y + r, 1]]
    return reverse(Path(np.array(rows)))


def test_area_cut_length_and_pierces_take_holes_into_account() -> None:
    measures = measure_part(Part("p", rectangle(0, 0, 100, 60), (circle((30, 30), 10, clockwise=True),)))
    assert measures.area == pytest.approx(6000 - 100 * math.pi, rel=1e-12)
    assert measures.cut_length == pytest.approx(320 + 20 * math.pi, rel=1e-12)
    assert measures.pierces == 2 and measures.bounds == (0, 0, 100, 60)


def test_the_thinnest_web_lies_between_hole_and_edge_or_hole_and_hole() -> None:
    holes = (circle((30, 30), 10, clockwise=True), circle((57, 30), 9, clockwise=True))
    web = measure_part(Part("p", rectangle(0, 0, 100, 60), holes)).thinnest_web
    assert web.value == pytest.approx(8, rel=1e-12) and web.place == pytest.approx((44, 30))
    web = measure_part(
        Part("p", rectangle(0, 0, 100, 60), (circle((30, 14.5), 10, clockwise=True),))
    ).thinnest_web
    assert web.value == pytest.approx(4.5, rel=1e-12) and web.place == pytest.approx((30, 2.25))


def test_a_neck_of_the_outline_is_a_web_too() -> None:
    # Two bays of radius 20 leave a neck of 10 in a bar of 50.
    rows = [
        [0, 0, 0],
        [40, 0, -1],
        [80, 0, 0],
        [120, 0, 0],
        [120, 50, 0],
        [80, 50, -1],
        [40, 50, 0],
        [0, 50, 0],
    ]
    web = measure_part(Part("p", Path(np.array(rows, dtype=float)))).thinnest_web
    assert web.value == pytest.approx(10, rel=1e-12) and web.place == pytest.approx((60, 25))


def test_the_web_of_a_ring_is_its_width_and_that_of_a_disc_its_diameter() -> None:
    ring = Part("ring", circle((5, 5), 150), (circle((5, 5), 90, clockwise=True),))
    assert measure_part(ring).thinnest_web.value == pytest.approx(60, rel=1e-12)
    assert measure_part(Part("disc", circle((5, 5), 75))).thinnest_web.value == pytest.approx(150, abs=1e-5)
    off_centre = Part("ring", circle((0, 0), 150), (circle((20, 0), 90, clockwise=True),))
    assert measure_part(off_centre).thinnest_web.value == pytest.approx(40, rel=1e-12)


def test_a_triangle_without_facing_edges_is_as_thick_as_its_inscribed_circle() -> None:
    # Right triangle 30, 40, 50: the inscribed circle has radius (30 + 40 − 50) / 2 = 10.
    web = measure_part(Part("t", polygon([(0, 0), (40, 0), (0, 30)]))).thinnest_web
    assert web.value == pytest.approx(20, abs=1e-5) and web.place == pytest.approx((10, 10), abs=1e-3)


def test_a_strip_is_as_thin_as_its_short_side() -> None:
    assert measure_part(Part("s", rectangle(0, 0, 300, 25))).thinnest_web.value == pytest.approx(
        25, rel=1e-12
    )


def test_the_narrowest_gap_is_a_slot_in_the_edge_or_a_hole_across() -> None:
    comb = polygon([(0, 0), (100, 0), (100, 60), (63, 60), (63, 20), (57, 20), (57, 60), (0, 60)])
    gap = measure_part(Part("p", comb)).narrowest_gap
    assert gap is not None and gap.value == pytest.approx(6, rel=1e-12)
    assert gap.place == pytest.approx((60, 40))
    holes = (slot(20, 30, 40, 5), circle((80, 30), 4, clockwise=True))
    measures = measure_part(Part("p", rectangle(0, 0, 100, 60), holes))
    assert measures.narrowest_gap is not None and measures.narrowest_gap.value == pytest.approx(5, rel=1e-6)
    assert measures.smallest_hole is not None and measures.smallest_hole.value == pytest.approx(5, rel=1e-6)


def test_a_waist_in_a_hole_is_a_gap_narrower_than_its_circle() -> None:
    # A keyhole of two squares of 20 joined by a passage of 4.
    corners = [(20, 20), (40, 20), (40, 28), (60, 28), (60, 20), (80, 20), (80, 40), (60, 40), (60, 32), (40, 32),
               (40, 40), (20, 40)]  # fmt: skip
    measures = measure_part(Part("p", rectangle(0, 0, 100, 60), (polygon(corners[::-1]),)))
    assert measures.narrowest_gap is not None and measures.narrowest_gap.value == pytest.approx(4, rel=1e-12)
    assert measures.smallest_hole is not None and measures.smallest_hole.value == pytest.approx(20, abs=0.01)


def test_corners_are_no_gaps_and_a_plain_plate_has_none() -> None:
    notch = polygon([(0, 0), (100, 0), (100, 60), (60, 60), (50, 20), (40, 60), (0, 60)])
    assert measure_part(Part("v", notch)).narrowest_gap is None
    assert measure_part(Part("r", rectangle(0, 0, 40, 30))).narrowest_gap is None
    assert measure_part(Part("r", rectangle(0, 0, 40, 30))).smallest_hole is None


@pytest.mark.parametrize(
    ("hole", "diameter"),
    [
        (circle((7, 3), 12.5), 25.0),
        (rectangle(0, 0, 80, 30), 30.0),
        (polygon([(0, 0), (40, 0), (0, 30)]), 20.0),
        (polygon([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)]), 40 * (2 - math.sqrt(2))),
    ],
)
def test_the_inscribed_circle_is_the_largest_tool_that_fits(hole: Path, diameter: float) -> None:
    # In an L of limbs 20 wide the circle sits at the inner corner: r + r·√2 … = √2 (20 − r) + …,
    # solved by hand: it touches both outer sides and the inner corner, r·(1 + √2) = 20·√2.
    found = inscribed_circle(hole)
    assert found.value == pytest.approx(diameter, abs=0.01)
    assert found.value <= diameter + 1e-9


@pytest.mark.parametrize("seed", range(8))
def test_webs_between_random_holes_agree_with_shapely(seed: int) -> None:
    # Distances between chorded contours by shapely, chords of 0.001 mm.
    random = np.random.default_rng(seed)
    holes: list[Path] = []
    while len(holes) < 12:
        centre, radius = random.uniform(40, 260, 2), float(random.uniform(4, 16))
        hole = circle(centre.tolist(), radius, clockwise=True, start=float(random.uniform(0, 6)))
        if random.random() < 0.5:
            x, y = centre.tolist()
            turn = random.uniform(0, math.pi / 2)
            corners = [
                (x + radius * math.cos(turn - k), y + radius * math.sin(turn - k)) for k in (0, 1.4, 2.9, 4.4)
            ]
            hole = polygon(corners)
        solid = shapely.Polygon(chord_points(hole, 0.001))
        if all(shapely.distance(solid, shapely.Polygon(chord_points(h, 0.001))) > 3 for h in holes):
            holes.append(hole)
    outer = rectangle(0, 0, 300, 300)
    rings = [shapely.LinearRing(chord_points(path, 0.001)) for path in (outer, *holes)]
    nearest = min(shapely.distance(a, b) for k, a in enumerate(rings) for b in rings[:k])
    assert measure_part(Part("p", outer, tuple(holes))).thinnest_web.value == pytest.approx(
        nearest, abs=0.0025
    )


def test_hundreds_of_holes_are_measured_in_one_go() -> None:
    centres = [(20 + 25 * i, 20 + 25 * j) for i in range(20) for j in range(20)]
    holes = tuple(circle(centre, 10, clockwise=True) for centre in centres)
    measures = measure_part(Part("sieve", rectangle(0, 0, 515, 515), holes))
    assert measures.thinnest_web.value == pytest.approx(5, rel=1e-9)
    assert measures.pierces == 401
