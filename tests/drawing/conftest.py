"""Drawings made on the spot: a function draws into an empty document, and it is read back."""

from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import ezdxf
import pytest

from cutplan.drawing import Drawing, ReadOptions, inspect_drawing

MILLIMETRE = 4
Draw = Callable[[Any, Any], object]


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> FilePath:
    return tmp_path_factory.mktemp("drawings")


@pytest.fixture
def draw(folder: FilePath) -> Callable[..., FilePath]:
    """Write what a function draws into a document and its model space, in millimetres."""

    def write(content: Draw, version: str = "R2010", units: int = MILLIMETRE, name: str = "part") -> FilePath:
        document = ezdxf.new(version, units=units, setup=["linetypes"])
        content(document, document.modelspace())
        file = folder / f"{name}.dxf"
        document.saveas(file)
        return file

    return write


@pytest.fixture
def inspect(draw: Callable[..., FilePath]) -> Callable[..., Drawing]:
    """Write what a function draws and read it back, refusals as findings."""

    def read(content: Draw, options: ReadOptions = ReadOptions(), **how: Any) -> Drawing:
        return inspect_drawing(draw(content, **how), options)

    return read


def kinds(drawing: Drawing) -> list[str]:
    return [finding.kind for finding in drawing.findings]
