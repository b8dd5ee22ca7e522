"""Stock lists from an office become pieces of the inventory, or a list of the bad rows."""

import math
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from cutplan.base.errors import StockError
from cutplan.drawing import write_dxf
from cutplan.geometry import circle, polygon
from cutplan.stock import Inventory, StockList, read_stock_list

HEADINGS = "Plate;Length [m];Width [m];Thk (mm);Steel;Heat No.;Certificate;Location;Price [EUR/t];Qty\n"


def read(tmp_path: Path, text: str, **options: object) -> StockList:
    file = tmp_path / "stock.csv"
    file.write_text(text, encoding="utf-8")
    return read_stock_list(file, **options)  # type: ignore[arg-type]


def test_an_offices_list_with_units_and_decimal_commas_becomes_pieces(tmp_path: Path) -> None:
    listed = read(tmp_path, HEADINGS + "PL10;3;1,5;10,0;S355J2+N;H4471;C-17;bay 2;1.150,00;\n")
    assert not listed.problems
    (piece,) = listed.pieces
    assert (piece.label, piece.length_mm, piece.width_mm, piece.thickness_mm) == ("PL10", 3000, 1500, 10)
    assert (piece.grade, piece.material, piece.heat, piece.certificate) == (
        "S355J2+N", "mild steel", "H4471", "C-17",
    )  # fmt: skip
    assert (piece.location, piece.price_per_kg) == ("bay 2", pytest.approx(1.15))


def test_a_plate_rolled_along_its_width_says_so_to_the_nest_and_to_its_remnants(tmp_path: Path) -> None:
    text = "label;length;width;thickness;grade;rolled\nA;3000;1500;10;S355;width\nB;3000;1500;10;S355;\n"
    listed = read(tmp_path, text + "C;3000;1500;10;S355;diagonal\n")
    assert [piece.as_plate().rolling_direction for piece in listed.pieces] == ["y", "x"]
    assert [str(problem) for problem in listed.problems] == [
        "row 4: rolled 'diagonal' is neither length nor width"
    ]
    with Inventory(tmp_path / "stock.db") as stock:
        stock.add(listed.pieces)
        stock.reserve("plan", ["A"])
        stock.confirm_cut("plan", "A", "A-1.nc", remnants=[replace(stock.piece("B"), label="A-R1")])
        assert stock.piece("A-R1").rolling_direction == "y"


def test_a_plates_size_that_may_be_metres_or_thousands_is_refused(tmp_path: Path) -> None:
    text = "label;length;width;thickness;grade;Stück;Lagerplatz;Farbe\nA;1.500;1.000;10;S355;2;A1;rot\n"
    listed = read(tmp_path, text)
    assert [str(problem) for problem in listed.problems] == [
        "row 2: '1.500' could be read two ways; write it without a thousands mark"
    ]
    listed = read(tmp_path, text.replace(";10;", ";10,0;"))
    assert [(p.label, p.length_mm, p.location) for p in listed.pieces] == [
        ("A-1", 1500, "A1"),
        ("A-2", 1500, "A1"),
    ]
    assert listed.unread == ("Farbe",)


def test_a_row_of_several_plates_gives_each_a_label_of_its_own(tmp_path: Path) -> None:
    listed = read(tmp_path, HEADINGS + "PL10;3;1,5;10;S355;;;;;3 pcs\n")
    assert [piece.label for piece in listed.pieces] == ["PL10-1", "PL10-2", "PL10-3"]
    with Inventory(tmp_path / "stock.db") as stock:
        stock.add(listed.pieces)
        assert len(stock.pieces(thickness_mm=10.0, grade="S355", state="in rack")) == 3


def test_every_bad_row_is_listed_with_its_number(tmp_path: Path) -> None:
    rows = [
        "A;3;1,5;10;S355;;;;;1",
        ";3;1,5;10;S355;;;;;1",
        "B;3 furlong;1,5;10;S355;;;;;1",
        "C;3;1,5;10;X9;;;;;1",
        "D;3;-1,5;10;S355;;;;;1",
        "a;3;1,5;10;S355;;;;;1",
        "E/1;3;1,5;10;S355;;;;;1",
        "F;3;1,5;10;S355;;;;;1,5",
        "G;3;1,5;10;S355;;;;;0",
        "H;3;1,5;ten;S355;;;;;1",
        "I;3000;1500;10;S355;;;;;1",
        "RACK;3;1,5;10;S355;;;;;1",
    ]
    listed = read(tmp_path, HEADINGS + "\n".join(rows), taken={"rack"})
    assert [piece.label for piece in listed.pieces] == ["A"]
    expected = {
        3: "label is empty", 4: "unknown unit 'furlong'", 5: "unknown grade 'X9'", 6: "no size of a plate",
        7: "'a' is there already", 8: "cannot name a file", 9: "no whole number", 10: "not from 1",
        11: "'ten' is not a number", 12: "no size of a plate", 13: "'RACK' is there already",
    }  # fmt: skip
    assert {problem.line for problem in listed.problems} == set(expected)
    for problem in listed.problems:
        assert expected[problem.line] in problem.message


def test_a_workbook_serves_as_well(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["label", "length", "width", "thickness", "grade", "material"])
    sheet.append(["W1", 2500, 1250.5, 8, "house steel", "mild steel"])
    book.save(tmp_path / "stock.xlsx")
    (piece,) = read_stock_list(tmp_path / "stock.xlsx").pieces
    assert (piece.width_mm, piece.material) == (1250.5, "mild steel")


def test_a_remnant_names_the_drawing_of_its_outline(tmp_path: Path) -> None:
    corner = polygon([(50, 50), (950, 50), (950, 450), (350, 450), (350, 1050), (50, 1050)])
    write_dxf(tmp_path / "corner.dxf", {"0": [corner, circle((200.0, 200.0), 40.0)]})
    bow_tie = polygon([(0, 0), (100, 100), (100, 0), (0, 100)])
    write_dxf(tmp_path / "bow-tie.dxf", {"0": [bow_tie]})
    write_dxf(tmp_path / "two.dxf", {"0": [circle((0.0, 0.0), 40.0), circle((200.0, 0.0), 40.0)]})
    listed = read(
        tmp_path,
        "label;outline;thickness;grade\nR1;corner.dxf;10;S355\nR2;bow-tie.dxf;10;S355\n"
        "R3;two.dxf;10;S355\nR4;none.dxf;10;S355\nR5;;10;S355\n",
    )
    (piece,) = listed.pieces
    assert (piece.length_mm, piece.width_mm, piece.is_remnant) == (900, 1000, True)
    assert piece.area_mm2 == pytest.approx(900 * 400 + 300 * 600 - math.pi * 40**2)
    assert [problem.line for problem in listed.problems] == [3, 4, 5, 6]
    for problem, words in zip(
        listed.problems, ("bow-tie", "2 contours", "none.dxf", "length is empty"), strict=True
    ):
        assert words in problem.message


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("label;length;width;thickness\nA;1;1;1\n", "no column for grade"),
        ("label;length;width;thickness;grade\nA;1,5;1;1.5;S355\n", "decimal commas"),
        ("", "holds no table"),
    ],
)
def test_a_list_that_cannot_be_read_at_all_is_one_clear_error(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(StockError, match=words):
        read(tmp_path, text)
