"""Paths: segments, circles, reversal, joining, placement."""

import math

import numpy as np
import pytest

from cutplan.base.errors import GeometryError
from cutplan.geometry import Path, Pose, arc, circle, join, place, polygon, polyline, reverse


def test_bulge_is_the_tangent_of_a_quarter_of_the_included_angle() -> None:
    # DXF reference, group code 42.
    quarter = arc((0, 0), 10, 0, math.pi / 2)
    assert quarter.vertices[0, 2] == pytest.approx(math.tan(math.pi / 8))
    assert quarter.segments.centre[0] == pytest.approx([0, 0], abs=1e-12)
    assert quarter.segments.radius[0] == pytest.approx(10)
    assert quarter.segments.length[0] == pytest.approx(5 * math.pi)


@pytest.mark.parametrize("clockwise", [False, True])
def test_a_circle_is_two_arcs_about_its_centre(clockwise: bool) -> None:
    path = circle((3, -2), 7, clockwise=clockwise, start=0.4)
    assert len(path) == 2
    assert path.segments.centre == pytest.approx(np.array([[3, -2], [3, -2]]))
    assert path.segments.sweep.sum() == pytest.approx(-2 * math.pi if clockwise else 2 * math.pi)


def test_reversing_twice_gives_the_same_path() -> None:
    path = Path(np.array([[0, 0, 0.5], [10, 0, 0], [10, 5, -0.2], [0, 5, 0]]))
    assert reverse(reverse(path)) == path
    assert reverse(path).segments.length.sum() == pytest.approx(path.segments.length.sum())


def test_a_gap_between_joined_paths_is_refused_with_its_place() -> None:
    with pytest.raises(GeometryError, match=r"1\.000, 0\.000"):
        join([polyline([(0, 0), (1, 0)]), polyline([(1, 0.1), (2, 0)])])


def test_placement_mirrors_then_rotates_then_moves() -> None:
    path = polygon([(1, 0), (3, 0), (3, 1)])
    placed = place(path, Pose(x=10, y=20, rotation_deg=90, mirrored=True))
    # (3, 1) → mirrored (−3, 1) → rotated (−1, −3) → moved (9, 17)
    assert placed.points[2] == pytest.approx([9, 17], abs=0)


@pytest.mark.parametrize("bad", [[[0, 0, 0]], [[0, 0], [1, 1]], [[0, 0, 0], [math.nan, 1, 0]]])
def test_bad_vertices_are_refused(bad: list[list[float]]) -> None:
    with pytest.raises(GeometryError):
        Path(np.array(bad, dtype=float))
