"""Where a plate lies follows from touched corners, and how crooked it may lie from its nest."""

import math

import pytest

from cutplan.base.errors import InputError
from cutplan.drawing import Part
from cutplan.geometry import Pose, polygon
from cutplan.stock import (
    Keepout,
    NestedPlate,
    Placement,
    Plate,
    as_it_lies,
    beyond_plate,
    lie_of,
    skew_allowed,
    touch_points,
)


def box(x0: float, y0: float, x1: float, y1: float) -> object:
    return polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def sheet(*places: tuple[float, float], **changes: object) -> NestedPlate:
    part = Part("strip", box(0, 0, 900, 100))  # type: ignore[arg-type]
    plate = Plate("A", box(0, 0, 1000, 500), 10.0, "S355", "mild steel", **changes)  # type: ignore[arg-type]
    return NestedPlate(plate, 1, tuple(Placement(part, n, Pose(x, y)) for n, (x, y) in enumerate(places, 1)))


def test_two_corners_of_a_rectangle_and_three_of_a_remnant_are_touched() -> None:
    assert touch_points(sheet().plate) == ((0, 0), (1000, 0))
    wedge = Plate("R", polygon([(0, 0), (800, 0), (300, 400), (0, 400)]), 10.0, "S355", "mild steel")
    assert touch_points(wedge) == ((0, 0), (800, 0), (0, 400))


@pytest.mark.parametrize("turn", [-7.0, -0.4, 0.0, 1.3])
def test_the_lie_puts_the_corners_where_they_were_found(turn: float) -> None:
    corners = ((0.0, 0.0), (800.0, 0.0), (0.0, 400.0))
    r = math.radians(turn)
    found = [
        (10 + x * math.cos(r) - y * math.sin(r), -5 + x * math.sin(r) + y * math.cos(r)) for x, y in corners
    ]
    for n in (2, 3):
        lie = lie_of(corners[:n], found[:n])
        assert (lie.skew_deg, lie.pose.x, lie.pose.y) == pytest.approx((turn, 10.0, -5.0), abs=1e-9)
        assert lie.misfit_mm < 1e-9


def test_three_corners_off_by_a_hair_are_fitted_and_off_by_more_refused() -> None:
    corners = ((0.0, 0.0), (800.0, 0.0), (0.0, 400.0))
    assert lie_of(corners, [(0.2, 0), (800, 0.1), (0, 400.3)]).misfit_mm < 0.3
    with pytest.raises(InputError, match="do not fit the plate: they are off by"):
        lie_of(corners, [(0, 0), (800, 0), (0, 415)])


def test_a_plate_longer_than_ordered_is_no_misfit() -> None:
    assert lie_of(((0, 0), (1000, 0)), [(0, 0), (1008, 0)]).misfit_mm == 0.0


def test_parts_and_defects_move_with_the_plate_and_clamps_stay() -> None:
    clamp, scar = Keepout(box(400, -50, 500, 5), 60.0), Keepout(box(10, 10, 20, 20), 0.0)  # type: ignore[arg-type]
    lying = as_it_lies(sheet((20.0, 20.0), keepouts=(clamp, scar)), Pose(10.0, 0.0, 90.0))
    assert lying.plate.keepouts[0] == clamp
    assert lying.plate.keepouts[1].outline.points[0].tolist() == pytest.approx([0.0, 10.0])
    assert (lying.placements[0].pose.x, lying.placements[0].pose.rotation_deg) == pytest.approx((-10.0, 90.0))


def test_the_skew_that_a_nest_stands_follows_from_its_edges() -> None:
    """The lower right corner of a part 20 mm from the edge falls off where the plate's edge rises 20 mm there."""
    nested = sheet((20.0, 20.0))
    expected = math.degrees(math.atan2(20.0, 920.0))
    assert skew_allowed(nested, 0.0) == pytest.approx(expected, abs=0.02)
    assert skew_allowed(nested, 4.0) == pytest.approx(math.degrees(math.atan2(18.0, 922.0)), abs=0.02)
    allowed = skew_allowed(nested, 4.0)
    assert not beyond_plate(nested, Pose(0.0, 0.0, allowed), 4.0)
    assert [p.copy for p in beyond_plate(nested, Pose(0.0, 0.0, allowed + 0.02), 4.0)] == [1]
    assert skew_allowed(sheet((20.0, 1.0)), 4.0) == 0.0
