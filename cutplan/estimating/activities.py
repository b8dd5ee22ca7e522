"""What every row of a program is for, how long it takes, and whose it is.

A program without a height for every cut leaves them to the control: then each start of the torch costs the
machine's lowering time and each end its raising time.  What the program leaves to the control
altogether (pierce or preheat dwells, feeds) comes from the cutting data.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import DataError
from cutplan.base.machine import Machine
from cutplan.control import DWELL, RAPID, SWITCH, Dialect, Motions, block_lengths, block_times
from cutplan.estimating.model import ACTIVITIES, EstimateOptions
from cutplan.estimating.usage import Owner, Usage
from cutplan.geometry import FloatArray
from cutplan.process import CutData

__all__ = ["TAKEN_AS_FLAT", "owners_by_cut", "owners_by_line", "usage_by_owner"]

CUTTING, PIERCING, PREHEATING, TRAVEL, RAISING, MARKING, HANDLING = range(len(ACTIVITIES))
TAKEN_AS_FLAT = "the plate taken as flat"
"""What the notes say where a program gives the heights and nothing finds the surface."""
HOME = -1
"""Owner of rows that no part owns: the way home."""


def owners_by_cut(
    motions: Motions, parts: Sequence[str | Mapping[str, float]]
) -> tuple[NDArray[np.intp], list[Owner]]:
    """Return who owns each row, as an index into the owners or HOME, and the owners.

    Parameters
    ----------
    motions : Motions
    parts : sequence of str or of mapping
        Part of each cut or mark, in the order of the program; where several share one, the
        share of each, and nothing where it is no part's.

    Raises
    ------
    DataError
        If there are not as many parts as starts of torch or marker.
    """
    begins = _begins(motions.torch) | _begins(motions.marker)
    starts = int(np.count_nonzero(begins))
    if starts != len(parts):
        raise DataError(
            f"the program starts {starts} times, but {len(parts)} parts are named",
            remedy="name the part of every cut and mark, in order",
        )
    owner_of = [((part, 1.0),) if isinstance(part, str) else tuple(sorted(part.items())) for part in parts]
    owners = sorted({owner for owner in owner_of if owner})
    number = {owner: k for k, owner in enumerate(owners)} | {(): HOME}
    of_cut = np.array([HOME, *(number[owner] for owner in owner_of)], dtype=np.intp)
    return _with_ways(motions, of_cut[np.cumsum(begins)]), owners


def owners_by_line(motions: Motions, lines: Mapping[int, str]) -> tuple[NDArray[np.intp], list[Owner]]:
    """Return the same from parts by program line: a cut belongs to the last line at or before it."""
    names = sorted(set(lines.values()))
    marks = np.array(sorted(lines), dtype=np.int64)
    of_mark = np.array([HOME, *(names.index(lines[int(mark)]) for mark in marks)], dtype=np.intp)
    owner = _with_ways(motions, of_mark[np.searchsorted(marks, motions.line, side="right")])
    return owner, [((name, 1.0),) for name in names]


def _with_ways(motions: Motions, lit_owner: NDArray[np.intp]) -> NDArray[np.intp]:
    """Return owners of all rows from those of the lit ones.

    What lies between cuts belongs to the cut that it leads to, but for the switch that ends a
    cut; the way home belongs to HOME.
    """
    lit = motions.torch | motions.marker
    rows = np.arange(len(motions))
    following = np.minimum.accumulate(np.where(lit, rows, len(rows))[::-1])[::-1]
    leads = following < len(rows)
    owner = np.full(len(motions), HOME, dtype=np.intp)
    owner[leads] = lit_owner[following[leads]]
    ended = np.flatnonzero(_ends(motions.torch) | _ends(motions.marker))
    owner[ended] = owner[ended - 1]
    return owner


def usage_by_owner(
    motions: Motions,
    data: CutData,
    machine: Machine,
    options: EstimateOptions,
    owner: NDArray[np.intp] | None = None,
    count: int = 0,
    dialect: Dialect | None = None,
) -> tuple[list[Usage], tuple[str, ...]]:
    """Return the usage of each of `count` owners, then of HOME, and notes on what was assumed.

    Parameters
    ----------
    owner : ndarray of int, shape (n,), optional
        From `owners_by_cut` or `owners_by_line`; without it everything falls to HOME.
    dialect : Dialect, optional
        Which waits at a start the program itself makes; without it the control makes them.
    """
    ledger, notes = _ledger(motions, data, machine, options, dialect or Dialect())
    owner = np.full(len(motions), HOME, dtype=np.intp) if owner is None else owner
    result = []
    for who in [*range(count), HOME]:
        mine = owner == who
        result.append(
            Usage(
                seconds=ledger.seconds[mine].sum(axis=0),
                flame_s=float(ledger.flame_s[mine].sum()),
                unlit_s=float(ledger.unlit_s[mine].sum()),
                starts=float(np.count_nonzero(ledger.starts[mine])),
                cut_length_mm=float(ledger.cut_length[mine].sum()),
                programs=1.0 if who == HOME else 0.0,
            )
        )
    return result, notes


@dataclass(frozen=True, eq=False)
class _Ledger:
    """Per row: seconds by activity (n, 7), flame and unlit seconds, starts, length cut."""

    seconds: FloatArray
    flame_s: FloatArray
    unlit_s: FloatArray
    starts: NDArray[np.bool_]
    cut_length: FloatArray


def _begins(state: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(state & ~np.concatenate([[False], state[:-1]]))


def _ends(state: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(~state & np.concatenate([[False], state[:-1]]))


def _ledger(
    motions: Motions, data: CutData, machine: Machine, options: EstimateOptions, dialect: Dialect
) -> tuple[_Ledger, tuple[str, ...]]:
    lengths = block_lengths(motions)
    moving = block_times(
        motions,
        _speeds(motions, data, machine, options),
        machine.acceleration_mm_s2,
        machine.corner_deviation_mm,
    )
    seconds = np.zeros((len(motions), len(ACTIVITIES)))
    rows = np.arange(len(motions))
    dwell = np.where(motions.kind == DWELL, motions.dwell_s, 0.0)
    seconds[rows, _activities(motions, data)] = moving + dwell
    starts, ends = _begins(motions.torch), _ends(motions.torch)
    unlit = np.zeros(len(motions))
    if data.process == "plasma":
        _wait_for_the_arc(motions, data, machine, dialect, seconds, unlit)
    notes = _switching(motions, data, machine, options, seconds, unlit)
    notes += _left_to_control(motions, data, seconds, starts)
    cutting = motions.torch & (motions.kind != DWELL) & (motions.kind != SWITCH)
    flame, flame_notes = _flame_seconds(motions, data, seconds, ends)
    ledger = _Ledger(seconds, flame, unlit, starts, np.where(cutting, lengths, 0.0))
    return ledger, tuple(notes + flame_notes)


def _speeds(motions: Motions, data: CutData, machine: Machine, options: EstimateOptions) -> FloatArray:
    by_control = np.where(motions.marker, options.marker_feed_mm_min, data.feed_mm_min)
    feed = np.where(np.isnan(motions.feed_mm_min), by_control, motions.feed_mm_min)
    # No feed is faster than the machine runs.
    feed = np.minimum(feed, machine.rapid_mm_min)
    return np.asarray(np.where(motions.kind == RAPID, machine.rapid_mm_min, feed) / 60.0)


def _activities(motions: Motions, data: CutData) -> NDArray[np.intp]:
    """Return the activity of each row, by what is lit and whether it moves."""
    step = np.abs(motions.end - motions.start)
    upright = (step[:, 2] > 0.0) & (step[:, :2].max(axis=1, initial=0.0) == 0.0) & (motions.turns == 0.0)
    waits = motions.kind == DWELL
    unlit_wait = PREHEATING if data.process == "oxyfuel" else HANDLING
    return np.select(
        [waits & motions.torch, motions.marker, waits, motions.torch, upright],
        [PIERCING, MARKING, unlit_wait, CUTTING, RAISING],
        default=TRAVEL,
    ).astype(np.intp)


def _switching(
    motions: Motions,
    data: CutData,
    machine: Machine,
    options: EstimateOptions,
    seconds: FloatArray,
    unlit: FloatArray,
) -> list[str]:
    """Add what switching torch and marker costs beyond the program's own rows."""
    starts, ends = _begins(motions.torch), _ends(motions.torch)
    notes = []
    lifts = int(np.count_nonzero(motions.start[:, 2] != motions.end[:, 2]))
    if lifts >= max(int(np.count_nonzero(starts)), 1):
        seconds[starts, RAISING] += machine.probe_s
        searched = f"{machine.probe_s:g} s to find the surface" if machine.probe_s else TAKEN_AS_FLAT
        notes.append(f"raising and lowering as the program's own heights, {searched} before each start")
    else:
        seconds[starts, RAISING] += machine.lower_s
        seconds[ends, RAISING] += machine.raise_s
    switched = _begins(motions.marker) | _ends(motions.marker)
    seconds[switched, MARKING] += options.marker_switch_s
    if data.process == "oxyfuel" and starts.any():
        first = int(np.argmax(starts))
        unlit[first] = machine.ignition_s
        seconds[first, PREHEATING] += machine.ignition_s
    return notes


