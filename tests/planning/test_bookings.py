"""Plans draw on the rack: a plate is planned once, and comes back when the plan is dropped."""

import json
import math
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import shapely
from holding import held_by_another
from shapely.affinity import translate

from cutplan.base.errors import InputError, JobError, OutputError, StockError
from cutplan.cli.commands import app
from cutplan.geometry import bounds, circle, place
from cutplan.planning.bookings import (
    _remnant_label,
    book_out,
    left_behind,
    planned_before,
    rack_plates,
    reserved,
)
from cutplan.planning.flow import plan_job
from cutplan.planning.folders import locked
from cutplan.planning.job import Job, parse_job
from cutplan.planning.output import write_files
from cutplan.planning.preparation import MOST_REMNANTS, groups_of
from cutplan.process import Library
from cutplan.record import Plan, plan_name, read_plan
from cutplan.stock import Inventory, Piece, remnant_shapes
from cutplan.verification import skeleton

STRIP = {"name": "strip", "quantity": 2, "thickness": 10, "grade": "S355",
         "shape": {"kind": "rectangle", "length": 200, "width": 80}}  # fmt: skip


def piece(label: str, length: float = 400.0, width: float = 300.0, **changes: object) -> Piece:
    fields = {"thickness_mm": 10.0, "grade": "S355", "material": "mild steel", "heat": "H1"}
    return Piece(label, length, width, **{**fields, **changes})  # type: ignore[arg-type]


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    file = tmp_path / "stock.db"
    with Inventory(file) as stock:
        stock.add([piece("BIG", 1200.0, 800.0), piece("OTHER", thickness_mm=12.0)])
        stock.add([piece("R1", parent="BIG"), piece("R2", 410.0, parent="BIG")])
    return file


def job(rack: Path, **changes: object) -> Job:
    data = {"job": {"name": "strips"}, "order": {"effort": 0.1}, "cutting": {"process": "plasma"},
            "stock": {"inventory": rack.name}, "part": [STRIP]}  # fmt: skip
    return parse_job({**data, **changes}, rack.parent / "job.toml")


def planned(job: Job, out: Path) -> Plan:
    replaces = planned_before(out)
    plan = plan_job(job, replaces=replaces)
    with reserved(plan, job, out, replaces):
        write_files(plan, out)
    return plan


def states(rack: Path) -> dict[str, tuple[str, str | None]]:
    with Inventory(rack) as stock:
        return {p.label: (p.state, p.plan) for p in stock.pieces()}


def test_each_plan_takes_the_smallest_remnant_that_is_left(rack: Path, tmp_path: Path) -> None:
    first, second = planned(job(rack), tmp_path / "one"), planned(job(rack), tmp_path / "two")
    assert [sheet.nested.plate.id for sheet in (*first.sheets, *second.sheets)] == ["R1", "R2"]
    assert states(rack) == {
        "R1": ("reserved", plan_name(first)), "R2": ("reserved", plan_name(second)),
        "BIG": ("in rack", None), "OTHER": ("in rack", None),
    }  # fmt: skip
    assert (tmp_path / "one" / "R1-1.nc").is_file()
    assert json.loads((tmp_path / "two" / "plan.json").read_text())["plates"][0]["heat"] == "H1"


