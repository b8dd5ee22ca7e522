"""Drawings in: DXF files become parts, with notes on what was healed."""

from cutplan.drawing.apart import Measured, Reading, measure_apart, read_apart, ready_reader
from cutplan.drawing.congruence import SHAPE_TOLERANCE, Kind, congruence, same_shapes
from cutplan.drawing.lettering import name_to_mark
from cutplan.drawing.making import make_part
from cutplan.drawing.marking import WantedStroke, drill_mark, marks_off_metal, placed_text, wanted_strokes
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
    "Measured",
    "Note",
    "Part",
    "PartMeasures",
    "ReadOptions",
    "Reading",
    "Rectangle",
    "Ring",
    "Sketch",
    "SlottedStrip",
    "StandardPlate",
    "WantedStroke",
    "congruence",
    "drill_mark",
    "inscribed_circle",
    "inspect_drawing",
    "make_part",
    "marks_off_metal",
    "measure_apart",
    "measure_part",
    "metal_area",
    "name_to_mark",
    "part_layers",
    "placed_text",
    "read_apart",
    "read_drawing",
    "ready_reader",
    "same_shapes",
    "wanted_strokes",
    "write_dxf",
]
