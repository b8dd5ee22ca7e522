"""Bends: the handbook's force, and what a blank and a press can and cannot do."""

import pytest

from cutplan.base.errors import DrawingError
from cutplan.drawing import BendLine, Part
from cutplan.forming import (
    Press,
    check_bends,
    die_opening,
    force_kn_per_m,
    inside_radius,
    scribe_lines,
    shortest_flange,
)
from cutplan.geometry import circle, length, polygon

KN_PER_M_IN_A_TON_PER_FOOT = 8.896443 / 0.3048


def blank(*bends: BendLine, holes: tuple = ()) -> Part:
    return Part("blank", polygon([(0, 0), (400, 0), (400, 300), (0, 300)]), holes=holes, bends=bends)


def across(y: float, **more: float) -> BendLine:
    return BendLine((0, y), (400, y), **more)


def test_the_force_of_the_handbooks_worked_example() -> None:
    # Handbook rule 575·t²/V: t 0.125 in, V 1 in, 4 ft of 60 ksi steel: 9.0 tons/ft, 36 tons.
    force = force_kn_per_m(0.125 * 25.4, 25.4, 415.0)
    assert force / KN_PER_M_IN_A_TON_PER_FOOT == pytest.approx(9.0, abs=0.05)
    assert 4 * force / KN_PER_M_IN_A_TON_PER_FOOT == pytest.approx(36.0, abs=0.1)


def test_die_radius_and_flange_follow_common_practice() -> None:
    # Common practice: V = 8t, 10t above 12 mm; radius 0.16·V; shortest flange 0.7·V.
    assert die_opening(10) == 80
    assert die_opening(20) == 200
    assert inside_radius(80) == pytest.approx(12.8)
    assert shortest_flange(80) == pytest.approx(56)


def test_the_next_larger_die_on_hand_is_taken() -> None:
    assert die_opening(10, (63, 100, 160)) == 100
    assert die_opening(30, (63, 100, 160)) == 160
    assert die_opening(10, (63, 100, 160), radius=20) == 160


def test_a_hole_in_the_bend_takes_its_width_off_the_force() -> None:
    whole = check_bends(blank(across(150)), 10, "S355", "mild steel")[0]
    holed = check_bends(
        blank(across(150), holes=(circle((200, 150), 50, clockwise=True),)), 10, "S355", "mild steel"
    )[0]
    assert whole.length_mm == pytest.approx(400)
    assert holed.length_mm == pytest.approx(300)
    assert holed.force_kn == pytest.approx(0.75 * whole.force_kn)


def test_a_flange_shorter_than_the_die_carries_is_refused() -> None:
    check = check_bends(blank(across(40)), 10, "S355", "mild steel")[0]
    assert check.flange_mm == pytest.approx(40)
    assert [f.kind for f in check.findings] == ["refused"]
    assert "flange of 40.0 mm" in check.findings[0].message


def test_the_flange_between_two_bends_counts() -> None:
    check = check_bends(blank(across(100), across(150)), 10, "S355", "mild steel")[0]
    assert check.flange_mm == pytest.approx(50)


def test_a_press_too_weak_or_too_short_is_named_before_plate_is_cut() -> None:
    messages = [
        f.message
        for f in check_bends(blank(across(150)), 10, "S355", "mild steel", Press(100, 350, (50,)))[0].findings
    ]
    assert any("the press has 100 kN" in m for m in messages)
    assert any("the bed 350 mm" in m for m in messages)
    assert any("80 mm is usual" in m for m in messages)


def test_a_hole_over_the_die_is_warned_of() -> None:
    near = circle((200, 180), 10, clockwise=True)
    findings = check_bends(blank(across(150), holes=(near,)), 10, "S355", "mild steel")[0].findings
    assert [f.kind for f in findings] == ["warning"]
    assert "20.0 mm from a bend" in findings[0].message


@pytest.mark.parametrize(("rolling", "warned"), [(0.0, True), (90.0, False), (160.0, True)])
def test_a_bend_along_the_rolling_direction_is_warned_of(rolling: float, warned: bool) -> None:
    check = check_bends(blank(across(150)), 10, "S355", "mild steel", rolling_deg=rolling)[0]
    assert check.along_rolling is warned
    assert bool(check.findings) is warned


def test_a_bend_line_off_the_part_is_refused_with_its_place() -> None:
    with pytest.raises(DrawingError, match=r"off the part at \(0\.000, 500\.000\)"):
        check_bends(blank(across(500)), 10, "S355", "mild steel")


def test_bends_are_scribed_as_ticks_or_in_full_and_kept_off_the_edges() -> None:
    part = blank(across(150), holes=(circle((200, 150), 50, clockwise=True),))
    ticks = scribe_lines(part, tick=15, clearance=2)
    assert [length(t) for t in ticks] == pytest.approx([15] * 4)
    assert ticks[0].start[0] == pytest.approx(2)
    full = scribe_lines(part, tick=None, clearance=2)
    assert [length(t) for t in full] == pytest.approx([146, 146])
