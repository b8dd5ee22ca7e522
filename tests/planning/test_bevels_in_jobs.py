"""Bevels that a job asks for: found, refused with the reason, taken from notes, listed; never cut square without a word."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import pytest
import shapely

from cutplan.base.errors import CutplanError
from cutplan.cutting import bevel_foot
from cutplan.geometry import place_points
from cutplan.planning.flow import plan_job
from cutplan.planning.intake import read_wanted
from cutplan.planning.job import Job, parse_job
from cutplan.planning.output import write_files
from cutplan.planning.program_check import check_program
from cutplan.record import plan_record

COMMON = {"thickness": 20, "grade": "S355"}
BEVEL = {"at": [50, 0], "kind": "Y", "angle_deg": 30, "land_mm": 3}


def job_of(folder: Path, part: dict[str, Any], **sections: Any) -> Job:
    data = {
        "job": {"name": "bevels"},
        "plate": [{"id": "A", "length": 500, "width": 400, **COMMON}],
        "part": [{"quantity": 1, **COMMON, "name": "lug", **part}],
    }
    sections = {name: section for name, section in sections.items() if section}
    return parse_job({**data, **sections}, folder / "job.toml")


RECTANGLE = {"kind": "rectangle", "length": 100, "width": 60}


def told(job: Job, kind: str) -> list[str]:
    intake = read_wanted(job, lambda stage, share: None)
    return [str(finding) for _, finding in intake.findings if finding.kind == kind]


def test_a_bevel_that_no_head_cuts_is_refused(tmp_path: Path) -> None:
    job = job_of(tmp_path, {"shape": RECTANGLE, "bevels": [BEVEL]})
    with pytest.raises(
        CutplanError, match=r"no head of this machine bevels: Y 30°, land 3 mm, top over 100 mm"
    ):
        plan_job(job)


def test_a_bevel_made_elsewhere_is_told_and_listed(tmp_path: Path) -> None:
    job = job_of(tmp_path, {"shape": RECTANGLE, "bevels": [BEVEL]}, bevels={"elsewhere": True})
    plan = plan_job(job)
    (warning,) = [str(f) for about, f in plan.findings if about == "lug" and f.topic == "bevels"]
    assert "is still to be made off the table" in warning
    (record,) = plan_record(plan)["bevels"]
    assert (record["part"], record["kind"], record["angle_deg"], record["land_mm"], record["side"]) == (
        "lug", "Y", 30.0, 3.0, "top",
    )  # fmt: skip
    # 17 mm deep at 30 degrees over 100 mm: 17² · tan 30° / 2 · 100.
    assert record["weld_cm3"] == pytest.approx(0.5 * 17**2 * 0.57735 * 100 / 1000, abs=0.01)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"at": [50, 20]}, "names a place 20.0 mm away from the nearest edge"),
        ({"land_mm": 20}, "leaves nothing to bevel on a plate of 20 mm"),
        ({"kind": "X", "side": "top"}, "X is a preparation of both sides"),
        ({"angle_deg": 70, "kind": "V"}, "70° from the plate's normal is no bevel to cut"),
    ],
)
def test_impossible_bevels_are_refused(tmp_path: Path, change: dict[str, Any], words: str) -> None:
    job = job_of(tmp_path, {"shape": RECTANGLE, "bevels": [{**BEVEL, **change}]})
    assert any(words in each for each in told(job, "refused"))


def test_two_bevels_on_one_edge_are_refused(tmp_path: Path) -> None:
    job = job_of(tmp_path, {"shape": RECTANGLE, "bevels": [BEVEL, {**BEVEL, "at": [20, 0]}]})
    assert any("are asked of the same edge" in each for each in told(job, "refused"))


def drawn(folder: Path, *texts: tuple[str, float, float]) -> None:
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
    for text, x, y in texts:
        space.add_text(text, height=3, dxfattribs={"insert": (x, y), "layer": "NOTES"})
    document.saveas(folder / "lug.dxf")


def test_a_note_beside_an_edge_is_heeded_where_the_job_says_so(tmp_path: Path) -> None:
    drawn(tmp_path, ("BEVEL V 30 DEG, LAND 2", 20.0, -8.0))
    job = job_of(tmp_path, {"drawing": "lug.dxf", "from_text": ["bevel"]}, bevels={"elsewhere": True})
    (wanted,) = read_wanted(job, lambda stage, share: None).wanted
    (asked,) = wanted.part.bevels
    assert (asked.kind, asked.angle_deg, asked.land_mm, asked.side) == ("V", 30.0, 2.0, "top")
    assert asked.span == pytest.approx((0.0, 100.0))
    assert any("is taken from the text" in each for each in told(job, "taken"))


def test_a_note_that_the_job_does_not_heed_is_told(tmp_path: Path) -> None:
    drawn(tmp_path, ("BEVEL V 30 DEG, LAND 2", 20.0, -8.0))
    job = job_of(tmp_path, {"drawing": "lug.dxf"})
    (warning,) = told(job, "warning")
    assert "is not carried out" in warning and 'from_text = ["bevel"]' in warning


@pytest.mark.parametrize(
    ("text", "x", "y", "why"),
    [
        ("BEVEL AS AGREED", 20.0, -8.0, "gives no angle"),
        ("CHAMFER 30 DEG", 30.0, 30.0, "stands beside no edge that is clearly the nearest"),
        ("BEVEL 30 DEG", 75.0, -8.0, "stands beside no edge that is clearly the nearest"),
    ],
)
def test_a_note_that_is_not_clear_is_a_question(
    tmp_path: Path, text: str, x: float, y: float, why: str
) -> None:
    drawn(tmp_path, (text, x, y))
    job = job_of(tmp_path, {"drawing": "lug.dxf", "from_text": ["bevel"]}, bevels={"elsewhere": True})
    (question,) = told(job, "question")
    assert why in question and "bevels = [" in question


@pytest.mark.parametrize("head", ["rs274-bevel-hand", "rs274-bevel-head", "rs274-bevel-gimbal"])
def test_a_bevel_is_planned_proved_written_and_proved_again(tmp_path: Path, head: str) -> None:
    machine = {"postprocessor_bevels": head}
    job = job_of(tmp_path, {"shape": RECTANGLE, "bevels": [BEVEL], "quantity": 2}, machine=machine)
    plan = plan_job(job)
    (sheet,) = plan.sheets
    assert {each.asked.when for each in sheet.bevels} == {"before"} and all(
        b.verdict.passed for b in sheet.bevels
    )
    assert sum(len(each.order.steps) for each in sheet.bevels) == 2
    alone = sheet.estimate.time_s["cutting"] - sum(b.estimate.time_s["cutting"] for b in sheet.bevels)
    assert alone > 0.0 and sheet.estimate.pierces == len(sheet.order.steps) + 2
    files = write_files(plan, tmp_path / "out")
    own = [each.program.file_name for each in sheet.bevels]
    assert set(own) <= set(files)
    for name in own:
        checked = check_program(tmp_path / "out" / name, tmp_path / "out" / "plan.json", None)
        assert checked.verdict.passed and checked.untouched and checked.exit_code == 0
        spoilt = tmp_path / "out" / name
        text = spoilt.read_text().replace("B30", "B33").replace("TORCH 30", "TORCH 33").replace("A30", "A33")
        text = text.replace("B-30", "B-33").replace("A-30", "A-33")
        spoilt.write_text(text)
        assert check_program(spoilt, tmp_path / "out" / "plan.json", None).exit_code == 3
    page = (tmp_path / "out" / "A-1.html").read_text()
    assert own[0] in page and "cm³ to weld on this side" in page and "a leaning jet throws sparks" in page
    assert 'class="slope"' in (tmp_path / "out" / "A-1.svg").read_text()
    record = plan_record(plan)["plates"][0]["bevel_programs"]
    assert [each["program"]["file"] for each in record] == own


def test_square_cuts_begin_clear_of_the_grooves(tmp_path: Path) -> None:
    job = job_of(
        tmp_path,
        {"shape": RECTANGLE, "bevels": [BEVEL]},
        machine={"postprocessor_bevels": "rs274-bevel-head"},
    )
    (sheet,) = plan_job(job).sheets
    assert sheet.bevels[0].asked.square_starts
    assert not [fault for each in sheet.bevels for fault in each.verdict.faults]


def test_with_oxygen_upper_bevels_come_behind_and_parts_are_told_to_be_loose(tmp_path: Path) -> None:
    job = job_of(
        tmp_path, {"shape": RECTANGLE, "bevels": [BEVEL], "process": "oxyfuel", "mirror": True},
        machine={"postprocessor_bevels": "rs274-bevel-hand"},
    )  # fmt: skip
    plan = plan_job(job)
    assert {each.asked.when for each in plan.sheets[0].bevels} == {"after"}
    findings = [str(finding) for _, finding in plan.findings]
    assert any("find parts that are loose" in each for each in findings)
    assert any("it is not mirrored" in each for each in findings)
    text = plan.sheets[0].bevels[0].program.text
    assert "AFTER program A-1" in text and "wedge it" in text


def test_the_nest_keeps_room_for_the_leaning_jet(tmp_path: Path) -> None:
    """What a part's bevels take of the plate at any depth keeps the gap from every other part."""
    bevels = [{**BEVEL, "side": "bottom"}, {**BEVEL, "side": "bottom", "at": [50, 60]}]
    part = {"shape": RECTANGLE, "bevels": bevels, "quantity": 6}
    plan = plan_job(job_of(tmp_path, part, machine={"postprocessor_bevels": "rs274-bevel-head"}))
    placements = plan.sheets[0].nested.placements
    lug = placements[0].part
    foot = bevel_foot(lug, 20.0, {30.0: plan.sheets[0].bevels[0].data})
    feet = [shapely.transform(foot, lambda p, pose=each.pose: place_points(p, pose)) for each in placements]
    metal = [shapely.Polygon(place_points(lug.outer.points, each.pose)) for each in placements]
    apart = [feet[a].distance(metal[b]) for a in range(len(feet)) for b in range(len(feet)) if a != b]
    assert min(apart) > 5.0


