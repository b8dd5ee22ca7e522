"""What jobs owe, and changes taken back: each kept with its time and author, none lost."""

import sqlite3
from pathlib import Path as FilePath

import pytest

from cutplan.base.errors import StockError
from cutplan.stock import Batch, Demanded, Inventory, Piece, PlannedMark, detail_words
from cutplan.stock.schema import MIGRATIONS


def plate(label: str, **changes: object) -> Piece:
    fields = {"length_mm": 3000.0, "width_mm": 1500.0, "thickness_mm": 10.0, "grade": "S355",
              "material": "mild steel", "heat": "H4471"}  # fmt: skip
    return Piece(label, **{**fields, **changes})  # type: ignore[arg-type]


def batch(
    plan: str, count: int, label: str = "A1", *, wanted: int | None = None, only_owed: bool = False
) -> Batch:
    marks = tuple(PlannedMark(f"{plan}-{n}", "web", n, label) for n in range(1, count + 1))
    return Batch("batch 7", (Demanded("web", wanted or count, "frame", "2027-01-31"),), marks, only_owed)


def parts(plan: str, count: int) -> list[tuple[str, str, int]]:
    return [(f"{plan}-{n}", "web", n) for n in range(1, count + 1)]


@pytest.fixture
def stock(tmp_path: FilePath) -> Inventory:
    inventory = Inventory(tmp_path / "stock.db", author="clerk")
    inventory.add([plate("A1"), plate("A2")])
    inventory.reserve("P1", ["A1"], folder=tmp_path / "out", batch=batch("P1", 4))
    inventory.settle("P1")
    return inventory


def counts(stock: Inventory) -> tuple[int, ...]:
    (web,) = stock.owings("batch 7")
    return web.wanted, web.planned, web.cut, web.spoilt, web.owed, web.open


def cut(stock: Inventory) -> None:
    remnant = plate("A1-R1", length_mm=400.0)
    stock.confirm_cut("P1", "A1", "A1-1.nc", parts("P1", 4), [remnant], 3.0, "batch 7")


def test_a_spoilt_part_is_owed_again_by_its_job(stock: Inventory) -> None:
    assert counts(stock) == (4, 4, 0, 0, 4, 0)
    cut(stock)
    assert counts(stock) == (4, 0, 4, 0, 0, 0)
    spoilt = stock.spoil("P1-2", "wrong bevel")
    assert (spoilt.state, spoilt.why, spoilt.piece, spoilt.heat) == ("spoilt", "wrong bevel", "A1", "H4471")
    assert counts(stock) == (4, 0, 3, 1, 1, 1)
    assert stock.owings("batch 7")[0].kit == "frame"
    with pytest.raises(StockError, match="spoilt already"):
        stock.spoil("P1-2", "again")
    with pytest.raises(StockError, match="no part is marked 'P1-9'"):
        stock.spoil("P1-9", "x")


def test_a_part_spoilt_before_its_sheet_is_booked_out_stays_spoilt(stock: Inventory) -> None:
    stock.spoil("P1-1", "arc lost")
    cut(stock)
    assert counts(stock) == (4, 0, 3, 1, 1, 1)


def test_a_plan_for_what_is_owed_must_not_make_more(stock: Inventory, tmp_path: FilePath) -> None:
    cut(stock)
    stock.spoil("P1-2", "wrong bevel")
    owed = {"folder": tmp_path / "two", "batch": batch("P2", 1, "A2", wanted=4, only_owed=True)}
    stock.reserve("P2", ["A2"], **owed)  # type: ignore[arg-type]
    stock.settle("P2")
    assert counts(stock) == (4, 1, 3, 1, 1, 0)
    with pytest.raises(StockError, match=r"owes 0 of 'web' by now, and this plan makes 1; plan again"):
        stock.reserve("P3", [], folder=tmp_path / "three", batch=batch("P3", 1, wanted=4, only_owed=True))
    # Made anew into its own folder it takes the place of what it planned before.
    again = batch("P4", 1, "A2", wanted=4, only_owed=True)
    stock.reserve("P4", ["A2"], instead_of="P2", folder=tmp_path / "two", batch=again)
    stock.settle("P4")
    assert counts(stock) == (4, 1, 3, 1, 1, 0)


def test_booking_out_by_mistake_is_taken_back_with_its_parts_and_remnants(stock: Inventory) -> None:
    cut(stock)
    stock.take_back()
    assert counts(stock) == (4, 4, 0, 0, 4, 0)
    assert {p.label: (p.state, p.plan) for p in stock.pieces()} == {
        "A1": ("reserved", "P1"), "A2": ("in rack", None)}  # fmt: skip
    assert not stock.trace(plan="P1")
    cut(stock)  # and once more, rightly
    assert counts(stock) == (4, 0, 4, 0, 0, 0)
    assert stock.piece("A1-R1").state == "in rack"


