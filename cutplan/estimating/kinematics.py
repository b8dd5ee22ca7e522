"""How long a machine with limited acceleration takes over a chain of moves.

Terminology
-----------
block : a move of the program with a length: a line, an arc, a rapid.
node : the place between two blocks; the first and the last block have one outside too.
stop : a node where the speed is zero: a switch, a dwell, the start or the end.

The speed in a corner comes from the deviation that the control allows itself: the circle
that touches both blocks and passes the corner within that deviation is run at √(a·r).  An
arc's own radius limits its speed alike.  Look-ahead is one pass backward and one forward
over the nodes, then each block is a trapezoid of speed over time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutplan.control import ARC_CCW, ARC_CW, DWELL, SWITCH, Motions
from cutplan.geometry import FloatArray

__all__ = ["block_lengths", "block_times"]

# Blocks shorter than this, mm, are no moves: no control resolves them.
LEAST_LENGTH = 1e-9
# Cosines of half-turn angles nearer to 1 than this count as tangent (about 1e-6 rad).
TANGENT = 1e-12


def block_lengths(motions: Motions) -> FloatArray:
    """Return the length of each row along its path, mm; 0 for dwells and switches."""
    step = motions.end - motions.start
    radius = np.hypot(*(motions.start[:, :2] - motions.centre).T)
    flat = np.where(_is_arc(motions), np.abs(motions.turns) * radius, np.hypot(step[:, 0], step[:, 1]))
    moves = (motions.kind != DWELL) & (motions.kind != SWITCH)
    return np.asarray(np.where(moves, np.hypot(flat, step[:, 2]), 0.0))


def block_times(
    motions: Motions, speeds: FloatArray, acceleration: float, corner_deviation: float
) -> FloatArray:
    """Return the seconds that each row moves.

    Parameters
    ----------
    motions : Motions
    speeds : ndarray, shape (n,)
        Feed or rapid speed of each row, mm/s; rows that do not move are ignored.
    acceleration : float
        mm/s².
    corner_deviation : float
        Deviation that the control allows itself at corners, mm.

    Returns
    -------
    ndarray, shape (n,)
        0 for dwells, switches and moves without length.
    """
    lengths = block_lengths(motions)
    rows = np.flatnonzero(lengths > LEAST_LENGTH)
    seconds = np.zeros(len(motions))
    if len(rows) == 0:
        return seconds
    length = lengths[rows]
    limit = _block_limits(motions, rows, speeds, acceleration)
    node = _node_limits(motions, rows, length, limit, acceleration, corner_deviation)
    node = _looked_ahead(node, length, acceleration)
    seconds[rows] = _trapezoid_times(node[:-1], node[1:], length, limit, acceleration)
    return seconds


def _is_arc(motions: Motions) -> NDArray[np.bool_]:
    return np.asarray((motions.kind == ARC_CW) | (motions.kind == ARC_CCW))


def _block_limits(
    motions: Motions, rows: NDArray[np.intp], speeds: FloatArray, acceleration: float
) -> FloatArray:
    """Return the squared speed limit of each block: its feed, and √(a·r) on arcs."""
    square = speeds[rows] ** 2
    radius = np.hypot(*(motions.start[rows, :2] - motions.centre[rows]).T)
    return np.asarray(np.where(_is_arc(motions)[rows], np.minimum(square, acceleration * radius), square))


def _node_limits(
    motions: Motions,
    rows: NDArray[np.intp],
    length: FloatArray,
    limit: FloatArray,
    acceleration: float,
    corner_deviation: float,
) -> FloatArray:
    """Return the squared speed that each node may be passed with, shape (blocks + 1,)."""
    leaving, arriving = _directions(motions, rows)
    cosine = np.clip(np.sum(arriving[:-1] * leaving[1:], axis=1), -1.0, 1.0)
    half_cosine = np.sqrt((1.0 + cosine) / 2.0)
    tangent = np.sqrt((1.0 - cosine) / 2.0) / np.maximum(half_cosine, TANGENT)
    with np.errstate(divide="ignore"):
        by_deviation = corner_deviation * half_cosine / (1.0 - half_cosine)
        # The rounding circle may use half of each block: this is also what makes the
        # many short chords of a curve as slow as the curve itself.
        by_length = np.minimum(length[:-1], length[1:]) / 2.0 / tangent
    radius = np.minimum(by_deviation, by_length)
    corner = np.where(1.0 - half_cosine > TANGENT, acceleration * radius, np.inf)
    inner = np.minimum(corner, np.minimum(limit[:-1], limit[1:]))
    # Rows between two blocks that are no blocks are dwells and switches, or moves of no length.
    still = (motions.kind == DWELL) | (motions.kind == SWITCH)
    stops_before = np.concatenate([[0], np.cumsum(still)])
    inner[stops_before[rows[1:]] > stops_before[rows[:-1]]] = 0.0
    return np.concatenate([[0.0], inner, [0.0]])


def _directions(motions: Motions, rows: NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
    """Return the unit direction at each block's start and end, shape (blocks, 3)."""
    start, end = motions.start[rows], motions.end[rows]
    leaving = end - start
    arriving = leaving.copy()
    arc = _is_arc(motions)[rows]
    turns = motions.turns[rows][arc]
    for place, direction in ((start, leaving), (end, arriving)):
        # The tangent of an arc, scaled by the signed angle to the arc's length in the plane.
        spoke = place[arc, :2] - motions.centre[rows][arc]
        direction[arc, 0] = -spoke[:, 1] * turns
        direction[arc, 1] = spoke[:, 0] * turns
    for direction in (leaving, arriving):
        direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    return leaving, arriving


def _looked_ahead(node: FloatArray, length: FloatArray, acceleration: float) -> FloatArray:
    """Return squared node speeds that can be braked to and reached.

    Backward, v²ᵢ = min(v²ᵢ, v²ᵢ₊₁ + 2aL): with S the running sum of 2aL this is a running
    minimum of v² + S from the end, and forward alike.
    """
    run = np.concatenate([[0.0], np.cumsum(2.0 * acceleration * length)])
    braked = np.minimum.accumulate((node + run)[::-1])[::-1] - run
    return np.asarray(np.minimum.accumulate(braked - run) + run).clip(min=0.0)


def _trapezoid_times(
    entry: FloatArray, leaving: FloatArray, length: FloatArray, limit: FloatArray, acceleration: float
) -> FloatArray:
    """Return the seconds of each block from squared speeds at its ends and its limit."""
    peak = np.minimum(limit, (entry + leaving) / 2.0 + acceleration * length)
    v_in, v_out, v_peak = np.sqrt(entry), np.sqrt(leaving), np.sqrt(peak)
    ramps = (2.0 * peak - entry - leaving) / (2.0 * acceleration)
    return np.asarray((2.0 * v_peak - v_in - v_out) / acceleration + np.maximum(length - ramps, 0.0) / v_peak)
