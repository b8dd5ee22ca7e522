"""A folder that holds something else is not written over: another job's plan, a hand's edits, a thesis."""

import json
from pathlib import Path

import pytest

from cutplan.base.errors import NestingError, OutputError
from cutplan.nesting import Nest
from cutplan.nesting.model import Unplaced
from cutplan.planning.bookings import planned_before, reserved
from cutplan.planning.flow import plan_job
from cutplan.planning.job import Job, parse_job
from cutplan.planning.output import write_files
from cutplan.planning.standing import refuse_alike, refuse_another, standing_in
from cutplan.record import Plan
from cutplan.stock import Inventory, Piece

STRIP = {"name": "strip", "quantity": 2, "thickness": 10, "grade": "S355",
         "shape": {"kind": "rectangle", "length": 200, "width": 80}}  # fmt: skip
PLATE = {"id": "A", "length": 500, "width": 300, "thickness": 10, "grade": "S355"}


def job(folder: Path, name: str = "strips", **changes: object) -> Job:
    data = {"job": {"name": name}, "cutting": {"process": "plasma"}, "plate": [PLATE], "part": [STRIP]}
    return parse_job({**data, **changes}, folder / "job.toml")


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return plan_job(job(tmp_path_factory.mktemp("job")))


@pytest.fixture
def out(tmp_path: Path, plan: Plan) -> Path:
    write_files(plan, tmp_path / "out")
    return tmp_path / "out"


def content(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.rglob("*") if file.is_file()}


def test_the_same_job_is_planned_into_its_folder_again(out: Path, plan: Plan) -> None:
    before = content(out)
    write_files(plan, out)
    assert content(out) == before
    assert sorted(standing_in(out).own()) == sorted(before)


def test_another_jobs_plan_is_kept_unless_told_to_replace_it(out: Path, plan: Plan) -> None:
    before = content(out)
    with pytest.raises(OutputError, match=r"another job, 'strips'; give another --out, or --replace"):
        refuse_another(out, "brackets")
    assert content(out) == before
    refuse_another(out, "brackets", replace=True)


def test_a_program_edited_by_hand_is_not_lost_without_a_word(out: Path, plan: Plan) -> None:
    (out / "A-1.nc").write_text("(edited at the table)\n")
    with pytest.raises(OutputError, match=r"changed since they were planned: A-1\.nc; move them away"):
        write_files(plan, out)
    assert (out / "A-1.nc").read_text() == "(edited at the table)\n"
    write_files(plan, out, replace=True)
    assert (out / "A-1.nc").read_text() == plan.sheets[0].program.text


@pytest.mark.parametrize(
    "foreign",
    [
        {"files": ["src", "thesis.doc"]},
        {"schema": "other/1", "files": ["thesis.doc"]},
        ["thesis.doc"],
        "no json",
    ],
)
@pytest.mark.parametrize("replace", [False, True])
def test_a_plan_json_of_something_else_takes_no_file_with_it(
    tmp_path: Path, plan: Plan, foreign: object, replace: bool
) -> None:
    (tmp_path / "src").mkdir()
    (tmp_path / "src" / "main.py").write_text("x")
    (tmp_path / "thesis.doc").write_text("years of work")
    (tmp_path / "plan.json").write_text("{" if foreign == "no json" else json.dumps(foreign))
    before = content(tmp_path)
    with pytest.raises(OutputError, match=r"a plan\.json that cutplan did not write"):
        write_files(plan, tmp_path, replace=replace)
    assert content(tmp_path) == before


def test_a_plan_json_that_names_folders_links_and_others_files_takes_none_of_them(
    out: Path, plan: Plan, tmp_path: Path
) -> None:
    record = json.loads((out / "plan.json").read_text())
    record["files"] += ["src", "link.txt", "../beyond.txt"]
    (out / "plan.json").write_text(json.dumps(record))
    (out / "src").mkdir()
    (tmp_path / "beyond.txt").write_text("beyond")
    (out / "link.txt").symlink_to(tmp_path / "beyond.txt")
    write_files(plan, out)
    assert (out / "src").is_dir() and (out / "link.txt").is_symlink()
    assert (tmp_path / "beyond.txt").read_text() == "beyond"


def test_a_file_of_ones_own_by_the_name_of_a_new_one_stays(tmp_path: Path, plan: Plan) -> None:
    (tmp_path / "batch.html").write_text("my notes")
    with pytest.raises(OutputError, match=r"holds batch\.html, which no plan of cutplan wrote"):
        write_files(plan, tmp_path)
    assert content(tmp_path) == {"batch.html": b"my notes"}


def test_files_of_one_name_are_refused_before_any_is_written() -> None:
    refuse_alike(["A-1-1.nc", "A-1.svg"])
    with pytest.raises(OutputError, match=r"would have one name: A-1-1\.nc, a-1-1\.NC"):
        refuse_alike(["A-1-1.nc", "a-1-1.NC", "A-1.svg"])


def test_a_batch_of_which_nothing_fits_is_no_plan_that_could_replace_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Rare, since a part too large for every plate is refused earlier: the search found no place.
    monkeypatch.setattr(
        "cutplan.planning.laid_job.nests_of",
        lambda groups, job, tell, engine: ([(groups[0], Nest((), (Unplaced("strip", 2, "no room"),)))], []),
    )
    with pytest.raises(NestingError, match="nothing fits on the plates on offer: 2 × strip: no room"):
        plan_job(job(tmp_path))


def test_a_folder_reached_by_a_link_is_the_folder_itself(out: Path, plan: Plan, tmp_path: Path) -> None:
    (tmp_path / "way").mkdir()
    (tmp_path / "way" / "link").symlink_to(out)
    write_files(plan, tmp_path / "way" / "link")
    assert (tmp_path / "way" / "link").is_symlink()
    assert [file.name for file in (tmp_path / "way").iterdir()] == ["link"]


def test_a_copied_folder_does_not_hold_the_plates_of_the_first(tmp_path: Path) -> None:
    rack = tmp_path / "stock.db"
    with Inventory(rack) as stock:
        stock.add([Piece(label, 400, 300, 10.0, "S355", "mild steel") for label in ("R1", "R2")])
    mine = job(tmp_path, plate=[], stock={"inventory": "stock.db"})
    first, copy, moved = tmp_path / "first", tmp_path / "copy", tmp_path / "moved"
    assert used(mine, first) == "R1"
    copy.mkdir()
    for file in first.iterdir():
        (copy / file.name).write_bytes(file.read_bytes())
    edited = job(tmp_path, plate=[], stock={"inventory": "stock.db"}, part=[{**STRIP, "quantity": 1}])
    assert used(edited, copy) == "R2"
    # A folder that was moved is the same plan in another place.
    first.rename(moved)
    assert used(mine, moved) == "R1"


def used(job: Job, out: Path) -> str:
    replaces = planned_before(out, job)
    plan = plan_job(job, replaces=replaces)
    with reserved(plan, job, out, replaces):
        write_files(plan, out)
    return plan.sheets[0].nested.plate.id
