"""Paths of lines and arcs: measures, exact offset, arc fitting, bridges to shapely."""

from cutplan.geometry.along import direction_at, normal_at, point_at, start_at, subpath, vertex_lengths
from cutplan.geometry.chords import chord_points, chords_of_many, to_polygon
from cutplan.geometry.fitting import fit_arcs, fit_curve
from cutplan.geometry.measures import area, bounds, centroid, is_counter_clockwise, length, oriented
from cutplan.geometry.offset import offset
from cutplan.geometry.path import (
    FloatArray,
    Path,
    Segments,
    arc,
    circle,
    join,
    polygon,
    polyline,
    reverse,
)
from cutplan.geometry.pose import Pose, place, place_points
from cutplan.geometry.proximity import (
    contains,
    crossings,
    distance,
    is_simple,
    nearest,
    path_distance,
    reaches_within,
    self_crossings,
)
from cutplan.geometry.recovery import recover_arcs
from cutplan.geometry.widths import Region, Width

__all__ = [
    "FloatArray",
    "Path",
    "Pose",
    "Region",
    "Segments",
    "Width",
    "arc",
    "area",
    "bounds",
    "centroid",
    "chord_points",
    "chords_of_many",
    "circle",
    "contains",
    "crossings",
    "direction_at",
    "distance",
    "fit_arcs",
    "fit_curve",
    "is_counter_clockwise",
    "is_simple",
    "join",
    "length",
    "nearest",
    "normal_at",
    "offset",
    "oriented",
    "path_distance",
    "place",
    "place_points",
    "point_at",
    "polygon",
    "polyline",
    "reaches_within",
    "recover_arcs",
    "reverse",
    "self_crossings",
    "start_at",
    "subpath",
    "to_polygon",
    "vertex_lengths",
]
