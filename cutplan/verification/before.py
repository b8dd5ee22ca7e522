"""What programs did before the one that is proved: their motions, up to where each stopped.

Their rows come first, with the lines of their texts counted below zero, so that what they burnt
and freed is followed together with the new program, and no fault of theirs is told again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from cutplan.control import ROW_COLUMNS, Dialect, Motions, joined, read_files
from cutplan.geometry import FloatArray
from cutplan.verification.burns import Runs, strokes_in
from cutplan.verification.model import Before, Planned
from cutplan.verification.strokes import BoolArray, Strokes, distance_to

__all__ = ["Resumed", "begins_in_kerf", "motions_before", "resumed_runs", "with_before"]

# A start lies on the middle of a kerf within this, rounding of both aside, mm.
ON_KERF = 0.1
# Of places on a run as near as this to where the torch stopped, the one as far along is meant, mm.
AS_NEAR = 0.05


@dataclass(frozen=True)
class Resumed:
    """A run that takes up an earlier one where that stopped.

    Attributes
    ----------
    run, earlier : int
        Of all runs of the torch.
    over_run_mm, again_mm : float
        How far it begins before that place, and how much of its contours was cut before in all.
    """

    run: int
    earlier: int
    over_run_mm: float
    again_mm: float


def motions_before(before: Sequence[Before], dialect: Dialect) -> list[Motions]:
    """Return the motions of programs up to where each stopped, their lines below zero.

    Parameters
    ----------
    before : sequence of Before
    dialect : Dialect
    """
    return [_until(read_files(ran.texts, dialect, strict=False), ran) for ran in before]


def _until(motions: Motions, ran: Before) -> Motions:
    on = motions.torch | motions.marker
    kind = np.where(motions.torch, 1, np.where(motions.marker, 2, 0))
    begins = np.flatnonzero(on & (np.diff(np.concatenate([[0], kind])) != 0))
    last = len(ran.cuts) - (ran.until is not None)
    stop = int(begins[last]) if last < len(begins) else len(motions)
    rows = np.arange(stop)
    if ran.until is None or last >= len(begins):
        return _taken(motions, rows)
    end = int(begins[last + 1]) if last + 1 < len(begins) else len(motions)
    own = np.arange(stop, end)[on[stop:end]]
    strokes = strokes_in(motions, own)
    moves = strokes.length > 0.0
    number, share = _place_on(strokes, moves, ran)
    cut = _taken(motions, np.concatenate([rows, own[: number + 1]]))
    at = strokes.at(np.full(len(strokes), share))[number]
    cut.end[-1, :2] = at
    cut.turns[-1] *= share
    return cut


def _place_on(strokes: Strokes, moves: BoolArray, ran: Before) -> tuple[int, float]:
    """Return the stroke on which the torch stopped, and at which share of it."""
    points = np.tile(np.array(ran.until), (len(strokes), 1))
    away = np.where(moves, distance_to(points, strokes), np.inf)
    share = np.clip(strokes.share_beside(points), 0.0, 1.0)
    along = np.cumsum(strokes.length) - strokes.length + share * strokes.length
    near = away <= away.min() + AS_NEAR
    number = int(np.argmin(np.where(near, np.abs(along - ran.until_mm), np.inf)))
    return number, float(share[number])


def _taken(motions: Motions, rows: Any) -> Motions:
    """Return some rows as copies, their lines below zero."""
    columns: dict[str, Any] = {name: getattr(motions, name)[rows] for name in ROW_COLUMNS}
    columns["line"] = -np.maximum(np.abs(columns["line"]), 1)
    return replace(motions, **columns, doubts=(), departures=(), left_on=frozenset(), torches=())


def with_before(motions: Motions, earlier: Sequence[Motions]) -> Motions:
    """Return the motions of earlier programs and of the new one, one after the other."""
    return joined([*earlier, motions]) if earlier else motions


def resumed_runs(planned: Planned, before: Sequence[Before]) -> dict[int, Resumed]:
    """Return the torch's runs that take up an earlier one, by their number among all runs.

    Parameters
    ----------
    planned : Planned
        The cuts of the earlier programs too.
    before : sequence of Before
    """
    burns = planned.burns
    found: dict[int, Resumed] = {}
    number = 0
    for ran in before:
        number += sum(cut.kind != "mark" for cut in ran.cuts)
        if ran.until is None or ran.cuts[-1].kind == "mark" or number >= len(burns):
            continue
        cut = burns[number]
        if cut.again_mm > 0.0:
            found[number] = Resumed(number, number - 1, cut.over_run_mm, cut.again_mm)
    return found


def begins_in_kerf(runs: Runs, resumed: dict[int, Resumed]) -> BoolArray:
    """Return which runs take up an earlier one in its kerf, where nothing is pierced."""
    found = np.zeros(len(runs.burns), dtype=np.bool_)
    for each in resumed.values():
        if each.run >= len(runs.burns):
            continue
        kerf = runs.strokes[runs.burns[each.earlier].strokes]
        start: FloatArray = np.tile(np.array(runs.burns[each.run].pierce), (len(kerf), 1))
        found[each.run] = bool(len(kerf)) and float(distance_to(start, kerf).min()) <= ON_KERF
    return found
