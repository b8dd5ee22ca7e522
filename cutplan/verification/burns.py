"""The torch's and the marker's runs in a program: from where each is switched on to off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutplan.control import DWELL, RAPID, STOP, SWITCH, Motions
from cutplan.geometry import FloatArray
from cutplan.verification.strokes import BoolArray, IntArray, Strokes

__all__ = ["Burn", "Runs", "find_runs", "strokes_in", "upright_s"]


@dataclass(frozen=True, eq=False)
class Burn:
    """One run of a switch.

    Attributes
    ----------
    first, last : int
        Its rows of motion, `last` excluded.
    line : int
        Line of the program that switches on.
    pierce : tuple of float
        Where it is switched on.
    strokes : slice
        Its rows in `Runs.strokes`.
    preheat_s, hot_s, pierce_s : float
        How long the torch stands at that place before the switch, how much of that with the
        preheat flames on, and behind the switch before the first move over the plate.  A move
        up or down is standing too.
    """

    first: int
    last: int
    line: int
    pierce: tuple[float, float]
    strokes: slice
    preheat_s: float
    hot_s: float
    pierce_s: float


@dataclass(frozen=True, eq=False)
class Runs:
    """All runs of a switch in order, with all their strokes in one table.

    Attributes
    ----------
    burns : tuple of Burn
    strokes : Strokes
        Moves that have a length.
    owner : ndarray of int64, shape (n,)
        Burn of each stroke.
    row : ndarray of int64, shape (n,)
        Row of motion of each stroke.
    """

    burns: tuple[Burn, ...]
    strokes: Strokes
    owner: IntArray
    row: IntArray


def find_runs(motions: Motions, on: BoolArray) -> Runs:
    """Return the runs of a switch that is on in the rows given."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], on, [False]]).astype(np.int8)))
    firsts, lasts = edges[0::2], edges[1::2]
    moves = on & (motions.kind < DWELL)
    flat = motions.end[:, :2] - motions.start[:, :2]
    moves &= (np.abs(flat).sum(axis=1) > 0.0) | (motions.turns != 0.0)
    row = np.flatnonzero(moves)
    places = np.searchsorted(row, np.concatenate([firsts, lasts])).reshape(2, -1)
    burns = tuple(
        _burn(motions, int(first), int(last), slice(int(a), int(b)))
        for first, last, a, b in zip(firsts, lasts, places[0], places[1], strict=True)
    )
    owner = np.repeat(np.arange(len(burns)), [b.strokes.stop - b.strokes.start for b in burns])
    return Runs(burns, strokes_in(motions, row), owner.astype(np.int64), row)


def _burn(motions: Motions, first: int, last: int, strokes: slice) -> Burn:
    x, y = motions.start[first, :2].tolist()
    return Burn(
        first=first,
        last=last,
        line=int(motions.line[first]),
        pierce=(x, y),
        strokes=strokes,
        preheat_s=_standing(motions, range(first - 1, -1, -1), dwells_only=True),
        hot_s=_standing(motions, range(first - 1, -1, -1), dwells_only=True, hot=True),
        pierce_s=_standing(motions, range(first, last)),
    )


def _standing(motions: Motions, rows: range, *, dwells_only: bool = False, hot: bool = False) -> float:
    """Return how long the torch stands from the first of some rows on until it moves over the plate."""
    seconds = 0.0
    for row in rows:
        if motions.kind[row] == DWELL:
            seconds += float(motions.dwell_s[row]) if motions.flame[row] or not hot else 0.0
        elif motions.kind[row] in (SWITCH, STOP):
            continue
        elif (motions.start[row, :2] != motions.end[row, :2]).any() or motions.turns[row] != 0.0:
            break
        elif not dwells_only:
            seconds += upright_s(motions, row)
    return seconds


def upright_s(motions: Motions, row: int) -> float:
    """Return how long a move up or down takes; a rapid none."""
    way = abs(float(motions.end[row, 2] - motions.start[row, 2]))
    feed = float(motions.feed_mm_min[row])
    return 60.0 * way / feed if feed > 0.0 else 0.0


def strokes_in(motions: Motions, row: IntArray) -> Strokes:
    """Return some rows of motion as strokes."""
    start, end, turns = motions.start[row, :2], motions.end[row, :2], motions.turns[row]
    arc = (turns != 0.0) & (motions.kind[row] != RAPID)
    centre: FloatArray = np.where(arc[:, None], motions.centre[row], 0.0)
    spoke = start - centre
    radius = np.where(arc, np.hypot(spoke[:, 0], spoke[:, 1]), 0.0)
    return Strokes(start, end, centre, radius, np.where(arc, turns, 0.0))
