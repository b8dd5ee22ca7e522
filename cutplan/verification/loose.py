"""Parts coming loose: each alone, once, and with nothing cut or pierced on it afterwards."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import shapely

from cutplan.control import Motions
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, place_points
from cutplan.verification.burns import Runs
from cutplan.verification.freeing import Freed
from cutplan.verification.model import Fault
from cutplan.verification.placed import VIEW_TOLERANCE, PlacedParts, drawn_polygon
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
    held: BoolArray,
) -> Loose:
    """Return when each placement comes loose, and what is wrong with that.

    Holes that are `drilled` later, one entry for each contour, stay full of metal; placements
    that tabs hold, one entry for each, stay in the skeleton.  Runs in scrap cut the
    skeleton loose with all that still hangs in it: they free no part.
    """
    anchors = [metal.representative_point() for metal in parts.metal]
    by = np.full(len(anchors), NEVER, dtype=np.int64)
    faults: list[Fault] = []
    if freed.rings and anchors:
        tree = shapely.STRtree(freed.rings)
        part, ring = tree.query(anchors, predicate="within")
        frees = ~freed.in_scrap[freed.by[ring]]
        np.minimum.at(by, part[frees], freed.by[ring[frees]])
        faults += _cuts_on_freed(motions, runs, parts, freed, tree)
    pieces = _Pieces(freed.removed, anchors)
    for index in range(len(anchors)):
        if held[index]:
            if by[index] != NEVER:
                faults.append(_fault(parts, index, "a part that tabs are to hold comes loose", "tab"))
            continue
        if by[index] == NEVER:
            faults.append(_fault(parts, index, "the part does not come loose"))
            continue
        piece = pieces.holding(index)
        if piece is None:
            continue
        with_it = pieces.beside(index)
        if with_it:
            other = parts.sheet.placements[with_it[0]]
            faults.append(_fault(parts, index, f"the part hangs on {other.part.name!r} copy {other.copy}"))
        faults += _attached(parts, index, piece, drilled, radius, tolerance)
    return Loose(by, faults)


class _Pieces:
    """The pieces that parts come off in: between what was removed lies metal in one piece.

    What was removed falls into polygons that stay apart from each other, so the metal in a hole
    of one is that hole without the polygons that lie in it.
    """

    def __init__(self, removed: list[Any], anchors: list[Any]) -> None:
        rings, polygon = shapely.get_rings(shapely.get_parts(removed), return_index=True)
        is_outer = np.ones(len(rings), dtype=np.bool_)
        is_outer[1:] = polygon[1:] != polygon[:-1]
        self.outers: Any = rings[is_outer]
        self.holes: Any = shapely.polygons(rings[~is_outer])
        self.areas: FloatArray = shapely.area(self.holes)
        self.anchors = anchors
        self.around = self._innermost(np.array(anchors, dtype=object))
        self.outers_in = self._innermost(shapely.get_point(self.outers, 0))

    def _innermost(self, points: Any) -> IntArray:
        """Return the smallest hole that each point lies in, -1 for none."""
        point, hole = shapely.STRtree(self.holes).query(points, predicate="within")
        largest_first = np.argsort(-self.areas[hole], kind="stable")
        found = np.full(len(points), -1, dtype=np.int64)
        # Of several entries for one point the last, which is the smallest, stays.
        found[point[largest_first]] = hole[largest_first]
        return found

    def holding(self, index: int) -> Any:
        """Return the piece that an anchor lies in, None where it lies in the kerf."""
        hole = int(self.around[index])
        if hole < 0:
            return None
        inner = self.outers[self.outers_in == hole]
        piece = shapely.Polygon(self.holes[hole].exterior, list(inner))
        return piece if piece.contains(self.anchors[index]) else None

    def beside(self, index: int) -> list[int]:
        """Return the other anchors that lie in the same piece as one."""
        same = np.flatnonzero(self.around == self.around[index]).tolist()
        return [k for k in same if k != index and self.holding(k) is not None]


def _fault(parts: PlacedParts, index: int, message: str, code: str = "not-free", at: Any = None) -> Fault:
    placed = parts.sheet.placements[index]
    x, y = parts.metal[index].centroid.coords[0] if at is None else at
    return Fault(code, message, None, (float(x), float(y)), placed.part.name, placed.copy)


@lru_cache(maxsize=256)
def _grown(part: Part, drilled: tuple[int, ...], tolerance: float) -> Any:
    """Return a part as drawn, its drilled holes full, with what may stay on it."""
    drawn = drawn_polygon(part)
    holes = [ring for k, ring in enumerate(drawn.interiors) if k not in drilled]
    return shapely.Polygon(drawn.exterior, holes).buffer(tolerance + VIEW_SLACK, join_style="mitre")


def _attached(
    parts: PlacedParts, index: int, piece: Any, drilled: BoolArray, radius: float, tolerance: float
) -> list[Fault]:
    """Return scrap that comes loose together with a part, fillets aside."""
    placement = parts.sheet.placements[index]
    part, pose = placement.part, placement.pose
    first = int(parts.first_contour[index]) + 1
    full = tuple(np.flatnonzero(drilled[first : first + len(part.holes)]).tolist())
    grown = shapely.transform(
        _grown(part, full, tolerance), lambda points: np.asarray(place_points(points, pose))
    )
    shapely.prepare(grown)
    if grown.covers(piece):
        return []
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