def _wait_for_the_arc(
    motions: Motions,
    data: CutData,
    machine: Machine,
    dialect: Dialect,
    seconds: FloatArray,
    unlit: FloatArray,
) -> None:
    """Add what plasma waits for at each start: gas flows, the pilot arc is struck, and passes over.

    Waits that stand in the program are counted there already; here they are only told from the
    time that the arc stands.
    """
    starts = _begins(motions.torch)
    by_control = machine.ignition_s
    by_control += data.pre_flow_s if dialect.flows_by_control else 0.0
    by_control += data.transfer_s if dialect.torch_word_waits else 0.0
    seconds[starts, PIERCING] += by_control
    unlit[starts] += by_control + (0.0 if dialect.torch_word_waits else data.transfer_s)
    if dialect.flows_by_control:
        return
    waits = (motions.kind == DWELL) & ~motions.torch & ~motions.marker
    before = waits & np.concatenate([starts[1:], [False]])
    # Gas before the arc is part of the start; after it the torch only waits.
    for rows, activity in ((before, PIERCING), (waits & ~before, TRAVEL)):
        seconds[rows, activity] += seconds[rows, HANDLING]
        seconds[rows, HANDLING] = 0.0
    unlit[before] += motions.dwell_s[before]


def _left_to_control(
    motions: Motions, data: CutData, seconds: FloatArray, starts: NDArray[np.bool_]
) -> list[str]:
    """Add pierce and preheat dwells from the data where the program has none at all."""
    notes: list[str] = []
    if not starts.any():
        return notes
    dwells = motions.kind == DWELL
    can_pierce = data.pierce_s > 0.0 and data.thickness <= data.rules.edge_start_above
    if can_pierce and not np.any(dwells & motions.torch):
        seconds[starts, PIERCING] += data.pierce_s
        notes.append("the program leaves piercing to the control: pierce times from the cutting data")
    if data.preheat_s > 0.0 and not np.any(dwells & ~motions.torch & ~motions.marker):
        seconds[starts, PREHEATING] += data.preheat_s
        notes.append("the program leaves preheating to the control: preheat times from the cutting data")
    return notes


def _flame_seconds(
    motions: Motions, data: CutData, seconds: FloatArray, ends: NDArray[np.bool_]
) -> tuple[FloatArray, list[str]]:
    """Return the seconds that preheat flames burn in each row.

    Where the program does not switch them they burn from the first preheat to the end of the
    last cut, between the cuts too (common practice).
    """
    if data.process != "oxyfuel":
        return np.zeros(len(motions)), []
    total = np.asarray(seconds.sum(axis=1))
    if motions.flame.any():
        return np.where(motions.flame, total, 0.0), []
    wanted = np.flatnonzero(motions.torch | (seconds[:, PREHEATING] > 0.0) | ends)
    burning = np.zeros(len(motions), dtype=bool)
    if len(wanted):
        burning[wanted[0] : wanted[-1] + 1] = True
    return np.where(burning, total, 0.0), ["preheat flames burn on between the cuts"]
