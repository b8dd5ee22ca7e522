"""Parts coming loose: each alone, once, and with nothing cut or pierced on it afterwards."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from cutplan.control import Motions
from cutplan.geometry import FloatArray
from cutplan.verification.burns import Runs
from cutplan.verification.freeing import Freed
from cutplan.verification.model import Fault
from cutplan.verification.placed import VIEW_TOLERANCE, PlacedParts
from cutplan.verification.strokes import BoolArray, IntArray

__all__ = ["NEVER", "Loose", "check_loose"]

NEVER = np.iinfo(np.int64).max
# A fillet in a corner of angle a holds r²(1/tan(a/2) - (π - a)/2): 4.3 r² at 20 degrees.
LARGEST_FILLET = 4.3
# Sweeps are understated by two chord tolerances, views of arcs by one.
VIEW_SLACK = 0.04


@dataclass(frozen=True, eq=False)
class Loose:
    """When each placement comes loose.

    Attributes
    ----------
    by : ndarray of int64, shape (placements,)
        The run that frees it; `NEVER` where none does.
    faults : list of Fault
    """

    by: IntArray
    faults: list[Fault]


def check_loose(
    motions: Motions,
    runs: Runs,
    parts: PlacedParts,
    freed: Freed,
    radius: float,
    tolerance: float,
    drilled: BoolArray,
) -> Loose:
    """Return when each placement comes loose, and what is wrong with that.

    Holes that are `drilled` later, one entry for each contour, stay full of metal.
    """
    anchors = [metal.representative_point() for metal in parts.metal]
    by = np.full(len(anchors), NEVER, dtype=np.int64)
    faults: list[Fault] = []
    if freed.rings and anchors:
        tree = shapely.STRtree(freed.rings)
        part, ring = tree.query(anchors, predicate="within")
        np.minimum.at(by, part, freed.by[ring])
        faults += _cuts_on_freed(motions, runs, parts, freed, tree)
    removed = shapely.STRtree(freed.removed)
    for index, anchor in enumerate(anchors):
        if by[index] == NEVER:
            faults.append(_fault(parts, index, "the part does not come loose"))
            continue
        around = min((r for r in tree.query(anchor, predicate="within")), key=lambda r: freed.rings[r].area)
        ring = freed.rings[int(around)]
        sweeps = [freed.removed[i] for i in removed.query(ring, predicate="intersects")]
        piece = _piece_with(shapely.difference(ring, shapely.union_all(sweeps)), anchor)
        if piece is None:
            continue
        with_it = [i for i, other in enumerate(anchors) if i != index and piece.contains(other)]
        if with_it:
            other = parts.sheet.placements[with_it[0]]
            faults.append(_fault(parts, index, f"the part hangs on {other.part.name!r} copy {other.copy}"))
        faults += _attached(parts, index, piece, radius, tolerance, drilled)
    return Loose(by, faults)


def _piece_with(shape: Any, anchor: Any) -> Any:
    return next((piece for piece in shapely.get_parts(shape) if piece.contains(anchor)), None)


def _fault(parts: PlacedParts, index: int, message: str, code: str = "not-free", at: Any = None) -> Fault:
    placed = parts.sheet.placements[index]
    x, y = parts.metal[index].centroid.coords[0] if at is None else at
    return Fault(code, message, None, (float(x), float(y)), placed.part.name, placed.copy)


def _attached(
    parts: PlacedParts, index: int, piece: Any, radius: float, tolerance: float, drilled: BoolArray
) -> list[Fault]:
    """Return scrap that comes loose together with a part, fillets aside."""
    metal = parts.metal[index]
    first = int(parts.first_contour[index]) + 1
    open_holes = [ring for k, ring in enumerate(metal.interiors) if not drilled[first + k]]
    grown = shapely.Polygon(metal.exterior, open_holes).buffer(tolerance + VIEW_SLACK, join_style="mitre")
    posts = parts.posts[parts.contour_placement[parts.post_contour] == index]
    spots = shapely.MultiPoint(posts) if len(posts) else None
    faults = []
    for scrap in shapely.get_parts(piece.difference(grown)):
        near_post = spots is not None and scrap.distance(spots) <= radius + tolerance + VIEW_SLACK
        if scrap.area < VIEW_TOLERANCE or (near_post and scrap.area <= LARGEST_FILLET * radius**2):
            continue
        at = scrap.representative_point().coords[0]
        message = f"{scrap.area:.1f} mm² of scrap hangs on the part"
        faults.append(_fault(parts, index, message, "metal-left", at))
    return faults


def _cuts_on_freed(motions: Motions, runs: Runs, parts: PlacedParts, freed: Freed, tree: Any) -> list[Fault]:
    """Return runs on metal that an earlier run has freed."""
    points = runs.strokes.at(np.full(len(runs.strokes), 0.5))
    stroke, ring = tree.query(shapely.points(points), predicate="within")
    late = freed.by[ring] < runs.owner[stroke]
    faults = []
    for run in np.unique(runs.owner[stroke[late]]).tolist():
        first = int(stroke[late & (runs.owner[stroke] == run)].min())
        line = int(motions.line[runs.row[first]])
        place = (float(points[first, 0]), float(points[first, 1]))
        faults.append(Fault("cut-on-freed", "a cut on metal that is loose already", line, place))
    pierces: FloatArray = np.array([burn.pierce for burn in runs.burns])
    run, ring = tree.query(shapely.points(pierces), predicate="within")
    for index in np.unique(run[freed.by[ring] < run]).tolist():
        burn = runs.burns[index]
        message = "a pierce on metal that is loose already"
        faults.append(Fault("pierce-on-freed", message, burn.line, burn.pierce))
    return faults
