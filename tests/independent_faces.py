"""Areas in a drawing by other means: the library's own explosion and chords, and shapely's faces.

The reading shares no code with the package; only the shape that is asked about comes from it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ezdxf
from ezdxf import disassemble, recover
from shapely import LineString, Polygon, set_precision, unary_union
from shapely.ops import polygonize

from cutplan.base.errors import CutplanError
from cutplan.drawing import ReadOptions, read_apart
from cutplan.geometry import to_polygon

# Longest distance from a chord to its curve, and the grid that ends are put on, both in drawing units.
SAG, GRID = 1e-3, 1e-3
# A part may differ by curves replaced by arcs, the grid and gaps closed, mm of its outline's length.
ALONG = 0.02
EDGES = {"LINE", "CIRCLE", "ARC", "ELLIPSE", "LWPOLYLINE", "POLYLINE", "SPLINE"}


@dataclass(frozen=True)
class Compared:
    """What a file gave: cleanly read or refused, its words, and areas: name, ours, theirs, allowed mm²."""

    clean: bool
    said: str
    areas: tuple[tuple[str, float, float, float], ...] = ()


def compare_with_faces(file: Path) -> Compared:
    """Read a drawing in millimetres both ways, strays left out."""
    (drawing,) = read_apart([(file, ReadOptions(units="mm", open="leave out", frames="cut"))])
    if isinstance(drawing, CutplanError):
        said = str(drawing)
        return Compared(file.name in said and "crashed" not in said and "cannot be read (" not in said, said)
    found = faces(file) if drawing.parts else []
    areas = []
    for part in drawing.parts:
        shape = to_polygon(part.outer, part.holes, tolerance=SAG)
        areas.append((part.name, shape.area, area_within(shape, found), ALONG * shape.length + GRID))
    return Compared(True, f"{len(areas)} parts", tuple(areas))


def faces(file: Path) -> list[Polygon]:
    """Return all faces that the edges in the model space of a DXF bound, in drawing units."""
    try:
        document = ezdxf.readfile(file)
    except Exception:
        document, _ = recover.readfile(file)
    lines = [
        set_precision(LineString([(p.x, p.y) for p in points]), GRID)
        for points in _chords(document)
        if len(points) > 1
    ]
    return list(polygonize(unary_union(lines)))


def area_within(shape: Polygon, found: list[Polygon]) -> float:
    """Return the area of the faces that lie in a shape."""
    return sum(face.area for face in found if shape.contains(face.representative_point()))


def _chords(document: Any) -> Iterator[list[Any]]:
    entities = disassemble.recursive_decompose(document.modelspace())
    for primitive in disassemble.to_primitives(e for e in entities if e.dxftype() in EDGES):
        if primitive.path is not None:
            for path in primitive.path.sub_paths():
                yield list(path.flattening(SAG))
