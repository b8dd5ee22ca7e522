"""Cells of lists: what offices export is read, and what would crash or fill the memory is refused."""

import zipfile
from pathlib import Path

import openpyxl
import pytest

from cutplan.base.errors import InputError
from cutplan.base.sheets import LONGEST_CELL, MOST_COLUMNS, read_table
from cutplan.base.tables import Column, read_rows, whole_number

COLUMNS = (Column("name", ("name",), required=True), Column("quantity", ("quantity",), required=True))


def written(folder: Path, content: bytes, name: str = "list.csv") -> Path:
    file = folder / name
    file.write_bytes(content)
    return file


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_rows_end_as_any_system_ends_them(tmp_path: Path, end: str) -> None:
    rows = read_rows(written(tmp_path, end.join(["name;quantity", "a;1", "b;2"]).encode()), COLUMNS)
    assert [dict(row.cells) for row in rows] == [
        {"name": "a", "quantity": "1"},
        {"name": "b", "quantity": "2"},
    ]


def test_a_heading_may_be_broken_into_lines(tmp_path: Path) -> None:
    (row,) = read_rows(
        written(tmp_path, b'"name\n";"quan\ntity"\na;1\n'.replace(b"quan\ntity", b"\nquantity")), COLUMNS
    )
    assert row.cells == {"name": "a", "quantity": "1"}


def test_a_list_in_utf_16_is_read(tmp_path: Path) -> None:
    (row,) = read_rows(written(tmp_path, "name\tquantity\nGröße\t1\n".encode("utf-16")), COLUMNS)
    assert row.cells["name"] == "Größe"


def test_a_quotation_mark_left_open_is_refused_with_its_row(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="row 3: a quotation mark is left open"):
        read_table(written(tmp_path, b'name;quantity\na;1\n"b;2'))


def test_a_cell_longer_than_a_cell_can_be_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=f"more than {LONGEST_CELL} letters in row 2"):
        read_table(written(tmp_path, b"name;quantity\n" + b"x" * (LONGEST_CELL + 1) + b";1\n"))


def test_a_workbook_that_unpacks_to_more_than_a_list_is_refused_unopened(tmp_path: Path) -> None:
    file = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as parts:
        parts.writestr("xl/worksheets/sheet1.xml", b"0" * 70_000_000)
    assert file.stat().st_size < 100_000
    with pytest.raises(InputError, match="unpacks to more than"):
        read_table(file)


def test_a_stray_cell_in_the_last_column_costs_nothing_and_is_told(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["name", "quantity"])
    book.active.cell(2, 16384, "stray")
    book.save(tmp_path / "stray.xlsx")
    with pytest.raises(InputError, match=f"more than {MOST_COLUMNS} columns in row 2"):
        read_table(tmp_path / "stray.xlsx")


def test_an_empty_cell_far_out_is_no_column(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["name", "quantity"])
    book.active.append(["a", 1])
    book.active.cell(2, 9000).number_format = "0.00"
    book.save(tmp_path / "far.xlsx")
    assert read_table(tmp_path / "far.xlsx") == [["name", "quantity"], ["a", "1"]]


def test_a_locked_workbook_is_told_to_be_unlocked(tmp_path: Path) -> None:
    # Workbooks with a password are compound files, not zip archives: their first eight bytes.
    with pytest.raises(InputError, match="password"):
        read_table(written(tmp_path, b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504), "locked.xlsx"))


def test_a_folder_or_a_pipe_in_place_of_a_list_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is not a file"):
        read_table(tmp_path)


@pytest.mark.parametrize("name", ["a\0b.csv", "n" * 300 + ".csv"])
def test_a_name_that_no_file_can_have_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(InputError):
        read_table(tmp_path / name)


@pytest.mark.parametrize("text", ["9" * 400, "1" * 30 + "/" + "3" * 30])
def test_a_figure_of_many_digits_is_no_figure(text: str) -> None:
    with pytest.raises(InputError, match="is not a number"):
        whole_number(text)
