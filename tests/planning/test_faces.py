"""Plates with a good face: nothing is mirrored on them, and the setup sheet says which side lies up."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutplan.base.stopping import MaxIterations
from cutplan.drawing import make_part
from cutplan.geometry import polygon
from cutplan.nesting import Demand, NestGaps, along_rolling, nest
from cutplan.planning import load_job, plan_job
from cutplan.planning.output import write_files
from cutplan.record import plan_record, read_plan
from cutplan.stock import Plate

# A triangle without symmetry: two of one hand make no rectangle of its box, one of each do not either,
# but mirrored copies lie closer along the strip.
HOOK = polygon([(0, 0), (300, 0), (300, 40), (40, 40), (40, 200), (0, 200)])

JOB = """
[job]
name = "faced"

[machine]
marker = true

[nesting]
seconds = 0.5

[[plate]]
id = "C"
length = 900
width = 500
thickness = 6
grade = "S355"
face = "checker"
face_side = "{side}"

[[part]]
name = "tread"
shape = {{ kind = "gusset", length = 300, height = 160, nose = 30 }}
quantity = 3
thickness = 6
grade = "S355"
mirror = true
"""


def placed(face: str | None) -> list[bool]:
    plate = Plate(
        "P",
        polygon([(0, 0), (1000, 0), (1000, 500), (0, 500)]),
        6,
        "S355",
        "mild steel",
        quantity=3,
        face=face,
    )
    demand = Demand(make_part("hook", HOOK), 12, 6, "S355", rotations_deg=(0.0,), mirror=True)
    answer = nest([demand], [plate], NestGaps(10, 10), seed=3, stop=MaxIterations(40))
    return [p.pose.mirrored for sheet in answer.plates for p in sheet.placements]


def test_nothing_is_mirrored_on_a_plate_with_a_good_face() -> None:
    assert len(placed("checker")) == 12 and not any(placed("checker"))
    # The same parts on plain plate make use of both hands: the rule is what keeps them out.
    assert any(placed(None))


@pytest.mark.parametrize("axis", ["x", "y"])
def test_a_rolling_direction_holds_on_a_good_face_too(axis: str) -> None:
    demand = Demand(make_part("hook", HOOK), 1, 6, "S355", rolling_direction=0.0)
    turn = {"x": 0.0, "y": 90.0}[axis]
    assert along_rolling(demand, turn, False, f"{axis} face")
    assert not along_rolling(demand, turn + 90.0, False, f"{axis} face")
    assert along_rolling(demand, turn, True, axis) and not along_rolling(demand, turn, True, f"{axis} face")


@pytest.mark.parametrize(("side", "words"), [("up", "lay it UP"), ("down", "lay it DOWN")])
def test_the_setup_sheet_says_which_side_lies_up_and_plan_json_keeps_it(
    side: str, words: str, tmp_path: Path
) -> None:
    (tmp_path / "job.toml").write_text(JOB.format(side=side))
    plan = plan_job(load_job(tmp_path / "job.toml"))
    assert not any(p.pose.mirrored for s in plan.sheets for p in s.nested.placements)
    write_files(plan, tmp_path / "out")
    page = (tmp_path / "out" / "C-1.html").read_text(encoding="utf-8")
    assert f"checker: {words}" in page and "no part is mirrored" in page
    record = plan_record(plan)["plates"][0]["plate"]
    assert (record["face"], record["face_up"]) == ("checker", side == "up")
    assert read_plan(tmp_path / "out" / "plan.json").sheets[0].nested.plate.face == "checker"
