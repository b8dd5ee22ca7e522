"""Files: versions, binary, damaged, and what is no DXF at all."""

import io
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import ezdxf
import pytest

from cutplan.base.errors import DrawingError
from cutplan.drawing import inspect_drawing, read_drawing
from cutplan.geometry import area

PARTS = FilePath(__file__).parents[2] / "parts"
Write = Callable[..., FilePath]


def slotted(doc: Any, m: Any) -> None:
    m.add_polyline2d([(0, 0), (120, 0), (120, 60), (0, 60)], close=True)
    m.add_polyline2d([(40, 20, 0), (80, 20, 1), (80, 40, 0), (40, 40, 1)], format="xyb", close=True)
    m.add_circle((20, 30), 8)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"])
def test_every_version_reads_the_same(draw: Write, version: str) -> None:
    (part,) = read_drawing(draw(slotted, version=version)).parts
    assert area(part.outer) == 7200
    assert sorted(len(hole) for hole in part.holes) == [2, 4]


@pytest.mark.parametrize("version", ["R12", "R2013"])
def test_a_binary_file_reads_like_a_text_file(folder: FilePath, version: str) -> None:
    document = ezdxf.new(version, units=4)
    slotted(document, document.modelspace())
    file = folder / "binary.dxf"
    document.saveas(file, fmt="bin")
    (part,) = read_drawing(file).parts
    assert len(part.holes) == 2


def test_windows_and_old_line_ends_read_alike(draw: Write, folder: FilePath) -> None:
    content = draw(slotted, version="R12").read_bytes().replace(b"\r\n", b"\n")
    file = folder / "crlf.dxf"
    file.write_bytes(content.replace(b"\n", b"\r\n"))
    assert len(read_drawing(file).parts) == 1


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (None, "does not exist"),
        (b"", "empty"),
        (b"AC1032\x00\x00", "DWG"),
        (b"%PDF-1.7 ...", "PDF"),
        (b"PK\x03\x04....", "ZIP"),
        (b"hello, this is no drawing\n" * 20, "not a DXF"),
        (bytes(range(256)) * 16, "not a DXF"),
        (b"0\nSECTION\n2\nENTITIES\n0\nLINE\n10\nten\n", "no contour to cut"),
    ],
)
def test_what_is_no_dxf_is_refused_by_name(folder: FilePath, content: bytes | None, word: str) -> None:
    file = folder / "other.dxf"
    file.unlink(missing_ok=True)
    if content is not None:
        file.write_bytes(content)
    with pytest.raises(DrawingError, match=word) as caught:
        read_drawing(file)
    assert str(file) in str(caught.value) and caught.value.remedy


def test_a_folder_is_refused(folder: FilePath) -> None:
    with pytest.raises(DrawingError, match="not a file"):
        read_drawing(folder)


def test_a_damaged_file_is_read_through_recovery_and_says_so(draw: Write, folder: FilePath) -> None:
    content = draw(slotted, version="R2010").read_text()
    file = folder / "damaged.dxf"
    damaged = content.replace("\n120.0\n", "\n120.0mm\n").replace("  0\nEOF\n", "")
    assert damaged.count("120.0mm") == 2
    file.write_text(damaged)
    drawing = inspect_drawing(file)
    assert any("recovery" in f.message for f in drawing.findings if f.kind == "mended")
    assert any("120.0mm" in f.message for f in drawing.findings)
    assert area(drawing.parts[0].outer) == 7200 and len(drawing.parts[0].holes) == 2


def test_an_edge_without_its_end_is_refused_and_not_guessed(draw: Write, folder: FilePath) -> None:
    # Readers put (0, 0) in the place of a missing end point.
    content = draw(lambda doc, m: m.add_line((10, 20), (30, 40)), version="R12").read_text()
    file = folder / "cut-off.dxf"
    file.write_text(content.replace(" 11\n30.0\n 21\n40.0\n 31\n0.0\n", ""))
    (refused,) = [f for f in inspect_drawing(file).findings if f.kind == "refused"]
    assert "lacks its end" in refused.message and refused.place == (10, 20)


@pytest.mark.parametrize("value", ["nan", "inf", "1e300", "5e7"])
def test_coordinates_that_are_no_place_on_a_plate_are_refused(
    draw: Write, folder: FilePath, value: str
) -> None:
    content = draw(lambda doc, m: m.add_circle((10, 20), 30), version="R12").read_text()
    file = folder / "far.dxf"
    assert " 10\n10.0\n" in content
    file.write_text(content.replace(" 10\n10.0\n", f" 10\n{value}\n"))
    drawing = inspect_drawing(file)
    assert not drawing.parts
    assert any(f.kind == "refused" for f in drawing.findings)


def test_reading_leaves_no_trace_in_the_log(draw: Write, folder: FilePath, capfd: Any) -> None:
    content = draw(slotted, version="R2010").read_text()
    file = folder / "odd.dxf"
    file.write_text(content.replace("LWPOLYLINE", "LWPOLYLIN"))
    inspect_drawing(file)
    assert capfd.readouterr() == ("", "")


def test_a_path_may_be_text(draw: Write) -> None:
    assert read_drawing(str(draw(slotted))).source.endswith("part.dxf")


@pytest.mark.parametrize("file", sorted(PARTS.glob("*.dxf")), ids=lambda file: file.stem)
def test_the_demonstration_drawings_read_without_a_word_of_trouble(file: FilePath) -> None:
    drawing = read_drawing(file)
    assert [part.name for part in drawing.parts] == [file.stem]
    assert [str(f) for f in drawing.findings if "no unit" not in f.message and f.kind != "mended"] == []


def test_the_library_reads_what_was_read_the_same_way(draw: Write) -> None:
    # ezdxf, writing what it read, is the reference for a round trip.
    file = draw(slotted, version="R2010")
    before = read_drawing(file).parts[0]
    stream = io.StringIO()
    ezdxf.readfile(file).write(stream)
    file.write_text(stream.getvalue())
    after = read_drawing(file).parts[0]
    assert after.outer == before.outer and after.holes == before.holes


def test_a_file_whose_model_space_lost_its_name_is_refused_by_name(tmp_path):
    document = ezdxf.new("R2010", units=4)
    document.modelspace().add_circle((0, 0), 50)
    file = tmp_path / "nameless.dxf"
    document.saveas(file)
    text = file.read_text(encoding="utf-8")
    assert text.count("\nModel\n") >= 1
    file.write_text(text.replace("\nModel\n", "\nMedol\n"), encoding="utf-8")
    with pytest.raises(DrawingError, match=r"nameless\.dxf.*no model space"):
        inspect_drawing(file)
