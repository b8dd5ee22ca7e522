"""Keeps the plate stiff: work from one end to the other, parts beside narrow webs last."""

from __future__ import annotations

from collections.abc import Sequence

import networkx as nx
import numpy as np
import shapely

from cutplan.cutting import Cut
from cutplan.geometry import bounds, to_polygon
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
    outers = {cut.placement: cut for cut in cuts if cut.kind == "outer"}
    narrow = beside_narrow_web(list(outers.values()), plate, options) if options.narrow_webs_last else {}
    band = _bands(outers, options)
    for i, cut in enumerate(cuts):
        if options.marks == "sheet" and cut.kind == "mark":
            stages[i] = 0
        else:
            # All cuts of the part: holes made long before would leave it begun and not finished.
            late = narrow.get(cut.placement, False)
            stages[i] = 1 + 2 * band.get(cut.placement, 0) + late
    for node in nx.topological_sort(graph):
        if node != MARKED:
            for earlier in graph.predecessors(node):
                if earlier != MARKED:
                    stages[node] = max(stages[node], stages[earlier])
    return stages


def _bands(outers: dict[int, Cut], options: SequenceOptions) -> dict[int, int]:
    if options.towards is None or not outers:
        return {}
    axis = 0 if options.towards[0] == "x" else 1
    sign = 1.0 if options.towards[1] == "+" else -1.0
    boxes: FloatArray = np.array([bounds(cut.contour) for cut in outers.values()])
    middle = sign * 0.5 * (boxes[:, axis] + boxes[:, axis + 2])
    width = options.band_mm or BAND_PARTS * float(np.median(boxes[:, axis + 2] - boxes[:, axis]))
    number = np.floor((middle - middle.min()) / width).astype(int)
    return {placement: int(band) for placement, band in zip(outers, number, strict=True)}


def beside_narrow_web(outers: Sequence[Cut], plate: Plate, options: SequenceOptions) -> dict[int, bool]:
    """Return for each placement whether a web beside it is narrow.

    A web is the metal between two parts, or between a part and the plate's edge.
    """
    width = options.narrow_web_mm or NARROW_THICKNESSES * plate.thickness
    shapes = np.array([to_polygon(cut.contour, tolerance=CHORD_MM).exterior for cut in outers], dtype=object)
    if len(shapes) == 0:
        return {}
    edge = to_polygon(plate.outline, tolerance=CHORD_MM).exterior
    narrow = shapely.distance(shapes, edge) < width
    here, there = shapely.STRtree(shapes).query(shapes, predicate="dwithin", distance=width)
    narrow[here[here != there]] = True
    return {cut.placement: bool(flag) for cut, flag in zip(outers, narrow, strict=True)}
