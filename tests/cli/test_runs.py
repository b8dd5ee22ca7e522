"""What operators write back is kept, and the machine's factors are learned from it and plan.json alone."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cutplan.base.errors import CutplanError
from cutplan.cli.commands import app
from cutplan.planning.flow import plan_job
from cutplan.planning.job import parse_job
from cutplan.planning.output import write_files


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plan") / "out"
    plates = [
        {"id": f"P{n}", "length": 300 + 150 * n, "width": 320, "thickness": 10, "grade": "S355"}
        for n in range(3)
    ]
    part = {"name": "washer", "quantity": 9, "thickness": 10, "grade": "S355",
            "shape": {"kind": "ring", "outside": 130, "inside": 50}}  # fmt: skip
    job = {"job": {"name": "washers"}, "cutting": {"process": "plasma"}, "plate": plates, "part": [part]}
    write_files(plan_job(parse_job(job, folder.parent / "job.toml")), folder)
    return folder


@pytest.fixture
def stock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("CUTPLAN_STOCK", str(tmp_path / "stock.db"))
    return tmp_path / "stock.db"


def run(*words: str) -> str:
    result = CliRunner().invoke(app, list(words))
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.output


def sheets(out: Path) -> dict[str, dict[str, float]]:
    plates = json.loads((out / "plan.json").read_text())["plates"]
    return {f"{p['id']}-{p['sheet']}": p["estimate"]["time_s"] for p in plates}


def test_factors_come_from_what_was_written_back_and_plan_json_alone(
    stock: Path, out: Path, tmp_path: Path
) -> None:
    plan, factor = out / "plan.json", 1.25
    for name, time_s in sheets(out).items():
        lit = time_s["total"] - time_s.get("handling", 0.0)
        minutes = (factor * lit + time_s.get("handling", 0.0)) / 60.0
        run(
            "stock", "ran", str(plan), name, "--minutes", f"{minutes:.6f}", "--restarts", "1", "--sets", "0.5"
        )
    told = run("calibrate", str(plan), "--factors", "all")
    assert f"all × {factor:.3f}" in told
    listed = tmp_path / "times.csv"
    lines = [f"{r['sheet']},{r['minutes']}" for r in json.loads(run("stock", "runs", "--json"))]
    listed.write_text("program,minutes\n" + "\n".join(lines))
    assert run("calibrate", str(plan), str(listed), "--factors", "all") == told


def test_a_list_of_runs_is_noted_whole_or_not_at_all(stock: Path, out: Path, tmp_path: Path) -> None:
    first, *_ = sheets(out)
    listed = tmp_path / "runs.csv"
    listed.write_text(f"Program;Minutes;Restarts;Sets\n{first}.nc;12,5;2;0,5\n{first};11;;\n")
    run("stock", "ran", str(out / "plan.json"), "--csv", str(listed))
    noted = json.loads(run("stock", "runs", "--json"))
    assert [(r["sheet"], r["minutes"], r["restarts"], r["sets"]) for r in noted] == [
        (first, 12.5, 2, 0.5), (first, 11.0, 0, None)]  # fmt: skip
    listed.write_text(f"program,minutes\n{first},-3\nNONE-1,4\n")
    with pytest.raises(CutplanError, match=r"row 3: .*has no sheet 'NONE-1'"):
        run("stock", "ran", str(out / "plan.json"), "--csv", str(listed))
    assert len(json.loads(run("stock", "runs", "--json"))) == 2
    run("stock", "undo")
    assert json.loads(run("stock", "runs", "--json")) == []
    with pytest.raises(CutplanError, match="was taken back already"):
        run("stock", "undo", "1")


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--minutes", "0"), "0 minutes and 0 restarts are no run"),
        (("--minutes", "nan"), "are no run of a sheet"),
        ((), "give --minutes or --csv"),
    ],
)
def test_what_is_no_run_is_refused(stock: Path, out: Path, words: tuple[str, ...], told: str) -> None:
    with pytest.raises(CutplanError, match=told):
        run("stock", "ran", str(out / "plan.json"), next(iter(sheets(out))), *words)


def test_without_runs_the_command_says_what_to_do(stock: Path, out: Path) -> None:
    with pytest.raises(CutplanError, match="no inventory here"):
        run("calibrate", str(out / "plan.json"))
    run("stock", "add", "A", "--length", "500", "--width", "400", "--thickness", "10", "--grade", "S355")
    with pytest.raises(CutplanError, match=r"no run of plan 'washers \w{8}' is noted.*stock ran"):
        run("calibrate", str(out / "plan.json"))
