"""Paths of lines and arcs: measures, exact offset, arc fitting, bridges to shapely."""

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

__all__ = [
    "FloatArray",
    "Path",
    "Pose",
    "Segments",
    "arc",
    "circle",
    "join",
    "place",
    "place_points",
    "polygon",
    "polyline",
    "reverse",
]
