"""Edges drawn twice: lines on lines and arcs on arcs, whole or in part, reduced to one.

Two lines overlap where both ends of the shorter lie on the longer's line and they share a
length; arcs likewise on one circle.  What overlaps is replaced by its union.  Closed strokes
are never cut up: an open edge on top of one yields, and two of them on top of each other are
left to the comparison of whole contours.
"""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.base.errors import DrawingError
from cutplan.drawing.edges import Edges, edges_of
from cutplan.drawing.notes import Notes, at
from cutplan.drawing.strokes import FULL_TURN, Stroke, arc_rows
from cutplan.geometry import FloatArray

__all__ = ["without_overlaps"]

# Pairs of neighbours compared in one go, to bound the memory.
BATCH = 256
# More pairs of edges with overlapping boxes than this come from no drawing.
MOST_PAIRS = 10_000_000


def without_overlaps(strokes: Sequence[Stroke], tolerance: float, notes: Notes) -> list[Stroke]:
    """Return strokes in which no open edge lies on another edge.

    Parameters
    ----------
    strokes : sequence of Stroke
    tolerance : float
        How near edges must lie to count as one, mm.
    notes : Notes
        Takes what was dropped, with its place.
    """
    if all(stroke.closed for stroke in strokes):
        return list(strokes)
    edges = edges_of(strokes)
    pairs = _overlapping_pairs(edges, tolerance)
    if len(pairs) == 0:
        return list(strokes)
    removed: set[int] = set()
    added: list[Stroke] = []
    for group in _groups(pairs):
        open_ones = [e for e in group if not edges.closed[e]]
        rows = _arc_union(edges, group) if edges.bulge[group[0]] != 0.0 else _line_union(edges, group)
        first = strokes[edges.stroke[open_ones[0]]]
        removed.update(open_ones)
        # Arcs that together go all the way round come back as a closed circle.
        added += [Stroke(r, bool(r[-1, 2] != 0.0), first.source, first.layer) for r in rows]
        names = ", ".join(dict.fromkeys(str(strokes[edges.stroke[e]].source) for e in group[:4]))
        place = at(0.5 * (edges.start[open_ones[-1]] + edges.end[open_ones[-1]]))
        notes.add(
            "mended", "doubled edges", f"edges drawn on top of each other ({names}) were made one", place
        )
    return _kept(strokes, edges, removed) + added


def _boxes(edges: Edges, tolerance: float) -> FloatArray:
    """Return boxes that hold the edges with a margin, shape (n, 4); for arcs not the tightest."""
    # An arc of at most half a turn rises above its chord by half the chord times the bulge.
    rise = 0.5 * np.abs(edges.bulge) * edges.chord + tolerance
    low = np.minimum(edges.start, edges.end) - rise[:, None]
    high = np.maximum(edges.start, edges.end) + rise[:, None]
    return np.column_stack([low, high])


def _overlapping_pairs(edges: Edges, tolerance: float) -> NDArray[np.int64]:
    """Return pairs of edges that overlap, shape (k, 2), at least one of each pair open."""
    boxes = _boxes(edges, tolerance)
    shapes = shapely.box(*boxes.T)
    tree = shapely.STRtree(shapes)
    open_edges = np.flatnonzero(~edges.closed)
    found, total = [], 0
    for k in range(0, len(open_edges), BATCH):
        batch = open_edges[k : k + BATCH]
        i, j = tree.query(shapes[batch])
        i = batch[i]
        total += len(i)
        if total > MOST_PAIRS:
            raise DrawingError(
                "too many edges lie on top of each other", remedy="save the part alone in a file"
            )
        # A pair of open edges is met twice, one with a closed edge once.
        fresh = (i < j) | ((i > j) & edges.closed[j])
        i, j = i[fresh], j[fresh]
        lines = (edges.bulge[i] == 0.0) & (edges.bulge[j] == 0.0)
        arcs = (edges.bulge[i] != 0.0) & (edges.bulge[j] != 0.0)
        for kind, test in ((lines, _lines_overlap), (arcs, _arcs_overlap)):
            a, b = i[kind], j[kind]
            hit = test(edges, a, b, tolerance)
            found.append(np.column_stack([a[hit], b[hit]]))
    return np.vstack(found)


def _lines_overlap(
    edges: Edges, i: NDArray[np.int64], j: NDArray[np.int64], tolerance: float
) -> NDArray[np.bool_]:
    longer = edges.chord[i] >= edges.chord[j]
    base, other = np.where(longer, i, j), np.where(longer, j, i)
    origin = edges.start[base]
    along = edges.end[base] - origin
    length = edges.chord[base]
    unit = along / np.maximum(length, 1e-300)[:, None]
    p, q = edges.start[other] - origin, edges.end[other] - origin
    aside = np.maximum(
        np.abs(unit[:, 0] * p[:, 1] - unit[:, 1] * p[:, 0]),
        np.abs(unit[:, 0] * q[:, 1] - unit[:, 1] * q[:, 0]),
    )
    s, t = np.sum(unit * p, axis=1), np.sum(unit * q, axis=1)
    shared = np.minimum(np.maximum(s, t), length) - np.maximum(np.minimum(s, t), 0.0)
    return np.asarray((aside <= tolerance) & (shared > tolerance))


