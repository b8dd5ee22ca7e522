"""Slots, necks and corners that the kerf cannot reach are told of with their place and width."""

import math

import numpy as np
import pytest

from cutplan.base.errors import GeometryError
from cutplan.cutting import check_part, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, circle, polygon, reverse


def only(findings):
    (finding,) = findings
    return finding


@pytest.mark.parametrize(("width", "told"), [(1.2, True), (1.9, True), (2.05, False), (3.0, False)])
def test_an_open_slot_narrower_than_the_kerf_is_refused(width, told, plasma):
    half = 0.5 * width
    edge = polygon(
        [
            [0, 0],
            [100, 0],
            [100, 60],
            [50 + half, 60],
            [50 + half, 30],
            [50 - half, 30],
            [50 - half, 60],
            [0, 60],
        ]
    )
    findings = check_part(Part("slotted", edge), plasma)
    assert bool(findings) == told
    if told:
        finding = only(findings)
        assert finding.kind == "refused"
        assert f"{width:.2f} mm wide" in finding.message and "2.00 mm kerf" in finding.message
        assert math.dist(finding.place, (50, 30)) < 1.0


def test_a_bay_behind_a_narrow_mouth_is_refused(plasma):
    """The kerf passes the 1.5 mm mouth and never gets into the bay."""
    edge = polygon(
        [
            [0, 0], [100, 0], [100, 60], [50.75, 60], [50.75, 50], [65, 50], [65, 25], [35, 25], [35, 50],
            [49.25, 50], [49.25, 60], [0, 60],
        ]
    )  # fmt: skip
    finding = only(check_part(Part("bay", edge), plasma))
    assert finding.kind == "refused" and "1.50 mm wide" in finding.message


@pytest.mark.parametrize("width", [1.0, 1.8, 1.99])
def test_a_hole_with_a_neck_under_the_kerf_is_refused_at_the_neck(width, plasma, sheet_of):
    half = 0.5 * width
    hole = polygon(
        [
            [20, 20], [40, 20], [40, 30 - half], [60, 30 - half], [60, 20], [80, 20], [80, 40], [60, 40],
            [60, 30 + half], [40, 30 + half], [40, 40], [20, 40],
        ]
    )  # fmt: skip
    part = Part("necked", polygon([[0, 0], [100, 0], [100, 60], [0, 60]]), (reverse(hole),))
    finding = only(check_part(part, plasma))
    assert finding.kind == "refused"
    assert "neck" in finding.message and f"{width:.2f} mm wide" in finding.message
    assert 39 <= finding.place[0] <= 61 and abs(finding.place[1] - 30) <= 1.0
    made = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma)
    assert [cut.kind for cut in made.cuts] == ["outside"]
    assert only(made.findings).place == pytest.approx((finding.place[0] + 100, finding.place[1] + 100))


def test_square_corners_inside_are_the_trades_usual_fillets(plasma):
    hole = reverse(polygon([[30, 15], [70, 15], [70, 45], [30, 45]]))
    ell = Part("ell", polygon([[0, 0], [100, 0], [100, 60], [60, 60], [60, 55], [0, 55]]), (hole,))
    assert check_part(ell, plasma) == ()


def test_a_sharp_notch_keeps_metal_in_its_tip(plasma):
    """A jet of radius r stays r·(1/sin(θ/2) − 1) off the tip of a notch of angle θ."""
    half = math.tan(math.radians(15)) * 40
    edge = polygon([[0, 0], [100, 0], [100, 60], [50 + half, 60], [50, 20], [50 - half, 60], [0, 60]])
    finding = only(check_part(Part("notched", edge), plasma))
    assert finding.kind == "warning"
    depth = 1.0 * (1.0 / math.sin(math.radians(15)) - 1.0)
    assert f"{depth:.2f} mm" in finding.message
    assert finding.place == pytest.approx((50, 20), abs=0.01)


def test_a_shallow_nick_is_a_warning(plasma):
    edge = polygon([[0, 0], [100, 0], [100, 60], [50.5, 60], [50.5, 59.3], [49.5, 59.3], [49.5, 60], [0, 60]])
    finding = only(check_part(Part("nicked", edge), plasma))
    assert finding.kind == "warning" and "nick" in finding.message


def test_an_arc_tighter_than_half_the_kerf_keeps_its_fillet_without_a_word(plasma):
    """A re-entrant corner rounded with 0.5 mm: the jet's own round takes its place."""
    bulge = -math.tan(math.pi / 8)
    edge = Path(
        np.array(
            [[0, 0, 0], [100, 0, 0], [100, 60, 0], [60, 60, 0], [60, 40.5, bulge], [59.5, 40, 0], [0, 40, 0]]
        ),
        closed=True,
    )
    assert check_part(Part("step", edge), plasma) == ()


def test_plate_too_thick_to_pierce_refuses_holes(plasma, with_rules):
    data = with_rules(plasma, edge_start_above=8.0)
    part = Part(
        "holed", polygon([[0, 0], [100, 0], [100, 60], [0, 60]]), (circle((50, 30), 20, clockwise=True),)
    )
    finding = only(check_part(part, data))
    assert finding.kind == "refused" and finding.remedy == "drill a start hole"


def test_a_web_too_thin_for_the_heat_is_a_warning_at_its_place(plasma):
    """Two holes 4 mm apart, one of them 6 mm from the edge: the narrower is told of, both are counted."""
    holes = (circle((30, 26), 20, clockwise=True), circle((74, 26), 20, clockwise=True))
    part = Part("webbed", polygon([[0, -10], [110, -10], [110, 60], [0, 60]]), holes)
    finding = only(check_part(part, plasma))
    assert finding.kind == "warning"
    assert "4.00 mm wide" in finding.message and "10.0 mm" in finding.message
    assert finding.place == pytest.approx((52, 26), abs=0.1)
    wide = Part("wide", polygon([[0, -10], [110, -10], [110, 60], [0, 60]]), holes[:1])
    assert check_part(wide, plasma) == ()


def test_a_neck_of_the_outline_is_a_warning(plasma):
    waist = polygon(
        [
            [0, 0], [40, 0], [40, 17], [60, 17], [60, 0], [100, 0], [100, 40], [60, 40], [60, 23], [40, 23],
            [40, 40], [0, 40],
        ]
    )  # fmt: skip
    finding = only(check_part(Part("waisted", waist), plasma))
    assert finding.kind == "warning" and "6.00 mm wide" in finding.message
    assert 39 < finding.place[0] < 61 and 17 <= finding.place[1] <= 23
    strip = only(check_part(Part("strip", polygon([[0, 0], [90, 0], [90, 8], [0, 8]])), plasma))
    assert "nowhere wider than 8.00 mm" in strip.message


def test_a_hole_through_the_outline_names_the_part(plasma, sheet_of):
    part = Part(
        "torn", polygon([[0, 0], [50, 0], [50, 50], [0, 50]]), (circle((45, 25), 10, clockwise=True),)
    )
    with pytest.raises(GeometryError, match="part 'torn'"):
        make_cuts(sheet_of([(part, Pose(100, 100))]), plasma)
