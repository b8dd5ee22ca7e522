"""Marks for what is welded on a part: places worked out by hand, and what runs off the edge is clipped."""

from __future__ import annotations

from pathlib import Path

import ezdxf
import numpy as np
import pytest
from pydantic import ValidationError

from cutplan.base.errors import CutplanError
from cutplan.drawing import Attached, make_part, marks_off_metal, wanted_strokes, with_attached
from cutplan.geometry import Pose, circle, length, polygon
from cutplan.planning import load_job, plan_job

PLATE = make_part("plate", polygon([(0, 0), (400, 0), (400, 200), (0, 200)]), [circle((300, 100), 30)])


def test_a_footprint_stands_where_it_is_said_turned_and_in_a_row() -> None:
    rib = Attached(footprint=(120, 10), at=(50, 100), rotation=90, count=2, pitch=(80, 0))
    marked = with_attached(PLATE, (rib,), {})
    boxes = [(m.points.min(axis=0), m.points.max(axis=0)) for m in marked.marks]
    for (low, high), x in zip(boxes, (50, 130), strict=True):
        assert low == pytest.approx([x - 5, 40]) and high == pytest.approx([x + 5, 160])


def test_a_part_lies_by_its_own_drawing_mirrored_and_turned() -> None:
    ear = polygon([(0, 0), (60, 0), (0, 30)])
    lying = Attached(
        part="ear", at=(200, 50), mirror=True, rotation=90, show="both", name="EAR", letters_mm=6
    )
    marked = with_attached(PLATE, (lying,), {"ear": ear})
    outline, *centres = marked.marks
    # Mirrored in y, (60, 0) comes to (-60, 0), turned by 90 degrees to (0, -60).
    assert np.round(outline.points, 9).tolist() == [[200, 50], [200, -10], [170, 50]]
    assert sum(length(line) for line in centres) == pytest.approx(60 + 30)
    assert [text.text for text in marked.texts] == ["EAR"]


def test_what_runs_over_an_edge_or_a_hole_is_clipped_and_measured() -> None:
    over = Attached(footprint=(100, 40), at=(400, 100))
    marked = with_attached(PLATE, (over,), {})
    strokes = wanted_strokes(marked, Pose())
    assert sum(length(s.path) for s in strokes) == pytest.approx(2 * 50 + 40)
    assert marks_off_metal(marked) == pytest.approx(2 * 50 + 40)


@pytest.mark.parametrize(
    ("keys", "told"),
    [
        ({}, "a part or a footprint"),
        ({"part": "a", "footprint": [10, 10]}, "and not both"),
        ({"footprint": [10, 10], "count": 3}, "needs a pitch"),
        ({"footprint": [0, 10]}, "greater than 0"),
    ],
)
def test_what_makes_no_sense_is_refused(keys: dict, told: str) -> None:
    with pytest.raises(ValidationError, match=told):
        Attached.model_validate({"at": [0, 0], **keys})


def test_an_unknown_part_is_refused_with_the_one_that_may_be_meant(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(
        '[job]\nname = "a"\n[machine]\nmarker = true\n[[plate]]\nid = "P"\nlength = 900\nwidth = 400\nthickness = 8\n'
        'grade = "S355"\n[[part]]\nname = "rail"\nquantity = 1\nthickness = 8\ngrade = "S355"\n'
        'shape = { kind = "rectangle", length = 500, width = 100 }\nattached = [{ part = "rial", at = [0, 0] }]\n'
    )
    with pytest.raises(CutplanError, match=r"'rial' is to be attached.*did you mean 'rail'"):
        plan_job(load_job(tmp_path / "job.toml"))


def assembled(folder: Path, outline: str) -> Path:
    drawing = ezdxf.new(units=4)
    space = drawing.modelspace()
    for x in (0, 1000):
        corners = [(x, 0), (x + 500, 0), (x + 500, 100), (x, 100)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": f"RAIL-{x}"})
    # A stiffener's outline and its centre line, and a line that runs off the rail.
    space.add_lwpolyline(
        [(1100, 10), (1108, 10), (1108, 90), (1100, 90)], close=True, dxfattribs={"layer": "ON"}
    )
    space.add_line((1300, 50), (1600, 50), dxfattribs={"layer": "ON"})
    drawing.saveas(folder / "frame.dxf")
    file = folder / "job.toml"
    file.write_text(
        '[job]\nname = "a"\n[machine]\nmarker = true\n[[plate]]\nid = "P"\nlength = 900\nwidth = 400\nthickness = 8\n'
        'grade = "S355"\n[[part]]\nname = "rail"\nquantity = 1\nthickness = 8\ngrade = "S355"\n'
        'shape = { kind = "rectangle", length = 500, width = 100 }\n'
        f'assembly = {{ drawing = "frame.dxf", outline = ["{outline}"], marks = ["ON"] }}\n'
    )
    return file


def test_an_assemblys_drawing_marks_what_lies_on_the_part_and_clips_what_runs_off(tmp_path: Path) -> None:
    plan = plan_job(load_job(assembled(tmp_path, "RAIL-1000")))
    (sheet,) = plan.sheets
    strokes = wanted_strokes(sheet.nested.placements[0].part, Pose())
    assert sheet.verdict.passed
    assert sum(length(s.path) for s in strokes) == pytest.approx(2 * (80 + 8) + 200)
    told = [finding.message for _, finding in plan.findings]
    assert "2 lines are marked as frame.dxf shows them" in told
    assert any(
        words.startswith("100.0 mm of the marks of 'rail' lie over holes or off the part") for words in told
    )


@pytest.mark.parametrize(
    ("outline", "told"),
    [("RAIL-*", "2 contours like it"), ("NOTHING", "no contour like it|holds nothing|no part")],
)
def test_an_assembly_that_does_not_show_the_part_once_is_refused(
    outline: str, told: str, tmp_path: Path
) -> None:
    with pytest.raises(CutplanError, match=told):
        plan_job(load_job(assembled(tmp_path, outline)))