def _arcs_overlap(
    edges: Edges, i: NDArray[np.int64], j: NDArray[np.int64], tolerance: float
) -> NDArray[np.bool_]:
    longer = edges.radius[i] * edges.half_turn[i] >= edges.radius[j] * edges.half_turn[j]
    base, other = np.where(longer, i, j), np.where(longer, j, i)
    centre, radius = edges.centre[base], edges.radius[base]
    away = np.zeros(len(base))
    for point in (edges.start[other], edges.end[other], edges.middle[other]):
        away = np.maximum(away, np.abs(np.hypot(*(point - centre).T) - radius))
    ahead = edges.middle[base] - centre
    # Angles about the longer arc's centre, from its middle: a short arc of another radius
    # beside it is no longer there than it looks from that centre.
    middle, *ends = (
        np.arctan2(ahead[:, 0] * v[:, 1] - ahead[:, 1] * v[:, 0], np.sum(ahead * v, axis=1))
        for v in (p - centre for p in (edges.middle[other], edges.start[other], edges.end[other]))
    )
    s, t = (middle + np.remainder(end - middle + np.pi, FULL_TURN) - np.pi for end in ends)
    half = edges.half_turn[base]
    shared = (np.minimum(np.maximum(s, t), half) - np.maximum(np.minimum(s, t), -half)) * radius
    return np.asarray((away <= tolerance) & (shared > tolerance))


def _groups(pairs: NDArray[np.int64]) -> list[list[int]]:
    """Return edges linked by pairs, each group and the groups in order of the drawing."""
    import networkx

    graph = networkx.Graph(pairs.tolist())
    return sorted(sorted(int(e) for e in group) for group in networkx.connected_components(graph))


def _line_union(edges: Edges, group: list[int]) -> list[FloatArray]:
    """Return the lines that the open edges of a group cover and its closed ones do not."""
    base = max(group, key=lambda e: float(edges.chord[e]))
    unit = (edges.end[base] - edges.start[base]) / edges.chord[base]
    ends: dict[float, FloatArray] = {}
    spans: dict[bool, list[tuple[float, float]]] = defaultdict(list)
    for e in group:
        s, t = (float(np.dot(p - edges.start[base], unit)) for p in (edges.start[e], edges.end[e]))
        ends.setdefault(s, edges.start[e])
        ends.setdefault(t, edges.end[e])
        spans[bool(edges.closed[e])].append((min(s, t), max(s, t)))
    rest = _uncovered(_union(spans[False]), _union(spans[True]))
    return [np.array([[*ends[s], 0.0], [*ends[t], 0.0]]) for s, t in rest]


def _arc_union(edges: Edges, group: list[int]) -> list[FloatArray]:
    """Return the arcs that the open edges of a group cover and its closed ones do not.

    One that goes all the way round has a bulge at its last vertex too.
    """
    base = max(group, key=lambda e: float(edges.half_turn[e]))
    centre, radius = edges.centre[base], float(edges.radius[base])
    middles = edges.middle[group] - centre
    angles = np.arctan2(middles[:, 1], middles[:, 0])
    spans: dict[bool, list[tuple[float, float]]] = defaultdict(list)
    for e, angle in zip(group, angles.tolist(), strict=True):
        half = float(edges.half_turn[e])
        spans[bool(edges.closed[e])].append((angle - half, angle + half))
    turns = (-FULL_TURN, 0.0, FULL_TURN)
    cover = [(low + turn, high + turn) for low, high in _union_round(spans[True]) for turn in turns]
    rest = _uncovered(_union_round(spans[False]), cover)
    place = (float(centre[0]), float(centre[1]))
    return [arc_rows(place, radius, low, high - low) for low, high in rest]


def _union(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    result: list[tuple[float, float]] = []
    for low, high in sorted(spans):
        if result and low <= result[-1][1]:
            result[-1] = (result[-1][0], max(result[-1][1], high))
        else:
            result.append((low, high))
    return result


def _union_round(spans: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return the union of spans of angle, starting within one turn from −π."""
    turned = [(low - FULL_TURN * math.floor((low + math.pi) / FULL_TURN), high - low) for low, high in spans]
    merged = _union([(low, low + width) for low, width in turned])
    if len(merged) > 1 and merged[-1][1] - FULL_TURN >= merged[0][0]:
        low, high = merged.pop()
        # The last span reaches around to the first ones.
        while merged and merged[0][0] <= high - FULL_TURN:
            high = max(high, merged.pop(0)[1] + FULL_TURN)
        merged.append((low, high))
    return [(low, min(high, low + FULL_TURN)) for low, high in merged]


def _uncovered(
    spans: list[tuple[float, float]], cover: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    """Return what of the spans lies outside the cover."""
    rest = spans
    for low, high in cover:
        rest = [
            piece
            for s, t in rest
            for piece in ((s, min(t, low)), (max(s, high), t))
            if piece[1] - piece[0] > 1e-9
        ]
    return rest


def _kept(strokes: Sequence[Stroke], edges: Edges, removed: set[int]) -> list[Stroke]:
    """Return the strokes without the removed edges, cut where these were."""
    gone: dict[int, set[int]] = defaultdict(set)
    for e in removed:
        gone[int(edges.stroke[e])].add(int(edges.index[e]))
    result: list[Stroke] = []
    for k, stroke in enumerate(strokes):
        if k not in gone:
            result.append(stroke)
            continue
        bounds = [-1, *sorted(gone[k]), len(stroke.rows) - 1]
        for before, after in itertools.pairwise(bounds):
            if after - before > 1:
                rows = stroke.rows[before + 1 : after + 1].copy()
                rows[-1, 2] = 0.0
                result.append(Stroke(rows, False, stroke.source, stroke.layer))
    return result