def test_planning_again_into_the_same_folder_takes_the_same_pieces(rack: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    planned(job(rack), out)
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    planned(job(rack), out)
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before
    with Inventory(rack) as stock:
        assert [event for _, event, _ in stock.history("R1")] == ["received", "reserved"]


def test_a_changed_batch_gives_back_what_it_no_longer_needs(rack: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    planned(job(rack, part=[{**STRIP, "quantity": 8}]), out)
    assert [state for state, _ in states(rack).values()].count("reserved") > 1
    plan = planned(job(rack), out)
    held = {label for label, (state, _) in states(rack).items() if state == "reserved"}
    assert held == {sheet.nested.plate.id for sheet in plan.sheets} == {"R1"}
    assert states(rack)["R1"] == ("reserved", plan_name(plan))


def test_of_two_planners_at_once_the_second_writes_nothing(rack: Path, tmp_path: Path) -> None:
    first, second = plan_job(job(rack)), plan_job(job(rack, job={"name": "also strips"}))
    with reserved(first, job(rack), tmp_path / "one"):
        write_files(first, tmp_path / "one")
    with (
        pytest.raises(StockError, match=r"'R1' is reserved by plan .* plan again"),
        reserved(second, job(rack), tmp_path / "two"),
    ):
        write_files(second, tmp_path / "two")
    assert not (tmp_path / "two").exists()
    assert states(rack)["R1"] == ("reserved", plan_name(first))


@pytest.mark.parametrize("again", [False, True])
def test_files_that_cannot_be_written_leave_the_rack_as_it_was(
    rack: Path, tmp_path: Path, again: bool
) -> None:
    if again:
        planned(job(rack, part=[{**STRIP, "quantity": 8}]), tmp_path / "out")
    before, replaces = states(rack), planned_before(tmp_path / "out")
    assert (replaces is not None) == again
    plan = plan_job(job(rack), replaces=replaces)
    (tmp_path / "a file").write_text("in the way")
    with pytest.raises(OutputError), reserved(plan, job(rack), tmp_path / "a file", replaces):
        write_files(plan, tmp_path / "a file")
    assert states(rack) == before


def job_file(folder: Path, quantity: int) -> Path:
    file = folder / "job.toml"
    file.write_text(
        '[job]\nname = "strips"\n[order]\neffort = 0.1\n[cutting]\nprocess = "plasma"\n[stock]\ninventory = "stock.db"\n[[part]]\n'
        f'name = "strip"\nquantity = {quantity}\nthickness = 10\ngrade = "S355"\n'
        'shape = { kind = "rectangle", length = 200, width = 80 }\n'
    )
    return file


# Each line puts a kill at another point of the command.
KILLS = {
    "before a file is written": "output.write_files = kill",
    "while files are moved in": "outfolder.os.replace = after(3, os.replace)",
    "after all are in": "stockroom.Inventory.settle = kill",
}
KILLED_COMMAND = """
import os, signal, sys
from cutplan.planning import bookings as stockroom, folders as outfolder, output
from cutplan.__main__ import main
def kill(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)
def after(count, move):
    calls = iter(range(count))
    return lambda *paths: move(*paths) if next(calls, None) is not None else kill()
exec(sys.argv.pop(1))
main()
"""


@pytest.mark.parametrize("point", KILLS)
def test_a_command_killed_between_reserving_and_writing_leaves_no_half_state(
    rack: Path, tmp_path: Path, point: str
) -> None:
    """What was planned before stands, or the new plan does; never plates held for a plan nobody has."""
    out = tmp_path / "out"
    planned(job(rack), out)
    first, held = planned_before(out), states(rack)
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    command = ["plan", str(job_file(tmp_path, 8)), "--out", str(out)]
    run = subprocess.run([sys.executable, "-c", KILLED_COMMAND, KILLS[point], *command], timeout=120)
    assert run.returncode == -signal.SIGKILL
    assert states(rack) != held

    now = planned_before(out, job(rack))
    if point == "after all are in":
        assert now not in (None, first)
        assert {plan for state, plan in states(rack).values() if state == "reserved"} == {now}
    else:
        assert now == first
        assert states(rack) == held
        assert {p.name: p.read_bytes() for p in out.iterdir()} == before
    with Inventory(rack) as stock:
        assert not stock.pending()
    with locked(out):
        assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".out")] == [".out.cutplan-lock"]
    assert not [p.name for p in tmp_path.iterdir() if p.name.startswith(".out")]


