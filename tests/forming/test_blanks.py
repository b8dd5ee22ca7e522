"""Blanks from flanges: developed lengths by the standard, and folded again they are the part wanted."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from cutplan.base.errors import DrawingError
from cutplan.drawing import Part, metal_area
from cutplan.forming import (
    Blank,
    FlangeProfile,
    Press,
    bend_allowance,
    bend_compensation,
    correction_factor,
    setback,
)
from cutplan.geometry import bounds


@pytest.mark.parametrize(
    ("radius", "thickness", "saved"),
    [
        (1, 1, 1.9),
        (1.6, 1, 2.1),
        (2.5, 2, 4.0),
        (4, 2, 4.5),
        (6, 3, 6.7),
        (10, 1, 5.5),
        (10, 4, 9.6),
        (10, 6, 12.7),
    ],
)
def test_compensations_of_square_bends_are_those_of_the_standards_table(
    radius: float, thickness: float, saved: float
) -> None:
    # Table of compensation values v for bends of 90°, DIN 6935 supplement 2, one decimal (from memory).
    assert bend_compensation(90, radius, thickness) == pytest.approx(-saved, abs=0.05)


def test_the_correction_factor_is_the_standards() -> None:
    # DIN 6935 (from memory): k = 0.65 + ½·lg(r/s) up to r/s = 5, 1 above.
    assert correction_factor(4, 4) == pytest.approx(0.65)
    assert correction_factor(10, 2) == pytest.approx(0.65 + 0.5 * math.log10(5))
    assert correction_factor(10.1, 2) == 1.0


def test_a_channel_of_the_handbook_is_developed_by_hand() -> None:
    # Worked by hand after the formulas of DIN 6935: 50/100/50 outside, s = 2, r = 2.5, so
    # k = 0.65 + 0.5·lg 1.25 = 0.6985, v = π/2·(2.5 + 0.6985) − 9 = −3.976; 200 − 2·3.976.
    channel = FlangeProfile(flanges=[{"length": 50}, {"length": 100}, {"length": 50}], width=80, radius=2.5)
    blank = channel.blank("channel", 2)
    assert blank.length_mm == pytest.approx(200 - 2 * 3.976, abs=0.001)
    assert [bend.at_mm for bend in blank.bends] == pytest.approx([48.012, 144.036], abs=0.001)
    assert [bend.compensation_mm for bend in blank.bends] == pytest.approx([-3.976, -3.976], abs=0.001)


def test_open_bends_are_measured_where_the_outsides_meet_and_slight_ones_save_nothing() -> None:
    # DIN 6935 (from memory): above an opening of 90° the setback is (r + s)·tan; above 165° v = 0.
    assert bend_compensation(60, 4, 2) == pytest.approx(
        math.pi / 3 * (4 + 0.8005) - 2 * 6 * math.tan(math.pi / 6), abs=1e-3
    )
    assert bend_compensation(10, 4, 2) == 0.0
    assert bend_compensation(120, 4, 2) == pytest.approx(2 * math.pi / 3 * 4.8005 - 12, abs=1e-3)


def test_a_shops_k_factor_goes_before_the_standard() -> None:
    profile = {"flanges": [{"length": 50}, {"length": 60}], "width": 40, "radius": 5}
    by_press = FlangeProfile(**profile).blank("a", 4, Press(1000, 3000, (), 0.33)).length_mm
    own = FlangeProfile(**profile, k_factor=0.44).blank("a", 4, Press(1000, 3000, (), 0.33)).length_mm
    assert by_press == pytest.approx(110 - 18 + math.pi / 2 * (5 + 0.33 * 4))
    assert own == pytest.approx(110 - 18 + math.pi / 2 * (5 + 0.44 * 4))


def test_the_radius_is_what_air_bending_gives_where_none_is_asked() -> None:
    profile = FlangeProfile(flanges=[{"length": 90}, {"length": 90}], width=40)
    # Common practice: 0.16 of the die opening, here 63 mm as the narrowest on hand that serves 6 mm.
    assert profile.blank("a", 6, Press(1000, 3000, (40, 63, 100))).bends[0].radius_mm == pytest.approx(10.08)


# --- Folding the blank again, in space, with code of the tests' own. ---


def _turned(points: np.ndarray, axis: np.ndarray, angle: float) -> np.ndarray:
    """Turn points about the axis along y through a point, by Rodrigues' formula."""
    k = np.array([0.0, 1.0, 0.0])
    p = points - axis
    c, s = math.cos(angle), math.sin(angle)
    return axis + p * c + np.cross(k, p) * s + np.outer(p @ k, k) * (1 - c)


