"""The end of a hole on which the arc is out already while the torch moves on: how long, and where.

The hole is closed by what the arc cut while it was switched on; its tail burns on a little, in the
kerf that is there already, and is not counted.

Terminology
-----------
coasting : feed moves with the torch off that follow a cut without a stop between.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from cutplan.control import ARC_CCW, LINE, SWITCH, Motions
from cutplan.process import CutData
from cutplan.verification.burns import Runs, strokes_in
from cutplan.verification.model import Fault
from cutplan.verification.strokes import BoolArray, Strokes, distance_to

__all__ = ["coasting_faults", "coasting_rows", "coasting_way"]

# Rounded places change a way by so much, and lie off a kerf by so much, mm.
WAY_STEP, KERF_STEP = 0.1, 0.03


def coasting_rows(motions: Motions, data: CutData) -> BoolArray:
    """Return which rows coast; none where the data put the arc out at the end.

    Parameters
    ----------
    motions : Motions
    data : CutData
    """
    rows = np.zeros(len(motions), dtype=np.bool_)
    if data.rules.arc_off_before == 0.0:
        return rows
    lit = motions.torch
    for end in np.flatnonzero(lit[:-1] & ~lit[1:]).tolist():
        rows[_coast(motions, end + 1)] = True
    return rows


def coasting_way(data: CutData, once: float | None = None) -> float:
    """Return how far before a hole's end the arc goes out, mm; `once` is its way round."""
    overburn = data.rules.overburn if once is None else min(data.rules.overburn, 0.5 * once)
    return min(data.rules.arc_off_before, overburn)


def coasting_faults(
    motions: Motions, runs: Runs, rounds: Mapping[int, float | None], data: CutData
) -> Iterator[Fault]:
    """Yield where the arc goes out too early, too late, or the torch then leaves its own kerf.

    Parameters
    ----------
    motions : Motions
    runs : Runs
    rounds : mapping of int to float or None
        By burn, the way round the hole that it cuts, mm; None for outsides, which end with the arc.
    data : CutData
    """
    if data.rules.arc_off_before == 0.0:
        return
    for number, once in rounds.items():
        burn = runs.burns[number]
        rows = _coast(motions, burn.last)
        wanted = 0.0 if once is None else coasting_way(data, once)
        strokes = strokes_in(motions, np.array(rows, dtype=np.int64))
        found = float(strokes.length.sum())
        if abs(found - wanted) > WAY_STEP:
            told = f"the torch moves on for {found:.2f} mm after its arc is out"
            told += f", the cutting data ask for {wanted:.2f} mm"
            yield Fault("arc-off", told, burn.line, burn.pierce)
        elif len(rows) and _off_kerf(strokes, runs.strokes[burn.strokes]) > KERF_STEP:
            told = "the torch leaves its own kerf while the arc goes out"
            yield Fault("arc-off", told, burn.line, burn.pierce)


def _off_kerf(strokes: Strokes, kerf: Strokes) -> float:
    """Return how far strokes lie off a kerf's middle at most, at their ends and half way, mm."""
    places = np.concatenate([strokes.at(np.full(len(strokes), share)) for share in (0.0, 0.5, 1.0)])
    gaps = [float(distance_to(np.repeat(place[None], len(kerf), axis=0), kerf).min()) for place in places]
    return max(gaps)


def _coast(motions: Motions, first: int) -> list[int]:
    """Return the unlit feed moves over the plate from a row on; another switch may stand between."""
    rows = []
    for row in range(first, len(motions)):
        if motions.kind[row] == SWITCH and not motions.torch[row]:
            continue
        flat = motions.start[row, :2] != motions.end[row, :2]
        if not (LINE <= motions.kind[row] <= ARC_CCW) or not (flat.any() or motions.turns[row] != 0.0):
            break
        rows.append(row)
    return rows
