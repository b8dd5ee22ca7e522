"""A program is proved again from its plan alone, whatever control it was written for."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from cutplan.drawing import write_dxf
from cutplan.geometry import polygon
from cutplan.planning.bookings import book_out
from cutplan.planning.flow import plan_job
from cutplan.planning.job import parse_job
from cutplan.planning.output import write_files
from cutplan.planning.program_check import check_program
from cutplan.record import read_plan
from cutplan.stock import Inventory, Piece

SHIPPED = Path(__file__).parents[2] / "postprocessors" / "rs274-metric.toml"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A plan for a control of the shop's own, which begins a cut on M62 and counts milliseconds."""
    folder = tmp_path_factory.mktemp("shop")
    (folder / "posts").mkdir()
    text = SHIPPED.read_text(encoding="utf-8").replace('"M3"', '"M62"').replace('"M5"', '"M63"')
    text = text.replace('"M5", "M9"', '"M63", "M9"').replace("[numbers]", '[numbers]\ndwell_unit = "ms"')
    (folder / "posts" / "bay-2.toml").write_text(text, encoding="utf-8")
    plate = {"id": "A", "length": 500, "width": 400, "thickness": 10, "grade": "S355"}
    part = {"name": "washer", "quantity": 4, "thickness": 10, "grade": "S355",
            "shape": {"kind": "ring", "outside": 120, "inside": 50}}  # fmt: skip
    job = parse_job(
        {
            "job": {"name": "washers"},
            "machine": {"postprocessor": "bay-2"},
            "cutting": {"process": "plasma", "postprocessors": ["posts"]},
            "plate": [plate],
            "part": [part],
        },
        folder / "job.toml",
    )
    write_files(plan_job(job), folder / "out")
    shutil.rmtree(folder / "posts")
    return folder / "out"


def test_a_program_for_a_control_of_the_shops_own_is_proved_without_its_file(shop: Path) -> None:
    assert "M62" in (shop / "A-1.nc").read_text()
    checked = check_program(shop / "A-1.nc", shop / "plan.json", None)
    assert checked.verdict.passed and checked.untouched
    assert checked.verdict.parts_freed == 4


def test_an_edited_program_is_told_from_the_planned_one(shop: Path, tmp_path: Path) -> None:
    for name in ("A-1.nc", "plan.json"):
        shutil.copy(shop / name, tmp_path)
    program = tmp_path / "A-1.nc"
    program.write_text(program.read_text().replace("M63", "M5"))
    checked = check_program(program, tmp_path / "plan.json", None)
    assert not checked.untouched
    assert not checked.verdict.passed


def test_a_program_is_proved_again_with_the_jobs_own_tolerance_and_its_drawings_units(tmp_path: Path) -> None:
    write_dxf(tmp_path / "plate.dxf", {"0": [polygon([(0, 0), (6, 0), (6, 4), (0, 4)])]})
    common = {"thickness": 10, "grade": "S355"}
    job = parse_job(
        {
            "job": {"name": "inches"},
            "cutting": {"process": "plasma", "tolerance_mm": 0.01},
            "drawings": {"units": "in"},
            "plate": [{"id": "A", "length": 500, "width": 400, **common}],
            "part": [{"drawing": "plate.dxf", "quantity": 1, **common}],
        },
        tmp_path / "job.toml",
    )
    out = tmp_path / "out"
    write_files(plan_job(job), out)
    assert check_program(out / "A-1.nc", out / "plan.json", None, tmp_path).verdict.passed
    lines = (out / "A-1.nc").read_text().splitlines()
    text = "\n".join(re.sub(r"X([\d.]+)", lambda x: f"X{float(x[1]) + 0.03:.3f}", line) for line in lines)
    (out / "A-1.nc").write_text(text + "\n")
    assert not check_program(out / "A-1.nc", out / "plan.json", None).verdict.passed


def test_a_sheet_cut_on_a_control_of_the_shops_own_leaves_its_remnant(shop: Path, tmp_path: Path) -> None:
    plan = read_plan(shop / "plan.json")
    with Inventory(tmp_path / "stock.db") as stock:
        stock.add([Piece("A", 500, 400, 10, "S355", "mild steel")])
        stock.reserve(plan.name, ["A"])
        booking = book_out(stock, shop / "plan.json", "A-1", keep=(100, 100))
    assert [piece.label for piece in booking.remnants] == ["A-R1"]
