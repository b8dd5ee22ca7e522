"""Sharp outer corners are run round, plain or by a loop; the part is the same."""

import math

import numpy as np
import pytest

from cutplan.cutting import CuttingOptions, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Pose, length, polygon

SQUARE = Part("square", polygon([[0, 0], [80, 0], [80, 80], [0, 80]]))
THIN = Part("thin", polygon([[0, 0], [90, 0], [0, 16]]))


def contour_length(choice):
    return length(choice.path) - choice.lead_in_length - choice.lead_out_length


@pytest.mark.parametrize("style", ["round", "plain", "loop"])
@pytest.mark.parametrize("part", [SQUARE, THIN])
def test_every_style_gives_the_same_part(style, part, plasma, sheet_of, assert_comes_out_as_drawn):
    pose = Pose(250, 150, 25)
    made = make_cuts(sheet_of([(part, pose)]), plasma, CuttingOptions(corners=style))
    assert not made.findings
    assert_comes_out_as_drawn(made.cuts, part, pose, plasma.kerf)


def test_each_style_has_its_own_way_round(plasma, sheet_of):
    """Round: a quarter arc of half a kerf a corner; plain: out to the lines' meeting; loop: back over it."""
    sheet = sheet_of([(SQUARE, Pose(200, 150))])
    ways = {
        style: contour_length(make_cuts(sheet, plasma, CuttingOptions(corners=style)).cuts[0].choices[0])
        for style in ("round", "plain", "loop")
    }
    assert ways["round"] == pytest.approx(320 + 2 * math.pi)
    assert ways["plain"] == pytest.approx(4 * 82)
    # Straight runs of two kerfs out and back, and three quarters of a circle as wide.
    assert ways["loop"] == pytest.approx(4 * (82 + 2 * 4 + 1.5 * math.pi * 4))


def test_loops_keep_to_the_scrap_side(plasma, sheet_of, metal_of):
    pose = Pose(200, 150, 10)
    made = make_cuts(sheet_of([(SQUARE, pose)]), plasma, CuttingOptions(corners="loop"))
    segments = made.cuts[0].choices[0].path.segments
    loops = np.abs(segments.radius - 4.0) < 1e-9
    assert loops.sum() == 8
    metal = metal_of(SQUARE, pose)
    from shapely import Point

    assert all(metal.distance(Point(*centre)) > 4.0 for centre in segments.centre[loops])


def test_a_loop_without_room_falls_back_to_round(plasma, sheet_of):
    """Two squares 8 mm apart, one beside the other's corner, have no room for loops; a free one has."""
    placed = [(SQUARE, Pose(100, 100)), (SQUARE, Pose(188, 140)), (SQUARE, Pose(400, 200))]
    made = make_cuts(sheet_of(placed), plasma, CuttingOptions(corners="loop"))
    near, other, free = (contour_length(cut.choices[0]) for cut in made.cuts)
    assert near == pytest.approx(320 + 2 * math.pi)
    assert other == pytest.approx(320 + 2 * math.pi)
    assert free > near


@pytest.mark.parametrize("style", ["loop", "plain"])
def test_a_loop_never_runs_into_another_limb_of_its_part(style, plasma, sheet_of, assert_comes_out_as_drawn):
    """The spike points into a bay of its own part, 5 mm from the bottom."""
    outline = [[0, 0], [90, 0], [90, 60], [82, 60], [82, 10], [40, 10], [40, 12], [76, 35], [0, 60]]
    spiked = Part("spiked", polygon(outline))
    pose = Pose(200, 150)
    made = make_cuts(sheet_of([(spiked, pose)]), plasma, CuttingOptions(corners=style))
    assert not made.findings
    assert_comes_out_as_drawn(made.cuts, spiked, pose, plasma.kerf)


def test_an_outside_starts_at_its_corners(plasma, sheet_of):
    """A lead on an edge's own line, run on beyond the corner, leaves no mark on the edge."""
    made = make_cuts(sheet_of([(SQUARE, Pose(100, 100))]), plasma)
    corners = [choice for choice in made.cuts[0].choices if choice.penalty_s < 0.1]
    assert len(corners) == 4
    for choice in corners:
        x, y = np.array(choice.pierce) - 100
        assert min(abs(x), abs(x - 80), abs(y), abs(y - 80)) == pytest.approx(1.0)
        assert max(-x, x - 80, -y, y - 80) == pytest.approx(6.0)