def test_a_post_processor_that_does_not_lean_is_refused(tmp_path: Path) -> None:
    job = job_of(tmp_path, {"shape": RECTANGLE}, machine={"postprocessor_bevels": "rs274-metric"})
    with pytest.raises(CutplanError, match="does not say how its torch leans"):
        plan_job(job)


def test_a_slope_too_thick_along_the_jet_is_refused(tmp_path: Path) -> None:
    job = job_of(
        tmp_path, {"shape": RECTANGLE, "bevels": [{**BEVEL, "angle_deg": 45}], "process": "plasma", "thickness": 40},
        machine={"postprocessor_bevels": "rs274-bevel-head"},
        plate=[{"id": "A", "length": 500, "width": 400, "thickness": 40, "grade": "S355"}],
    )  # fmt: skip
    with pytest.raises(CutplanError, match=r"56\.6 mm along the jet"):
        plan_job(job)


@pytest.mark.parametrize(
    ("layer", "y", "kind", "words"),
    [
        ("BEVEL_V_30DEG_LAND_2", 12.0, "taken", "V 30°, land 2 mm, top is taken from a line"),
        ("BEVEL_X_45DEG", 0.0, "taken", "X 45°, both sides is taken from a line"),
        ("BEVEL", 12.0, "question", "gives no angle by its layer's name"),
    ],
)
def test_a_line_on_a_layer_for_bevels_names_its_edge(
    tmp_path: Path, layer: str, y: float, kind: str, words: str
) -> None:
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (100, 0), (100, 60), (0, 60)], close=True)
    space.add_line((2, y), (98, y), dxfattribs={"layer": layer})
    document.saveas(tmp_path / "lug.dxf")
    part = {"drawing": "lug.dxf", "layers": {"bevel": ["BEVEL*"]}}
    job = job_of(tmp_path, part, bevels={"elsewhere": True})
    assert any(words in each for each in told(job, kind))
    if kind == "taken":
        (wanted,) = read_wanted(job, lambda stage, share: None).wanted
        assert wanted.part.bevels[0].span == pytest.approx((0.0, 100.0))
