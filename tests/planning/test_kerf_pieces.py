"""Test pieces are cut and marked, measured, and their kerf goes back into the data."""

import csv
from pathlib import Path

import pytest

import cutplan.process
from cutplan.base.errors import InputError
from cutplan.base.machine import Machine
from cutplan.planning import kerf_piece_job, kerf_readings_form, plan_job
from cutplan.process import learn, load_cutting_data, read_readings

FILE = Path(cutplan.process.__file__).parent / "data" / "plasma-mild-steel-120a-oxygen.toml"


def test_pieces_are_cut_with_the_files_own_kerf_and_marked_with_their_names() -> None:
    table = load_cutting_data(FILE)
    planned = plan_job(kerf_piece_job(table, FILE, [10.0], 2, Machine(marker=True)))
    (sheet,) = planned.sheets
    assert sheet.verdict.passed
    assert sheet.data.kerf == table.at(10.0).kerf and sheet.data.source == str(FILE)
    assert {placement.part.name for placement in sheet.nested.placements} == {"K10-1", "K10-2"}
    assert sum(step.cut.kind == "mark" for step in sheet.order.steps) > 0


def test_the_form_is_filled_in_and_read_back(tmp_path: Path) -> None:
    """Pieces that came out 0.1 mm too small have a kerf 0.1 mm wider than the program allowed."""
    table = load_cutting_data(FILE)
    file = tmp_path / "readings.csv"
    file.write_text(kerf_readings_form(table, [10.0, 12.0], 3))
    rows = list(csv.DictReader(file.read_text().splitlines()))
    assert len(rows) == 2 * 3 * 2
    with file.open("w", newline="") as handle:
        writer = csv.DictWriter(handle, fieldnames=list(rows[0]))
        writer.writeheader()
        for i, row in enumerate(rows):
            writer.writerow({**row, "measured": f"{float(row['nominal']) - 0.1 + 0.01 * (i % 3 - 1):.2f}"})
    ten, twelve = learn(read_readings(file, table), table)
    assert ten.value == pytest.approx(table.at(10.0).kerf + 0.1, abs=1e-3)
    assert twelve.value == pytest.approx(table.at(12.0).kerf + 0.1, abs=1e-3)
    assert ten.low < ten.value < ten.high


def test_nothing_to_cut_is_an_error() -> None:
    with pytest.raises(InputError, match="no test pieces asked for"):
        kerf_piece_job(load_cutting_data(FILE), FILE, [], 3, Machine())
