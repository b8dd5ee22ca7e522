"""Small holes are led from their middle, and what is too small to cut is marked or refused."""

import math
from dataclasses import replace

import numpy as np
import pytest

from cutplan.cutting import CuttingOptions, FeedSpan, check_part, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, bounds, circle, distance, length, point_at, polygon, reverse

EDGE = polygon([[0, 0], [100, 0], [100, 60], [0, 60]])


def plate_with(*holes):
    return Part("plate", EDGE, tuple(holes))


def hole_cut(made):
    return next(cut for cut in made.cuts if cut.makes[0].hole is not None)


def test_a_small_round_hole_is_led_from_its_centre(plasma, sheet_of):
    """A half circle from the centre meets the contour without a break of direction."""
    part = plate_with(circle((50, 30), 6, clockwise=True))
    hole = hole_cut(make_cuts(sheet_of([(part, Pose(100, 100))]), plasma))
    assert len(hole.choices) >= 8
    for choice in hole.choices:
        assert choice.pierce == pytest.approx((150, 130))
        assert choice.lead_in_length == pytest.approx(math.pi * 2.5)
        before, at, after = point_at(choice.path, choice.lead_in_length + np.array([-1e-4, 0.0, 1e-4]))
        assert np.dot(at - before, after - at) / 1e-8 == pytest.approx(1.0, abs=1e-4)
        # No lead-out: the torch stays on the kerf already cut.
        assert choice.lead_out_length == pytest.approx(plasma.rules.overburn)
        assert distance(hole.makes[0].contour, np.array([choice.end]))[0] == pytest.approx(1.0, abs=1e-6)


def test_a_wide_hole_is_pierced_clear_of_its_edge_and_led_by_an_arc(plasma, sheet_of):
    part = plate_with(circle((50, 30), 22, clockwise=True))
    hole = hole_cut(make_cuts(sheet_of([(part, Pose(100, 100))]), plasma))
    for choice in hole.choices:
        away = distance(hole.makes[0].contour, np.array([choice.pierce]))[0]
        # An arc as wide as the plate is thick begins that much and half the kerf off the edge.
        assert 3.5 <= away < 11.1
        assert choice.path.segments.is_arc[0]
        assert 0.0 <= choice.penalty_s < 0.3


def test_a_narrow_slot_is_pierced_near_its_middle(plasma, sheet_of):
    """Where the width allows no full pierce clearance, the pierce takes what there is."""
    slot = reverse(Path(np.array([[30, 27, 0], [70, 27, 1], [70, 33, 0], [30, 33, 1]]), closed=True))
    data = replace(plasma, rules=replace(plasma.rules, smallest_hole=4.0))
    made = make_cuts(sheet_of([(plate_with(slot), Pose(100, 100))]), data)
    assert not made.findings
    hole = hole_cut(made)
    assert len(hole.choices) >= 6
    for choice in hole.choices:
        assert distance(hole.makes[0].contour, np.array([choice.pierce]))[0] > 2.6


@pytest.mark.parametrize(
    ("policy", "kind", "mark"),
    [("cut", "warning", False), ("mark", "warning", True), ("refuse", "refused", False)],
)
def test_a_hole_under_the_smallest_follows_the_shops_policy(policy, kind, mark, plasma, sheet_of):
    part = plate_with(circle((50, 30), 4, clockwise=True))
    options = CuttingOptions(small_holes=policy)
    made = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma, options)
    (finding,) = made.findings
    assert finding.kind == kind
    assert finding.place == pytest.approx((150, 130))
    assert "8.00 mm wide" in finding.message and "10.00 mm" in finding.message and finding.remedy
    kinds = [cut.kind for cut in made.cuts if cut.makes[0].hole == 0]
    assert kinds == {"cut": ["hole"], "mark": ["mark"], "refuse": []}[policy]
    (told,) = check_part(part, plasma, options)
    assert (told.kind, told.place) == (kind, pytest.approx((50, 30)))


def test_a_small_hole_is_marked_for_the_drill_unless_the_shop_decides_to_cut_it(plasma, sheet_of):
    part = plate_with(circle((50, 30), 4, clockwise=True))
    made = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma)
    assert [cut.kind for cut in made.cuts if cut.makes[0].hole == 0] == ["mark"]
    assert "marked for drilling" in made.findings[0].remedy and "small_holes" in made.findings[0].remedy


def test_what_no_drill_makes_or_no_marker_marks_is_cut_with_a_warning(plasma, sheet_of):
    slot = reverse(polygon([[30, 26], [70, 26], [70, 34], [30, 34]]))
    for contour, options, word in (
        (slot, CuttingOptions(), "slot"),
        (circle((50, 30), 4, clockwise=True), CuttingOptions(marker=False), "no marker"),
    ):
        made = make_cuts(sheet_of([(plate_with(contour), Pose(100, 100))]), plasma, options)
        assert [cut.kind for cut in made.cuts if cut.makes[0].hole == 0] == ["hole"]
        (finding,) = made.findings
        assert finding.kind == "warning" and word in finding.remedy


def test_a_hole_without_room_for_kerf_and_start_is_marked_at_its_centre(plasma, sheet_of):
    """2.8 mm are over the 2 mm kerf, but not by metal enough for a pierce."""
    part = plate_with(circle((50, 30), 1.4, clockwise=True))
    made = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma)
    (finding,) = made.findings
    assert finding.kind == "warning" and "marked for drilling" in finding.remedy
    mark = hole_cut(made)
    assert mark.kind == "mark"
    x0, y0, x1, y1 = bounds(mark.makes[0].contour)
    assert (0.5 * (x0 + x1), 0.5 * (y0 + y1)) == pytest.approx((150, 130))
    assert x1 - x0 < 2.8
    refused = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma, CuttingOptions(small_holes="refuse"))
    assert [finding.kind for finding in refused.findings] == ["refused"]


def test_a_slit_narrower_than_the_kerf_is_refused_not_drilled(plasma):
    slit = reverse(polygon([[30, 29.4], [70, 29.4], [70, 30.6], [30, 30.6]]))
    (finding,) = check_part(plate_with(slit), plasma)
    assert finding.kind == "refused"
    assert "slot" in finding.message and "1.20 mm" in finding.message


def test_small_holes_run_slower_from_pierce_to_end(plasma, sheet_of):
    part = plate_with(circle((30, 30), 12, clockwise=True), circle((70, 30), 13, clockwise=True))
    made = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma)
    small, wide = (cut for cut in made.cuts if cut.kind == "hole")
    for choice in small.choices:
        (span,) = choice.spans
        assert span == FeedSpan(0.0, pytest.approx(length(choice.path)), 0.6)
    assert all(choice.spans == () for choice in wide.choices)


def test_a_hole_that_can_neither_be_cut_nor_marked_is_refused(plasma):
    options = CuttingOptions(small_holes="mark", marker=False)
    (finding,) = check_part(plate_with(circle((50, 30), 1.4, clockwise=True)), plasma, options)
    assert finding.kind == "refused" and finding.place == pytest.approx((50, 30))
    assert "no marker" in finding.message and "drill it" in finding.remedy
