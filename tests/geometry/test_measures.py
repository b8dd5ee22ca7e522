"""Measures, places along paths, chorded views, containment, distances and crossings."""

import math

import numpy as np
import pytest
import shapely

from cutplan.base.errors import GeometryError
from cutplan.geometry import (
    FloatArray,
    Path,
    arc,
    area,
    bounds,
    centroid,
    chord_points,
    circle,
    contains,
    crossings,
    direction_at,
    distance,
    is_counter_clockwise,
    is_simple,
    join,
    length,
    nearest,
    normal_at,
    oriented,
    path_distance,
    point_at,
    polygon,
    polyline,
    reaches_within,
    reverse,
    self_crossings,
    start_at,
    subpath,
    to_polygon,
)


def slot(span: float = 40.0, radius: float = 5.0) -> Path:
    """A slotted hole: two straight sides and two half circles."""
    return Path(np.array([[0, -radius, 0], [span, -radius, 1], [span, radius, 0], [0, radius, 1]]))


def notched() -> Path:
    """A plate of 60 by 40 with a round bite of radius 10 from the middle of its top side."""
    return Path(np.array([[0, 0, 0], [60, 0, 0], [60, 40, 0], [40, 40, -1], [20, 40, 0], [0, 40, 0]]))


def pacman() -> Path:
    """Three quarters of a disc of radius 10: an arc of more than half a turn."""
    return Path(np.array([[0, 0, 0], [10, 0, math.tan(1.5 * math.pi / 4)], [0, -10, 0]]))


SHAPES = [slot(), notched(), pacman(), circle((3, 4), 7.5, start=0.3), reverse(notched())]


def test_the_area_of_a_slot_is_its_rectangle_and_a_circle() -> None:
    assert area(slot()) == pytest.approx(400 + 25 * math.pi, rel=1e-14)
    assert area(reverse(slot())) == pytest.approx(-400 - 25 * math.pi, rel=1e-14)
    assert length(slot()) == pytest.approx(80 + 10 * math.pi, rel=1e-14)


def test_the_area_of_a_flat_arc_keeps_its_digits() -> None:
    # A circular segment of small rise h on a chord c has the area 2/3 c h (1 + ...), so that
    # the series, not the difference of sweep and sine, must be used.
    bulge = 1e-7
    flat = Path(np.array([[0, 0, 0.0], [100, 0, bulge]]))
    rise = bulge * 100 / 2
    assert area(flat) == pytest.approx(2 / 3 * 100 * rise, rel=1e-9)


def test_an_open_path_has_no_area_but_a_centroid() -> None:
    with pytest.raises(GeometryError, match="closed"):
        area(polyline([(0, 0), (1, 0)]))
    # The centroid of a half circle of wire lies 2 r / π from its centre (statics, any textbook).
    assert centroid(arc((0, 0), 10, 0, math.pi)) == pytest.approx([0, 20 / math.pi])


def test_the_centroid_of_a_half_disc_is_where_statics_has_it() -> None:
    half = Path(np.array([[10, 0, 1.0], [-10, 0, 0.0]]))
    assert centroid(half) == pytest.approx([0, 40 / (3 * math.pi)])
    assert centroid(notched())[0] == pytest.approx(30)
    removed = math.pi * 50
    lowered = (2400 * 20 - removed * (40 - 40 / (3 * math.pi))) / (2400 - removed)
    assert centroid(notched())[1] == pytest.approx(lowered)


@pytest.mark.parametrize("shape", SHAPES)
def test_bounds_agree_with_a_fine_chorded_view(shape: Path) -> None:
    chorded = chord_points(shape, 1e-7)
    assert bounds(shape) == pytest.approx([*chorded.min(axis=0), *chorded.max(axis=0)], abs=1e-6)


def test_bounds_reach_the_quadrant_points_an_arc_passes() -> None:
    assert bounds(pacman()) == pytest.approx((-10, -10, 10, 10))
    assert bounds(slot()) == pytest.approx((-5, -5, 45, 5))


def test_orientation_is_turned_only_where_it_is_wrong() -> None:
    assert oriented(slot()) is not None and is_counter_clockwise(oriented(reverse(slot())))
    assert not is_counter_clockwise(oriented(slot(), counter_clockwise=False))
    assert oriented(slot()) == slot()


