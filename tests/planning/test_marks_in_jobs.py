"""Names and bends of a job, from the job file to plan.json and the nest's drawing, and proved again."""

import json
import math
from dataclasses import replace
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from cutplan.drawing import wanted_strokes
from cutplan.planning import load_job, plan_job, write_plan
from cutplan.planning.program_check import check_program
from cutplan.record import read_plan
from cutplan.report import write_nest_dxf

JOB = """
[order]
effort = 0.1

[job]
name = "named"
[machine]
marker = true
[marking]
names = true
letters_mm = 10
[nesting]
seconds = 1
[[plate]]
id = "A"
length = 500
width = 300
thickness = 8
grade = "S355"
[[part]]
name = "PL7"
quantity = 3
thickness = 8
grade = "S355"
shape = { kind = "gusset", length = 140, height = 90, nose = 30 }
"""


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("named")
    (folder / "job.toml").write_text(JOB)
    plan = plan_job(load_job(folder / "job.toml"))
    write_plan(plan, folder / "out")
    return folder / "out"


def test_texts_come_back_from_the_plan_and_prove_the_program_again(out: Path) -> None:
    saved = read_plan(out / "plan.json")
    (sheet,) = saved.sheets
    assert [text.text for text in sheet.nested.placements[0].part.texts] == ["PL7"]
    program = out / sheet.programs[0][0]
    assert check_program(program, out / "plan.json", None).verdict.passed
    record = json.loads((out / "plan.json").read_text())
    record["parts"]["PL7"]["texts"][0]["text"] = "PL1"
    (out / "plan.json").write_text(json.dumps(record))
    again = check_program(program, out / "plan.json", None).verdict
    assert {"mark-missing", "mark-stray"} <= {fault.code for fault in again.faults}
    record["parts"]["PL7"]["texts"][0]["text"] = "PL7"
    (out / "plan.json").write_text(json.dumps(record))


@pytest.mark.parametrize("mirrored", [False, True])
def test_the_nests_drawing_has_texts_where_the_marker_makes_them(tmp_path: Path, mirrored: bool) -> None:
    (tmp_path / "job.toml").write_text(JOB)
    (sheet,) = plan_job(load_job(tmp_path / "job.toml")).sheets
    turned = tuple(
        replace(p, pose=replace(p.pose, mirrored=mirrored, rotation_deg=30.0))
        for p in sheet.nested.placements
    )
    sheet = replace(sheet, nested=replace(sheet.nested, placements=turned))
    write_nest_dxf(tmp_path / "nest.dxf", sheet)
    texts = ezdxf.readfile(tmp_path / "nest.dxf").modelspace().query("TEXT[layer=='MARKS']")
    assert len(texts) == len(turned)
    for text, placement in zip(texts, turned, strict=True):
        strokes = [stroke.path.points for stroke in wanted_strokes(placement.part, placement.pose)]
        along = math.radians(text.dxf.rotation)
        across = np.array([[math.cos(along), -math.sin(along)], [math.sin(along), math.cos(along)]])
        # Seen along the text, its strokes begin at its place and stand on it.
        seen = (np.vstack(strokes) - [text.dxf.insert.x, text.dxf.insert.y]) @ across
        assert seen.min(axis=0) == pytest.approx((0.0, 0.0), abs=1e-3)
        # The first stroke is the P's, from its foot up.
        first = (strokes[0] - [text.dxf.insert.x, text.dxf.insert.y]) @ across
        assert first[0] == pytest.approx((0.0, 0.0), abs=1e-3)
        assert first[1] == pytest.approx((0.0, text.dxf.height), abs=1e-3)
