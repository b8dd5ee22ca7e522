"""The inventory loses nothing and gives nothing out twice, whatever happens to a process."""

import multiprocessing
import os
import signal
import sqlite3
import time
from pathlib import Path as FilePath

import pytest

from cutplan.base.errors import StockError
from cutplan.geometry import Path, polygon
from cutplan.stock import Inventory, Piece
from cutplan.stock.schema import MIGRATIONS

SQUARE = polygon([(100, 100), (200, 100), (200, 200), (100, 200)])
SPAWN = multiprocessing.get_context("spawn")


def plate(label: str, **changes: object) -> Piece:
    fields = {"length_mm": 3000.0, "width_mm": 1500.0, "thickness_mm": 10.0, "grade": "S355",
              "material": "mild steel", "heat": "H4471"}  # fmt: skip
    return Piece(label, **{**fields, **changes})  # type: ignore[arg-type]


@pytest.fixture
def file(tmp_path: FilePath) -> FilePath:
    return tmp_path / "stock.db"


def test_a_plate_goes_from_rack_to_reserved_to_cut_and_its_remnant_comes_back(file: FilePath) -> None:
    corner = polygon([(0, 0), (900, 0), (900, 400), (300, 400), (300, 1500), (0, 1500)])
    with Inventory(file) as stock:
        stock.add([plate("A1")])
        stock.reserve("plan-1", ["A1"])
        remnant = plate("A1-R1", outline=corner, heat=None)
        stock.confirm_cut("plan-1", "A1", "A1-1.nc", [("K1", "gusset", 1)], [remnant], scrap_kg=12.5)
    with Inventory(file) as stock:
        assert stock.piece("A1").state == "cut"
        back = stock.piece("A1-R1")
        assert (back.state, back.heat, back.parent) == ("in rack", "H4471", "A1")
        assert back.contour == corner
        assert back.as_plate().is_remnant
        assert [event for _, event, _ in stock.history("A1")] == ["received", "reserved", "cut"]
        assert stock.trace(mark="K1")[0].heat == "H4471"
        assert [m.mark for m in stock.trace(heat="H4471")] == ["K1"]


def test_remnants_are_offered_first_and_small_before_large(file: FilePath) -> None:
    with Inventory(file) as stock:
        stock.add(
            [plate("big"), plate("small", length_mm=2000.0), plate("R", parent="big", length_mm=2500.0)]
        )
        assert [p.label for p in stock.pieces(thickness_mm=10.0, grade="S355")] == ["R", "small", "big"]


def test_a_list_with_one_bad_piece_adds_none(file: FilePath) -> None:
    bow_tie = Path([[0, 0, 0], [100, 100, 0], [100, 0, 0], [0, 100, 0]])
    with Inventory(file) as stock:
        with pytest.raises(StockError, match="crosses itself"):
            stock.add([plate("A1"), plate("A2", outline=bow_tie)])
        with pytest.raises(StockError, match="thickness_mm"):
            stock.add([plate("A1"), plate("A2", thickness_mm=-10.0)])
        with pytest.raises(StockError, match="hole is open, crosses itself or lies not wholly"):
            stock.add([plate("A1"), plate("A2", length_mm=50.0, voids=(SQUARE,))])
        with pytest.raises(StockError, match="begin at the origin"):
            stock.add([plate("A1"), plate("A2", outline=SQUARE)])
        with pytest.raises(StockError, match="already"):
            stock.add([plate("A1"), plate("A1")])
        assert stock.pieces() == ()


@pytest.mark.parametrize(
    "step",
    [
        lambda stock: stock.reserve("plan-2", ["A2", "A1"]),
        lambda stock: stock.confirm_cut("plan-2", "A1", "x.nc"),
        lambda stock: stock.confirm_cut("plan-1", "A2", "x.nc"),
        lambda stock: stock.scrap("A1"),
        lambda stock: stock.reserve("plan-2", ["A2", "nowhere"]),
    ],
)
def test_a_step_that_is_not_allowed_changes_nothing(file: FilePath, step: object) -> None:
    with Inventory(file) as stock:
        stock.add([plate("A1"), plate("A2")])
        stock.reserve("plan-1", ["A1"])
        before = stock.pieces()
        with pytest.raises(StockError):
            step(stock)  # type: ignore[operator]
        assert stock.pieces() == before


def test_a_dropped_plan_gives_its_plates_back(file: FilePath) -> None:
    with Inventory(file) as stock:
        stock.add([plate("A1"), plate("A2")])
        stock.reserve("plan-1", ["A1", "A2"])
        assert stock.release("plan-1") == ("A1", "A2")
        assert {p.state for p in stock.pieces()} == {"in rack"}


def _reserve_each(file: FilePath, plan: str, labels: list[str], won: object) -> None:
    with Inventory(file) as stock:
        for label in labels:
            try:
                stock.reserve(plan, [label])
                won.put((plan, label))  # type: ignore[attr-defined]
            except StockError:
                time.sleep(0)


