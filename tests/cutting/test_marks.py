"""Marks, texts and holes to drill are marked on the part as it lies on the plate."""

import numpy as np
import pytest

from cutplan.cutting import CuttingOptions, make_cuts
from cutplan.drawing import MarkText, Part
from cutplan.geometry import Pose, circle, place_points, polygon

PLATE = polygon([[0, 0], [100, 0], [100, 60], [0, 60]])
LABELLED = Part("labelled", PLATE, texts=(MarkText("L7", (20, 30), 12),))


def strokes(made):
    return [cut.makes[0].contour.points for cut in made.cuts if cut.kind == "mark"]


@pytest.mark.parametrize("turn", [0, 90, 33])
def test_a_text_is_marked_where_it_is_drawn(turn, plasma, sheet_of):
    pose = Pose(300, 150, turn)
    upright, turned = (strokes(make_cuts(sheet_of([(LABELLED, p)]), plasma)) for p in (Pose(), pose))
    assert len(turned) == len(upright) >= 2
    for one, other in zip(upright, turned, strict=True):
        assert place_points(one, pose) == pytest.approx(other, abs=1e-9)


def test_a_text_stays_readable_on_a_part_turned_over(plasma, sheet_of):
    """Its box lies where the drawing's box comes to lie, but the letters are not mirrored."""
    pose = Pose(400, 150, 40, mirrored=True)
    plain = strokes(make_cuts(sheet_of([(LABELLED, Pose())]), plasma))
    turned = strokes(make_cuts(sheet_of([(LABELLED, pose)]), plasma))

    def handedness(lines):
        letter = lines[0]
        one, two = letter[1] - letter[0], letter[2] - letter[1]
        return np.sign(one[0] * two[1] - one[1] * two[0])

    assert handedness(turned) == handedness(plain)
    box = place_points([np.min(np.vstack(plain), axis=0), np.max(np.vstack(plain), axis=0)], pose)
    middle = place_points([np.mean(box, axis=0)], Pose())[0]
    around = np.vstack(turned)
    assert np.linalg.norm(0.5 * (around.min(axis=0) + around.max(axis=0)) - middle) < 2.0


def test_a_hole_to_drill_is_one_stroke_known_by_its_hole(plasma, sheet_of):
    part = Part("drilled", PLATE, (circle((70, 30), 20, clockwise=True), circle((20, 30), 4, clockwise=True)))
    made = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma, CuttingOptions(small_holes="mark"))
    assert [(cut.kind, cut.makes[0].hole) for cut in made.cuts] == [
        ("mark", 1),
        ("hole", 0),
        ("outside", None),
    ]
    mark = made.cuts[0]
    assert mark.makes[0].contour.points.mean(axis=0) == pytest.approx((120, 130))
    assert all(choice.path.closed is False for choice in mark.choices)
