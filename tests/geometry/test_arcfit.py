"""Arcs fitted to curves, points and chords stay within the tolerance and are few."""

import math

import numpy as np
import pytest

from cutplan.geometry import (
    Path,
    circle,
    direction_at,
    distance,
    fit_arcs,
    fit_curve,
    length,
    polygon,
    polyline,
    recover_arcs,
)

TOLERANCE = 0.01


def ellipse(t: np.ndarray) -> np.ndarray:
    return np.column_stack([100 * np.cos(t), 40 * np.sin(t)])


def ellipse_slope(t: np.ndarray) -> np.ndarray:
    return np.column_stack([-100 * np.sin(t), 40 * np.cos(t)])


def wave(t: np.ndarray) -> np.ndarray:
    return np.column_stack([t, 30 * np.sin(t / 40)])


def wave_slope(t: np.ndarray) -> np.ndarray:
    return np.column_stack([np.ones_like(t), 0.75 * np.cos(t / 40)])


@pytest.mark.parametrize(
    ("point", "slope", "t0", "t1", "most"),
    [(ellipse, ellipse_slope, 0.0, math.pi, 30), (wave, wave_slope, 0.0, 500.0, 60)],
)
def test_a_curve_becomes_few_smooth_arcs_within_the_tolerance(point, slope, t0, t1, most) -> None:
    path = fit_curve(point, slope, t0, t1, TOLERANCE)
    assert distance(path, point(np.linspace(t0, t1, 5000))).max() <= TOLERANCE * 1.02
    assert path.start == pytest.approx(point(np.array([t0]))[0], abs=0)
    assert path.end == pytest.approx(point(np.array([t1]))[0], abs=0)
    assert len(path) < most
    joints = np.cumsum(path.segments.length)[:-1]
    turns = direction_at(path, joints - 1e-7) - direction_at(path, joints + 1e-7)
    assert np.abs(turns).max() < 1e-5


def test_a_straight_curve_becomes_lines() -> None:
    path = fit_curve(
        lambda t: np.column_stack([t, 2 * t]), lambda t: np.column_stack([t * 0 + 1, t * 0 + 2]), 0, 9, 0.01
    )
    assert not path.segments.is_arc.any()
    assert length(path) == pytest.approx(9 * math.sqrt(5))


def test_a_thousand_chords_of_a_spline_come_out_as_fewer_than_forty_arcs() -> None:
    chords = polyline(wave(np.linspace(0, 500, 1001)))
    path = recover_arcs(chords, TOLERANCE)
    assert len(path) < 40
    assert distance(path, chords.points).max() <= TOLERANCE


@pytest.mark.parametrize("count", [24, 36, 90, 360])
def test_a_chorded_circle_is_a_circle_again(count: int) -> None:
    angles = 0.3 + math.tau * np.arange(count) / count
    radius = 20.0 if count == 24 else 100.0
    path = recover_arcs(
        polygon(np.column_stack([5 + radius * np.cos(angles), radius * np.sin(angles)])), TOLERANCE
    )
    assert len(path) == 2
    assert path.segments.radius == pytest.approx([radius, radius], rel=1e-9)


@pytest.mark.parametrize("count", [3, 4, 6, 8, 12, 16])
def test_polygons_stay_polygons(count: int) -> None:
    angles = math.tau * np.arange(count) / count
    path = polygon(np.column_stack([50 * np.cos(angles), 50 * np.sin(angles)]))
    assert not recover_arcs(path, TOLERANCE).segments.is_arc.any()
    assert len(recover_arcs(path, TOLERANCE)) == count


def test_a_chorded_fillet_becomes_one_arc_and_the_straight_edges_stay() -> None:
    angles = np.linspace(-math.pi / 2, 0, 19)
    fillet = np.column_stack([80 + 20 * np.cos(angles), 20 + 20 * np.sin(angles)])
    path = recover_arcs(polygon(np.vstack([[[0, 0]], fillet, [[100, 60], [0, 60]]])), TOLERANCE)
    assert len(path) == 5
    assert np.count_nonzero(path.segments.is_arc) == 1
    assert path.segments.radius[path.segments.is_arc][0] == pytest.approx(20, abs=1e-6)


def test_collinear_runs_and_split_arcs_are_made_whole() -> None:
    square = polygon([(0, 0), (5, 0), (10, 0), (10, 10), (3, 10), (0, 10), (0, 4)])
    assert len(recover_arcs(square, TOLERANCE)) == 4
    quarter = math.tan(math.pi / 8)
    split = Path(np.array([[10, 0, quarter], [0, 10, quarter], [-10, 0, 0], [-10, -5, 0], [10, -5, 0]]))
    assert len(recover_arcs(split, TOLERANCE)) == 4
    assert recover_arcs(circle((1, 2), 3), TOLERANCE) == circle((1, 2), 3)


def test_points_are_kept_within_the_tolerance_and_ends_exactly() -> None:
    rng = np.random.default_rng(5)
    points = wave(np.sort(rng.uniform(0, 400, 300)))
    path = fit_arcs(points, 0.02)
    assert distance(path, points).max() <= 0.02
    assert path.start.tolist() == points[0].tolist()
    assert path.end.tolist() == points[-1].tolist()
    assert len(path) < 40