def test_two_planners_at_once_never_take_the_same_plate(file: FilePath) -> None:
    labels = [f"P{n:02d}" for n in range(30)]
    with Inventory(file) as stock:
        stock.add([plate(label) for label in labels])
    won = SPAWN.Queue()
    planners = [SPAWN.Process(target=_reserve_each, args=(file, f"plan-{n}", labels, won)) for n in (1, 2)]
    for planner in planners:
        planner.start()
    taken = [won.get(timeout=60) for _ in labels]
    for planner in planners:
        planner.join(30)
    assert sorted(label for _, label in taken) == labels
    with Inventory(file) as stock:
        assert {p.label: p.plan for p in stock.pieces()} == {label: plan for plan, label in taken}


def _cut_for_ever(file: FilePath, ready: object) -> None:
    with Inventory(file) as stock:
        ready.set()  # type: ignore[attr-defined]
        for n in range(100_000):
            label = f"K{n}"
            stock.add([plate(label)])
            stock.reserve(f"plan-{n}", [label])
            marks = [(f"{label}-{i}", "gusset", i) for i in range(20)]
            stock.confirm_cut(f"plan-{n}", label, "x.nc", marks, [plate(f"{label}-R", length_mm=500.0)])


def test_a_process_killed_in_the_middle_of_a_write_leaves_no_half_state(file: FilePath) -> None:
    Inventory(file).close()
    found = 0
    for pause in (0.05, 0.11, 0.17, 0.23):
        ready = SPAWN.Event()
        clerk = SPAWN.Process(target=_cut_for_ever, args=(file, ready))
        clerk.start()
        assert ready.wait(60)
        time.sleep(pause)
        assert clerk.pid
        os.kill(clerk.pid, signal.SIGKILL)
        clerk.join(30)
        with Inventory(file) as stock:
            pieces = {p.label: p for p in stock.pieces()}
            found += len(pieces)
            for label, piece in pieces.items():
                if piece.parent is None:
                    whole = piece.state == "cut"
                    assert (f"{label}-R" in pieces) == whole
                    assert len(stock.trace(piece=label)) == (20 if whole else 0)
                    assert len(stock.history(label)) == {"in rack": 1, "reserved": 2, "cut": 3}[piece.state]
        file.unlink()
    assert found > 0


def test_a_full_disk_is_told_and_changes_nothing(file: FilePath) -> None:
    with Inventory(file) as stock:
        stock.add([plate("A1")])
        pages = stock._connection.execute("PRAGMA page_count").fetchone()[0]
        stock._connection.execute(f"PRAGMA max_page_count = {pages}")
        with pytest.raises(StockError, match=r"full.*free some space"):
            stock.add([plate(f"B{n}") for n in range(2000)])
        assert [p.label for p in stock.pieces()] == ["A1"]


def test_a_locked_inventory_asks_to_try_again(file: FilePath, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("cutplan.stock.schema.BUSY_S", 0.1)
    with Inventory(file) as stock:
        stock.add([plate("A1")])
        other = sqlite3.connect(file, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(StockError, match=r"locked.*try again"):
            stock.reserve("plan-1", ["A1"])
        other.execute("ROLLBACK")
        stock.reserve("plan-1", ["A1"])


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS)))
def test_an_older_inventory_is_brought_up_to_date_with_nothing_lost(file: FilePath, version: int) -> None:
    old = sqlite3.connect(file)
    old.executescript(";".join(MIGRATIONS[:version]))
    old.execute(
        "INSERT INTO item (label, length_mm, width_mm, thickness_mm, grade, material, heat, state) "
        "VALUES ('A1', 3000, 1500, 10, 'S355', 'mild steel', 'H1', 'in rack')"
    )
    old.execute(f"PRAGMA user_version = {version}")
    old.commit()
    old.close()
    with Inventory(file) as stock:
        piece = stock.piece("A1")
        assert (piece.heat, piece.certificate, piece.length_mm) == ("H1", None, 3000.0)
        stock.reserve("plan-1", ["A1"])
        stock.add([plate("A2", voids=(SQUARE,))])
        assert stock.piece("A2").voids == (SQUARE,)
        assert stock.piece("A2").area_mm2 == 3000 * 1500 - 100 * 100


def test_a_newer_or_foreign_or_broken_file_is_refused_and_left_alone(
    file: FilePath, tmp_path: FilePath
) -> None:
    with sqlite3.connect(file) as newer:
        newer.execute("PRAGMA user_version = 99")
    with pytest.raises(StockError, match="newer version"):
        Inventory(file)
    foreign = tmp_path / "foreign.db"
    with sqlite3.connect(foreign) as other:
        other.execute("CREATE TABLE customers (name TEXT)")
    with pytest.raises(StockError, match="something else"):
        Inventory(foreign)
    broken = tmp_path / "broken.db"
    broken.write_bytes(b"no database at all, but long enough to be read as one" * 40)
    with pytest.raises(StockError, match="no readable inventory"):
        Inventory(broken)
    assert broken.read_bytes().startswith(b"no database")


def test_ten_thousand_pieces_are_picked_from_at_once(file: FilePath) -> None:
    with Inventory(file) as stock:
        stock.add(
            [plate(f"P{n}", thickness_mm=float(n % 20 + 1), length_mm=1000.0 + n % 7) for n in range(10_000)]
        )
        began = time.perf_counter()
        offered = stock.pieces(thickness_mm=10.0, grade="S355", state="in rack")
        assert len(offered) == 500
        assert time.perf_counter() - began < 2.0