def _folded_lengths(blank: Blank, thickness: float) -> list[float]:
    """Fold the blank and measure each flange outside as a shop does.

    Only what is on the blank is taken: its length, its bend lines, and how much of it each
    bend makes round.  The straights are laid out as plates in space (top and bottom faces) and
    turned one after another about the middle of each round; then faces are met, or tangents
    laid, to measure.
    """
    ends = [0.0]
    for bend in blank.bends:
        ends += [bend.at_mm - bend.allowance_mm / 2, bend.at_mm + bend.allowance_mm / 2]
    ends.append(blank.length_mm)
    plates = [
        np.array([[a, 0, 0], [b, 0, 0], [a, 0, thickness], [b, 0, thickness]], float)
        for a, b in zip(ends[::2], ends[1::2], strict=True)
    ]
    for number in reversed(range(len(blank.bends))):
        bend = blank.bends[number]
        up = bend.direction == "up"
        start = bend.at_mm - bend.allowance_mm / 2
        centre = np.array([start, 0.0, thickness + bend.radius_mm if up else -bend.radius_mm])
        way = math.radians(bend.angle_deg) * (-1 if up else 1)
        for k in range(number + 1, len(plates)):
            back = plates[k] - np.array([bend.allowance_mm, 0.0, 0.0])
            plates[k] = _turned(back, centre, way)
    lengths = []
    for n, plate in enumerate(plates):
        along = plate[1] - plate[0]
        along /= np.linalg.norm(along)
        first, last = plate[0] @ along, plate[1] @ along
        if n > 0:
            first = min(first, _beyond(plate, plates[n - 1], blank.bends[n - 1], thickness, along, -1.0))
        if n < len(blank.bends):
            last = max(last, _beyond(plate, plates[n + 1], blank.bends[n], thickness, along, 1.0))
        lengths.append(float(last - first))
    return lengths


def _beyond(plate, other, bend, thickness, along, way) -> float:
    """Return how far along its direction a flange reaches at a bend: to where outsides meet, or the tangent."""
    face = [0, 1] if bend.direction == "up" else [2, 3]
    own, met = plate[face][:, [0, 2]], other[face][:, [0, 2]]
    if bend.angle_deg < 90:
        d1, d2 = own[1] - own[0], met[1] - met[0]
        t = np.linalg.solve(np.column_stack([d1, -d2]), met[0] - own[0])[0]
        return float((own[0] + t * d1) @ along[[0, 2]])
    # The round's outside lies r + s from its middle, which is r above the straight's inner face.
    end = plate[[1, 3] if way > 0 else [0, 2]]
    inner, outer = (end[1], end[0]) if bend.direction == "up" else (end[0], end[1])
    centre = inner + (inner - outer) / thickness * bend.radius_mm
    return float(centre @ along + way * (bend.radius_mm + thickness))


angles = st.one_of(st.sampled_from([30.0, 45.0, 90.0, 120.0]), st.floats(16.0, 150.0))
profiles = st.tuples(
    st.sampled_from([2.0, 3.0, 6.0, 10.0, 15.0]),
    st.floats(80, 400),
    st.lists(
        st.tuples(st.floats(120, 400), angles, st.sampled_from(["up", "down"]), st.floats(2.0, 30.0)),
        min_size=1,
        max_size=5,
    ),
)


@settings(max_examples=200, deadline=None)
@given(profiles)
def test_folding_the_blank_gives_the_flanges(profile) -> None:
    thickness, first, rest = profile
    flanges = [{"length": first}] + [
        {"length": length, "angle": angle, "direction": way, "radius": radius}
        for length, angle, way, radius in rest
    ]
    blank = FlangeProfile(flanges=flanges, width=100).blank("any", thickness)
    wanted = [flange["length"] for flange in flanges]
    assert _folded_lengths(blank, thickness) == pytest.approx(wanted, abs=0.01)
    assert [line.start[0] for line in blank.part.bends] == [bend.at_mm for bend in blank.bends]
    x0, _, x1, _ = bounds(blank.part.outer)
    assert x1 - x0 == pytest.approx(blank.length_mm)


@settings(max_examples=50, deadline=None)
@given(st.floats(30, 150), st.floats(2, 20), st.sampled_from([2.0, 5.0, 8.0]))
def test_inside_lengths_give_the_blank_of_the_outside_lengths_they_stand_for(
    angle, radius, thickness
) -> None:
    more = setback(angle, radius, thickness) - setback(angle, radius, thickness, "inside")
    bend = {"angle": angle, "radius": radius}
    inside = FlangeProfile(flanges=[{"length": 200}, {"length": 150, **bend}], width=50, measured="inside")
    outside = FlangeProfile(flanges=[{"length": 200 + more}, {"length": 150 + more, **bend}], width=50)
    assert inside.blank("a", thickness).length_mm == pytest.approx(outside.blank("a", thickness).length_mm)


