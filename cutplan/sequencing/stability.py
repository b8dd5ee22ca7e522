"""Keeps the plate stiff: work from one end to the other, parts beside narrow webs last."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import networkx as nx
import numpy as np
import shapely

from cutplan.cutting import Cut
from cutplan.geometry import Path, bounds, to_polygon
from cutplan.sequencing.model import SequenceOptions
from cutplan.sequencing.precedence import MARKED
from cutplan.sequencing.problem import FloatArray, IntArray
from cutplan.stock import Plate

__all__ = ["beside_narrow_web", "stages_of"]

BAND_PARTS = 1.5
"""Default width of a band, in median part sizes along the way."""
NARROW_THICKNESSES = 2.0
"""Webs narrower than so many plate thicknesses count as narrow by default."""
CHORD_MM = 0.2


def stages_of(cuts: Sequence[Cut], graph: nx.DiGraph, plate: Plate, options: SequenceOptions) -> IntArray:
    """Return the stage of each cut; all cuts of one stage come before any of the next.

    Stage 0 is for the marks of the whole sheet.  Each part is then given its band along the
    way and, within the band, a place before or after the narrow webs; where a precedence asks
    for more, the later cut moves to a later stage.
    """
    stages = np.ones(len(cuts), dtype=np.int64)
    outers = outsides_of(cuts)
    narrow = beside_narrow_web(outers, plate, options) if options.narrow_webs_last else {}
    band = _bands(outers, options)
    for i, cut in enumerate(cuts):
        if options.marks == "sheet" and cut.kind == "mark":
            stages[i] = 0
        else:
            # All cuts of the part: holes made long before would leave it begun and not finished.
            late = any(narrow.get(placement, False) for placement in cut.placements)
            far = max((band.get(placement, 0) for placement in cut.placements), default=0)
            stages[i] = 1 + 2 * far + late
    for node in nx.topological_sort(graph):
        if node != MARKED:
            for earlier in graph.predecessors(node):
                if earlier != MARKED:
                    stages[node] = max(stages[node], stages[earlier])
    return stages


def outsides_of(cuts: Sequence[Cut]) -> dict[int, Path]:
    """Return the outside contour of each placement that has one cut."""
    return {made.placement: made.contour for cut in cuts if cut.kind == "outside" for made in cut.makes}


def _bands(outers: Mapping[int, Path], options: SequenceOptions) -> dict[int, int]:
    if options.towards is None or not outers:
        return {}
    axis = 0 if options.towards[0] == "x" else 1
    sign = 1.0 if options.towards[1] == "+" else -1.0
    boxes: FloatArray = np.array([bounds(contour) for contour in outers.values()])
    middle = sign * 0.5 * (boxes[:, axis] + boxes[:, axis + 2])
    width = options.band_mm or BAND_PARTS * float(np.median(boxes[:, axis + 2] - boxes[:, axis]))
    number = np.floor((middle - middle.min()) / width).astype(int)
    return {placement: int(band) for placement, band in zip(outers, number, strict=True)}


def beside_narrow_web(outers: Mapping[int, Path], plate: Plate, options: SequenceOptions) -> dict[int, bool]:
    """Return for each placement whether a web beside it is narrow.

    A web is the metal between two parts, or between a part and the plate's edge.
    """
    width = options.narrow_web_mm or NARROW_THICKNESSES * plate.thickness
    rings = [to_polygon(contour, tolerance=CHORD_MM).exterior for contour in outers.values()]
    shapes = np.array(rings, dtype=object)
    if len(shapes) == 0:
        return {}
    edge = to_polygon(plate.outline, tolerance=CHORD_MM).exterior
    narrow = shapely.distance(shapes, edge) < width
    here, there = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=width)
    narrow[here[here != there]] = True
    return {placement: bool(flag) for placement, flag in zip(outers, narrow, strict=True)}
