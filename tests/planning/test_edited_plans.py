"""Plans with edits: the same bytes from the file as from Python, every program proved, bad edits refused."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hand_jobs import hand_job

from cutplan.base.errors import CutplanError, EditError
from cutplan.cutting import made_name
from cutplan.editing import Edits, edit_of, read_edits, write_edits
from cutplan.planning import Job, plan_job, verify, write_plan
from cutplan.planning.edited import start_of
from cutplan.planning.engine import Here
from cutplan.planning.laid_job import lay_job
from cutplan.record import Plan, plan_json


@pytest.fixture(scope="module")
def job(tmp_path_factory) -> Job:
    return hand_job(tmp_path_factory.mktemp("hand"))


@pytest.fixture(scope="module")
def plain(job) -> Plan:
    return plan_job(job)


@pytest.fixture(scope="module")
def begun(job, plain) -> Edits:
    """No edits yet, but the nest that they begin from written down."""
    laid = lay_job(job, lambda stage, share: None, Here())
    return Edits(job=job.name, start=start_of(laid.begun, laid.told, plain))


def keys(plan: Plan, name: str) -> list[tuple[str, int, str]]:
    sheet = next(sheet for sheet in plan.sheets if sheet.name == name)
    firsts = [(step.cut.kind, step.cut.makes[0]) for step in sheet.cuts]
    return [(made.part, made.copy, made_name(kind, made)) for kind, made in firsts]


def test_a_plan_without_edits_is_the_plain_one_to_the_byte(job, plain, begun):
    assert plan_json(plan_job(job, edits=Edits(job="hand"))) == plan_json(plain)
    assert plan_json(plan_job(job, edits=begun)) == plan_json(plain)


def test_edits_of_another_job_are_refused(job):
    with pytest.raises(EditError, match="of job 'other'"):
        plan_job(job, edits=Edits(job="other"))


def test_an_edited_sheet_keeps_its_order_and_the_others_their_bytes(job, plain, begun):
    part = plain.sheets[0].nested.placements[-1]
    edits = begun.having("take off", part=part.part.name, copy=part.copy)
    after = plan_job(job, edits=edits)
    assert [s.program.text for s in after.sheets[1:]] == [s.program.text for s in plain.sheets[1:]]
    assert keys(after, after.sheets[0].name) == [
        key for key in keys(plain, plain.sheets[0].name) if key[:2] != (part.part.name, part.copy)
    ]
    assert [(u.part, u.quantity) for u in after.unplaced] == [(part.part.name, 1)]
    assert after.findings[-1][1].message == "changed by hand: 1 × take off"


def test_the_files_of_an_edited_plan_pass_their_proof_from_the_command_line(job, begun, tmp_path):
    edits = begun.having("quantity", part="ring", quantity=1).having(
        "start", part="cover", copy=1, contour="outside", at=(105, 0)
    )
    plan = plan_job(job, edits=edits)
    write_plan(plan, tmp_path / "out", job=job)
    for sheet in plan.sheets:
        assert verify(tmp_path / "out" / sheet.program.file_name).verdict.passed
    record = json.loads((tmp_path / "out" / "plan.json").read_text())
    assert record["wanted"]["ring"] == 1


def pierce(plan: Plan, part: str, copy: int, what: str):
    return next(
        (sheet, step)
        for sheet in plan.sheets
        for step in sheet.cuts
        if step.cut.makes[0].part == part
        and step.cut.makes[0].copy == copy
        and what == ("outside" if step.cut.makes[0].hole is None else f"hole {step.cut.makes[0].hole + 1}")
    )


@pytest.mark.parametrize("at", [(105.0, 0.0), (0.0, 65.0), (210.0, 65.0)])
def test_a_contour_begins_near_the_place_chosen(job, begun, at):
    plan = plan_job(job, edits=begun.having("start", part="cover", copy=1, contour="outside", at=at))
    sheet, step = pierce(plan, "cover", 1, "outside")
    pose = next(p.pose for p in sheet.nested.placements if (p.part.name, p.copy) == ("cover", 1))
    wanted = pose.matrix @ np.array(at) + (pose.x, pose.y)
    assert np.hypot(*(np.array(step.lead.pierce) - wanted)) < 40.0


def test_a_cut_comes_before_another_and_an_order_is_held(job, plain, begun):
    name = plain.sheets[0].name
    order = keys(plain, name)
    outsides = [key for key in order if key[2] == "outside"]
    last, first = outsides[-1], outsides[0]
    words = [{"part": p, "copy": c, "contour": w} for p, c, w in (last, first)]
    after = keys(plan_job(job, edits=begun.having("before", first=words[0], then=words[1])), name)
    assert after.index(last) < after.index(first)
    rows = next(s.order for s in begun.start.sheets if s.name == name)
    holes = [row for row in rows if row[2] != "outside"]
    turned = (*reversed(holes), *reversed([row for row in rows if row[2] == "outside"]))
    held = keys(plan_job(job, edits=begun.having("order", sheet=name, cuts=turned)), name)
    assert held == [(p, c, w) for p, c, w, _ in turned]
    with pytest.raises(CutplanError, match="holes come before"):
        plan_job(job, edits=begun.having("order", sheet=name, cuts=tuple(reversed(turned))))


def test_a_tab_goes_where_it_is_wanted_and_away_from_where_not(job, begun):
    edits = begun.having("tab", part="cover", copy=1, at=(105, 130))
    plan = plan_job(job, edits=edits)
    (tab,) = [tab for sheet in plan.sheets for tab in sheet.tabs]
    pose = next(
        p.pose for s in plan.sheets for p in s.nested.placements if (p.part.name, p.copy) == ("cover", 1)
    )
    wanted = pose.matrix @ np.array((105, 130)) + (pose.x, pose.y)
    assert (tab.part, tab.copy) == ("cover", 1) and np.hypot(*(np.array(tab.at) - wanted)) < 30.0
    tabbed = replace(job, techniques=replace(job.techniques, tabs=True))
    without = plan_job(tabbed, edits=begun.having("no tab", part="cover", copy=1))
    held = {(tab.part, tab.copy) for sheet in without.sheets for tab in sheet.tabs}
    assert ("cover", 1) not in held and ("cover", 2) in held


def test_another_row_of_the_cutting_data_is_taken(job, begun):
    use = {"thickness_mm": 10, "grade": "S355", "process": "plasma", "setting": "80 A air"}
    plan = plan_job(job, edits=begun.having("cutting data", **use))
    assert {s.data.setting for s in plan.sheets if s.nested.plate.thickness == 10} == {"80 A air"}
    with pytest.raises(CutplanError, match="no plasma data"):
        plan_job(job, edits=begun.having("cutting data", **{**use, "setting": "9 A"}))


def test_a_refused_edit_is_told_by_its_number(job, begun):
    edits = begun.having("pin", part="cover", copy=1).having("mirror", part="cover", copy=1)
    with pytest.raises(EditError, match=r"edit 2, mirror 'cover' copy 1.*pinned"):
        plan_job(job, edits=edits)


def test_the_command_line_makes_the_same_bytes_from_the_file(job, begun, tmp_path):
    from typer.testing import CliRunner

    from cutplan.cli import app

    edits = begun.having("quantity", part="strap", quantity=1)
    write_edits(edits, tmp_path / "hand.edits.json")
    done = CliRunner().invoke(
        app,
        ["plan", str(job.file), "--out", str(tmp_path / "a"), "--edits", str(tmp_path / "hand.edits.json"),
         "--workers", "1"],
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    write_plan(plan_job(job, edits=read_edits(tmp_path / "hand.edits.json")), tmp_path / "b", job=job)
    files = sorted(path.name for path in (tmp_path / "a").iterdir())
    assert files == sorted(path.name for path in (tmp_path / "b").iterdir()) and len(files) > 8
    for name in files:
        if not name.endswith(".xlsx"):
            assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name


def test_random_edits_give_proved_plans_or_are_refused_in_words(job, begun):
    rng = np.random.default_rng(19)
    edits, refused = begun, 0
    for _ in range(40):
        part, copy = rng.choice(["cover", "ring", "strap"]), int(rng.integers(1, 4))
        do = rng.choice(["move", "turn", "take off", "pin", "swap"])
        more = {
            "move": {"at": (float(rng.uniform(0, 500)), float(rng.uniform(0, 420))), "sheet": f"PL-{rng.integers(1, 4)}"},
            "turn": {"by_deg": 90.0 * int(rng.integers(1, 4))},
            "swap": {"with_part": "ring", "with_copy": 1},
            "pin": {"pinned": bool(rng.integers(0, 2))},
        }.get(do, {})  # fmt: skip
        trial = edits.with_edit(edit_of({"do": do, "part": part, "copy": copy, **more}))
        try:
            lay_job(job, lambda stage, share: None, Here(), edits=trial)
            edits = trial
        except EditError as problem:
            refused += 1
            assert problem.message
    assert len(edits.edits) >= 5 and refused >= 5
    plan = plan_job(job, edits=edits)
    assert all(sheet.verdict.passed for sheet in plan.sheets)


def test_a_start_that_the_job_no_longer_has_is_refused(job, begun, tmp_path: Path):
    other = hand_job(tmp_path)
    fewer = replace(other, parts=tuple(p for p in other.parts if p.label != "ring"))
    with pytest.raises(EditError, match="'ring'"):
        plan_job(fewer, edits=begun)
