"""What texts in a drawing say holds to the end: on the rack, in the proof, and in the sheet's own drawing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import pytest
import shapely
from ezdxf.path import make_path

from cutplan.base.errors import InputError
from cutplan.drawing import ReadOptions, metal_area, read_drawing
from cutplan.planning.bookings import rack_plates
from cutplan.planning.flow import plan_job
from cutplan.planning.job import Job, parse_job
from cutplan.planning.output import write_files
from cutplan.planning.program_check import check_program
from cutplan.record import Plan
from cutplan.report import write_nest_dxf
from cutplan.stock import Inventory, Piece

COMMON = {"thickness": 10, "grade": "S355"}


def draw(file: Path, names: tuple[str, ...] = ("B12", "B13"), hole: float = 12.0) -> None:
    """Two plates of different sizes, each with its mark, thickness and grade written on it."""
    document = ezdxf.new("R2010", units=4)
    space = document.modelspace()
    for k, name in enumerate(names):
        x, size = 300.0 * k, 90.0 + 30.0 * k
        space.add_lwpolyline([(x, 0), (x + size, 0), (x + size, 80), (x, 80)], close=True)
        space.add_circle((x + 30, 40), hole)
        for row, text in enumerate((name, "t=12", "S235JR")):
            place = {"insert": (x + 50, 10 + 20 * row), "layer": "NOTES"}
            space.add_text(text, height=5, dxfattribs=place)
    document.saveas(file)


def job_of(folder: Path, from_text: list[str], **sections: Any) -> Job:
    plate = {"id": "A", "length": 600, "width": 300, **COMMON}
    part = {"drawing": "order.dxf", "quantity": 1, "from_text": from_text, **COMMON}
    data = {"job": {"name": "order"}, "cutting": {"process": "plasma"}, "plate": [plate], "part": [part]}
    return parse_job({**data, **sections}, folder / "job.toml")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Plan]:
    folder = tmp_path_factory.mktemp("shop")
    draw(folder / "order.dxf")
    plan = plan_job(job_of(folder, ["name"]))
    write_files(plan, folder / "out")
    return folder, plan


def test_a_proof_against_the_drawings_knows_parts_by_the_names_their_texts_give(
    shop: tuple[Path, Plan],
) -> None:
    folder, plan = shop
    assert {p.part.name for p in plan.sheets[0].nested.placements} == {"B12", "B13"}
    checked = check_program(folder / "out" / "A-1.nc", folder / "out" / "plan.json", None, drawings=folder)
    assert checked.exit_code == 0


def test_a_drawing_changed_since_is_told_by_the_name_its_text_gives(
    shop: tuple[Path, Plan], tmp_path: Path
) -> None:
    folder, _ = shop
    draw(tmp_path / "order.dxf", hole=15.0)
    checked = check_program(folder / "out" / "A-1.nc", folder / "out" / "plan.json", None, drawings=tmp_path)
    assert checked.exit_code == 3
    assert any("'B12'" in fault.message for fault in checked.verdict.faults)


def test_a_mark_written_on_two_parts_is_not_guessed_at(shop: tuple[Path, Plan], tmp_path: Path) -> None:
    folder, _ = shop
    draw(tmp_path / "order.dxf", names=("B12", "B12"))
    with pytest.raises(InputError, match="draws 2 parts"):
        check_program(folder / "out" / "A-1.nc", folder / "out" / "plan.json", None, drawings=tmp_path)


def test_plates_of_a_thickness_and_grade_that_texts_give_are_taken_from_the_rack(tmp_path: Path) -> None:
    draw(tmp_path / "order.dxf")
    with Inventory(tmp_path / "stock.db") as stock:
        stock.add([Piece("THIN", 600, 300, 10, "S355", "mild steel"), Piece("R12", 600, 300, 12, "S235JR", "mild steel")])  # fmt: skip
    stock_section = {"inventory": "stock.db"}
    plain = job_of(tmp_path, ["name"], stock=stock_section)
    assert [plate.id for plate in rack_plates(plain)] == ["THIN"]
    job = job_of(tmp_path, ["name", "thickness", "grade"], stock=stock_section, plate=[])
    plan = plan_job(job)
    assert [sheet.nested.plate.id for sheet in plan.sheets] == ["R12"] and not plan.unplaced


def test_a_planned_sheet_written_as_a_drawing_reads_back_to_the_same_parts(
    shop: tuple[Path, Plan], tmp_path: Path
) -> None:
    _, plan = shop
    (sheet,) = plan.sheets
    write_nest_dxf(tmp_path / "A-1.dxf", sheet)
    roles = {"cut": ["PARTS", "HOLES"], "mark": ["MARKS"], "ignore": ["PLATE", "TORCH"]}
    read = read_drawing(tmp_path / "A-1.dxf", ReadOptions(layers=roles))
    asked = sorted(metal_area(p.part) for p in sheet.nested.placements)
    assert sorted(metal_area(part) for part in read.parts) == pytest.approx(asked, rel=1e-9)
    assert [len(part.holes) for part in read.parts] == [1, 1]
    # The same areas by ezdxf's own paths and shapely, which share no code with the reader.
    outlines, holes = (_areas(tmp_path / "A-1.dxf", layer) for layer in ("PARTS", "HOLES"))
    assert sum(outlines) - sum(holes) == pytest.approx(sum(asked), rel=1e-4)


def _areas(file: Path, layer: str) -> list[float]:
    found = ezdxf.readfile(file).modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [shapely.Polygon([(v.x, v.y) for v in make_path(each).flattening(0.001)]).area for each in found]
