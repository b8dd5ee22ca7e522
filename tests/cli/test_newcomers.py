"""What a newcomer tries in the first hour, and what must be said to him."""

import json
from pathlib import Path

import ezdxf
import pytest
from typer.testing import CliRunner, Result

from cutplan.base.errors import CutplanError, JobError
from cutplan.cli.commands import app
from cutplan.planning.flow import nest_job, plan_job
from cutplan.planning.job import Job, parse_job
from cutplan.planning.sections import DrawingsSection
from cutplan.stock import Inventory, Piece

STRIP = {"name": "strip", "quantity": 2, "thickness": 10, "grade": "S355",
         "shape": {"kind": "rectangle", "length": 200, "width": 80}}  # fmt: skip
PLATE = {"id": "A", "length": 500, "width": 300, "thickness": 10, "grade": "S355"}


def run(*arguments: str) -> Result:
    return CliRunner().invoke(app, list(arguments))


def job(folder: Path, **changes: object) -> Job:
    data = {"job": {"name": "strips"}, "cutting": {"process": "plasma"}, "plate": [PLATE], "part": [STRIP]}
    return parse_job({**data, **changes}, folder / "job.toml")


@pytest.fixture
def drawing(tmp_path: Path) -> Path:
    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (8, 0), (8, 4), (0, 4)], close=True)
    space.add_lwpolyline([(-1, -1), (9, -1), (9, 5), (-1, 5)], close=True, dxfattribs={"layer": "RAND"})
    document.saveas(tmp_path / "web.dxf")
    return tmp_path / "web.dxf"


def test_a_drawing_is_checked_with_the_reading_options_of_a_job(drawing: Path) -> None:
    plain = json.loads(run("check", str(drawing), "--units", "inch", "--json").stdout)
    assert plain["units"] == "in"
    told = run(
        "check", str(drawing), "--layer", "ignore=RAND*", "--gap", "0.2", "--tolerance", "0.02", "--json"
    )
    (part,) = json.loads(told.stdout)["parts"]
    assert part["bounds"] == [0.0, 0.0, 8.0, 4.0]


@pytest.mark.parametrize("option", ["RAND", "=RAND", "engrave=RAND"])
def test_a_layer_without_a_role_is_answered_with_what_to_write(drawing: Path, option: str) -> None:
    result = run("check", str(drawing), "--layer", option)
    assert isinstance(result.exception, CutplanError)
    assert "ignore" in str(result.exception)


