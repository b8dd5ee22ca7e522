"""Parts as they must come off the plate: edges, pieces and posts in plate coordinates."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
import shapely

from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Pose, place_points, to_polygon
from cutplan.stock import NestedPlate
from cutplan.verification.reach import OUTER, PartReach, part_reach
from cutplan.verification.strokes import IntArray, Strokes, strokes_of

__all__ = ["PlacedParts", "drawn_polygon", "place_parts", "placed_strokes"]

VIEW_TOLERANCE = 0.01  # mm; how far the polygons used for containment may be from the arcs


@dataclass(frozen=True, eq=False)
class PlacedParts:
    """All placements of a sheet.

    Contours are numbered through the sheet: each placement's outside, then its holes.

    Attributes
    ----------
    sheet : NestedPlate
    reaches : tuple of PartReach
        For each placement.
    first_contour : ndarray of int64
        Number of each placement's outside.
    edges, pieces : Strokes
    edge_contour, piece_contour, post_contour : ndarray of int64
    posts : ndarray, shape (k, 2)
    contour_placement, contour_hole : ndarray of int64
        Placement and hole (-1 for the outside) of each contour.
    """

    sheet: NestedPlate
    reaches: tuple[PartReach, ...]
    first_contour: IntArray
    edges: Strokes
    edge_contour: IntArray
    pieces: Strokes
    piece_contour: IntArray
    posts: FloatArray
    post_contour: IntArray
    contour_placement: IntArray
    contour_hole: IntArray

    @cached_property
    def metal(self) -> list[Any]:
        """The finished parts as shapely polygons, chorded within `VIEW_TOLERANCE`."""
        return [
            shapely.transform(drawn_polygon(p.part), lambda points, pose=p.pose: place_points(points, pose))
            for p in self.sheet.placements
        ]


@lru_cache(maxsize=256)
def drawn_polygon(part: Part) -> Any:
    """Return a part as drawn as a shapely polygon, chorded within `VIEW_TOLERANCE`; its copies share it."""
    return to_polygon(part.outer, part.holes, tolerance=VIEW_TOLERANCE)


def place_parts(sheet: NestedPlate, radius: float) -> PlacedParts:
    """Return the placements of a sheet as a jet of a radius in mm has to cut them."""
    made: dict[int, tuple[PartReach, Strokes, IntArray]] = {}
    tables = []
    for placement in sheet.placements:
        part = placement.part
        if id(part) not in made:
            contours = [strokes_of(path) for path in (part.outer, *part.holes)]
            hole = np.repeat(np.arange(OUTER, len(part.holes)), [len(c) for c in contours])
            made[id(part)] = (part_reach(part, radius), Strokes.joined(contours), hole)
        tables.append(made[id(part)])
    counts = np.array([1 + len(p.part.holes) for p in sheet.placements], dtype=np.int64)
    first = np.cumsum(counts) - counts
    poses = [p.pose for p in sheet.placements]
    # A hole's contour is numbered one behind its place in the part: the outside is -1.
    return PlacedParts(
        sheet=sheet,
        reaches=tuple(reach for reach, _, _ in tables),
        first_contour=first,
        edges=Strokes.joined([placed_strokes(e, p) for (_, e, _), p in zip(tables, poses, strict=True)]),
        edge_contour=_numbered([h for _, _, h in tables], first),
        pieces=Strokes.joined(
            [placed_strokes(r.pieces, p) for (r, _, _), p in zip(tables, poses, strict=True)]
        ),
        piece_contour=_numbered([r.piece_hole for r, _, _ in tables], first),
        posts=np.vstack(
            [
                np.zeros((0, 2)),
                *(place_points(r.posts, p) for (r, _, _), p in zip(tables, poses, strict=True)),
            ]
        ),
        post_contour=_numbered([r.post_hole for r, _, _ in tables], first),
        contour_placement=np.repeat(np.arange(len(counts)), counts),
        contour_hole=np.concatenate([np.zeros(0, dtype=np.int64), *(np.arange(n) - 1 for n in counts)]),
    )


def _numbered(holes: list[IntArray], first: IntArray) -> IntArray:
    numbers = [hole + 1 + start for hole, start in zip(holes, first, strict=True)]
    return np.concatenate([np.zeros(0, dtype=np.int64), *numbers]).astype(np.int64)


def placed_strokes(strokes: Strokes, pose: Pose) -> Strokes:
    """Return strokes of a drawing where a pose puts them on the plate."""
    arc = strokes.is_arc[:, None]
    return Strokes(
        place_points(strokes.start, pose),
        place_points(strokes.end, pose),
        np.where(arc, place_points(strokes.centre, pose), 0.0),
        strokes.radius,
        -strokes.sweep if pose.mirrored else strokes.sweep,
    )
