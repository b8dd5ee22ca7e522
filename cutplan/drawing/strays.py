"""Open strokes that may be left out, and those that may not: they touch or nearly close a contour.

Terminology
-----------
stray : open chains that hang together, by ends that meet or nearly meet.
near : within a reach well above the gap tolerance; ends that near may be one in the drawer's mind.

A stray is left out only where no way of closing it would change a part: it runs into no contour,
goes round nothing, and neither comes back to its start nor to a contour at both of its ends.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.drawing.chain import Chain, Chains, refuse_open
from cutplan.drawing.contours import Contours
from cutplan.drawing.notes import Notes, at
from cutplan.geometry import FloatArray, Path, chord_points

__all__ = ["sort_strays"]

# Ends are near each other within this, mm, or ten times the gap tolerance.
NEAR = 1.0
# A chain whose ends are nearer than this share of its length may be a contour left open.
NEARLY_CLOSED = 1.0 / 3.0
# What would enclose less than this, mm², is no part: 10 mm square.
SMALLEST_AREA = 100.0
# Chord error of the views that distances are taken on, mm.
VIEW_TOLERANCE = 0.05


def sort_strays(
    chains: Chains, contours: Contours, frames: Sequence[Chain], gap: float, notes: Notes, *, leave_out: bool
) -> tuple[list[Chain], list[Chain]]:
    """Return the open chains that are left out, and those that are refused.

    Parameters
    ----------
    chains : Chains
    contours : Contours
        Closed ones, frames not among them.
    frames : sequence of Chain
        Frames that are left out; lines that hang on these go with them.
    gap : float
        Widest gap that is closed, mm.
    notes : Notes
        Takes what is left out and what is refused.
    leave_out : bool
        Whether strays may be left out at all.
    """
    open_ones = [*chains.loose, *chains.branching]
    if not open_ones:
        return [], []
    if not leave_out and not frames:
        notes.extend(chains.junctions)
        refuse_open(chains.loose, chains.branching, gap, notes)
        return [], open_ones
    reasons = _reasons(open_ones, contours, max(NEAR, 10.0 * gap), max(gap, VIEW_TOLERANCE))
    if not leave_out:
        on_frames = _on_frames(open_ones, frames)
        reasons = [
            reason if reason or on else "is open" for reason, on in zip(reasons, on_frames, strict=True)
        ]
    dropped = [chain for chain, reason in zip(open_ones, reasons, strict=True) if not reason]
    kept = [(chain, reason) for chain, reason in zip(open_ones, reasons, strict=True) if reason]
    for chain in dropped:
        message = f"the open stroke of {chain.label}, {_length(chain):.1f} mm long, was left out"
        notes.add("left out", "strays", message, at(chain.rows[0]))
    if leave_out:
        ends = [at(chain.rows[side]) for chain, _ in kept for side in (0, -1)]
        notes.extend([each for each in chains.junctions if each.place in ends])
        for chain, reason in kept:
            remedy = "close the contour or delete the stroke; it is too near to a part to be left out"
            notes.add(
                "refused",
                "open contours",
                f"the open stroke of {chain.label} {reason}",
                at(chain.rows[-1]),
                remedy,
            )
    elif kept:
        notes.extend(chains.junctions)
        refuse_open([chain for chain, _ in kept], dropped, gap, notes)
    return dropped, [chain for chain, _ in kept]


def _length(chain: Chain) -> float:
    return float(Path(chain.rows, chain.closed).segments.length.sum())


def _views(chains: Sequence[Chain]) -> NDArray[Any]:
    lines = [chord_points(Path(chain.rows, chain.closed), VIEW_TOLERANCE) for chain in chains]
    closed = [
        np.vstack([line, line[:1]]) if c.closed else line for line, c in zip(lines, chains, strict=True)
    ]
    return np.array([shapely.LineString(line) for line in closed], dtype=object)


def _reasons(chains: list[Chain], contours: Contours, near: float, touch: float) -> list[str]:
    """Return for each open chain why it may not be left out; empty where it may."""
    views = _views(chains)
    ends = np.array([(c.rows[0, :2], c.rows[-1, :2]) for c in chains])
    reasons = [""] * len(chains)
    for k in _round_trips(ends, views, near):
        reasons[k] = "nearly closes a contour"
    if len(contours):
        outlines = _views(contours.chains)
        tree = shapely.STRtree(outlines)
        for k in np.unique(tree.query(views, predicate="dwithin", distance=touch)[0]).tolist():
            reasons[k] = "touches a contour"
        first, last = (
            tree.query(shapely.points(ends[:, side]), predicate="dwithin", distance=near)[0]
            for side in (0, 1)
        )
        for k in np.intersect1d(first, last).tolist():
            reasons[k] = reasons[k] or "comes near a contour at both ends"
    for k, reason in enumerate(reasons):
        if not reason:
            reasons[k] = _closing(chains[k], ends[k], contours)
    faulty = [k for k, reason in enumerate(reasons) if reason]
    if faulty:
        beside = shapely.STRtree(views[faulty]).query(views, predicate="dwithin", distance=touch)[0]
        for k in np.unique(beside).tolist():
            reasons[k] = reasons[k] or "touches a contour that is open"
    return reasons


def _round_trips(ends: FloatArray, views: NDArray[Any], near: float) -> set[int]:
    """Return the chains that lie on a way round, where ends near each other are taken as one.

    Only a way round that encloses enough for a part counts: arrowheads do not.
    """
    import networkx

    flat = ends.reshape(-1, 2)
    places = shapely.points(flat)
    a, b = shapely.STRtree(places).query(places, predicate="dwithin", distance=near)
    together = networkx.utils.UnionFind(range(len(flat)))
    for i, j in zip(a[a < b].tolist(), b[a < b].tolist(), strict=True):
        together.union(i, j)
    graph = networkx.MultiGraph()
    for k in range(len(ends)):
        graph.add_edge(together[2 * k], together[2 * k + 1], key=k)
    bridges = set()
    simple = networkx.Graph(graph)
    simple.remove_edges_from(list(networkx.selfloop_edges(simple)))
    for u, v in networkx.bridges(simple):
        if graph.number_of_edges(u, v) == 1:
            bridges |= set(graph[u][v])
    round_about = [k for k in range(len(ends)) if k not in bridges]
    ring = networkx.Graph()
    ring.add_nodes_from(round_about)
    for _, incident in graph.adjacency():
        here = [k for keys in incident.values() for k in keys if k not in bridges]
        ring.add_edges_from(itertools.pairwise(here))
    found: set[int] = set()
    for members in networkx.connected_components(ring):
        hull = shapely.GeometryCollection([views[k] for k in members]).convex_hull
        if hull.area >= SMALLEST_AREA:
            found |= members
    return found


def _closing(chain: Chain, ends: FloatArray, contours: Contours) -> str:
    """Return what closing one chain by a straight line would do; empty where that is no part."""
    view = chord_points(Path(chain.rows, False), VIEW_TOLERANCE)
    if len(view) < 3:
        return ""
    around = shapely.make_valid(shapely.Polygon(view))
    if len(contours) and shapely.contains_xy(around, *contours.edges.start[contours.firsts].T).any():
        return "goes round a contour"
    small = around.area < SMALLEST_AREA and not _within_a_part(chain, contours)
    gap = math.dist(*ends.tolist())
    return "" if small or gap > NEARLY_CLOSED * _length(chain) else "nearly closes a contour"


def _within_a_part(chain: Chain, contours: Contours) -> bool:
    if len(contours) == 0:
        return False
    (x, y), boxes = chain.rows[0, :2], contours.boxes
    return bool(((boxes[:, 0] < x) & (boxes[:, 2] > x) & (boxes[:, 1] < y) & (boxes[:, 3] > y)).any())


def _on_frames(chains: list[Chain], frames: Sequence[Chain]) -> list[bool]:
    """Return which chains touch a frame, or hang on one that does."""
    import networkx

    views = _views([*chains, *frames])
    a, b = shapely.STRtree(views).query(views, predicate="dwithin", distance=VIEW_TOLERANCE)
    graph = networkx.Graph()
    graph.add_nodes_from(range(len(views)))
    graph.add_edges_from(zip(a.tolist(), b.tolist(), strict=True))
    framed: set[int] = set()
    for k in range(len(chains), len(views)):
        framed |= networkx.node_connected_component(graph, k)
    return [k in framed for k in range(len(chains))]
