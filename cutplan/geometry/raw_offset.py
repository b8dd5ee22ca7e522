"""First half of the offset: parallel curves, their cuts, and which pieces survive.

Every point of a true offset has its nearest point of the contour either within a segment,
and then lies on that segment's parallel curve, or at a vertex, and then lies on the arc
about it between the two neighbours' normals.  So the offset is a selection of pieces of
these raw curves: those that keep the distance from the whole contour (pair-wise offset and
trimming, Choi and Park 1999, "A pair-wise offset algorithm for 2D point-sequence curve";
Liu, Yong, Zheng and Sun 2007, "An offset algorithm for polyline curves").
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry.index import (
    COS_HALF,
    CX,
    CY,
    LENGTH,
    MX,
    MY,
    SWEEP,
    X0,
    X1,
    Y0,
    Y1,
    R,
    SegmentIndex,
)
from cutplan.geometry.loops import Pieces
from cutplan.geometry.path import FloatArray
from cutplan.geometry.proximity import meetings

__all__ = ["raw_curves", "surviving_pieces"]

# Directions that differ from a full reversal by less than this, rad, are told apart by
# curvature.
_REVERSAL = 1e-9
# A piece whose distance from the contour is right to this, mm, is beyond doubt; coordinates
# and radii add their own rounding (four units in the last place).
_SURE = 1e-9
_ROUNDING = 4.0 * np.finfo(np.float64).eps


def raw_curves(table: FloatArray, distance: float, tolerance: float) -> FloatArray:
    """Return the parallel curves of a closed contour's segments and the arcs about its vertices.

    Parameters
    ----------
    table : ndarray, shape (n, 12)
        Segments of a counter-clockwise contour, none shorter than the tolerance.
    distance : float
        mm, positive to the right of the travel, outwards.
    tolerance : float
        Radii and arcs up to this, mm, vanish.

    Returns
    -------
    ndarray, shape (m, 12)
        In the order and direction of the contour.
    """
    first, last = _end_directions(table)
    arcs = table[:, R] > 0.0
    radius = table[:, R] + np.where(arcs, distance * np.sign(table[:, SWEEP]), 0.0)
    turn = _turns(table, first, last)
    segment = np.flatnonzero(~arcs | (radius > tolerance))
    vertex = np.flatnonzero(turn * distance > tolerance)
    # A segment's curve comes before the arc about its end.
    order = np.argsort(np.concatenate([2 * segment, 2 * vertex + 1]), kind="stable")
    curves = table[segment]
    curves[:, X0 : Y0 + 1] += distance * _right_of(first[segment])
    curves[:, X1 : Y1 + 1] += distance * _right_of(last[segment])
    curves[:, R] = radius[segment]
    curves[:, LENGTH] = np.where(arcs[segment], radius[segment] * np.abs(curves[:, SWEEP]), curves[:, LENGTH])
    joins = _arcs_about(table[vertex, X1 : Y1 + 1], last[vertex], turn[vertex], distance)
    return np.concatenate([curves, joins])[order]


def surviving_pieces(
    source: SegmentIndex, raw: FloatArray, distance: float, tolerance: float
) -> tuple[Pieces, FloatArray]:
    """Cut raw curves where they meet, and keep the pieces at the distance from the contour.

    Pieces whose middle keeps the distance are sure; those whose middle falls short of it by
    up to the tolerance may be touches, and are for their neighbours to decide.

    Returns
    -------
    pieces : Pieces
    starts : ndarray, shape (n, 2)
        Their first points.
    """
    index = SegmentIndex(raw, np.arange(len(raw)))
    places, fractions, pairs = meetings(index, index, same=True, closed=True, tolerance=tolerance)
    labels, ends = _cut_and_judge(source, raw, (places, fractions, pairs), distance, tolerance)
    # A cut may stand off by the tolerance from both curves that it cuts.
    nodes = _clusters(np.concatenate([ends[:, 2:4], ends[:, 4:6]]), 3.0 * tolerance)
    tail, head = nodes[: len(ends)], nodes[len(ends) :]
    return Pieces(tail, head, labels[:, 1] == 1, raw, labels[:, 0], ends[:, 0], ends[:, 1]), ends[:, 2:4]


def _end_directions(table: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Unit tangents at the starts and at the ends of segments."""
    chord = table[:, X1 : Y1 + 1] - table[:, X0 : Y0 + 1]
    chord = chord / np.hypot(chord[:, 0], chord[:, 1])[:, None]
    # An arc runs square to the spoke at its middle.
    middle = np.sign(table[:, SWEEP, None]) * np.column_stack([-table[:, MY], table[:, MX]])
    way = np.where(table[:, R, None] > 0.0, middle, chord)
    half = 0.5 * table[:, SWEEP]
    return _turned(way, -half), _turned(way, half)


