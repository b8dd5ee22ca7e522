"""Drawings out: exact paths on layers, and back again."""

from pathlib import Path as FilePath

import numpy as np
import pytest

from cutplan.base.errors import OutputError
from cutplan.drawing import BendLine, MarkText, Part, part_layers, read_drawing, write_dxf
from cutplan.geometry import Path, circle, polygon, polyline

PART = Part(
    name="bracket",
    outer=Path(np.array([[0, 0, 0], [150.125, 0, 0.3], [150.125, 80, 0], [0, 80, 0]])),
    holes=(circle((40, 40), 12.5, clockwise=True), polygon([(90, 20), (90, 40), (110, 40), (110, 20)])),
    marks=(polyline([(10, 10), (60, 10), (60, 15)]),),
    bends=(BendLine((0.0, 60.0), (150.0, 60.0), 45.0, 8.0, "down"),),
    texts=(MarkText("B 17", (10.0, 66.0), 6.0, 0.0),),
)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010", "R2018"])
def test_what_is_written_reads_back_exactly(tmp_path: FilePath, version: str) -> None:
    file = tmp_path / "bracket.dxf"
    write_dxf(file, part_layers([PART]), version=version)
    (part,) = read_drawing(file).parts
    np.testing.assert_allclose(part.outer.vertices, PART.outer.vertices, atol=1e-12)
    assert len(part.holes) == 2
    for ours, theirs in zip(part.holes, PART.holes, strict=True):
        np.testing.assert_allclose(ours.vertices, theirs.vertices, atol=1e-12)
    np.testing.assert_allclose(part.marks[0].vertices, PART.marks[0].vertices, atol=1e-12)
    assert part.bends == PART.bends and part.texts == PART.texts


def test_the_same_parts_give_the_same_bytes(tmp_path: FilePath) -> None:
    first, second = tmp_path / "a.dxf", tmp_path / "b.dxf"
    for file in (first, second):
        write_dxf(file, part_layers([PART]))
    assert first.read_bytes() == second.read_bytes()


def test_what_cannot_be_written_is_one_clear_error(tmp_path: FilePath) -> None:
    with pytest.raises(OutputError, match="cannot be written"):
        write_dxf(tmp_path / "no" / "folder.dxf", part_layers([PART]))
    with pytest.raises(OutputError, match="R9"):
        write_dxf(tmp_path / "old.dxf", part_layers([PART]), version="R9")