def _bracket() -> Part:
    profile = FlangeProfile(
        flanges=[
            {"length": 80, "width": 120, "holes": [{"along": 30, "across": 20, "diameter": 18}]},
            {
                "length": 150,
                "width_end": 60,
                "holes": [
                    {"along": 70, "diameter": 14, "slot_length": 40},
                    {"along": 120, "diameter": 10, "slot_length": 20, "slot": "across"},
                ],
            },
        ],
        radius=10,
        bend_notes=True,
    )
    return profile.blank("bracket", 8).part


def test_holes_given_on_a_flange_land_on_the_blank() -> None:
    part = _bracket()
    xs = [sorted((bounds(hole)[0], bounds(hole)[2])) for hole in part.holes]
    assert xs[0] == pytest.approx([21, 39])
    # The second flange begins, outside, one setback of 18 mm before its straight.
    straight = 80 - 18 + bend_allowance(90, 10, 8)
    assert xs[1] == pytest.approx([straight - 18 + 50, straight - 18 + 90])
    assert xs[2] == pytest.approx([straight - 18 + 115, straight - 18 + 125])
    assert [bounds(hole)[3] for hole in part.holes] == pytest.approx([29, 7, 10])


def test_a_tapered_flange_keeps_its_widths_and_the_slots_their_area() -> None:
    part = _bracket()
    straight = 80 - 18 + bend_allowance(90, 10, 8)
    slots = math.pi * 49 + 26 * 14 + math.pi * 25 + 10 * 10
    flat = straight * 120 + (150 - 18) * 90
    assert metal_area(part) == pytest.approx(flat - math.pi * 81 - slots)


def test_bends_and_their_notes_come_with_the_blank() -> None:
    part = _bracket()
    (bend,), (text,) = part.bends, part.texts
    assert (bend.angle_deg, bend.radius_mm, bend.direction) == (90, 10, "up")
    assert abs(bend.end[1] - bend.start[1]) == pytest.approx(120)
    assert text.text == "UP 90 R10"


def test_flanges_share_a_straight_edge_where_asked() -> None:
    profile = {"flanges": [{"length": 60, "width": 100}, {"length": 90, "width_end": 40}], "radius": 5}
    _, y0, _, y1 = bounds(FlangeProfile(**profile, align="lower").blank("a", 4).part.outer)
    assert (y0, y1) == pytest.approx((0, 100))
    _, y0, _, y1 = bounds(FlangeProfile(**profile, align="upper").blank("a", 4).part.outer)
    assert (y0, y1) == pytest.approx((-100, 0))


def test_a_step_of_the_width_at_a_bend_is_warned_of() -> None:
    blank = FlangeProfile(flanges=[{"length": 60, "width": 100}, {"length": 90, "width": 80}]).blank("a", 4)
    assert [f.kind for f in blank.findings] == ["warning"]
    assert "from 100 to 80 mm at bend 1" in blank.findings[0].message


@pytest.mark.parametrize(
    ("flanges", "told"),
    [
        ([{"length": 60}, {"length": 15}], "flange 2 is 15 mm long, the rounds of its bends take 16.0 mm"),
        (
            [{"length": 60, "holes": [{"along": 50, "diameter": 18}]}, {"length": 60}],
            "reaches off its straight",
        ),
        (
            [{"length": 60, "holes": [{"along": 20, "across": 45, "diameter": 18}]}, {"length": 60}],
            "not inside",
        ),
    ],
)
def test_flanges_that_cannot_be_are_refused_with_the_reason(flanges, told) -> None:
    with pytest.raises(DrawingError, match=told):
        FlangeProfile(flanges=flanges, width=100, radius=8).blank("a", 8)


@pytest.mark.parametrize(
    ("profile", "told"),
    [
        ({"flanges": [{"length": 60, "angle": 90}, {"length": 60}], "width": 10}, "first flange has no bend"),
        ({"flanges": [{"length": 60}, {"length": 60}]}, "no width is given"),
        ({"flanges": [{"length": 60}], "width": 10}, "flanges"),
        ({"flanges": [{"length": 60}, {"length": 60, "angle": 170}], "width": 10}, "165"),
        (
            {
                "flanges": [
                    {"length": 60, "holes": [{"along": 5, "diameter": 9, "slot_length": 9}]},
                    {"length": 9},
                ]
            },
            "slot_length must be more",
        ),
    ],
)
def test_a_profile_that_does_not_hold_together_is_refused_at_the_border(profile, told) -> None:
    with pytest.raises(ValidationError, match=told):
        FlangeProfile(**profile)
