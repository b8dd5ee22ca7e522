"""The inventory from the command line, as a clerk and an operator use it."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cutplan.base.errors import CutplanError, InputError, OutputError, StockError
from cutplan.cli.stock import stock_app
from cutplan.drawing import write_dxf
from cutplan.geometry import polygon
from cutplan.planning.flow import plan_job
from cutplan.planning.job import parse_job
from cutplan.planning.output import write_files
from cutplan.stock import Inventory

LIST = "label;length;width;thickness;grade;heat;location;qty\nB;3000;1500;10;S355;H7;bay 2;2\nC;2000;1000;8;S235;H8;;\n"


@pytest.fixture
def stock(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    file = tmp_path / "stock.db"
    monkeypatch.setenv("CUTPLAN_STOCK", str(file))
    return file


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("plan") / "out"
    plate = {"id": "A", "length": 500, "width": 400, "thickness": 10, "grade": "S355", "heat": "H1"}
    part = {"name": "washer", "quantity": 4, "thickness": 10, "grade": "S355",
            "shape": {"kind": "ring", "outside": 120, "inside": 50}}  # fmt: skip
    job = {"job": {"name": "washers"}, "cutting": {"process": "plasma"}, "plate": [plate], "part": [part]}
    write_files(plan_job(parse_job(job, folder.parent / "job.toml")), folder)
    return folder


def run(*words: str) -> str:
    result = CliRunner().invoke(stock_app, list(words))
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.output
    return result.output


def labels(*words: str) -> list[str]:
    return [piece["label"] for piece in json.loads(run("list", "--json", *words))]


def add_a() -> None:
    run(
        "add",
        "A",
        "--length",
        "500",
        "--width",
        "400",
        "--thickness",
        "10",
        "--grade",
        "S355",
        "--heat",
        "H1",
    )


def test_a_list_is_tried_first_and_then_added(stock: Path, tmp_path: Path) -> None:
    file = tmp_path / "list.csv"
    file.write_text(LIST)
    assert "B-2" in run("import", str(file), "--dry-run")
    assert not stock.exists()
    run("import", str(file))
    assert labels() == ["C", "B-1", "B-2"]
    assert labels("--thickness", "8") == labels("--grade", "S235") == labels("--heat", "H8") == ["C"]
    assert labels("--location", "bay 2") == ["B-1", "B-2"]
    with pytest.raises(StockError, match="nothing was added"):
        run("import", str(file))


def test_a_bad_row_is_shown_and_nothing_added(stock: Path, tmp_path: Path) -> None:
    file = tmp_path / "list.csv"
    file.write_text(LIST + "D;2000;wide;8;S235;H8;;\n")
    result = CliRunner().invoke(stock_app, ["import", str(file)])
    assert isinstance(result.exception, StockError)
    assert "row 4: 'wide' is not a number" in result.output
    assert not stock.exists()


def test_a_remnant_is_added_by_its_outline(stock: Path, tmp_path: Path) -> None:
    write_dxf(tmp_path / "r.dxf", {"0": [polygon([(0, 0), (900, 0), (0, 700)])]})
    words = ("add", "R", "--thickness", "10", "--grade", "S355")
    run(*words, "--outline", str(tmp_path / "r.dxf"))
    assert labels("--remnants") == ["R"]
    for bad in ((), ("--length", "5"), ("--outline", "r.dxf", "--length", "5", "--width", "5")):
        with pytest.raises(InputError, match="length and width, or an outline"):
            run(*words, *bad)


def test_reserved_pieces_come_back_and_scrapped_ones_leave_the_list(stock: Path) -> None:
    add_a()
    run("reserve", "plan 1", "A")
    assert labels("--state", "reserved") == ["A"]
    with pytest.raises(StockError, match="reserved by plan 'plan 1'"):
        run("scrap", "A")
    assert "back in the rack: A" in run("release", "plan 1")
    run("scrap", "A")
    assert labels() == []
    assert labels("--state", "all") == ["A"]
    assert [e["event"] for e in json.loads(run("history", "A", "--json"))] == [
        "received", "reserved", "in rack", "scrapped",
    ]  # fmt: skip


def test_a_part_is_traced_to_its_heat_and_a_heat_to_its_parts(stock: Path, out: Path) -> None:
    add_a()
    name = json.loads((out / "plan.json").read_text())["plan"]
    run("reserve", name, "A")
    booked = json.loads(run("cut", str(out / "plan.json"), "A-1", "--remnant", "500x150", "--json"))
    # 500 x 400 mm less the strip kept and four rings, 10 mm thick, 7850 kg/m³.
    rings = 4 * 3.141592653589793 / 4 * (120**2 - 50**2)
    assert booked["scrap_kg"] == pytest.approx((500 * 400 - 500 * 150 - rings) * 10 * 7850e-9)
    assert labels("--remnants") == ["A-R1"]
    (part,) = json.loads(run("trace", "--mark", booked["marks"][2], "--json"))
    assert (part["part"], part["copy"], part["piece"], part["heat"]) == ("washer", 3, "A", "H1")
    assert (part["program"], part["plan"]) == ("A-1.nc", name)
    for words in (("--heat", "H1"), ("--piece", "A"), ("--plan", name)):
        assert [p["mark"] for p in json.loads(run("trace", *words, "--json"))] == booked["marks"]
    with pytest.raises(StockError, match="is cut, not reserved"):
        run("cut", str(out / "plan.json"))


def test_rack_and_trace_are_printed_as_pages(stock: Path, out: Path, tmp_path: Path) -> None:
    add_a()
    name = json.loads((out / "plan.json").read_text())["plan"]
    run("reserve", name, "A")
    run("cut", str(out / "plan.json"), "A-1", "--remnant", "500x150")
    assert "written to" in run("list", "--page", str(tmp_path / "rack.html"))
    rack = (tmp_path / "rack.html").read_text()
    assert "A-R1" in rack and "500 × 150" in rack and "10 mm S355" in rack
    run("trace", "--heat", "H1", "--page", str(tmp_path / "trace.html"))
    report = (tmp_path / "trace.html").read_text()
    assert report.count("<td>washer</td>") == 4
    assert "Piece A" in report and "reserved" in report and name in report
    for page in (rack, report):
        assert "default-src 'none'" in page and "<script" not in page
    with pytest.raises(OutputError, match=r"cannot be written.*give another place"):
        run("list", "--page", str(out / "plan.json" / "rack.html"))


def test_the_operator_says_what_is_worth_keeping(stock: Path, out: Path) -> None:
    add_a()
    run("reserve", json.loads((out / "plan.json").read_text())["plan"], "A")
    assert "A-R1" in run("cut", str(out / "plan.json"), "--keep", "100x200")
    remnant = json.loads(run("list", "--remnants", "--json"))[0]
    assert (remnant["label"], remnant["heat"], remnant["parent"]) == ("A-R1", "H1", "A")
    assert len(remnant["outline"]) >= 4


def test_a_plate_of_another_heat_is_not_booked_out_for_the_planned_one(stock: Path, out: Path) -> None:
    run(
        "add",
        "A",
        "--length",
        "500",
        "--width",
        "400",
        "--thickness",
        "10",
        "--grade",
        "S355",
        "--heat",
        "H9",
    )
    run("reserve", json.loads((out / "plan.json").read_text())["plan"], "A")
    with pytest.raises(StockError, match=r"heat H9, the plan was made for 10 mm S355, heat H1"):
        run("cut", str(out / "plan.json"))
    assert labels("--state", "reserved") == ["A"]


def test_a_cut_that_does_not_add_up_changes_nothing(stock: Path, out: Path) -> None:
    add_a()
    with pytest.raises(StockError, match="is in rack, not reserved"):
        run("cut", str(out / "plan.json"))
    run("reserve", json.loads((out / "plan.json").read_text())["plan"], "A")
    with pytest.raises(StockError, match="larger than what the parts leave"):
        run("cut", str(out / "plan.json"), "--remnant", "500x399")
    with pytest.raises(InputError, match="no sheet 'A-2'"):
        run("cut", str(out / "plan.json"), "A-2")
    for bad in ("half", "0x300", "nanx300"):
        with pytest.raises(InputError, match="is no size"):
            run("cut", str(out / "plan.json"), "--remnant", bad)
    with Inventory(stock) as inventory:
        assert inventory.piece("A").state == "reserved"


@pytest.mark.parametrize("words", [("list",), ("release", "p"), ("history", "A"), ("trace", "--heat", "H")])
def test_asking_a_stock_that_is_not_there_makes_none(stock: Path, words: tuple[str, ...]) -> None:
    with pytest.raises(CutplanError, match="no inventory here"):
        run(*words)
    assert not stock.exists()