def test_verify_finds_the_plan_beside_the_program(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(
        '[job]\nname = "strips"\n[cutting]\nprocess = "plasma"\n[[plate]]\nid = "A"\nlength = 500\nwidth = 300\n'
        'thickness = 10\ngrade = "S355"\n[[part]]\nname = "strip"\nquantity = 2\nthickness = 10\ngrade = "S355"\n'
        'shape = { kind = "rectangle", length = 200, width = 80 }\n'
    )
    assert run("plan", str(file), "--out", str(tmp_path / "out")).exit_code == 0
    result = run("verify", str(tmp_path / "out" / "A-1.nc"))
    assert result.exit_code == 0 and "PASSED" in result.stdout


def test_a_gap_that_the_process_overrides_is_said(tmp_path: Path) -> None:
    _, findings = nest_job(job(tmp_path, nesting={"gap": 1.0, "edge": 500.0}))
    told = [finding.message for _, finding in findings]
    assert any(text.startswith("[nesting] gap = 1 is less than the process needs here") for text in told)
    assert not any("edge" in text for text in told)


def test_a_better_plate_serves_and_keeps_its_own_name(tmp_path: Path) -> None:
    plan = plan_job(job(tmp_path, plate=[{**PLATE, "grade": "S355J2+N"}]))
    (sheet,) = plan.sheets
    assert sheet.nested.plate.grade == "S355J2+N"
    assert ("plates", "S355J2+N serves where S355 is asked") in [(a, f.message) for a, f in plan.findings]


def test_where_no_plate_serves_each_that_came_near_is_named_with_the_reason(tmp_path: Path) -> None:
    with Inventory(tmp_path / "rack.db") as stock:
        stock.add(
            [
                Piece("R1", 400, 300, 10.0, "S355", "mild steel"),
                Piece("R2", 400, 300, 10.0, "S235", "mild steel"),
            ]
        )
    asked = job(
        tmp_path, part=[{**STRIP, "grade": "S355J2"}], plate=[{**PLATE, "thickness": 12, "grade": "S355J2"}],
        stock={"inventory": "rack.db"},
    )  # fmt: skip
    with pytest.raises(
        JobError, match=r"10 mm S355J2 for part 'strip'; on offer, but not it: A \(S355J2\): 12 mm"
    ):
        nest_job(asked)
    without = job(tmp_path, part=[{**STRIP, "grade": "S355J2"}])
    with pytest.raises(JobError, match=r"A \(S355\): no impact quality is stated, J2 is asked"):
        nest_job(without)


def test_the_rack_is_listed_by_what_serves(tmp_path: Path) -> None:
    rack = tmp_path / "rack.db"
    with Inventory(rack) as stock:
        stock.add([Piece(label, 400, 300, 10.0, grade, "mild steel")
                   for label, grade in (("R1", "S355"), ("R2", "S355J2+N"), ("R3", "S235JR"))])  # fmt: skip

    def listed(grade: str) -> list[str]:
        told = run("stock", "list", "--grade", grade, "--stock", str(rack), "--json")
        return [piece["label"] for piece in json.loads(told.stdout)]

    assert listed("S355") == ["R1", "R2"]
    assert listed("s355 j2") == ["R2"]


def test_progress_says_what_runs_and_its_shares_only_rise_within_a_stage(tmp_path: Path) -> None:
    told: list[tuple[str, float | None]] = []
    plan_job(job(tmp_path), lambda stage, share: told.append((stage, share)))
    stages = list(dict.fromkeys(stage.split(" (first run")[0].split(": making")[0] for stage, _ in told))
    assert stages == [
        "reading drawings", "nesting 10 mm S355", "plate 1 of 1: laying the torch's paths on A-1",
        "plate 1 of 1: ordering the cuts of A-1", "plate 1 of 1: proving the program of A-1",
    ]  # fmt: skip
    for stage in {stage for stage, _ in told}:
        shares = [share for each, share in told if each == stage and share is not None]
        assert shares == sorted(shares) and all(0.0 <= share <= 1.0 for share in shares)


READING_OPTIONS = {
    "units": ("--units", "mm"),
    "gap": ("--gap", "0.2"),
    "tolerance": ("--tolerance", "0.02"),
    "layers": ("--layer", "ignore=RAND*"),
    "colours": ("--colour", "mark=red"),
    "open": ("--open", "leave out"),
    "frames": ("--frames", "cut"),
    "equal": ("--equal", "apart"),
    "choose": ("--choose", "larger_than=1,within=-5/-5/500/500"),
    "leave_out": ("--leave-out", "at=400/400"),
    "texts": ("--text", r"quantity=QTY (\d+)"),
    "limits": ("--limit", "seconds=60"),
}


def test_check_has_an_option_for_each_key_of_drawings(drawing: Path) -> None:
    assert set(READING_OPTIONS) == set(DrawingsSection.model_fields)
    plain = [word for option in READING_OPTIONS.values() for word in option]
    told = run("check", str(drawing), *plain, "--json")
    assert told.exit_code == 0, told.exception
    assert len(json.loads(told.stdout)["parts"]) == 1


@pytest.mark.parametrize(
    ("option", "said"),
    [
        (("--leave-out", "larger_than=0.1"), None),
        (("--choose", "size=3"), "larger_than"),
        (("--choose", "at=3"), "at=X/Y"),
        (("--choose", "at=3/b"), "no number"),
        (("--limit", "hours=1"), "seconds"),
        (("--limit", "seconds=0"), "seconds"),
        (("--choose", "larger_than=-1"), "larger_than"),
        (("--text", "quantity"), "MEANING=PATTERN"),
    ],
)
def test_a_reading_option_does_what_it_says_or_says_what_to_write(
    drawing: Path, option: tuple[str, str], said: str | None
) -> None:
    told = run("check", str(drawing), *option, "--json")
    if said is None:
        assert json.loads(told.stdout)["parts"] == []
    else:
        assert isinstance(told.exception, CutplanError) and said in str(told.exception)