def test_points_and_directions_follow_the_arc() -> None:
    quarter_in = 40 + 2.5 * math.pi
    assert point_at(slot(), quarter_in) == pytest.approx(np.array([[45.0, 0.0]]))
    assert direction_at(slot(), quarter_in) == pytest.approx(np.array([[0.0, 1.0]]))
    assert normal_at(slot(), quarter_in) == pytest.approx(np.array([[-1.0, 0.0]]))
    # Past the length of a closed path the count goes on round.
    assert point_at(slot(), length(slot()) + 7) == pytest.approx(np.array([[7.0, -5.0]]))
    assert point_at(pacman(), 10 + 7.5 * math.pi) == pytest.approx(
        np.array([[-math.sqrt(50), math.sqrt(50)]])
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_directions_agree_with_differences_of_points(shape: Path) -> None:
    s = np.linspace(0.1234, length(shape), 40, endpoint=False)
    ahead, behind = point_at(shape, s + 1e-5), point_at(shape, s - 1e-5)
    assert direction_at(shape, s) == pytest.approx((ahead - behind) / 2e-5, abs=1e-4)


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize(("begin", "end"), [(0.0, 5.0), (3.0, 30.0), (30.0, 3.0), (11.0, 11.0), (20.0, 90.0)])
def test_a_stretch_of_a_contour_lies_on_it_and_has_its_length(shape: Path, begin: float, end: float) -> None:
    stretch = subpath(shape, begin, end)
    total = length(shape)
    asked = end - begin if end > begin else end - begin + total * (1 + (begin - end) // total)
    assert length(stretch) == pytest.approx(asked)
    s = np.linspace(0, length(stretch), 17)
    assert point_at(stretch, s) == pytest.approx(point_at(shape, begin + s), abs=1e-9)


def test_a_stretch_that_an_open_path_lacks_is_refused() -> None:
    with pytest.raises(GeometryError, match="no stretch"):
        subpath(polyline([(0, 0), (10, 0)]), 5, 12)


def test_a_contour_restarted_at_a_vertex_gains_none() -> None:
    assert start_at(slot(), 40.0).vertices == pytest.approx(np.roll(slot().vertices, -1, axis=0))
    moved = start_at(slot(), 20.0)
    assert len(moved) == 5 and moved.start == pytest.approx([20.0, -5.0])
    assert area(moved) == pytest.approx(area(slot()))


@pytest.mark.parametrize("tolerance", [0.5, 0.01])
@pytest.mark.parametrize("shape", SHAPES)
def test_a_chorded_view_errs_on_the_side_it_says(shape: Path, tolerance: float) -> None:
    fine = to_polygon(shape, tolerance=1e-6)
    outside = to_polygon(shape, tolerance=tolerance, side="outside")
    inside = to_polygon(shape, tolerance=tolerance, side="inside")
    assert fine.difference(outside).area < 1e-9 * fine.area
    assert inside.difference(fine.buffer(1e-5)).area < 1e-9 * fine.area
    assert outside.area >= abs(area(shape)) * (1 - 1e-12) and inside.area <= abs(area(shape)) * (1 + 1e-12)
    for view in (outside, inside):
        assert distance(shape, np.array(view.exterior.coords)).max() <= tolerance * (1 + 1e-9)
        assert view.exterior.hausdorff_distance(fine.exterior) <= tolerance + 1e-6


def test_metal_round_a_hole_is_never_understated_by_the_outside_view() -> None:
    outer, hole = circle((0, 0), 50), circle((0, 0), 20, clockwise=True)
    metal = math.pi * (2500 - 400)
    assert to_polygon(outer, [hole], tolerance=0.3, side="outside").area > metal
    assert to_polygon(outer, [hole], tolerance=0.3, side="inside").area < metal


def test_a_thin_web_survives_a_coarse_view() -> None:
    # Chords of 1 mm tolerance would cross the 0.2 mm web between outer contour and hole.
    outer, hole = circle((0, 0), 50), circle((0, 0), 49.8)
    view = to_polygon(outer, [hole], tolerance=1.0)
    assert view.is_valid and len(view.interiors) == 1


def test_contours_that_cross_give_no_polygon() -> None:
    with pytest.raises(GeometryError, match="crosses"):
        to_polygon(circle((0, 0), 10), [circle((10, 0), 5)], tolerance=0.1)


def grid(reach: float = 70.0, step: float = 0.7) -> FloatArray:
    ticks = np.arange(-reach, reach, step) + 0.123
    x, y = np.meshgrid(ticks, ticks)
    return np.column_stack([x.ravel(), y.ravel()])


@pytest.mark.parametrize("shape", SHAPES)
def test_containment_and_distance_agree_with_a_fine_chorded_view(shape: Path) -> None:
    points = grid()
    view = to_polygon(shape, tolerance=1e-5)
    apart = distance(shape, points)
    clear = apart > 1e-4
    assert (contains(shape, points) == shapely.contains_xy(view, points))[clear].all()
    assert apart == pytest.approx(shapely.distance(view.exterior, shapely.points(points)), abs=2e-5)


def test_points_level_with_vertices_and_quadrants_are_counted_once() -> None:
    hole = circle((0, 0), 10)
    assert contains(
        hole, [(0, 0), (-9.99, 0), (9.99, 0), (0, 9.999), (-20, 0), (-20, 10), (-20, -10)]
    ).tolist() == ([True, True, True, True, False, False, False])
    square = polygon([(0, 0), (10, 0), (10, 10), (0, 10)])
    assert contains(square, [(-5, 0), (-5, 10), (5, 5)]).tolist() == [False, False, True]


@pytest.mark.parametrize("shape", SHAPES)
def test_the_nearest_place_is_at_the_distance_given(shape: Path) -> None:
    points = grid(step=5.0)
    apart, s = nearest(shape, points)
    assert np.hypot(*(point_at(shape, s) - points).T) == pytest.approx(apart, abs=1e-9)


@pytest.mark.parametrize("radius", [1e3, 1e5, 3e6])
def test_a_flat_arc_ends_where_it_ends(radius: float) -> None:
    chord = 1e-3
    flat = Path(np.array([[0.0, 0.0, 0.25 * chord / radius], [chord, 0.0, 0.0]]), closed=False)
    past = np.array([[chord + 0.01, 0.0], [-0.003, 0.004], [0.5 * chord, 0.02]])
    assert distance(flat, past) == pytest.approx([0.01, 0.005, 0.02], abs=1e-8)
    post = polyline([[chord + 0.01, -1.0], [chord + 0.01, 1.0]])
    assert path_distance(flat, post) == pytest.approx(0.01, abs=1e-8)


def test_distances_between_contours_match_hand_sums() -> None:
    assert path_distance(slot(), circle((20, 20), 3)) == pytest.approx(12)
    assert path_distance(circle((0, 0), 10), circle((1, 0), 4)) == pytest.approx(5)
    assert path_distance(circle((0, 0), 10), circle((30, 40), 4)) == pytest.approx(36)
    assert path_distance(slot(), circle((20, 5), 3)) == 0.0
    # A line that passes within a quarter circle's span: the foot of the centre is nearest.
    assert path_distance(arc((0, 0), 10, 0, math.pi / 2), polyline([(20, 0), (0, 20)])) == pytest.approx(
        math.sqrt(200) - 10
    )
    assert path_distance(arc((0, 0), 10, 0, math.pi / 2), polyline([(5, -9), (-5, -9)])) == pytest.approx(
        math.hypot(5, 9)
    )


def test_reaching_within_agrees_with_the_distance() -> None:
    assert reaches_within(slot(), circle((20, 20), 3), 12.001)
    assert not reaches_within(slot(), circle((20, 20), 3), 11.999)


def test_crossings_of_a_line_and_a_circle_are_where_pythagoras_has_them() -> None:
    places = crossings(circle((0, 0), 5), polyline([(-10, 3), (10, 3)]))
    assert sorted(places.tolist()) == [pytest.approx([-4, 3]), pytest.approx([4, 3])]
    assert len(crossings(circle((0, 0), 5), polyline([(-10, 5.1), (10, 5.1)]))) == 0
    # Two circles of radius 5 and 5 whose centres are 6 apart meet at height 4.
    places = crossings(circle((0, 0), 5), circle((6, 0), 5))
    assert sorted(places.tolist()) == [pytest.approx([3, -4]), pytest.approx([3, 4])]


def test_a_tangent_line_touches_once() -> None:
    assert crossings(circle((0, 0), 5), polyline([(-10, 5), (10, 5)])) == pytest.approx(
        np.array([[0, 5]]), abs=1e-3
    )


def test_paths_that_run_together_give_the_ends_of_the_common_stretch() -> None:
    places = crossings(polyline([(0, 0), (10, 0)]), polyline([(4, 0), (20, 0)]))
    assert sorted(places.tolist()) == [[4, 0], [10, 0]]


@pytest.mark.parametrize("shape", SHAPES)
def test_sound_contours_are_simple(shape: Path) -> None:
    assert is_simple(shape)


def test_a_bow_tie_is_found_out_with_its_place() -> None:
    bow = polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    assert self_crossings(bow) == pytest.approx(np.array([[5, 5]]))


def test_a_contour_that_touches_or_retraces_itself_is_not_simple() -> None:
    touching = polygon([(0, 0), (10, 0), (10, 10), (5, 0), (0, 10)])
    assert self_crossings(touching) == pytest.approx(np.array([[5, 0]]))
    retraced = polygon([(0, 0), (10, 0), (10, 10), (10, -5), (0, -5)])
    assert not is_simple(retraced)


def test_an_open_path_that_comes_back_to_its_start_is_not_simple() -> None:
    assert not is_simple(polyline([(0, 0), (10, 0), (10, 10), (0, 0)]))
    assert is_simple(polyline([(0, 0), (10, 0), (10, 10), (0, 1)]))
    looped = join([polyline([(0, 0), (10, 0)]), arc((10, 5), 5, -math.pi / 2, 1.9 * math.pi)])
    assert is_simple(looped)
