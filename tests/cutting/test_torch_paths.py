"""The torch path leaves each part as drawn, on the side of the travel with the square edge."""

import importlib
import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.base.errors import JobError
from cutplan.cutting import CuttingOptions, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import (
    Path,
    Pose,
    area,
    circle,
    distance,
    length,
    offset,
    point_at,
    polygon,
    polyline,
    reverse,
)  # fmt: skip

BRACKET = Part(
    "bracket",
    polygon([[0, 0], [160, 0], [160, 90], [110, 90], [110, 50], [60, 50], [60, 90], [0, 90]]),
    holes=(
        circle((25, 22), 15, clockwise=True),
        reverse(polygon([[80, 15], [130, 15], [130, 35], [80, 35]])),
        reverse(Path(np.array([[36, 55, 0], [36, 72, 1], [20, 72, 0], [20, 55, 1]]))),
    ),
    marks=(polyline([[5, 5], [40, 5]]), circle((140, 60), 8)),
)
POSES = [Pose(60, 60), Pose(200, 150, 90), Pose(250, 200, 37.5), Pose(300, 200, 200, mirrored=True)]


@pytest.mark.parametrize("pose", POSES)
@pytest.mark.parametrize("pick", [0, 5])
def test_a_part_comes_out_as_drawn(pose, pick, plasma, sheet_of, assert_comes_out_as_drawn):
    made = make_cuts(sheet_of([(BRACKET, pose)]), plasma)
    assert not [finding for finding in made.findings if finding.kind == "refused"]
    assert_comes_out_as_drawn(made.cuts, BRACKET, pose, plasma.kerf, pick)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    seed=st.integers(0, 10**6), pick=st.integers(0, 11), corners=st.sampled_from(["round", "loop", "plain"])
)
def test_any_part_comes_out_as_drawn(
    seed, pick, corners, plasma, sheet_of, random_part, assert_comes_out_as_drawn
):
    part = random_part(seed)
    pose = Pose(300, 200, seed % 360, mirrored=bool(seed % 2))
    made = make_cuts(sheet_of([(part, pose)]), plasma, CuttingOptions(corners=corners))
    if any(finding.kind == "refused" for finding in made.findings):
        assert len([cut for cut in made.cuts if cut.kind != "mark"]) <= len(part.holes)
        return
    if any(cut.kind == "mark" for cut in made.cuts):
        part = replace(part, holes=tuple(part.holes[c.makes[0].hole] for c in made.cuts if c.kind == "hole"))
    assert_comes_out_as_drawn(made.cuts, part, pose, plasma.kerf, pick)


@pytest.mark.parametrize("side", ["right", "left"])
@pytest.mark.parametrize("mirrored", [False, True])
def test_the_part_lies_on_the_square_side_of_the_travel(side, mirrored, plasma, with_rules, sheet_of):
    """With the square edge on the right, outsides run clockwise and holes counter-clockwise."""
    data = with_rules(plasma, square_side=side)
    made = make_cuts(sheet_of([(BRACKET, Pose(300, 100, 0, mirrored))]), data)
    for cut in made.cuts:
        if cut.kind == "mark":
            continue
        for choice in cut.choices:
            loop = Path(choice.path.vertices, closed=True)
            counter_clockwise = area(loop) > 0.0
            assert counter_clockwise == ((cut.kind == "hole") == (side == "right"))


def test_lines_and_arcs_stay_exact(plasma, sheet_of):
    """Every point of the compensated contour lies half a kerf from the finished edge, to 1e-6 mm."""
    made = make_cuts(sheet_of([(BRACKET, Pose(100, 100, 30))]), plasma)
    for cut in made.cuts:
        if cut.kind == "mark":
            continue
        for choice in cut.choices:
            end = length(choice.path) - choice.lead_out_length
            along = point_at(choice.path, np.linspace(choice.lead_in_length, end, 300))
            assert np.max(np.abs(distance(cut.makes[0].contour, along) - 0.5 * plasma.kerf)) < 1e-6


