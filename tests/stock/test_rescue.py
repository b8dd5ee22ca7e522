"""A damaged inventory is told, what can be read is saved, and a write that fails changes nothing."""

import random
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from cutplan.base.errors import CutplanError, StockError
from cutplan.stock import Inventory, Piece, inventory_problems, rescue_inventory
from cutplan.stock.schema import MIGRATIONS


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    """Forty plates, some reserved, one cut with its parts traced and a remnant put back."""
    file = tmp_path / "rack.db"
    with Inventory(file) as stock:
        stock.add([Piece(f"P{n}", 3000, 1500, 10, "S355", "mild steel", heat=f"H{n}") for n in range(40)])
        stock.reserve("first", ["P1", "P2"])
        stock.reserve("second", ["P3"], folder=tmp_path / "out")
        remnant = Piece("P1-R1", 900, 700, 10, "S355", "mild steel")
        stock.confirm_cut("first", "P1", "P1-1.nc", [(f"AB-{n}", "web", n) for n in range(30)], [remnant])
    return file


def everything(file: Path) -> tuple[object, ...]:
    """What a user can ask of an inventory."""
    with Inventory(file, make=False) as stock:
        pieces = stock.pieces()
        return pieces, stock.pending(), stock.trace(), [stock.history(piece.label) for piece in pieces[:5]]


def test_a_sound_inventory_has_no_problems(rack: Path) -> None:
    assert inventory_problems(rack) == ()


def test_a_piece_without_a_size_is_told_by_its_label(rack: Path) -> None:
    with sqlite3.connect(rack) as db:
        db.execute("UPDATE item SET outline = '[[1,' WHERE label = 'P7'")
    assert [p for p in inventory_problems(rack) if "'P7'" in p]
    with Inventory(rack) as stock, pytest.raises(StockError, match=r"'P7' is damaged.*stock rescue"):
        stock.pieces()


def test_what_can_be_read_is_saved_and_the_old_file_stays(rack: Path, tmp_path: Path) -> None:
    with sqlite3.connect(rack) as db:
        db.execute("UPDATE item SET outline = '[[1,' WHERE label = 'P7'")
    before, new = rack.read_bytes(), tmp_path / "new.db"
    done = rescue_inventory(rack, new)
    assert rack.read_bytes() == before
    assert (done.kept["item"], done.lost["item"], done.kept["part_mark"]) == (40, 1, 30)
    assert inventory_problems(new) == ()
    with Inventory(new) as stock:
        assert {p.label for p in stock.pieces()} == {"P1-R1", *(f"P{n}" for n in range(40) if n != 7)}
        assert stock.piece("P2").plan == "first"
    with pytest.raises(StockError, match="is there already"):
        rescue_inventory(rack, new)


@pytest.mark.parametrize("seed", range(40))
def test_a_spoiled_file_is_read_or_refused_and_rescued_or_refused(
    rack: Path, tmp_path: Path, seed: int
) -> None:
    dice, data = random.Random(seed), bytearray(rack.read_bytes())
    for _ in range(dice.choice((1, 5, 200))):
        data[dice.randrange(len(data))] = dice.randrange(256)
    if seed % 4 == 0:
        del data[dice.randrange(len(data)) :]
    spoiled = tmp_path / "spoiled.db"
    spoiled.write_bytes(data)
    try:
        everything(spoiled)
    except CutplanError as problem:
        assert "spoiled.db" in str(problem)
    try:
        inventory_problems(spoiled)
        rescue_inventory(spoiled, tmp_path / "saved.db")
        everything(tmp_path / "saved.db")
    except CutplanError as problem:
        assert "spoiled.db" in str(problem)


def test_an_older_inventory_is_kept_beside_itself_before_it_is_changed(tmp_path: Path) -> None:
    file = tmp_path / "old.db"
    with sqlite3.connect(file) as db:
        for script in MIGRATIONS[:3]:
            db.executescript(script)
        db.execute("PRAGMA user_version = 3")
    Inventory(file).close()
    kept = tmp_path / "old.db.schema-3"
    assert sqlite3.connect(kept).execute("PRAGMA user_version").fetchone()[0] == 3
    assert inventory_problems(file) == ()


WRITES = """
import resource, signal, sys
from pathlib import Path
from cutplan.base.errors import StockError
from cutplan.stock import Inventory, Piece
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
with Inventory(Path(sys.argv[1])) as stock:
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), resource.RLIM_INFINITY))
    try:
        stock.add([Piece(f"N{n}", 1000, 1000, 10, "S355", "mild steel", heat="x" * 200) for n in range(60)])
    except StockError as problem:
        print(problem)
        sys.exit(2)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="limits of file size are those of POSIX")
def test_a_disk_that_fills_at_any_write_leaves_the_rack_as_it_was_or_as_it_is_to_be(
    rack: Path, tmp_path: Path
) -> None:
    """The system refuses to let a file grow beyond a size: SQLite's own write then fails there."""
    before, outcomes = everything(rack), set()
    for room in (0, 1, 3, 6, 12, 40):
        copy = tmp_path / f"rack-{room}.db"
        shutil.copy(rack, copy)
        limit = copy.stat().st_size + room * 1024 if room else 512
        done = subprocess.run(
            [sys.executable, "-c", WRITES, str(copy), str(limit)], timeout=60, capture_output=True, text=True
        )
        assert done.returncode in (0, 2), done.stderr
        assert inventory_problems(copy) == ()
        outcomes.add(done.returncode)
        if done.returncode == 2:
            assert everything(copy) == before
        else:
            with Inventory(copy) as stock:
                assert len(stock.pieces()) == 101
    assert outcomes == {0, 2}
