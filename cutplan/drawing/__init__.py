"""Drawings in: DXF files become parts, with notes on what was healed."""

from cutplan.drawing.model import (
    BendLine,
    Drawing,
    Finding,
    MarkText,
    Part,
)
from cutplan.drawing.options import ReadOptions
from cutplan.drawing.read import inspect_drawing, read_drawing
from cutplan.drawing.write import write_dxf

__all__ = [
    "BendLine",
    "Drawing",
    "Finding",
    "MarkText",
    "Part",
    "ReadOptions",
    "inspect_drawing",
    "read_drawing",
    "write_dxf",
]
