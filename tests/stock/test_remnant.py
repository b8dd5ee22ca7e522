"""Remnants never cover metal that is not there, and miss none that is worth keeping.

Held against set operations of shapely, a general-purpose geometry library.
"""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate

from cutplan.geometry import area, bounds, is_simple
from cutplan.stock import Piece, RemnantShape, remnant_shapes
from cutplan.stock.piece import checked_piece

PLATE = shapely.box(0, 0, 3000, 1500)
# Edges may lie this far within the true ones, mm: inset and simplification.
WITHIN = 2.0


def on_plate(shape: RemnantShape) -> shapely.Polygon:
    rings = [path.vertices[:, :2] for path in (shape.outline, *shape.voids)]
    return translate(shapely.Polygon(rings[0], rings[1:]), *shape.corner)


def test_an_unused_plate_comes_back_as_it_was_but_for_its_edges() -> None:
    (shape,) = remnant_shapes(PLATE)
    assert bounds(shape.outline) == pytest.approx((0, 0, 3000, 1500), abs=2 * WITHIN)
    assert len(shape.outline.vertices) == 4
    assert shape.voids == ()


def test_the_rest_beside_a_block_of_parts_is_an_angle() -> None:
    (shape,) = remnant_shapes(PLATE - shapely.box(0, 0, 900, 600))
    assert len(shape.outline.vertices) == 6
    assert area(shape.outline) == pytest.approx(3000 * 1500 - 900 * 600, rel=0.005)


def test_a_hole_in_the_middle_stays_a_hole_of_the_remnant() -> None:
    (shape,) = remnant_shapes(PLATE - shapely.Point(2000, 700).buffer(100))
    (void,) = shape.voids
    assert area(void) == pytest.approx(math.pi * 100**2, rel=0.05)
    assert area(void) >= shapely.Point(0, 0).buffer(100).area
    piece = checked_piece(Piece("R", 1, 1, 10, "S355", "mild steel", shape.outline, voids=shape.voids))
    assert piece.area_mm2 == pytest.approx(on_plate(shape).area)
    assert piece.as_plate().voids == shape.voids
    assert piece.as_plate().metal_mm2 == pytest.approx(on_plate(shape).area)


def test_two_halves_that_hang_by_a_neck_are_two_remnants() -> None:
    shapes = remnant_shapes(PLATE - shapely.box(1400, 0, 1500, 1450))
    assert [round(bounds(shape.outline)[2]) for shape in shapes] == [1498, 1398]
    assert [round(shape.corner[0]) for shape in shapes] == [1501, 1]


@pytest.mark.parametrize(
    ("size", "keep", "kept"),
    [
        ((310, 310), (300, 300), True),
        ((300, 300), (300, 300), True),
        ((290, 2000), (300, 300), False),
        ((300, 490), (300, 500), False),
        ((300, 500), (500, 300), True),
        ((5000, 150), (100, 1000), True),
    ],
)
def test_what_is_under_the_size_worth_keeping_is_scrap(
    size: tuple[float, float], keep: tuple[float, float], kept: bool
) -> None:
    assert bool(remnant_shapes(shapely.box(0, 0, *size), keep)) == kept
    turned = shapely.affinity.rotate(shapely.box(0, 0, *size), 30)
    assert bool(remnant_shapes(turned, keep)) == kept


def test_a_web_of_narrow_skeleton_is_no_remnant() -> None:
    holes = [shapely.box(x, y, x + 180, y + 180) for x in range(20, 2800, 200) for y in range(20, 1300, 200)]
    assert remnant_shapes(shapely.box(0, 0, 2820, 1420) - shapely.union_all(holes)) == ()


def hundredths(low: float, high: float) -> st.SearchStrategy[float]:
    """Figures rounded to 0.01, as those of programs are rounded."""
    return st.integers(round(100 * low), round(100 * high)).map(lambda n: n / 100)


CUT_OUTS = st.lists(
    st.tuples(
        st.sampled_from(["box", "disc"]),
        hundredths(0, 3000), hundredths(0, 1500), hundredths(20, 500), hundredths(0, 90),
    ),
    max_size=12,
)  # fmt: skip


def left_of(cut_outs: list[tuple[str, float, float, float, float]]) -> shapely.Geometry:
    gone = [
        shapely.Point(x, y).buffer(size / 2)
        if kind == "disc"
        else shapely.affinity.rotate(shapely.box(x, y, x + size, y + size / 2), turn)
        for kind, x, y, size, turn in cut_outs
    ]
    return PLATE - shapely.union_all(gone)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(CUT_OUTS)
def test_no_remnant_covers_a_place_without_metal(
    cut_outs: list[tuple[str, float, float, float, float]],
) -> None:
    metal = left_of(cut_outs)
    shapes = remnant_shapes(metal)
    placed = [on_plate(shape) for shape in shapes]
    assert all(is_simple(path) for shape in shapes for path in (shape.outline, *shape.voids))
    assert all(shapely.covers(metal, each) for each in placed)
    assert shapely.union_all(placed).area == pytest.approx(sum(each.area for each in placed))


@settings(max_examples=40, derandomize=True, deadline=None)
@given(CUT_OUTS, hundredths(0, 2696), hundredths(0, 1196))
def test_a_square_of_sound_metal_large_enough_is_always_kept(
    cut_outs: list[tuple[str, float, float, float, float]], x: float, y: float
) -> None:
    square = shapely.box(x, y, x + 304, y + 304)
    metal = left_of(cut_outs) | square
    placed = shapely.union_all([on_plate(shape) for shape in remnant_shapes(metal)])
    assert shapely.covers(placed, square.buffer(-WITHIN, join_style="mitre"))
