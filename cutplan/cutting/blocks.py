"""Blocks of parts that lie kerf to kerf: which parts share edges on a sheet, and the block's outline.

Only straight edges are shared, of convex parts without marks, texts or bend lines.

Terminology
-----------
block : parts whose straight edges lie a kerf apart, so that one cut makes both.
divider : the straight line between parts of a block, from one side of its outline to the other.
outline : the block's outside, gaps within it filled.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import networkx as nx
import numpy as np
import shapely

from cutplan.base.findings import Finding
from cutplan.cutting.model import CuttingOptions
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Path, Pose, place, polygon
from cutplan.process import CutData
from cutplan.stock import NestedPlate

__all__ = ["Block", "block_outline", "find_blocks", "may_share", "none_shared"]

APART = 0.02
"""Edges lie kerf to kerf where their distance is within this of the kerf, mm."""
LEAST_SHARED_KERFS = 5.0
SAME = 1e-5
FLAT = 1e-6


@dataclass(frozen=True, eq=False)
class Block:
    """Parts of a sheet that lie kerf to kerf.

    Attributes
    ----------
    members : tuple of int
        Placements.
    outline : Path
        Plate coordinates, counter-clockwise.
    dividers : tuple of ndarray, each of shape (2, 2)
        Ends of each divider, on the line of the torch's centre round the outline.
    half_kerf : float
        mm.
    """

    members: tuple[int, ...]
    outline: Path
    dividers: tuple[FloatArray, ...]
    half_kerf: float


def may_share(part: Part) -> bool:
    """Return whether edges of a part can be shared: straight sides, convex, nothing to mark.

    Parameters
    ----------
    part : Part

    Returns
    -------
    bool
    """
    if part.outer.vertices[:, 2].any() or part.marks or part.texts or part.bends:
        return False
    ring = shapely.Polygon(part.outer.points)
    return bool(ring.convex_hull.area - ring.area < SAME * ring.area)


def block_outline(part: Part, poses: Sequence[Pose], kerf: float) -> Path | None:
    """Return the outline of copies of a part that lie kerf to kerf; None where they make no block.

    Parameters
    ----------
    part : Part
    poses : sequence of Pose
    kerf : float
        mm.

    Returns
    -------
    Path or None
        Counter-clockwise.
    """
    return _outline([place(part.outer, pose).points for pose in poses], kerf)


def find_blocks(sheet: NestedPlate, data: CutData, options: CuttingOptions) -> list[Block]:
    """Return the blocks of a sheet among the parts that ask for shared cuts.

    Parameters
    ----------
    sheet : NestedPlate
    data : CutData
    options : CuttingOptions
    """
    asked = [
        i
        for i, p in enumerate(sheet.placements)
        if options.of_parts.get(p.part.name, options.techniques).shared_asked is not None
        and may_share(p.part)
    ]
    if not asked or data.rules.square_side != "both":
        return []
    corners = {i: place(sheet.placements[i].part.outer, sheet.placements[i].pose).points for i in asked}
    rings = [shapely.Polygon(corners[i]) for i in asked]
    one, other = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=data.kerf + APART)
    graph: nx.Graph = nx.Graph()
    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        if a < b:
            shared = _shared_edges(corners[asked[a]], corners[asked[b]], data.kerf)
            if shared:
                graph.add_edge(asked[a], asked[b], lines=shared)
    found = []
    for members in sorted(map(sorted, nx.connected_components(graph))):
        block = _block(members, corners, graph.subgraph(members), data.kerf)
        if block is not None:
            found.append(block)
    return found


def none_shared(sheet: NestedPlate, data: CutData, options: CuttingOptions) -> list[Finding]:
    """Tell where a job asks for shared cuts of a process that has none.

    Parameters
    ----------
    sheet : NestedPlate
    data : CutData
    options : CuttingOptions
    """
    asked = any(
        options.of_parts.get(p.part.name, options.techniques).shared_asked is not None
        for p in sheet.placements
    )
    if not asked or data.rules.square_side == "both":
        return []
    told = f"no shared cuts: with {data.process} one side of the kerf is bevelled, and one of two parts would get it"
    return [Finding("warning", told)]


def _shared_edges(one: FloatArray, other: FloatArray, kerf: float) -> list[FloatArray]:
    """Return the middle lines between edges of two outlines that lie a kerf apart, over their overlap."""
    found = []
    for a0, a1 in _edges(one):
        along = (a1 - a0) / np.hypot(*(a1 - a0))
        normal = np.array([along[1], -along[0]])
        for b0, b1 in _edges(other):
            back = (b1 - b0) / np.hypot(*(b1 - b0))
            if abs(along[0] * back[1] - along[1] * back[0]) > FLAT or along @ back > 0.0:
                continue
            if abs(float((b0 - a0) @ normal) - kerf) > APART:
                continue
            low = max(0.0, float((b1 - a0) @ along))
            high = min(float((a1 - a0) @ along), float((b0 - a0) @ along))
            if high - low >= LEAST_SHARED_KERFS * kerf:
                middle = a0 + 0.5 * float((b0 - a0) @ normal) * normal
                found.append(np.array([middle + low * along, middle + high * along]))
    return found


def _edges(corners: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
    ccw = corners if shapely.LinearRing(corners).is_ccw else corners[::-1]
    return list(zip(ccw, np.roll(ccw, -1, axis=0), strict=True))


def _block(members: Sequence[int], corners: dict[int, FloatArray], graph: Any, kerf: float) -> Block | None:
    outline = _outline([corners[i] for i in members], kerf)
    if outline is None:
        return None
    around = shapely.Polygon(outline.points).buffer(0.5 * kerf, join_style="mitre", mitre_limit=20.0)
    dividers = []
    for line in _joined([line for *_, lines in graph.edges(data="lines") for line in lines], kerf):
        ends = _to_rim(line, around)
        if ends is None:
            return None
        dividers.append(ends)
    return Block(tuple(members), outline, tuple(dividers), 0.5 * kerf)


def _outline(corners: Sequence[FloatArray], kerf: float) -> Path | None:
    """Return the outline of parts kerf to kerf; None where it is not all made of their own corners."""
    reach = 0.5 * kerf + APART
    grown = shapely.buffer([shapely.Polygon(c) for c in corners], reach, join_style="mitre", mitre_limit=50.0)
    joined = shapely.union_all(grown).buffer(-reach, join_style="mitre", mitre_limit=50.0)
    if joined.geom_type != "Polygon" or len(joined.interiors):
        return None
    ring = np.array(joined.simplify(1e-4).exterior.coords)[:-1]
    own = np.vstack(corners)
    away = np.hypot(*(ring[:, None] - own[None]).transpose(2, 0, 1))
    if (away.min(axis=1) > APART).any():
        return None
    ring = own[away.argmin(axis=1)]
    return polygon(ring if shapely.LinearRing(ring).is_ccw else ring[::-1])


def _joined(lines: Sequence[FloatArray], kerf: float) -> list[FloatArray]:
    """Return middle lines with those that go on in each other, over a crossing, made one."""
    graph: nx.Graph = nx.Graph()
    graph.add_nodes_from(range(len(lines)))
    for i, j in combinations(range(len(lines)), 2):
        if _goes_on(lines[i], lines[j], kerf):
            graph.add_edge(i, j)
    found = []
    for some in sorted(map(sorted, nx.connected_components(graph))):
        points = np.vstack([lines[i] for i in some])
        along = lines[some[0]][1] - lines[some[0]][0]
        s = points @ along
        found.append(np.array([points[int(s.argmin())], points[int(s.argmax())]]))
    return found


def _goes_on(one: FloatArray, other: FloatArray, kerf: float) -> bool:
    along = (one[1] - one[0]) / np.hypot(*(one[1] - one[0]))
    off = other - one[0]
    if np.abs(off[:, 0] * along[1] - off[:, 1] * along[0]).max() > APART:
        return False
    s = off @ along
    size = float((one[1] - one[0]) @ along)
    return bool(min(s) <= size + 2.0 * kerf and max(s) >= -2.0 * kerf)


def _to_rim(line: FloatArray, around: Any) -> FloatArray | None:
    """Return a middle line extended to the torch's way round the outline; None where it meets more of it."""
    along = (line[1] - line[0]) / np.hypot(*(line[1] - line[0]))
    x0, y0, x1, y1 = around.bounds
    far = x1 - x0 + y1 - y0
    whole = shapely.LineString([line[0] - far * along, line[1] + far * along])
    inside = whole.intersection(around)
    if inside.geom_type != "LineString":
        return None
    ends = np.array(inside.coords)[[0, -1]]
    return ends if float((ends[1] - ends[0]) @ along) > 0.0 else ends[::-1]
