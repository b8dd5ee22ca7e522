"""A spoilt part opens its job again: the next plan makes it, from a remnant, and no more than is owed."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cutplan.base.errors import CutplanError, InputError, JobError, StockError
from cutplan.cli.commands import app
from cutplan.planning.job import parse_job
from cutplan.stock import Inventory, Piece

STRIP = {"name": "strip", "quantity": 6, "thickness": 10, "grade": "S355", "kit": "frame",
         "shape": {"kind": "rectangle", "length": 200, "width": 80}}  # fmt: skip


@pytest.fixture
def rack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    file = tmp_path / "stock.db"
    monkeypatch.setenv("CUTPLAN_STOCK", str(file))
    monkeypatch.setenv("CUTPLAN_AUTHOR", "the night shift")
    with Inventory(file) as stock:
        stock.add([
            Piece(label, length, width, 10.0, "S355", "mild steel", heat="H1")
            for label, length, width in (("BIG", 1200.0, 800.0), ("SMALL", 900.0, 400.0))
        ])  # fmt: skip
    return file


def job_file(folder: Path, reopen: bool = True) -> Path:
    file = folder / "job.toml"
    file.write_text(
        '[job]\nname = "strips"\n[order]\neffort = 0.1\n[cutting]\nprocess = "plasma"\n[stock]\ninventory = true\n'
        f'reopen = {str(reopen).lower()}\n[[part]]\nname = "strip"\nquantity = 6\nthickness = 10\n'
        'grade = "S355"\nkit = "frame"\nshape = { kind = "rectangle", length = 200, width = 80 }\n'
    )
    return file


def run(*words: str) -> str:
    result = CliRunner().invoke(app, list(words))
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.output


def owed() -> dict[str, int]:
    (strip,) = json.loads(run("stock", "job", "strips", "--json"))["parts"]
    return {key: strip[key] for key in ("wanted", "planned", "cut", "spoilt", "owed", "open")}


def test_a_spoilt_part_is_planned_again_from_a_remnant_until_nothing_is_owed(
    rack: Path, tmp_path: Path
) -> None:
    job, first, second = job_file(tmp_path), tmp_path / "one", tmp_path / "two"
    run("plan", str(job), "--out", str(first))
    plan = json.loads((first / "plan.json").read_text())
    assert (plan["wanted"], plan["kits"]) == ({"strip": 6}, {"strip": "frame"})
    assert owed() == {"wanted": 6, "planned": 6, "cut": 0, "spoilt": 0, "owed": 6, "open": 0}
    with pytest.raises(StockError, match=r"job 'strips' owes nothing"):
        run("plan", str(job), "--out", str(second))
    assert not second.exists()
    run("stock", "cut", str(first / "plan.json"), "--keep", "200x100")
    mark = plan["plates"][0]["placements"][0]["mark"]
    assert "owes 1 of 6, 1 not planned" in run("stock", "spoil", mark, "--why", "arc lost")
    told = run("plan", str(job), "--out", str(second))
    assert "of 6 wanted 5 are cut or planned elsewhere: 1 are planned (1 spoilt so far)" in told
    again = json.loads((second / "plan.json").read_text())
    assert [len(plate["placements"]) for plate in again["plates"]] == [1]
    assert again["plates"][0]["id"].endswith("-R1")
    assert again["kits"] == {"strip": "frame"}
    assert owed() == {"wanted": 6, "planned": 1, "cut": 5, "spoilt": 1, "owed": 1, "open": 0}
    run("stock", "cut", str(second / "plan.json"))
    assert owed() == {"wanted": 6, "planned": 0, "cut": 6, "spoilt": 1, "owed": 0, "open": 0}
    page = tmp_path / "job.html"
    run("stock", "job", "strips", "--page", str(page))
    assert "owed 0" in page.read_text() and "arc lost" in page.read_text() and mark in page.read_text()
    journal = run("stock", "journal")
    assert "the night shift" in journal and "because: arc lost" in journal and "{" not in journal


def test_planned_anew_in_its_folder_a_job_makes_what_it_owes_once(rack: Path, tmp_path: Path) -> None:
    job, out = job_file(tmp_path), tmp_path / "one"
    for _ in range(2):
        run("plan", str(job), "--out", str(out))
        assert owed() == {"wanted": 6, "planned": 6, "cut": 0, "spoilt": 0, "owed": 6, "open": 0}


def test_without_reopen_the_whole_job_is_planned_again(rack: Path, tmp_path: Path) -> None:
    run("plan", str(job_file(tmp_path, reopen=False)), "--out", str(tmp_path / "one"))
    run("plan", str(job_file(tmp_path, reopen=False)), "--out", str(tmp_path / "two"))
    assert owed() == {"wanted": 6, "planned": 12, "cut": 0, "spoilt": 0, "owed": 6, "open": 0}
    assert "6 more of strip (strips) are cut or planned than wanted" in run("stock", "job")


def test_parts_of_the_jobs_own_plate_are_booked_out_too(rack: Path, tmp_path: Path) -> None:
    job, out = job_file(tmp_path), tmp_path / "one"
    with job.open("a") as file:
        file.write('[[plate]]\nid = "OWN"\nlength = 500\nwidth = 400\nthickness = 10\ngrade = "S355"\n')
    with Inventory(rack) as stock:
        stock.scrap("BIG")
        stock.scrap("SMALL")
    run("plan", str(job), "--out", str(out))
    assert "the job's own" in run("stock", "cut", str(out / "plan.json"))
    assert owed()["cut"] == 6
    with pytest.raises(StockError, match="is cut already"):
        run("stock", "cut", str(out / "plan.json"))
    run("stock", "undo")
    assert owed() == {"wanted": 6, "planned": 6, "cut": 0, "spoilt": 0, "owed": 6, "open": 0}


def test_reopening_needs_an_inventory(tmp_path: Path) -> None:
    data = {"job": {"name": "strips"}, "stock": {"reopen": True}, "part": [STRIP]}
    with pytest.raises(JobError, match="reopen needs an inventory"):
        parse_job(data, tmp_path / "job.toml")


def test_what_is_not_known_is_refused_with_what_is(rack: Path, tmp_path: Path) -> None:
    for words, told in (
        (("spoil", "X-1", "--why", "bent"), "no part is marked 'X-1'"),
        (("spoil", "X-1", "--why", "a\nb"), "--why: a name must not hold control characters"),
        (("job", "other"), "no job 'other'; no plan was made with this inventory"),
        (("move", "NONE", "bay 2"), "no piece 'NONE'"),
        (("undo", "7"), "there is no change 7"),
        (("undo", "--by", "x" * 200), "a name has at most 120 letters"),
    ):
        with pytest.raises((CutplanError, InputError)) as refused:
            run("stock", *words)
        assert told in str(refused.value)
