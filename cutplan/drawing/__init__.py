"""Drawings in: DXF files become parts, with notes on what was healed."""

from cutplan.drawing.congruence import SHAPE_TOLERANCE, Kind, congruence, same_shapes
from cutplan.drawing.making import make_part
from cutplan.drawing.measure import PartMeasures, inscribed_circle, measure_part, metal_area
from cutplan.drawing.model import BendLine, Drawing, MarkText, Note, Part, Sketch
from cutplan.drawing.options import Choice, Limits, ReadOptions
from cutplan.drawing.read import inspect_drawing, read_drawing
from cutplan.drawing.standard_plates import (
    BasePlate,
    Flange,
    Gusset,
    Rectangle,
    Ring,
    SlottedStrip,
    StandardPlate,
)
from cutplan.drawing.widths import Width
from cutplan.drawing.write import part_layers, write_dxf

__all__ = [
    "SHAPE_TOLERANCE",
    "BasePlate",
    "BendLine",
    "Choice",
    "Drawing",
    "Flange",
    "Gusset",
    "Kind",
    "Limits",
    "MarkText",
    "Note",
    "Part",
    "PartMeasures",
    "ReadOptions",
    "Rectangle",
    "Ring",
    "Sketch",
    "SlottedStrip",
    "StandardPlate",
    "Width",
    "congruence",
    "inscribed_circle",
    "inspect_drawing",
    "make_part",
    "measure_part",
    "metal_area",
    "part_layers",
    "read_drawing",
    "same_shapes",
    "write_dxf",
]
