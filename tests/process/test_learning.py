"""Kerf, pierce times and feeds learned from a shop's own readings, and how sure that is."""

from pathlib import Path

import numpy as np
import pytest

from cutplan.base.errors import DataError
from cutplan.process import (
    CuttingTable,
    Library,
    Readings,
    check_cutting_data,
    learn,
    load_cutting_data,
    read_readings,
    with_learned,
)

FILE = Path(__file__).parents[2] / "cutplan/process/data/plasma-mild-steel-120a-oxygen.toml"


@pytest.fixture(scope="module")
def table() -> CuttingTable:
    return load_cutting_data(FILE)


def written(folder: Path, text: str) -> Path:
    file = folder / "readings.csv"
    file.write_text(text)
    return file


def test_kerf_is_what_pieces_came_out_smaller_and_holes_larger(tmp_path: Path, table: CuttingTable) -> None:
    # The program allowed 2.14 mm; outsides are 0.06 mm too small, holes 0.04 mm too large.
    text = "piece,thickness,nominal,measured,side\n" + "".join(
        f"K{i},10,100,{99.94 + d},outside\nK{i},10,40,{40.04 + d},inside\n"
        for i, d in ((1, 0.01), (2, -0.01), (3, 0))
    )
    readings = read_readings(written(tmp_path, text), table)
    assert readings.quantity == "kerf"
    assert sorted(readings.value) == pytest.approx([2.17, 2.18, 2.19, 2.19, 2.20, 2.21], abs=1e-9)
    (found,) = learn(readings, table)
    assert (found.thickness, found.readings, found.before) == (10.0, 6, 2.14)
    assert found.value == pytest.approx(2.19)
    # By hand: spread √(Σd²/5) = √(0.001/5) = 0.01414, half-width t(5) = 2.571 × 0.01414/√6.
    assert found.spread == pytest.approx(0.014142, rel=1e-3)
    assert found.high - found.value == pytest.approx(2.5706 * 0.014142 / 6**0.5, rel=1e-3)
    assert "kerf 2.19 mm (2.175 to 2.205)" in found.summary()


def test_the_kerf_that_a_program_allowed_may_be_told(tmp_path: Path, table: CuttingTable) -> None:
    text = "thickness;nominal;measured;kerf set\n" + "10;100;99,9;2,0\n" * 2 + "10;100;99,8;2,0\n"
    assert sorted(read_readings(written(tmp_path, text), table).value) == pytest.approx([2.1, 2.1, 2.2])


def test_pierce_times_leave_room_for_the_slow_ones(tmp_path: Path, table: CuttingTable) -> None:
    text = "thickness,pierce_s\n10,0.40\n10,0.44\n10,0.36\n12,0.5\n12,0.52\n12,0.51\n"
    ten, twelve = learn(read_readings(written(tmp_path, text), table), table)
    assert (ten.value, ten.spread) == (pytest.approx(0.40), pytest.approx(0.04))
    assert ten.row_value == pytest.approx(0.40 + 1.645 * 0.04, abs=5e-4)
    assert twelve.thickness == 12.0


def test_what_was_learned_goes_into_the_files_rows(tmp_path: Path, table: CuttingTable) -> None:
    text = "thickness,feed_mm_min\n10,2400\n10,2450\n10,2420\n14,1700\n14,1650\n14,1690\n"
    learned = learn(read_readings(written(tmp_path, text), table), table)
    own = tmp_path / "own.toml"
    own.write_text(with_learned(FILE.read_text(), table, learned, "feeds from 6 trials"))
    mine = load_cutting_data(own)
    assert mine.at(10.0).feed_mm_min == pytest.approx(2420.0)
    # 14 mm had no row; it has one now, its kerf interpolated.
    assert len(mine) == len(table) + 1
    assert mine.at(14.0).feed_mm_min == pytest.approx(1680.0)
    assert mine.at(14.0).kerf == pytest.approx(table.at(14.0).kerf, abs=1e-4)
    assert mine.origin == f"{table.origin}; feeds from 6 trials"
    assert [f for f in check_cutting_data(mine) if f.kind == "refused"] == []
    assert mine.at(20.0).feed_mm_min == table.at(20.0).feed_mm_min
    assert Library.load([own]).choose("plasma", "mild steel", 10.0).feed_mm_min == pytest.approx(2420.0)


@pytest.mark.parametrize(("quantity", "truth", "spread"), [("kerf", 2.2, 0.05), ("pierce_s", 0.5, 0.06)])
def test_the_stated_interval_holds_the_truth_95_times_of_100(
    table: CuttingTable, quantity: str, truth: float, spread: float
) -> None:
    """1,000 sets of eight synthetic readings with known truth."""
    rng = np.random.default_rng(7)
    mean, width = 0, 0
    for _ in range(1000):
        values = rng.normal(truth, spread, 8)
        readings = Readings(quantity, "synthetic", np.full(8, 10.0), values, tuple(range(8)))  # type: ignore[arg-type]
        (found,) = learn(readings, table)
        mean += found.low <= truth <= found.high
        width += found.spread_low <= spread <= found.spread_high
    assert 930 <= mean <= 970
    assert 930 <= width <= 970


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("thickness,nominal,measured\n10,100,99.9\n10,100,99.8\n", "10 mm: 2 readings cannot tell a kerf"),
        ("thickness,pierce_s\n10,0.2\n10,0.7\n10,0.4\n", "tell a pierce time of 0.433 only to"),
        ("thickness,nominal,measured\n10,100,89.9\n", r"line 2: a kerf of 12.24 mm where the data have 2.14"),
        ("thickness,nominal,measured\n90,100,99.9\n", "line 2: 90 mm lies outside the data, 3 to 30 mm"),
        ("thickness,nominal,measured,side\n10,100,99.9,left\n", "line 2: side must be outside or inside"),
        ("thickness,pierce_s\n10,soon\n10,-1\n", r"line 2: .*soon.*; line 3"),
        ("thickness,colour\n10,red\n", "no readings; give a heading and rows: thickness,nominal,measured"),
        ("thickness,nominal,measured\n", "no readings"),
    ],
)
def test_readings_that_cannot_tell_are_refused(
    tmp_path: Path, table: CuttingTable, text: str, message: str
) -> None:
    with pytest.raises(DataError, match=message):
        learn(read_readings(written(tmp_path, text), table), table)
