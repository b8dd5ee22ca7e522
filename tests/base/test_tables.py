"""Lists from an office: headings, units, decimal commas; never a guess."""

from pathlib import Path

import openpyxl
import pytest

from cutplan.base.errors import InputError
from cutplan.base.tables import Column, decimal_mark, number, read_rows

COLUMNS = (
    Column("drawing", ("drawing", "dxf", "file"), required=True),
    Column("quantity", ("qty", "pcs", "menge"), required=True),
    Column("thickness", ("thk", "t", "dicke")),
)


@pytest.mark.parametrize(
    ("text", "mark", "value"),
    [
        ("12", None, 12.0), ("12.5", None, 12.5), ("12,5", None, 12.5), ("1.234,5", None, 1234.5),
        ("1,234.5", None, 1234.5), ("1 234,5", ",", 1234.5), ("1'250", None, 1250.0), ("1.234", ",", 1234.0),
        ("1,234", ".", 1234.0), ("-3", None, -3.0), ("4 pcs", None, 4.0), ("10.000", None, 10.0),
    ],
)  # fmt: skip
def test_figures_as_offices_write_them(text: str, mark: str | None, value: float) -> None:
    assert number(text, mark=mark) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [("10", "", 10), ("10 mm", "in", 10), ("3/8 in", "", 9.525), ('1-1/2"', "", 38.1), ("2", "in", 50.8),
     ("1,5 m", "", 1500)],
)  # fmt: skip
def test_lengths_take_their_own_unit_before_the_columns(text: str, unit: str, mm: float) -> None:
    assert number(text, unit=unit, lengths=True) == pytest.approx(mm)


@pytest.mark.parametrize(
    "text", ["", "ten", "1,234", "1.2.3,4,5", "4 furlongs", "1/0 in", "nan", "inf", "--3"]
)
def test_a_figure_that_is_none_or_could_be_two_is_refused(text: str) -> None:
    with pytest.raises(InputError):
        number(text, lengths=True)


def test_a_list_with_both_decimal_marks_is_refused() -> None:
    assert decimal_mark(["12", "3,5", "abc"]) == ","
    assert decimal_mark(["1.234"]) is None
    with pytest.raises(InputError, match="decimal commas"):
        decimal_mark(["3,5", "2.75"])


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_csv_lists_of_any_common_kind_are_read(tmp_path: Path, encoding: str, delimiter: str) -> None:
    file = tmp_path / "parts.csv"
    rows = [["File", "Menge", "Dicke [in]", "Größe"], ["gusset.dxf", "4", "3/8", "x"], ["", "", "", ""]]
    file.write_text("\n".join(delimiter.join(row) for row in rows), encoding=encoding)
    (row,) = read_rows(file, COLUMNS)
    assert row.cells == {"drawing": "gusset.dxf", "quantity": "4", "thickness": "3/8"}
    assert row.units["thickness"] == "in"
    assert row.line == 2


def test_workbooks_are_read_like_lists(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.append(["Parts of batch 7"])
    book.active.append(["Drawing", "Qty", "Thk (mm)"])
    book.active.append(["gusset.dxf", 4, 10.5])
    book.save(tmp_path / "parts.xlsx")
    (row,) = read_rows(tmp_path / "parts.xlsx", COLUMNS)
    assert row.cells == {"drawing": "gusset.dxf", "quantity": "4", "thickness": "10.5"}
    assert row.line == 3


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"drawing,thk\na.dxf,10\n", "no column for quantity"),
        (b"drawing,qty,menge\na.dxf,1,2\n", "two columns mean quantity"),
        (b"", "no table"),
        (b"drawing,qty\0\n", "not a text file"),
    ],
)
def test_a_list_that_cannot_be_understood_is_refused(tmp_path: Path, content: bytes, words: str) -> None:
    file = tmp_path / "parts.csv"
    file.write_bytes(content)
    with pytest.raises(InputError, match=words):
        read_rows(file, COLUMNS)


def test_a_broken_workbook_and_a_missing_list_are_named(tmp_path: Path) -> None:
    (tmp_path / "parts.xlsx").write_bytes(b"PK but no workbook")
    with pytest.raises(InputError, match="no readable workbook"):
        read_rows(tmp_path / "parts.xlsx", COLUMNS)
    with pytest.raises(InputError, match="no such file"):
        read_rows(tmp_path / "none.csv", COLUMNS)
