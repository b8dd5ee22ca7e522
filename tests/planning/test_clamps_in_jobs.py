"""Clamps of a job, with and without their height, from the job file to the program."""

from pathlib import Path

import pytest

from cutplan.planning import load_job, plan_job

JOB = """
[order]
effort = 0.1

[job]
name = "clamped"
[machine]
table = [1200, 800]
torch_radius_mm = 20
travel_height_mm = 40
low_travel_height_mm = 9
plate_margin_mm = 60
[[plate]]
id = "A"
length = 900
width = 500
thickness = 10
grade = "S355"
keepouts = [[400, 0, 440, 460], { box = [600, 440, 660, 500], height = 12 }]
[[part]]
name = "washer"
quantity = 14
thickness = 10
grade = "S355"
shape = { kind = "ring", outside = 160, inside = 60 }
"""


def planned(tmp_path: Path, text: str):
    file = tmp_path / "job.toml"
    file.write_text(text)
    return plan_job(load_job(file))


def test_a_job_is_planned_round_its_clamps_and_proved(tmp_path: Path) -> None:
    plan = planned(tmp_path, JOB)
    (sheet,) = plan.sheets
    assert [k.height_mm for k in sheet.nested.plate.keepouts] == [None, 12.0]
    assert sheet.verdict.passed
    assert plan.machine.torch_radius_mm == 20.0
    # Parts lie on both sides of the long clamp, so some travel goes round its end.
    sides = {placement.pose.x < 400 for placement in sheet.nested.placements}
    assert sides == {True, False}
    assert any(len(step.travel.points) > 2 for step in sheet.order.steps)


def test_a_keepout_upside_down_or_below_the_plate_is_refused(tmp_path: Path) -> None:
    for old, new, words in (
        ("box = [600, 440, 660, 500]", "box = [660, 440, 600, 500]", "x0 < x1"),
        ("height = 12", "height = -12", "height"),
    ):
        with pytest.raises(Exception, match=words):
            planned(tmp_path, JOB.replace(old, new))
