"""Part, heat number and plate marked on each part, proved stroke by stroke, and read back from plan.json."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
import shapely

from cutplan.drawing import MarkText, make_part, trace_to_mark, wanted_strokes
from cutplan.geometry import Pose, circle, polygon, to_polygon
from cutplan.planning import load_job, plan_job, write_plan
from cutplan.planning.program_check import check_program
from cutplan.record import read_plan

JOB = """
[job]
name = "traced"

[machine]
marker = true

[marking]
trace = true
letters_mm = 9

[nesting]
seconds = 0.5

[[plate]]
id = "A"
length = 420
width = 300
thickness = 8
grade = "S355"
quantity = 2
heat = "H77"

[[part]]
name = "PL7"
shape = { kind = "gusset", length = 240, height = 160, nose = 30 }
quantity = 5
thickness = 8
grade = "S355"

[[part]]
name = "dot"
shape = { kind = "ring", outside = 44, inside = 20 }
quantity = 1
thickness = 8
grade = "S355"
"""


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory):
    folder = tmp_path_factory.mktemp("traced")
    (folder / "job.toml").write_text(JOB)
    plan = plan_job(load_job(folder / "job.toml"))
    write_plan(plan, folder / "out")
    return plan, folder / "out"


def test_each_part_says_what_it_is_of_which_heat_and_plate(out) -> None:
    plan, _ = out
    assert len(plan.sheets) == 2 and all(sheet.verdict.passed for sheet in plan.sheets)
    for sheet in plan.sheets:
        for placement in sheet.nested.placements:
            words = " ".join(text.text for text in placement.part.trace)
            assert words == ("" if placement.part.name == "dot" else f"PL7 H77 {sheet.name}")
        # Every letter is a stroke of the program: the proof counts them, and so does this.
        marks = [step for step in sheet.order.steps if step.cut.kind == "mark"]
        asked = sum(len(wanted_strokes(p.part, p.pose)) for p in sheet.nested.placements)
        assert len(marks) == asked > 0
    told = [str(finding) for _, finding in plan.findings if finding.topic == "trace"]
    assert told == ["no room for part, heat number and plate on dot: mark by hand"]


def test_the_plan_read_back_proves_its_programs_and_a_changed_heat_is_found(out) -> None:
    plan, folder = out
    saved = read_plan(folder / "plan.json")
    for sheet, planned in zip(saved.sheets, plan.sheets, strict=True):
        assert [p.part.trace for p in sheet.nested.placements] == [
            p.part.trace for p in planned.nested.placements
        ]
        result = check_program(folder / sheet.programs[0][0], folder / "plan.json", None)
        assert result.verdict.passed and not result.verdict.faults
    record = json.loads((folder / "plan.json").read_text())
    for placement in record["plates"][0]["placements"]:
        for text in placement["trace"]:
            text["text"] = text["text"].replace("H77", "H71")
    (folder / "changed.json").write_text(json.dumps(record))
    name = saved.sheets[0].programs[0][0]
    verdict = check_program(folder / name, folder / "changed.json", None).verdict
    assert {"mark-missing", "mark-stray"} <= {fault.code for fault in verdict.faults}


def test_lines_are_broken_where_letters_come_out_tallest_and_keep_off_marks() -> None:
    words = ["BRACKET-12", "H4471", "PL10-2"]
    wide = make_part("wide", polygon([(0, 0), (400, 0), (400, 30), (0, 30)]))
    high = make_part("high", polygon([(0, 0), (80, 0), (80, 300), (0, 300)]), [circle((40, 240), 20)])
    square = make_part("square", polygon([(0, 0), (90, 0), (90, 90), (0, 90)]))
    assert [text.text for text in trace_to_mark(square, words, 30.0)] == words
    assert {text.rotation_deg for text in trace_to_mark(high, words, 12.0)} == {90.0}
    for part in (wide, high, square):
        texts = trace_to_mark(part, words, 12.0)
        assert " ".join(text.text for text in texts) == " ".join(words)
        assert all(text.height >= 4.0 for text in texts)
        strokes = [
            shapely.LineString(s.path.points) for s in wanted_strokes(replace(part, trace=texts), Pose())
        ]
        metal = to_polygon(part.outer, part.holes, tolerance=0.01).buffer(-2.9)
        assert all(metal.contains(stroke) for stroke in strokes)
    noted = make_part(
        "noted", polygon([(0, 0), (200, 0), (200, 60), (0, 60)]), texts=[MarkText("OLD", (20, 25), 10)]
    )
    (text,) = trace_to_mark(noted, ["NEW"], 10.0)
    assert text.place[0] > 20 + 30


def test_without_a_marker_or_a_heat_it_is_said_what_to_do_by_hand(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB.replace("marker = true", "marker = false"))
    plan = plan_job(load_job(tmp_path / "job.toml"))
    assert any("by hand" in finding.message and finding.topic == "trace" for _, finding in plan.findings)
    (tmp_path / "job.toml").write_text(JOB.replace('heat = "H77"\n', ""))
    plan = plan_job(load_job(tmp_path / "job.toml"))
    assert any("has no heat number" in finding.message for _, finding in plan.findings)
    assert all(
        [text.text for text in p.part.trace] in ([], ["PL7", sheet.name], [f"PL7 {sheet.name}"])
        for sheet in plan.sheets
        for p in sheet.nested.placements
    )
