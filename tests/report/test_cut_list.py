"""Other programs read the cut list and the nest: held against csv and ezdxf, which know nothing of us."""

import csv
import io
import re
import zipfile
from dataclasses import replace
from pathlib import Path

import ezdxf
import openpyxl
import pytest
from ezdxf.math import bulge_center

from cutplan.base.errors import OutputError
from cutplan.geometry import place
from cutplan.record import Plan
from cutplan.report import (
    CUT_LIST_COLUMNS,
    MARK_COLUMNS,
    cut_list_csv,
    cut_list_xlsx,
    part_labels,
    write_nest_dxf,
)

COUNTED = ("PLATE", "PARTS", "HOLES", "MARKS", "TORCH")


def rows_of(plan: Plan) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(cut_list_csv(plan), newline="")))


def test_the_list_accounts_for_every_copy_and_every_cut(batch: Plan) -> None:
    rows = rows_of(batch)
    placed = sum(len(sheet.nested.placements) for sheet in batch.sheets)
    assert sum(int(row["quantity"]) for row in rows) == placed == 6
    for sheet in batch.sheets:
        own = [row for row in rows if row["program"] == f"{sheet.name}.nc"]
        assert {row["part"] for row in own} == {p.part.name for p in sheet.nested.placements}
        # The proof measures the program's text, so the list is held against what will run.
        assert sum(float(row["cut_length_mm"]) for row in own) == pytest.approx(
            sheet.verdict.cut_length_mm, abs=0.5
        )
        assert {(row["plate"], row["thickness_mm"], row["grade"], row["heat"]) for row in own} == {
            ("PL10", "10", "S355", "H4711")
        }


def test_weights_add_up(batch: Plan) -> None:
    for row in rows_of(batch):
        assert float(row["weight_total_kg"]) == pytest.approx(
            int(row["quantity"]) * float(row["weight_each_kg"]), abs=0.003
        )


def test_a_name_is_never_taken_for_a_formula(batch: Plan) -> None:
    sheet = batch.sheets[0]
    nested = sheet.nested
    plate = replace(nested.plate, id='=HYPERLINK("x"),1')
    plan = replace(batch, sheets=(replace(sheet, nested=replace(nested, plate=plate)),))
    assert {row["plate"] for row in rows_of(plan)} == {'\'=HYPERLINK("x"),1'}


def sheets_of(book: bytes) -> dict[str, list[tuple[object, ...]]]:
    workbook = openpyxl.load_workbook(io.BytesIO(book))
    return {sheet.title: list(sheet.iter_rows(values_only=True)) for sheet in workbook.worksheets}


def test_the_workbook_holds_the_list_in_figures(batch: Plan) -> None:
    heading, *rows = sheets_of(cut_list_xlsx(batch))["cut list"]
    assert heading == CUT_LIST_COLUMNS
    for row, listed in zip(rows, rows_of(batch), strict=True):
        for value, text in zip(row, listed.values(), strict=True):
            shown = pytest.approx(float(text), abs=0.06) if isinstance(value, int | float) else text
            # A cell without words is read back as none.
            assert ("" if value is None else value) == shown
        assert [type(value) for value in row[2:5]] == [int, int, int]


def test_the_workbook_lists_the_mark_of_every_part(batch: Plan) -> None:
    heading, *rows = sheets_of(cut_list_xlsx(batch))["marks"]
    assert heading == MARK_COLUMNS
    assert [row[:3] for row in rows] == [(label.mark, label.part, label.copy) for label in part_labels(batch)]
    assert {row[5] for row in rows} == {"H4711"}


def test_a_name_in_the_workbook_is_never_a_formula_and_never_breaks_it(batch: Plan) -> None:
    sheet = batch.sheets[0]
    plate = replace(sheet.nested.plate, id='=HYPERLINK("x")', heat="a\x07b")
    plan = replace(batch, sheets=(replace(sheet, nested=replace(sheet.nested, plate=plate)),))
    workbook = openpyxl.load_workbook(io.BytesIO(cut_list_xlsx(plan)))
    cell = workbook["cut list"]["B2"]
    assert (cell.value, cell.data_type) == ('=HYPERLINK("x")', "s")
    assert workbook["cut list"]["G2"].value == "a�b"


def test_the_same_plan_gives_the_same_workbook(batch: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    first = cut_list_xlsx(batch)
    monkeypatch.setattr("time.time", lambda: 2_000_000_000.0)
    assert cut_list_xlsx(batch) == first
    with zipfile.ZipFile(io.BytesIO(first)) as archive:
        assert set(re.findall(rb">(\d{4})-\d\d-\d\dT", archive.read("docProps/core.xml"))) == {b"2000"}


def test_the_nest_opens_in_a_general_reader_with_arcs_in_place(batch: Plan, tmp_path: Path) -> None:
    sheet = batch.sheets[0]
    write_nest_dxf(tmp_path / "nest.dxf", sheet)
    document = ezdxf.readfile(tmp_path / "nest.dxf")
    assert not document.audit().has_errors
    assert set(COUNTED) <= {layer.dxf.name for layer in document.layers}
    drawn = {name: document.modelspace().query(f'LWPOLYLINE[layer=="{name}"]') for name in COUNTED}
    placements = sheet.nested.placements
    assert len(drawn["PLATE"]) == 1
    assert len(drawn["PARTS"]) == len(placements)
    assert len(drawn["HOLES"]) == sum(len(p.part.holes) for p in placements)
    assert len(drawn["TORCH"]) == len(sheet.order.steps)
    holes = [place(hole, p.pose) for p in placements for hole in p.part.holes]
    for polyline, hole in zip(drawn["HOLES"], holes, strict=True):
        (x, y, bulge), (x2, y2, _) = list(polyline.get_points("xyb"))[:2]
        assert tuple(bulge_center((x, y), (x2, y2), bulge)) == pytest.approx(tuple(hole.segments.centre[0]))


def test_the_same_sheet_gives_the_same_drawing(batch: Plan, tmp_path: Path) -> None:
    for name in ("a.dxf", "b.dxf"):
        write_nest_dxf(tmp_path / name, batch.sheets[0])
    assert (tmp_path / "a.dxf").read_bytes() == (tmp_path / "b.dxf").read_bytes()


def test_a_folder_that_is_not_there_is_a_clear_error(batch: Plan, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written"):
        write_nest_dxf(tmp_path / "missing" / "nest.dxf", batch.sheets[0])