def _turned(vectors: FloatArray, angle: FloatArray) -> FloatArray:
    c, s = np.cos(angle), np.sin(angle)
    return np.column_stack([c * vectors[:, 0] - s * vectors[:, 1], s * vectors[:, 0] + c * vectors[:, 1]])


def _right_of(ways: FloatArray) -> FloatArray:
    return np.column_stack([ways[:, 1], -ways[:, 0]])


def _turns(table: FloatArray, first: FloatArray, last: FloatArray) -> FloatArray:
    """Signed turns, rad, from each segment's end to the start of the next."""
    following = np.roll(first, -1, axis=0)
    cross = last[:, 0] * following[:, 1] - last[:, 1] * following[:, 0]
    dot = np.sum(last * following, axis=1)
    # In a cusp the side is decided by which of the two curves bends away.
    bend = table[:, SWEEP] / table[:, LENGTH]
    cusp = np.where(bend + np.roll(bend, -1) > 0.0, -math.pi, math.pi)
    return np.where((dot < 0.0) & (np.abs(cross) < _REVERSAL), cusp, np.arctan2(cross, dot))


def _arcs_about(vertices: FloatArray, ways: FloatArray, turn: FloatArray, distance: float) -> FloatArray:
    """Arcs about vertices from the normal of the way in to the normal of the way out."""
    arcs = np.zeros((len(vertices), 12))
    arcs[:, X0 : Y0 + 1] = vertices + distance * _right_of(ways)
    arcs[:, X1 : Y1 + 1] = vertices + distance * _right_of(_turned(ways, turn))
    arcs[:, CX : CY + 1] = vertices
    arcs[:, R] = abs(distance)
    arcs[:, SWEEP] = turn
    arcs[:, MX : MY + 1] = math.copysign(1.0, distance) * _right_of(_turned(ways, 0.5 * turn))
    arcs[:, COS_HALF] = np.cos(0.5 * turn)
    arcs[:, LENGTH] = np.abs(distance * turn)
    return arcs


def _cut_and_judge(
    source: SegmentIndex,
    raw: FloatArray,
    met: tuple[FloatArray, FloatArray, NDArray[np.int64]],
    distance: float,
    tolerance: float,
) -> tuple[NDArray[np.int64], FloatArray]:
    """Return the pieces of raw curves between their meetings that keep the distance.

    See `cutplan.geometry.kernels.cut_and_judge` for the columns.
    """
    from cutplan.geometry import kernels

    size = abs(distance)
    rounding = _ROUNDING * float(np.abs(raw[:, : R + 1]).max())
    sure = max(size - min(_SURE + rounding, 0.5 * tolerance), 0.0)
    doubtful = max(size - tolerance, 0.0)
    pairs = met[2].ravel()
    slots = np.concatenate([[0], np.cumsum(np.bincount(pairs, minlength=len(raw)))])
    room = len(raw) + len(pairs)
    labels, ends = np.empty((room, 2), dtype=np.int64), np.empty((room, 6))
    found = kernels.cut_and_judge(
        raw, *met, source.table, source.tree, sure * sure, doubtful * doubtful, tolerance,
        slots, np.argsort(pairs, kind="stable"), labels, ends, kernels.new_stack(),
    )  # fmt: skip
    return labels[:found], ends[:found]


def _clusters(points: FloatArray, tolerance: float) -> NDArray[np.int64]:
    """Return for each point the lowest index of the points that coincide with it."""
    # Along a slanting direction the vertices of upright and level drawings seldom coincide.
    key = points @ np.array([math.cos(1.0), math.sin(1.0)])
    order = np.argsort(key)
    label = np.arange(len(points))
    linked = []
    for lag in range(1, len(points)):
        a, b = order[:-lag], order[lag:]
        near = key[b] - key[a] <= tolerance
        if not near.any():
            break
        a, b = a[near], b[near]
        linked.append(np.column_stack([a, b])[np.hypot(*(points[a] - points[b]).T) <= tolerance])
    if not linked:
        return label
    pairs = np.vstack(linked)
    while True:
        lower = np.minimum(label[pairs[:, 0]], label[pairs[:, 1]])
        before = label.copy()
        np.minimum.at(label, pairs[:, 0], lower)
        np.minimum.at(label, pairs[:, 1], lower)
        if np.array_equal(label, before):
            return label
