"""Lit means moving as planned: how long the torch stands at its start, and that it stands nowhere else."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from cutplan.control import DWELL, Dialect, Motions
from cutplan.process import CutData
from cutplan.verification.burns import Burn, Runs
from cutplan.verification.model import Fault, Planned
from cutplan.verification.places import MOST_OF_A_KIND, fault_at
from cutplan.verification.start_heights import comes_down_moving
from cutplan.verification.strokes import BoolArray

__all__ = ["DWELL_SHARE", "DWELL_STEP", "burning_faults", "longest_waits"]

# A dwell in tenths of a second is 0.05 s off.
DWELL_SHARE, DWELL_STEP = 0.01, 0.051
LONGEST_IDLE_WAIT_S = 5.0
"""An unlit wait before a start up to this, as for gas to flow, is the operator's own affair."""
NEAR_MM = 1.0
"""A hand may move a planned edge start this far."""


def burning_faults(
    motions: Motions,
    runs: Runs,
    data: CutData,
    dialect: Dialect,
    over_edge: BoolArray,
    planned: Planned | None,
) -> Iterator[Fault]:
    """Yield where the torch stands lit longer, shorter or elsewhere than planned."""
    for burn, edge in zip(runs.burns, over_edge.tolist(), strict=True):
        yield from _preheat_faults(burn, data, dialect, edge)
        yield from _pierce_faults(burn, data, dialect, edge)
        if burn.strokes.start == burn.strokes.stop:
            told = "the torch is switched on and off without a move"
            yield Fault("empty-cut", told, burn.line, burn.pierce)
        if edge and planned is not None:
            yield from _edge_faults(burn, planned)
    late = _standing(motions) & motions.torch & ~_before_first_move(motions, runs)
    for row in np.flatnonzero(late)[:MOST_OF_A_KIND].tolist():
        yield fault_at(motions, row, "dwell-in-cut", "the torch burns standing in the middle of a cut")


def _standing(motions: Motions) -> BoolArray:
    """Return which rows keep the torch over one place: dwells, and moves up or down."""
    flat = (motions.start[:, :2] == motions.end[:, :2]).all(axis=1) & (motions.turns == 0.0)
    upright = flat & (motions.kind < DWELL)
    return np.asarray(upright | ((motions.kind == DWELL) & (motions.dwell_s > 0.0)))


def _before_first_move(motions: Motions, runs: Runs) -> BoolArray:
    """Return which rows of the runs come before the torch has moved over the plate."""
    early = np.zeros(len(motions), dtype=np.bool_)
    for burn in runs.burns:
        moved = runs.row[burn.strokes.start] if burn.strokes.start < burn.strokes.stop else burn.last
        early[burn.first : int(moved)] = True
    return early


def longest_waits(runs: Runs, data: CutData) -> float:
    """Return the longest unlit wait before a start beyond what the data ask for, s."""
    wanted = max(data.preheat_s, data.edge_preheat_s)
    return max((burn.preheat_s - wanted for burn in runs.burns), default=0.0)


def _preheat_faults(burn: Burn, data: CutData, dialect: Dialect, edge: bool) -> Iterator[Fault]:
    wanted = data.edge_preheat_s if edge else data.preheat_s
    found = burn.hot_s if dialect.flame_on and data.process == "oxyfuel" else burn.preheat_s
    if wanted == 0.0:
        if found > LONGEST_IDLE_WAIT_S:
            message = f"the program waits {found:g} s before a cut that needs no preheating"
            yield Fault("preheat", message, burn.line, burn.pierce)
        return
    yield from _dwell_fault(burn, "preheat", "the cut preheats for", found, wanted, data)


def _pierce_faults(burn: Burn, data: CutData, dialect: Dialect, edge: bool) -> Iterator[Fault]:
    waited = 0.0 if dialect.torch_word_waits else data.transfer_s
    down = 0.0
    standing = edge or not comes_down_moving(data, dialect)
    if dialect.heights == "program" and dialect.height_feed_mm_min and standing:
        down = 60.0 * abs(data.pierce_height - data.cut_height) / dialect.height_feed_mm_min
    if edge:
        if burn.pierce_s > waited + down + DWELL_STEP:
            message = f"the torch stands lit beside the plate for {burn.pierce_s:g} s"
            yield Fault("pierce-dwell", message, burn.line, burn.pierce)
    elif not dialect.pierce_by_control:
        wanted = data.pierce_s + waited + down
        yield from _dwell_fault(burn, "pierce-dwell", "the cut pierces for", burn.pierce_s, wanted, data)
    elif burn.pierce_s > data.dwell_trim * data.pierce_s + down + DWELL_STEP:
        message = (
            f"the torch stands lit for {burn.pierce_s:g} s, and the control waits for the pierce as well"
        )
        yield Fault("pierce-dwell", message, burn.line, burn.pierce)


def _dwell_fault(
    burn: Burn, code: str, what: str, found: float, wanted: float, data: CutData
) -> Iterator[Fault]:
    slack = DWELL_STEP + DWELL_SHARE * wanted
    if abs(found - wanted) <= slack:
        return
    trim = wanted < found <= data.dwell_trim * wanted + slack
    message = f"{what} {found:.3g} s, the cutting data ask for {wanted:.3g} s"
    yield Fault(code, message, burn.line, burn.pierce, trim=trim)


def _edge_faults(burn: Burn, planned: Planned) -> Iterator[Fault]:
    places = [cut.place for cut in planned.burns if cut.edge_start]
    if not any(math.dist(burn.pierce, place) <= NEAR_MM for place in places):
        told = "a cut begins beside the plate, and none is planned to begin there"
        yield Fault("edge-start", told, burn.line, burn.pierce)
