"""Drawings in: DXF files become parts, with notes on what was healed."""

from cutplan.drawing.apart import Measured, Reading, measure_apart, read_apart, ready_reader
from cutplan.drawing.attached import Attached, with_attached
from cutplan.drawing.beam_plates import BeamWeb, CutOuts, FlangeStrip
from cutplan.drawing.bevel_edges import FoundEdge, edge_at, stretch_between
from cutplan.drawing.bevel_sections import EdgePoints, PreparedEdge, edge_points, prepared_edges, section_at
from cutplan.drawing.bevel_words import BevelWords, bevel_words
from cutplan.drawing.bevels import (
    BevelFaces,
    Slope,
    contour_of,
    faces_of,
    groove_mm3,
    preparation_name,
    prepared_length,
    refusals_of,
    remarks_on,
    stretch_of,
)
from cutplan.drawing.congruence import SHAPE_TOLERANCE, Kind, congruence, same_shapes
from cutplan.drawing.lettering import name_to_mark, trace_to_mark
from cutplan.drawing.making import make_part
from cutplan.drawing.marking import WantedStroke, drill_mark, marks_off_metal, placed_text, wanted_strokes
from cutplan.drawing.measure import PartMeasures, inscribed_circle, measure_part, metal_area
from cutplan.drawing.model import (
    BendLine,
    BevelKind,
    BevelLine,
    Drawing,
    EdgePreparation,
    KeptEdge,
    MarkText,
    Note,
    Part,
    Piece,
    Sketch,
    Split,
)
from cutplan.drawing.options import Choice, Limits, ReadOptions
from cutplan.drawing.read import inspect_drawing, read_drawing
from cutplan.drawing.splice_rules import PartSplices, Splices
from cutplan.drawing.splice_zones import Rule, barred_stretches, open_stretches
from cutplan.drawing.splitting import extent_along, long_direction, piece_name, split_part
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
    "Attached",
    "BasePlate",
    "BeamWeb",
    "BendLine",
    "BevelFaces",
    "BevelKind",
    "BevelLine",
    "BevelWords",
    "Choice",
    "CutOuts",
    "Drawing",
    "EdgePoints",
    "EdgePreparation",
    "Flange",
    "FlangeStrip",
    "FoundEdge",
    "Gusset",
    "KeptEdge",
    "Kind",
    "Limits",
    "MarkText",
    "Measured",
    "Note",
    "Part",
    "PartMeasures",
    "PartSplices",
    "Piece",
    "PreparedEdge",
    "ReadOptions",
    "Reading",
    "Rectangle",
    "Ring",
    "Rule",
    "Sketch",
    "Slope",
    "SlottedStrip",
    "Splices",
    "Split",
    "StandardPlate",
    "WantedStroke",
    "barred_stretches",
    "bevel_words",
    "congruence",
    "contour_of",
    "drill_mark",
    "edge_at",
    "edge_points",
    "extent_along",
    "faces_of",
    "groove_mm3",
    "inscribed_circle",
    "inspect_drawing",
    "long_direction",
    "make_part",
    "marks_off_metal",
    "measure_apart",
    "measure_part",
    "metal_area",
    "name_to_mark",
    "open_stretches",
    "part_layers",
    "piece_name",
    "placed_text",
    "preparation_name",
    "prepared_edges",
    "prepared_length",
    "read_apart",
    "read_drawing",
    "ready_reader",
    "refusals_of",
    "remarks_on",
    "same_shapes",
    "section_at",
    "split_part",
    "stretch_between",
    "stretch_of",
    "trace_to_mark",
    "wanted_strokes",
    "with_attached",
    "write_dxf",
]