def test_what_was_used_since_is_taken_back_first(stock: Inventory) -> None:
    cut(stock)
    (booked,) = (c.number for c in stock.changes() if c.act == "cut")
    stock.reserve("P2", ["A1-R1"])
    with pytest.raises(StockError, match=r"piece 'A1-R1' is reserved now by change \d+; take back later"):
        stock.take_back(booked)
    stock.release("P2")
    stock.spoil("P1-1", "bent")
    with pytest.raises(StockError, match="part P1-1 is spoilt now"):
        stock.take_back(booked)
    stock.take_back()
    stock.take_back(booked)
    assert counts(stock) == (4, 4, 0, 0, 4, 0)


def test_a_plate_booked_out_for_a_plan_that_is_gone_goes_back_in_the_rack(
    stock: Inventory, tmp_path: FilePath
) -> None:
    cut(stock)
    (booked,) = (c.number for c in stock.changes() if c.act == "cut")
    stock.reserve("P2", ["A2"], instead_of="P1", folder=tmp_path / "out", batch=batch("P2", 4, "A2"))
    stock.settle("P2")
    stock.take_back(booked)
    assert stock.piece("A1").state == "in rack"
    assert counts(stock) == (4, 4, 0, 0, 4, 0)


def test_a_wrong_list_is_taken_back_and_its_labels_are_free_again(stock: Inventory) -> None:
    stock.add([plate("B1"), plate("B2", thickness_mm=1.0)])
    stock.relocate("B1", "bay 3")
    with pytest.raises(StockError, match="'B1' is in rack now by change"):
        stock.take_back(next(c.number for c in stock.changes() if c.detail.get("pieces") == ["B1", "B2"]))
    stock.take_back()
    stock.take_back()
    assert [p.label for p in stock.pieces(state="in rack")] == ["A2"]
    stock.add([plate("B2", thickness_mm=10.0)])
    assert stock.piece("B2").thickness_mm == 10.0


def test_a_moved_piece_says_where_it_lay_and_who_moved_it(stock: Inventory) -> None:
    stock.relocate("A2", "bay 1")
    assert stock.relocate("A2", "bay 2") == "bay 1"
    assert stock.piece("A2").location == "bay 2"
    at, event, detail = stock.history("A2")[-1]
    assert (event, detail) == ("moved", {"from": "bay 1", "to": "bay 2", "by": "clerk"})
    assert at.endswith("+00:00")
    assert detail_words(detail) == "from bay 1, to bay 2, by clerk"
    stock.take_back()
    assert stock.piece("A2").location == "bay 1"


def test_a_change_is_taken_back_once_and_the_journal_keeps_both(stock: Inventory) -> None:
    stock.scrap("A2")
    number = stock.changes(1)[0].number
    stock.take_back(number)
    assert stock.piece("A2").state == "in rack"
    newest, older = stock.changes(2)
    assert (newest.act, newest.undoes, older.undone_by) == ("taken back", number, newest.number)
    with pytest.raises(StockError, match="was taken back already"):
        stock.take_back(number)
    with pytest.raises(StockError, match=r"\(reserved\) is none that can be taken back; plan again"):
        stock.take_back(next(c.number for c in stock.changes() if c.act == "reserved"))
    with pytest.raises(StockError, match="there is no change 99"):
        stock.take_back(99)


def test_only_ones_own_last_change_is_taken_back_without_a_number(stock: Inventory) -> None:
    with Inventory(stock.file, author="operator") as other:
        with pytest.raises(StockError, match="operator has changed nothing"):
            other.take_back()
        other.relocate("A2", "bay 9")
        assert other.changes(1)[0].author == "operator"
        other.take_back()
    assert stock.piece("A2").location is None


def test_a_refused_change_leaves_no_entry(stock: Inventory) -> None:
    before = stock.changes()
    with pytest.raises(StockError):
        stock.scrap("A1")
    assert stock.changes() == before


def test_an_older_inventory_keeps_its_pieces_parts_and_histories(tmp_path: FilePath) -> None:
    file = tmp_path / "stock.db"
    with sqlite3.connect(file) as db:
        for script in MIGRATIONS[:7]:
            db.executescript(script)
        db.execute("PRAGMA user_version = 7")
        db.execute(
            "INSERT INTO item (label, length_mm, width_mm, thickness_mm, grade, material, state, plan, area_mm2) "
            "VALUES ('A1', 100, 50, 10, 'S355', 'mild steel', 'cut', 'batch 7 0a1b2c3d', 5000)"
        )
        db.execute("INSERT INTO history (at, item, event, detail) VALUES ('2027-01-01', 1, 'cut', '{}')")
        db.execute(
            "INSERT INTO part_mark (mark, part, copy, item, program, plan) "
            "VALUES ('M-1', 'web', 1, 1, 'A1-1.nc', 'batch 7 0a1b2c3d')"
        )
    db.close()
    with Inventory(file) as stock:
        assert stock.history("A1") == (("2027-01-01", "cut", {}),)
        (mark,) = stock.trace()
        assert (mark.mark, mark.job, mark.state) == ("M-1", "batch 7", "cut")
        stock.spoil("M-1", "cracked")
        assert counts(stock) == (0, 0, 0, 1, 0, 0)
    assert (tmp_path / "stock.db.schema-7").is_file()
