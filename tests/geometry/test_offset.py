"""The exact offset: lines stay lines, arcs stay arcs, necks close, islands vanish."""

import math

import numpy as np
import pytest

from cutplan.base.errors import GeometryError
from cutplan.geometry import Path, area, circle, distance, is_simple, length, offset, point_at, polygon

SQUARE = polygon([(0, 0), (10, 0), (10, 10), (0, 10)])
SLOT = Path(np.array([[0, -5, 0], [40, -5, 1], [40, 5, 0], [0, 5, 1]]))
# Two squares of 20 joined by a neck 4 wide and 20 long.
DUMBBELL = polygon(
    [
        (0, 0), (20, 0), (20, 8), (40, 8), (40, 0), (60, 0),
        (60, 20), (40, 20), (40, 12), (20, 12), (20, 20), (0, 20),
    ]
)  # fmt: skip
# A block of 20 with a slot 4 wide and 15 deep from its top.
FORK = polygon([(0, 0), (20, 0), (20, 20), (12, 20), (12, 5), (8, 5), (8, 20), (0, 20)])


def test_growing_a_square_follows_steiners_formula() -> None:
    # area = A + P d + π d², perimeter = P + 2 π d (convex geometry, any textbook).
    (grown,) = offset(SQUARE, 3)
    assert len(grown) == 8
    assert area(grown) == pytest.approx(100 + 40 * 3 + math.pi * 9, rel=1e-12)
    assert length(grown) == pytest.approx(40 + 6 * math.pi, rel=1e-12)


def test_shrinking_a_square_keeps_its_corners_sharp() -> None:
    (shrunk,) = offset(SQUARE, -3)
    assert len(shrunk) == 4 and area(shrunk) == pytest.approx(16, rel=1e-12)


@pytest.mark.parametrize("distance", [-5.0, -5.0 - 1e-9, -7.0])
def test_a_contour_shrunk_by_half_its_width_vanishes(distance: float) -> None:
    assert offset(SQUARE, distance) == []
    assert offset(SLOT, distance) == []
    assert offset(circle((3, 3), 5), distance) == []


def test_a_circle_stays_two_arcs() -> None:
    (grown,) = offset(circle((3, 4), 5), 2)
    assert len(grown) == 2 and grown.segments.radius == pytest.approx([7, 7])


def test_a_neck_closes_at_half_its_width() -> None:
    assert len(offset(DUMBBELL, -1.9)) == 1
    for size in (-2 + 1e-9, -2.0, -2 - 1e-9, -2.1):
        lobes = offset(DUMBBELL, size)
        assert len(lobes) == 2 and all(is_simple(lobe) for lobe in lobes)
        assert area(lobes[0]) == pytest.approx(area(lobes[1]))


def test_a_slot_closes_at_half_its_width() -> None:
    assert len(offset(FORK, 1.9)[0]) == 14
    for size in (2 - 1e-9, 2.0, 2 + 1e-9, 2.5):
        (grown,) = offset(FORK, size)
        assert is_simple(grown) and len(grown) == 11


def test_growing_over_a_narrow_mouth_encloses_a_void() -> None:
    half_mouth = math.asin(0.1)
    x, y = 10 * math.cos(half_mouth), 10 * math.sin(half_mouth)
    bulge = math.tan((2 * math.pi - 2 * half_mouth) / 4)
    keyhole = Path(
        np.array([
            [x, y, bulge], [x, -y, 0], [30, -1, 0], [30, -20, 0],
            [-20, -20, 0], [-20, 20, 0], [30, 20, 0], [30, 1, 0],
        ])
    )  # fmt: skip
    outer, void = offset(keyhole, 3)
    assert area(outer) > 0 > area(void)
    # A circle of radius 7, and a little more before the mouth.
    assert math.pi * 49 < -area(void) < math.pi * 49.1
    assert len(offset(keyhole, 10.0)) == 1


def test_arcs_shrunk_past_their_centre_leave_their_neighbours_meeting() -> None:
    corner = math.tan(math.pi / 8)
    rounded = Path(
        np.array([
            [5, 0, 0], [35, 0, corner], [40, 5, 0], [40, 15, corner],
            [35, 20, 0], [5, 20, corner], [0, 15, 0], [0, 5, corner],
        ])
    )  # fmt: skip
    for size in (-5.0, -5 - 1e-9, -5 + 1e-9, -7.0):
        (shrunk,) = offset(rounded, size)
        assert len(shrunk) == 4
        assert area(shrunk) == pytest.approx((40 + 2 * size) * (20 + 2 * size), abs=1e-6)


@pytest.mark.parametrize("shape", [SQUARE, SLOT, DUMBBELL, FORK])
@pytest.mark.parametrize("size", [-4.0, -1.3, 0.2, 3.7, 25.0])
def test_every_point_of_an_offset_lies_at_its_distance(shape: Path, size: float) -> None:
    for contour in offset(shape, size):
        places = point_at(contour, np.linspace(0, length(contour), 500))
        assert distance(shape, places) == pytest.approx(abs(size), abs=1e-9)


def test_a_contour_that_crosses_itself_is_refused_with_its_place() -> None:
    with pytest.raises(GeometryError, match=r"5\.000, 5\.000"):
        offset(polygon([(0, 0), (10, 10), (10, 0), (0, 10)]), 1)
