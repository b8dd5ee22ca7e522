"""Plate too thick to pierce is cut from its edge, where the way is clear."""

import math

import pytest
import shapely

from cutplan.cutting import CuttingOptions, gaps_for, make_cuts
from cutplan.cutting.edge import edge_leads, placed_contour
from cutplan.cutting.part_cuts import cuts_of_part
from cutplan.drawing import Part
from cutplan.geometry import Pose, chord_points, polygon

SQUARE = Part("square", polygon([[0, 0], [80, 0], [80, 80], [0, 80]]))


@pytest.fixture(scope="module")
def thick(plasma, with_rules):
    return with_rules(plasma, edge_start_above=8.0)


def test_every_start_comes_in_from_outside_the_plate(thick, sheet_of, assert_comes_out_as_drawn):
    pose = Pose(30, 160, 20)
    sheet = sheet_of([(SQUARE, pose)])
    made = make_cuts(sheet, thick)
    plate = shapely.Polygon(sheet.plate.outline.points)
    (cut,) = made.cuts
    assert len(cut.choices) >= 6
    for k, choice in enumerate(cut.choices):
        assert choice.edge_start
        # The whole kerf stands beside the plate.
        assert plate.distance(shapely.Point(choice.pierce)) > 1.0 + 1.0
        if k % 4 == 0:
            assert_comes_out_as_drawn([cut], SQUARE, pose, thick.kerf, k)


def test_short_ways_in_are_preferred(thick, sheet_of):
    (cut,) = make_cuts(sheet_of([(SQUARE, Pose(30, 160))]), thick).cuts
    best = min(cut.choices, key=lambda choice: choice.penalty_s)
    assert best.pierce[0] < 0.0


def test_an_edge_start_passes_no_part(thick, sheet_of, metal_of):
    placed = [(SQUARE, Pose(20, 160)), (SQUARE, Pose(120, 160, 0)), (SQUARE, Pose(220, 160))]
    sheet = sheet_of(placed)
    made = make_cuts(sheet, thick)
    assert not made.findings
    metal = shapely.union_all([metal_of(part, pose) for part, pose in placed])
    for cut in made.cuts:
        for choice in cut.choices:
            line = shapely.LineString(chord_points(choice.path, 1e-3))
            assert metal.distance(line) > 1.0 - 3e-3


def test_a_part_shut_in_by_others_is_refused_with_the_reason(thick, sheet_of):
    """Nine squares close together: the middle one sees the edge only down the gaps, if at all."""
    gap = gaps_for(thick).gap
    placed = [(SQUARE, Pose(100 + i * (80 + gap), 60 + j * (80 + gap))) for i in range(3) for j in range(3)]
    walls = polygon([[90, 50], [380, 50], [380, 330], [90, 330]])
    open_sheet = sheet_of(placed)
    made = make_cuts(open_sheet, thick)
    assert len(made.cuts) == 9 and not made.findings
    frame = Part(
        "frame",
        polygon([[80, 40], [395, 40], [395, 350], [80, 350]]),
        (polygon(walls.points[::-1]),),
    )
    shut = make_cuts(sheet_of([*placed, (frame, Pose())]), thick)
    told = [finding for finding in shut.findings if "no start fits" in finding.message]
    assert len(told) == 9
    assert "too thick to pierce" in told[0].message and "drill a start hole" in told[0].remedy
    assert math.isfinite(told[0].place[0])
    assert [cut.makes[0].part for cut in shut.cuts] == ["frame"]


def test_a_long_way_in_keeps_off_thin_limbs_of_its_own_part(thick, metal_of):
    """A needle stands between the part and the edge, thinner than the steps of a long lead's samples."""
    outline = [[0, 0], [80, 0], [80, 80], [0, 80], [0, 10], [-40, 10], [-40.2, 75], [-40.4, 5], [0, 5]]
    part, pose = Part("needle", polygon(outline)), Pose(400, 150)
    plan = placed_contour(cuts_of_part(part, thick, CuttingOptions(), mirrored=False).contours[0], pose)
    edge = shapely.Polygon([[0, 0], [600, 0], [600, 400], [0, 400]]).boundary
    metal = metal_of(part, pose)
    leads = edge_leads(plan, edge)
    assert len(leads) > 100
    for lead in leads:
        assert metal.distance(shapely.LineString(lead.approach[:, :2])) > 1.0 - 1e-6