def test_pieces_reserved_for_a_plan_that_was_never_written_are_free_once_its_process_is_gone(
    rack: Path, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "elsewhere"
    with Inventory(rack) as stock:
        stock.reserve("strips-dead", ["R1"], folder=elsewhere)
    with held_by_another(elsewhere):
        planned_before(tmp_path / "out", job(rack))
        assert states(rack)["R1"] == ("reserved", "strips-dead")  # its process is writing now
    planned_before(tmp_path / "out", job(rack))
    assert states(rack)["R1"] == ("in rack", None)


def test_what_a_plan_held_stays_held_until_its_successor_is_written(rack: Path, tmp_path: Path) -> None:
    """Else another planner could take it, and two plans would stand on one plate."""
    out = tmp_path / "out"
    planned(job(rack, part=[{**STRIP, "quantity": 8}]), out)
    before, old = states(rack), planned_before(out)
    held = [label for label, (state, _) in before.items() if state == "reserved"]
    plan = plan_job(job(rack), replaces=old)
    with pytest.raises(RuntimeError), reserved(plan, job(rack), out, old):
        for label in held:
            with Inventory(rack) as stock, pytest.raises(StockError):
                stock.reserve("another", [label])
        raise RuntimeError("the disk is gone")
    assert states(rack) == before


def test_an_interrupt_after_the_last_file_is_in_leaves_plan_and_plates_together(
    rack: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    plan = plan_job(job(rack))
    with reserved(plan, job(rack), out):
        write_files(plan, out)
        raise KeyboardInterrupt
    assert planned_before(out) == plan_name(plan)
    assert states(rack)["R1"] == ("reserved", plan_name(plan))
    with Inventory(rack) as stock:
        assert not stock.pending()


def test_plates_released_by_hand_while_their_plan_is_written_are_told_of(rack: Path, tmp_path: Path) -> None:
    plan = plan_job(job(rack))
    out = tmp_path / "out"
    with pytest.raises(StockError, match="released while it was written"), reserved(plan, job(rack), out):
        with Inventory(rack) as stock:
            stock.release(plan_name(plan))
        write_files(plan, out)


def test_the_command_reserves_what_it_plans(rack: Path, tmp_path: Path) -> None:
    from typer.testing import CliRunner

    job_file(tmp_path, 2)
    result = CliRunner().invoke(
        app,
        ["plan", str(tmp_path / "job.toml"), "--out", str(tmp_path / "out"), "--pdf", "letter"],
        catch_exceptions=False,
    )
    assert result.exit_code == 0, result.output
    papers = {p.name for p in (tmp_path / "out").iterdir()}
    assert {"R1-1.pdf", "labels.pdf", "labels.html", "cut-list.xlsx"} <= papers
    assert papers == set(json.loads((tmp_path / "out" / "plan.json").read_text())["files"])
    assert f"reserved for {planned_before(tmp_path / 'out')!r}: R1" in result.output
    assert states(rack)["R1"] == ("reserved", planned_before(tmp_path / "out"))


def test_what_the_rack_cannot_give_is_a_clear_error(rack: Path, tmp_path: Path) -> None:
    plate = {"id": "r1", "length": 400, "width": 300, "thickness": 10, "grade": "S355"}
    with pytest.raises(StockError, match="'R1' of the inventory is a \\[\\[plate\\]\\]"):
        plan_job(job(rack, plate=[plate]))
    with pytest.raises(JobError, match="nor a piece in the rack of 15 mm S355"):
        plan_job(job(rack, part=[{**STRIP, "thickness": 15}]))
    with pytest.raises(StockError, match="no inventory here"):
        plan_job(job(rack, stock={"inventory": "elsewhere.db"}))
    with pytest.raises(JobError, match="there is no plate"):
        plan_job(job(rack, stock={}))


def test_a_job_is_estimated_on_the_plates_its_own_plan_holds(rack: Path, tmp_path: Path) -> None:
    planned(job(rack), tmp_path / "out")
    again = plan_job(job(rack), own_plans=True)
    assert [sheet.nested.plate.id for sheet in again.sheets] == ["R1"]
    other = plan_job(job(rack, job={"name": "another"}), own_plans=True)
    assert [sheet.nested.plate.id for sheet in other.sheets] == ["R2"]


def test_plates_of_an_inventory_the_job_no_longer_names_are_told_of(rack: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    plan = planned(job(rack), out)
    assert left_behind(out, job(rack)) is None
    plate = {"id": "A", "length": 400, "width": 300, "thickness": 10, "grade": "S355"}
    assert left_behind(out, job(rack, stock={}, plate=[plate])) == plan_name(plan)


def test_a_remnant_of_a_plate_with_a_long_label_has_one_that_can_name_a_file() -> None:
    label = _remnant_label("P" * 60, 1)
    assert len(label) == 60 and label.endswith("-R1")
    assert label != _remnant_label("P" * 59 + "Q", 1)
    assert _remnant_label("PL10", 2) == "PL10-R2"


def test_what_the_program_leaves_goes_back_in_the_rack(rack: Path, tmp_path: Path) -> None:
    planned(job(rack), tmp_path / "out")
    with Inventory(rack) as stock:
        booked = book_out(stock, tmp_path / "out" / "plan.json", "R1-1", keep=(150.0, 150.0))
        back = [stock.piece(remnant.label) for remnant in booked.remnants]
        (cut,) = (entry for entry in stock.history("R1") if entry[1] == "cut")
    assert back
    for remnant in back:
        assert (remnant.state, remnant.parent, remnant.heat) == ("in rack", "R1", "H1")
    metal = sum(remnant.area_mm2 for remnant in back)
    assert metal < 400 * 300 - 2 * 200 * 80
    # What is left over is scrap: 10 mm thick, 7850 kg/m³.
    assert booked.scrap_kg == pytest.approx((400 * 300 - 2 * 200 * 80 - metal) * 10 * 7850e-9)
    assert cut[2]["scrap_kg"] == pytest.approx(booked.scrap_kg, abs=0.001)


def test_a_remnant_keeps_clear_of_the_parts_and_of_the_kerf(rack: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    planned(job(rack), out)
    sheet = read_plan(out / "plan.json").sheet("R1-1")
    left = skeleton((out / "R1-1.nc").read_text(), sheet.nested, sheet.data)
    kerf = sheet.data.kerf
    for shape in remnant_shapes(left, (150.0, 150.0)):
        remnant = translate(shapely.Polygon(shape.outline.vertices[:, :2]), *shape.corner)
        for lying in sheet.nested.placements:
            part = shapely.Polygon(place(lying.part.outer, lying.pose).vertices[:, :2])
            assert remnant.distance(part) >= kerf


def test_a_hole_of_a_remnant_is_no_metal_of_the_next_one(rack: Path, tmp_path: Path) -> None:
    disc = circle((300.0, 150.0), 100.0)
    with Inventory(rack) as stock:
        stock.add([piece("V", 900.0, voids=(disc,), parent="BIG", thickness_mm=15.0)])
    planned(job(rack, part=[{**STRIP, "thickness": 15}]), tmp_path / "out")
    with Inventory(rack) as stock:
        booked = book_out(stock, tmp_path / "out" / "plan.json", None, keep=(50.0, 50.0))
    parts = 2 * 200 * 80 + math.pi * 100.0**2
    kept = sum(remnant.area_mm2 for remnant in booked.remnants)
    assert 0.7 * (900 * 300 - parts) < kept < 900 * 300 - parts


def test_the_disc_out_of_a_large_ring_is_a_remnant(rack: Path, tmp_path: Path) -> None:
    ring = {**STRIP, "quantity": 1, "shape": {"kind": "ring", "outside": 500, "inside": 400}}
    planned(job(rack, part=[ring]), tmp_path / "out")
    with Inventory(rack) as stock:
        booked = book_out(stock, tmp_path / "out" / "plan.json", "BIG-1")
    sizes = [(remnant.length_mm, remnant.width_mm) for remnant in booked.remnants]
    assert any(380 < length < 400 and 380 < width < 400 for length, width in sizes)
    assert any(length > 600 for length, _ in sizes)


def test_a_program_that_was_edited_says_nothing_of_remnants(rack: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    planned(job(rack), out)
    program = out / "R1-1.nc"
    program.write_text(program.read_text().replace("M3\n", "", 1))
    with Inventory(rack) as stock:
        with pytest.raises(InputError, match="not the program that was planned"):
            book_out(stock, out / "plan.json", None)
        assert stock.piece("R1").state == "reserved"
        booked = book_out(stock, out / "plan.json", None, keep=None)
        assert booked.remnants == ()


def test_ten_thousand_pieces_are_offered_in_under_two_seconds(tmp_path: Path) -> None:
    file = tmp_path / "stock.db"
    with Inventory(file) as stock:
        stock.add([piece("BIG", 3000.0, 1500.0)])
        stock.add(
            [piece(f"P{n}", 150.0 + n % 997, 300.0, thickness_mm=float(5 + n % 10), parent="BIG")
             for n in range(9999)]
        )  # fmt: skip
    began = time.perf_counter()
    wanted = job(file, part=[{**STRIP, "shape": {**STRIP["shape"], "length": 320}}])
    plates = rack_plates(wanted)
    (group,), _ = groups_of(wanted, plates, Library.load(), lambda stage, share: None)
    assert time.perf_counter() - began < 2.0
    assert len(plates) == 1001
    assert len(group.plates) == MOST_REMNANTS + 1
    # A strip of 320 mm lies on none that is shorter.
    assert min(bounds(plate.outline)[2] for plate in group.plates) >= 320.0
