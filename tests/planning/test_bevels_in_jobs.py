"""Bevels that a job asks for: found, refused with the reason, taken from notes, listed; never cut square without a word."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import pytest

from cutplan.base.errors import CutplanError
from cutplan.planning.flow import plan_job
from cutplan.planning.intake import read_wanted
from cutplan.planning.job import Job, parse_job
from cutplan.record import plan_record

COMMON = {"thickness": 20, "grade": "S355"}
BEVEL = {"at": [50, 0], "kind": "Y", "angle_deg": 30, "land_mm": 3}


def job_of(folder: Path, part: dict[str, Any], **sections: Any) -> Job:
    data = {
        "job": {"name": "bevels"},
        "plate": [{"id": "A", "length": 500, "width": 400, **COMMON}],
        "part": [{"quantity": 1, **COMMON, "name": "lug", **part}],
    }
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
