"""How long a machine with limited acceleration takes over a chain of moves.

Terminology
-----------
block : a move with a length: a line, an arc, a rapid.
node : the place between two blocks; the first and the last block have one outside too.
stop : a node where the speed is zero: a switch, a dwell, the start or the end; a switch that puts
    the arc out between two feed moves is none.

The speed in a corner comes from the deviation that the control allows itself: the circle
that touches both blocks and passes the corner within that deviation is run at √(a·r).  An
arc's own radius limits its speed alike.  Look-ahead is one pass backward and one forward
over the nodes, then each block is a trapezoid of speed over time.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.control.motions import ARC_CCW, ARC_CW, DWELL, LINE, STOP, SWITCH, Motions
from cutplan.geometry import FloatArray, Segments

__all__ = ["block_lengths", "block_times", "segment_times"]

# Blocks shorter than this, mm, are no moves: no control resolves them.
LEAST_LENGTH = 1e-9
# Cosines of half-turn angles nearer to 1 than this count as tangent (about 1e-6 rad).
TANGENT = 1e-12


class _Blocks(NamedTuple):
    """Moves one after the other; `stands` tells before which of them the machine stands still."""

    length: FloatArray
    speed: FloatArray
    radius: FloatArray
    leaving: FloatArray
    arriving: FloatArray
    stands: NDArray[np.bool_]


def block_lengths(motions: Motions) -> FloatArray:
    """Return the length of each row along its path, mm; 0 for dwells and switches.

    Parameters
    ----------
    motions : Motions

    Returns
    -------
    ndarray, shape (n,)
    """
    step = motions.end - motions.start
    flat = np.where(
        _is_arc(motions), np.abs(motions.turns) * _radii(motions), np.hypot(step[:, 0], step[:, 1])
    )
    return np.asarray(np.where(_stands(motions), 0.0, np.hypot(flat, step[:, 2])))


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
    start, end, arc = motions.start[rows], motions.end[rows], _is_arc(motions)[rows]
    # Rows between two blocks that are no blocks are dwells and switches, or moves of no length.
    still = _stands(motions) & ~_out_on_the_way(motions)
    stops_before = np.concatenate([[0], np.cumsum(still)])
    stands = np.concatenate([[True], stops_before[rows[1:]] > stops_before[rows[:-1]]])
    leaving, arriving = _directions(start, end, motions.centre[rows], motions.turns[rows], arc)
    radius = np.where(arc, _radii(motions)[rows], np.inf)
    blocks = _Blocks(lengths[rows], speeds[rows], radius, leaving, arriving, stands)
    seconds[rows] = _times(blocks, acceleration, corner_deviation)
    return seconds


def segment_times(
    segments: Segments, speeds: FloatArray, acceleration: float, corner_deviation: float
) -> FloatArray:
    """Return the seconds of each segment of a path that is run from rest to rest.

    Parameters
    ----------
    segments : Segments
        In the order of travel, each from where the one before ends.
    speeds : ndarray, shape (n,)
        mm/s.
    acceleration : float
        mm/s².
    corner_deviation : float
        Deviation that the control allows itself at corners, mm.

    Returns
    -------
    ndarray, shape (n,)
        0 for segments without length.
    """
    seconds = np.zeros(len(segments))
    rows = np.flatnonzero(segments.length > LEAST_LENGTH)
    if len(rows) == 0:
        return seconds
    flat = np.zeros((len(rows), 1))
    start, end = np.hstack([segments.start[rows], flat]), np.hstack([segments.end[rows], flat])
    leaving, arriving = _directions(
        start, end, segments.centre[rows], segments.sweep[rows], segments.is_arc[rows]
    )
    stands = np.arange(len(rows)) == 0
    blocks = _Blocks(segments.length[rows], speeds[rows], segments.radius[rows], leaving, arriving, stands)
    seconds[rows] = _times(blocks, acceleration, corner_deviation)
    return seconds


def _is_arc(motions: Motions) -> NDArray[np.bool_]:
    return np.asarray((motions.kind == ARC_CW) | (motions.kind == ARC_CCW))


def _stands(motions: Motions) -> NDArray[np.bool_]:
    return np.asarray((motions.kind == DWELL) | (motions.kind == SWITCH) | (motions.kind == STOP))


def _out_on_the_way(motions: Motions) -> NDArray[np.bool_]:
    """Return which switches put the arc out between two feed moves, which the torch runs through."""
    feeds = (motions.kind == LINE) | _is_arc(motions)
    out = np.zeros(len(motions), dtype=np.bool_)
    lit_move = feeds[:-2] & motions.torch[:-2]
    out[1:-1] = lit_move & (motions.kind[1:-1] == SWITCH) & ~motions.torch[1:-1] & feeds[2:]
    return out


def _radii(motions: Motions) -> FloatArray:
    return np.asarray(np.hypot(*(motions.start[:, :2] - motions.centre).T))


def _directions(
    start: FloatArray, end: FloatArray, centre: FloatArray, turns: FloatArray, arc: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    """Return the unit direction at each block's start and end, shape (blocks, 3)."""
    leaving = end - start
    arriving = leaving.copy()
    for place, direction in ((start, leaving), (end, arriving)):
        # The tangent of an arc, scaled by the signed angle to the arc's length in the plane.
        spoke = place[arc, :2] - centre[arc]
        direction[arc, 0] = -spoke[:, 1] * turns[arc]
        direction[arc, 1] = spoke[:, 0] * turns[arc]
    for direction in (leaving, arriving):
        direction /= np.linalg.norm(direction, axis=1, keepdims=True)
    return leaving, arriving


def _times(blocks: _Blocks, acceleration: float, corner_deviation: float) -> FloatArray:
    """Return the seconds of each block: no faster than its feed, and than √(a·r) on arcs."""
    limit = np.minimum(blocks.speed**2, acceleration * blocks.radius)
    node = _node_limits(blocks, limit, acceleration, corner_deviation)
    node = _looked_ahead(node, blocks.length, acceleration)
    return _trapezoid_times(node[:-1], node[1:], blocks.length, limit, acceleration)


def _node_limits(
    blocks: _Blocks, limit: FloatArray, acceleration: float, corner_deviation: float
) -> FloatArray:
    """Return the squared speed that each node may be passed with, shape (blocks + 1,)."""
    cosine = np.clip(np.sum(blocks.arriving[:-1] * blocks.leaving[1:], axis=1), -1.0, 1.0)
    half_cosine = np.sqrt((1.0 + cosine) / 2.0)
    tangent = np.sqrt((1.0 - cosine) / 2.0) / np.maximum(half_cosine, TANGENT)
    with np.errstate(divide="ignore"):
        by_deviation = corner_deviation * half_cosine / (1.0 - half_cosine)
        # The rounding circle may use half of each block: this is also what makes the
        # many short chords of a curve as slow as the curve itself.
        by_length = np.minimum(blocks.length[:-1], blocks.length[1:]) / 2.0 / tangent
    radius = np.minimum(by_deviation, by_length)
    corner = np.where(1.0 - half_cosine > TANGENT, acceleration * radius, np.inf)
    inner = np.minimum(corner, np.minimum(limit[:-1], limit[1:]))
    inner[blocks.stands[1:]] = 0.0
    return np.concatenate([[0.0], inner, [0.0]])


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