def test_a_hole_circle_is_two_arcs_besides_its_leads(plasma, sheet_of):
    made = make_cuts(sheet_of([(BRACKET, Pose(100, 100, 10))]), plasma)
    hole = next(cut for cut in made.cuts if cut.makes[0].hole == 0)
    for choice in hole.choices:
        segments = choice.path.segments
        round_hole = np.abs(segments.radius - 14.0) < 1e-6
        whole = np.abs(segments.sweep[round_hole]) > math.pi - 1e-9
        assert whole.sum() == 2
        # What is left on the circle is the over-burn.
        assert round_hole.sum() == 3
        assert segments.length[round_hole][-1] == pytest.approx(plasma.rules.overburn)


def test_a_hole_runs_past_its_start_and_an_outside_does_not(plasma, sheet_of):
    made = make_cuts(sheet_of([(BRACKET, Pose(100, 100))]), plasma)
    for cut in made.cuts:
        if cut.kind == "mark":
            continue
        for choice in cut.choices:
            offset_length = length(choice.path) - choice.lead_in_length - choice.lead_out_length
            joined = point_at(choice.path, choice.lead_in_length)
            assert np.allclose(
                point_at(choice.path, choice.lead_in_length + offset_length), joined, atol=1e-6
            )
            if cut.kind == "hole":
                burnt = point_at(
                    choice.path, length(choice.path) - choice.lead_out_length + plasma.rules.overburn
                )
                assert distance(cut.makes[0].contour, burnt)[0] == pytest.approx(0.5 * plasma.kerf, abs=1e-6)


def test_marks_come_first_and_can_be_run_from_either_end(plasma, sheet_of):
    made = make_cuts(sheet_of([(BRACKET, Pose(100, 100))]), plasma)
    assert [cut.kind for cut in made.cuts] == ["mark", "mark", "hole", "hole", "hole", "outside"]
    line = made.cuts[0]
    assert {choice.pierce for choice in line.choices} == {(105.0, 105.0), (140.0, 105.0)}
    ring = made.cuts[1]
    assert all(choice.pierce == pytest.approx(choice.end) for choice in ring.choices)
    assert all(length(choice.path) == pytest.approx(16 * math.pi) for choice in ring.choices)


def test_the_same_sheet_gives_the_same_cuts(plasma, sheet_of):
    sheet = sheet_of([(BRACKET, Pose(100, 100, 30)), (BRACKET, Pose(300, 200, 10))])
    assert make_cuts(sheet, plasma) == make_cuts(sheet, plasma)


def test_options_without_a_start_are_refused():
    with pytest.raises(JobError, match="at least one start"):
        CuttingOptions(candidates=0)


def test_as_few_starts_as_asked_for_are_offered(plasma, sheet_of):
    made = make_cuts(sheet_of([(BRACKET, Pose(100, 100))]), plasma, CuttingOptions(candidates=2))
    assert all(1 <= len(cut.choices) <= 2 for cut in made.cuts if cut.kind != "mark")


def test_a_contour_is_compensated_once_for_all_that_ask(monkeypatch: pytest.MonkeyPatch) -> None:
    room = importlib.import_module("cutplan.cutting.compensate")

    asked: list[float] = []

    def counted(path: Path, by: float) -> list[Path]:
        asked.append(by)
        return offset(path, by)

    monkeypatch.setattr(room, "offset", counted)
    edge = circle((10.0, 20.0), 41.2573)
    made = room.compensate(edge, 2.1, hole=None, part_on_right=True)
    once = len(asked)
    again = room.compensate(Path(edge.vertices.copy()), 2.1, hole=None, part_on_right=True)
    assert once > 0 and len(asked) == once
    assert again.torch is not None and made.torch is not None and again.torch.path == made.torch.path
    room.compensate(edge, 2.2, hole=None, part_on_right=True)
    assert len(asked) > once
