"""Many drawings checked in one go: a table, a page with pictures, the same from a job."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from typer.testing import CliRunner

from cutplan.base.errors import InputError
from cutplan.cli.commands import app
from cutplan.planning import check_drawings, drawings_in
from cutplan.report import drawings_html

RUNNER = CliRunner()


def draw(file: Path, content: Any) -> Path:
    file.parent.mkdir(parents=True, exist_ok=True)
    document = ezdxf.new("R2010", units=4)
    content(document.modelspace())
    document.saveas(file)
    return file


def square(m: Any, size: float = 100.0) -> None:
    m.add_lwpolyline([(0, 0), (size, 0), (size, size), (0, size)], close=True)


@pytest.fixture
def office(tmp_path: Path) -> Path:
    """A folder with a sound drawing, one with strays and a gap, one too small, and one that is none."""
    draw(tmp_path / "good.dxf", square)
    draw(tmp_path / "sub" / "Tiny.DXF", lambda m: square(m, 8))

    def careless(m: Any) -> None:
        square(m)
        m.add_line((200, 0), (260, 30))
        m.add_line((300, 0), (400, 0))
        m.add_lwpolyline([(400, 0.05), (400, 80), (300, 80), (300, 0)])
        m.add_arc((600, 50), 40, 0, 350)

    draw(tmp_path / "careless.dxf", careless)
    (tmp_path / "broken.dxf").write_text("no drawing")
    return tmp_path


def test_a_folder_is_checked_whole_each_drawing_with_its_verdict(office: Path) -> None:
    files = drawings_in([office])
    assert [file.name for file in files] == ["broken.dxf", "careless.dxf", "good.dxf", "Tiny.DXF"]
    checked = {Path(each.drawing.source).name: each for each in check_drawings(files)}
    assert [name for name, each in checked.items() if each.stops] == [
        "broken.dxf",
        "careless.dxf",
        "Tiny.DXF",
    ]
    told = RUNNER.invoke(app, ["check", str(office)])
    assert told.exit_code == 2 and "4 drawings checked" in told.output
    assert RUNNER.invoke(app, ["check", str(office / "good.dxf")]).exit_code == 0


def test_the_page_numbers_findings_and_tells_their_kinds_by_shape_and_words(office: Path) -> None:
    page = office / "page.html"
    told = RUNNER.invoke(
        app, ["check", str(office), "--open", "leave out", "--page", str(page), "--thickness", "10"]
    )
    assert told.exit_code == 2
    text = page.read_text(encoding="utf-8")
    for kind in ("refused", "question", "left", "mended"):
        assert f'class="spot {kind}"' in text
    assert text.count('class="sketch"') == 2
    for words in (
        "good.dxf: sound",
        "careless.dxf: 1 refused",
        "question: answer it in the job",
        "left out, as the job says",
    ):
        assert words in text


def test_the_page_escapes_what_a_drawing_says(tmp_path: Path) -> None:
    def content(m: Any) -> None:
        square(m)
        m.add_text("<script>alert(1)</script>", height=5, dxfattribs={"insert": (0, 900)})

    checked = check_drawings([draw(tmp_path / "bad.dxf", content)])
    page = drawings_html([(each.drawing, each.findings) for each in checked], "<b>")
    assert "<script>" not in page and "&lt;script&gt;" in page and "<b>" not in page


def test_a_jobs_drawings_are_checked_as_the_job_has_them_read(office: Path) -> None:
    part = "[[part]]\nquantity = 1\nthickness = 10\ngrade = 'S355'\n"
    job = office / "job.toml"
    job.write_text(
        "[job]\nname = 'a'\n[[plate]]\nid = 'A'\nlength = 900\nwidth = 900\nthickness = 10\ngrade = 'S355'\n"
        + part
        + "drawing = 'sub/Tiny.DXF'\nunits = 'in'\n"
        + part
        + "drawing = 'good.dxf'\n"
    )
    told = RUNNER.invoke(app, ["check", str(job), "--json"])
    assert told.exit_code == 0, told.output
    records = json.loads(told.output)
    assert [record["units"] for record in records] == ["in", "mm"]
    assert records[1]["parts"][0]["drawn"] == 1 and records[1]["process"] is not None


def test_parts_of_one_name_in_two_drawings_are_warned_of(office: Path) -> None:
    draw(office / "sub" / "GOOD.dxf", lambda m: square(m, 70))
    checked = check_drawings([office / "good.dxf", office / "sub" / "GOOD.dxf"])
    assert [f.topic for f in checked[1].findings] == ["names"]


def test_a_folder_without_drawings_and_a_picture_of_several_are_refused(office: Path, tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError):
        drawings_in([tmp_path / "empty"])
    told = RUNNER.invoke(app, ["check", str(office), "--svg", str(tmp_path / "a.svg")])
    assert isinstance(told.exception, InputError)


def test_a_part_is_checked_in_the_thickness_that_a_text_beside_it_gives(tmp_path: Path) -> None:
    def content(m: Any) -> None:
        square(m, 200)
        m.add_circle((100, 100), 8)
        m.add_text("t=40", height=8, dxfattribs={"insert": (20, 20)})

    draw(tmp_path / "eye.dxf", content)
    job = tmp_path / "job.toml"
    job.write_text(
        "[job]\nname = 'a'\n[[plate]]\nid = 'A'\nlength = 900\nwidth = 900\nthickness = 10\ngrade = 'S355'\n"
        "[[part]]\ndrawing = 'eye.dxf'\nquantity = 1\nthickness = 10\ngrade = 'S355'\nfrom_text = ['thickness']\n"
    )
    heeded = RUNNER.invoke(app, ["check", str(job), "--json"])
    job.write_text(job.read_text().replace("from_text = ['thickness']", ""))
    not_heeded = RUNNER.invoke(app, ["check", str(job), "--json"])
    (thick,), (thin,) = json.loads(heeded.output), json.loads(not_heeded.output)
    assert thick["process"].startswith("oxy-fuel") and thin["process"].startswith("plasma")
    assert any("thickness 40 is taken from the text" in each["message"] for each in thick["findings"])
    assert any("gives the thickness 40, the job says 10" in each["message"] for each in thin["findings"])
