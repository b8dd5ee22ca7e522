"""Arcs fitted to curves, points and chords stay within the tolerance and are few."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.base.errors import GeometryError
from cutplan.geometry import (
    FloatArray,
    Path,
    arc,
    area,
    chord_points,
    circle,
    direction_at,
    distance,
    fit_arcs,
    fit_curve,
    length,
    point_at,
    polygon,
    polyline,
    recover_arcs,
    vertex_lengths,
)

TOLERANCE = 0.01
Curve = Callable[[FloatArray], FloatArray]


def repeatable(examples: int) -> settings:
    return settings(max_examples=examples, derandomize=True, deadline=None, database=None)


def ellipse(a: float, b: float) -> tuple[Curve, Curve]:
    return (
        lambda t: np.column_stack([a * np.cos(t), b * np.sin(t)]),
        lambda t: np.column_stack([-a * np.sin(t), b * np.cos(t)]),
    )


def wave(t: FloatArray) -> FloatArray:
    return np.column_stack([t, 30 * np.sin(t / 40)])


def wave_slope(t: FloatArray) -> FloatArray:
    return np.column_stack([np.ones_like(t), 0.75 * np.cos(t / 40)])


def spiral(t: FloatArray) -> FloatArray:
    r = 20 + 5 * t
    return np.column_stack([r * np.cos(t), r * np.sin(t)])


def spiral_slope(t: FloatArray) -> FloatArray:
    r = 20 + 5 * t
    return np.column_stack([5 * np.cos(t) - r * np.sin(t), 5 * np.sin(t) + r * np.cos(t)])


def s_bend(t: FloatArray) -> FloatArray:
    """A cubic that leaves and arrives along its own chord: its middle lies on the chord."""
    return np.column_stack([100 * t, 60 * t * (t - 0.5) * (t - 1)])


def s_bend_slope(t: FloatArray) -> FloatArray:
    return np.column_stack([100 + 0 * t, 60 * (3 * t * t - 3 * t + 0.5)])


CURVES = [
    (*ellipse(100, 40), 0.0, 2 * math.pi, 40),
    (*ellipse(50, 5), 0.0, 2 * math.pi, 36),
    (wave, wave_slope, 0.0, 500.0, 48),
    (spiral, spiral_slope, 0.0, 12.0, 28),
    (s_bend, s_bend_slope, 0.0, 1.0, 14),
]


@pytest.mark.parametrize(("point", "slope", "t0", "t1", "most"), CURVES)
def test_a_curve_becomes_few_smooth_arcs_within_the_tolerance(
    point: Curve, slope: Curve, t0: float, t1: float, most: int
) -> None:
    path = fit_curve(point, slope, t0, t1, TOLERANCE)
    curve = point(np.linspace(t0, t1, 20_001))
    assert distance(path, curve).max() <= TOLERANCE
    back = point_at(path, np.linspace(0, length(path), 2000))
    assert distance(polyline(curve), back).max() <= TOLERANCE * 1.001
    assert path.start == pytest.approx(curve[0], abs=0)
    assert path.end == pytest.approx(curve[-1], abs=0)
    assert len(path) <= most
    joints = vertex_lengths(path)[1:-1]
    turns = direction_at(path, joints - 1e-7) - direction_at(path, joints + 1e-7)
    assert np.abs(turns).max() < 1e-6


@pytest.mark.parametrize(("point", "slope", "t0", "t1", "most"), CURVES)
def test_a_curve_ends_in_its_own_direction(
    point: Curve, slope: Curve, t0: float, t1: float, most: int
) -> None:
    path = fit_curve(point, slope, t0, t1, TOLERANCE)
    for s, t in ((1e-9, t0), (length(path) - 1e-9, t1)):
        wanted = slope(np.array([t]))[0]
        assert direction_at(path, s)[0] == pytest.approx(wanted / np.hypot(*wanted), abs=1e-6)


def test_a_circle_given_as_a_curve_comes_back_as_arcs_of_that_circle() -> None:
    path = fit_curve(*ellipse(20, 20), 0.0, 2 * math.pi, TOLERANCE)
    assert len(path) <= 3
    assert path.segments.radius == pytest.approx(20, abs=1e-6)


def test_a_straight_curve_becomes_one_line() -> None:
    path = fit_curve(
        lambda t: np.column_stack([t, 2 * t]), lambda t: np.column_stack([t * 0 + 1, t * 0 + 2]), 0, 9, 0.01
    )
    assert len(path) == 1 and not path.segments.is_arc.any()
    assert length(path) == pytest.approx(9 * math.sqrt(5))


def test_a_curve_with_a_cusp_keeps_it() -> None:
    def point(t: FloatArray) -> FloatArray:
        return np.column_stack([20 * t**2, 20 * t**3])

    path = fit_curve(point, lambda t: np.column_stack([40 * t, 60 * t**2]), -1.3, 1.0, TOLERANCE)
    assert distance(path, point(np.linspace(-1.3, 1, 5001))).max() <= TOLERANCE
    assert distance(path, [(0.0, 0.0)])[0] <= TOLERANCE


def test_a_curve_without_length_is_refused() -> None:
    with pytest.raises(GeometryError, match="no length"):
        fit_curve(lambda t: np.ones((len(t), 2)), lambda t: np.zeros((len(t), 2)), 0, 1, TOLERANCE)


@pytest.mark.parametrize(("point", "slope", "t0", "t1", "most"), CURVES)
def test_a_thousand_chords_of_a_spline_come_out_as_fewer_than_forty_arcs(
    point: Curve, slope: Curve, t0: float, t1: float, most: int
) -> None:
    chords = polyline(point(np.linspace(t0, t1, 1001)))
    for path in (recover_arcs(chords, TOLERANCE), fit_arcs(chords.points, TOLERANCE)):
        assert len(path) < 40
        assert distance(path, chords.points).max() <= TOLERANCE
        middles = 0.5 * (chords.points[1:] + chords.points[:-1])
        assert distance(path, middles).max() <= TOLERANCE * 1.2


@repeatable(60)
@given(st.integers(0, 2**32 - 1), st.sampled_from([0.003, 0.02, 0.3]))
def test_fitted_arcs_keep_points_and_their_connections_within_the_tolerance(
    seed: int, tolerance: float
) -> None:
    rng = np.random.default_rng(seed)
    points = wave(np.sort(rng.uniform(0, 400, 120))) + rng.normal(0, 0.3 * tolerance, (120, 2))
    path = fit_arcs(points, tolerance)
    assert distance(path, points).max() <= tolerance
    connections = point_at(polyline(points), np.linspace(0, length(polyline(points)), 2000))
    assert distance(path, connections).max() <= tolerance * (1 + 1e-5)
    assert path.start.tolist() == points[0].tolist() and path.end.tolist() == points[-1].tolist()
    assert set(map(tuple, path.points)) <= set(map(tuple, points))


def test_fitting_keeps_the_corners_of_sparse_points() -> None:
    square = [(0, 0), (50, 0), (50, 50), (0, 50)]
    assert fit_arcs(square, TOLERANCE, closed=True) == polygon(square)
    hexagon = chord_points(circle((0, 0), 50), 7.0)
    assert not fit_arcs(hexagon, TOLERANCE, closed=True).segments.is_arc.any()


def test_points_on_a_circle_give_that_circle() -> None:
    points = chord_points(circle((5, -3), 12.5, clockwise=True), 0.005)
    path = fit_arcs(points, TOLERANCE, closed=True)
    assert len(path) == 2 and area(path) == pytest.approx(-math.pi * 12.5**2)


@pytest.mark.parametrize("count", [24, 36, 90, 360])
@pytest.mark.parametrize("clockwise", [False, True])
def test_a_chorded_circle_is_a_circle_again(count: int, clockwise: bool) -> None:
    angles = 0.3 + math.tau * np.arange(count) / count * (-1 if clockwise else 1)
    radius = 20.0 if count == 24 else 100.0
    # Written with four decimals, as exports do.
    chords = np.round(np.column_stack([5 + radius * np.cos(angles), radius * np.sin(angles)]), 4)
    path = recover_arcs(polygon(chords), TOLERANCE)
    assert len(path) == 2
    assert path.segments.radius == pytest.approx([radius, radius], abs=1e-4)
    assert (area(path) < 0) == clockwise


@pytest.mark.parametrize("count", [3, 4, 6, 8, 12, 16])
@pytest.mark.parametrize("radius", [5.0, 50.0, 500.0])
def test_polygons_stay_polygons(count: int, radius: float) -> None:
    angles = math.tau * np.arange(count) / count
    path = polygon(np.column_stack([radius * np.cos(angles), radius * np.sin(angles)]))
    assert recover_arcs(path, TOLERANCE).vertices == pytest.approx(path.vertices)


def test_a_large_polygon_with_long_edges_stays_one() -> None:
    # 24 edges of 131 mm stand off their circle by 4.3 mm: drawn so on purpose.
    angles = math.tau * np.arange(24) / 24
    path = polygon(np.column_stack([500 * np.cos(angles), 500 * np.sin(angles)]))
    assert not recover_arcs(path, TOLERANCE).segments.is_arc.any()


def test_gently_bent_edges_are_no_chords() -> None:
    # A gusset edge of three straight stretches, 12 degrees apart: a bend by symmetry only.
    gusset = polygon([(0, 0), (100, 0), (100, 40), (95, 60), (86, 80), (72, 96), (0, 96)])
    assert recover_arcs(gusset, TOLERANCE) == gusset


def test_a_chorded_fillet_becomes_one_arc_and_the_straight_edges_stay() -> None:
    angles = np.linspace(-math.pi / 2, 0, 19)
    fillet = np.column_stack([80 + 20 * np.cos(angles), 20 + 20 * np.sin(angles)])
    path = recover_arcs(polygon(np.vstack([[[0, 0]], fillet, [[100, 60], [0, 60]]])), TOLERANCE)
    assert len(path) == 5
    assert np.count_nonzero(path.segments.is_arc) == 1
    assert path.segments.radius[path.segments.is_arc][0] == pytest.approx(20, abs=1e-6)
    corners = {(0.0, 0.0), (80.0, 0.0), (100.0, 20.0), (100.0, 60.0), (0.0, 60.0)}
    assert {(round(x, 9), round(y, 9)) for x, y in path.points} == corners


def test_a_corner_between_chorded_arcs_stays_where_it_is() -> None:
    first = chord_points(arc((0, 0), 40, -math.pi / 2, math.pi / 2), 0.01)
    second = chord_points(arc((60, 0), 20, math.pi, -math.pi / 2), 0.01)
    lens = np.vstack([first, second[1:], [[60, 60], [-40, 60], [-40, -40]]])
    path = recover_arcs(polygon(lens), TOLERANCE)
    assert distance(path, lens).max() <= TOLERANCE
    assert np.hypot(*(path.points - [40.0, 0.0]).T).min() < 1e-9
    assert np.count_nonzero(path.segments.is_arc) == 2


def test_an_arc_whose_last_chord_is_cut_short_is_still_one_arc() -> None:
    angles = np.append(np.arange(0, 80, 5), 81.0) * math.pi / 180
    run = np.column_stack([30 * np.cos(angles), 30 * np.sin(angles)])
    path = recover_arcs(polyline(np.vstack([[[30, -50]], run, [[-40, 29]]])), TOLERANCE)
    assert np.count_nonzero(path.segments.is_arc) == 1 and len(path) == 3


def test_collinear_runs_and_split_arcs_are_made_whole() -> None:
    square = polygon([(5, 0), (10, 0), (10, 10), (3, 10), (0, 10), (0, 4), (0, 0)])
    assert len(recover_arcs(square, TOLERANCE)) == 4
    quarter = math.tan(math.pi / 8)
    split = Path(np.array([[10, 0, quarter], [0, 10, quarter], [-10, 0, 0], [-10, -5, 0], [10, -5, 0]]))
    assert len(recover_arcs(split, TOLERANCE)) == 4
    assert recover_arcs(circle((1, 2), 3), TOLERANCE) == circle((1, 2), 3)


def test_arcs_of_one_circle_never_grow_past_half_a_turn() -> None:
    eighth = math.tan(math.pi / 16)
    angles = math.tau * np.arange(8) / 8
    ring = Path(np.column_stack([10 * np.cos(angles), 10 * np.sin(angles), np.full(8, eighth)]))
    whole = recover_arcs(ring, TOLERANCE)
    assert len(whole) == 2 and area(whole) == pytest.approx(100 * math.pi)


@repeatable(60)
@given(
    st.lists(
        st.tuples(st.floats(5.0, 200.0), st.floats(-2.5, 2.5).filter(lambda a: abs(a) > 0.5)),
        min_size=1,
        max_size=5,
    ),
    st.sampled_from([0.002, 0.01, 0.05]),
)
def test_chorded_chains_of_arcs_come_back_within_the_tolerance(
    bends: list[tuple[float, float]], sagitta: float
) -> None:
    place, way = np.zeros(2), 0.0
    rows = []
    for radius, sweep in bends:
        normal = np.array([-math.sin(way), math.cos(way)]) * math.copysign(radius, sweep)
        centre = place + normal
        start = math.atan2(*(place - centre)[::-1])
        rows.append(arc(centre.tolist(), radius, start, sweep).vertices[:-1])
        way += sweep
        place = centre + radius * np.array([math.cos(start + sweep), math.sin(start + sweep)])
    drawn = Path(np.vstack([*rows, [[*place, 0.0]]]), closed=False)
    chords = polyline(chord_points(drawn, sagitta))
    back = recover_arcs(chords, TOLERANCE)
    assert distance(back, chords.points).max() <= TOLERANCE
    assert distance(drawn, point_at(back, np.linspace(0, length(back), 500))).max() <= sagitta + 2 * TOLERANCE
    assert len(back) <= max(4 * len(drawn), len(chords) // 3)


@pytest.mark.parametrize(
    "function", [fit_arcs, lambda points, tolerance: recover_arcs(polyline(points), tolerance)]
)
def test_a_tolerance_must_be_above_zero(function: Callable[[list[tuple[int, int]], float], Path]) -> None:
    with pytest.raises(GeometryError, match="above zero"):
        function([(0, 0), (1, 1)], 0.0)
