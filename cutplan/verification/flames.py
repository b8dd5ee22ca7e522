"""Flames and gases: on before the preheating, through the cut, out in every travel."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from cutplan.control import DWELL, RAPID, SWITCH, Dialect, Motions
from cutplan.process import CutData
from cutplan.verification.burning import DWELL_STEP
from cutplan.verification.burns import Runs
from cutplan.verification.coasting import coasting_rows
from cutplan.verification.model import Fault
from cutplan.verification.places import MOST_OF_A_KIND, fault_at
from cutplan.verification.strokes import BoolArray

__all__ = ["flame_faults", "flow_faults"]


def flame_faults(motions: Motions, runs: Runs, data: CutData, dialect: Dialect) -> Iterator[Fault]:
    """Where the program works the preheat flames, they burn in each cut and at no travel."""
    if not dialect.flame_on or data.process != "oxyfuel":
        return
    for burn in runs.burns[:MOST_OF_A_KIND]:
        if not motions.flame[burn.first]:
            yield Fault("flame", "a cut begins with the preheat flames out", burn.line, burn.pierce)
        elif not motions.flame[burn.first : burn.last].all():
            row = burn.first + int(np.argmin(motions.flame[burn.first : burn.last]))
            yield fault_at(motions, row, "flame", "the preheat flames go out in a cut")
    moves = (motions.kind < DWELL) & (motions.start[:, :2] != motions.end[:, :2]).any(axis=1)
    up = motions.flame & moves & ~motions.torch
    up |= motions.flame & (motions.kind == RAPID)
    for row in np.flatnonzero(up)[:MOST_OF_A_KIND].tolist():
        what = "rapid" if motions.kind[row] == RAPID else "travel"
        yield fault_at(motions, row, "flame", f"the preheat flames are up in a {what}")
    # The program's end, its last row, puts everything out; what counts is how it came there.
    if motions.flame[-2:].any() or "flame" in motions.left_on:
        yield fault_at(motions, -1, "flame", "the preheat flames are up at the program's end")


def flow_faults(motions: Motions, runs: Runs, data: CutData, dialect: Dialect) -> Iterator[Fault]:
    """Where the program waits for the gas, it waits as long as the data say, unlit, at the place."""
    if dialect.flows_by_control:
        return
    coasts = coasting_rows(motions, data)
    for burn in runs.burns[:MOST_OF_A_KIND]:
        before = burn.preheat_s - data.preheat_s
        if before < data.pre_flow_s - DWELL_STEP:
            told = (
                f"gas flows for {max(before, 0.0):.3g} s before a cut, the data ask for {data.pre_flow_s:g} s"
            )
            yield Fault("gas-flow", told, burn.line, burn.pierce)
        behind = _behind(motions, burn.last, coasts)
        if behind < data.post_flow_s - DWELL_STEP:
            told = f"gas flows for {behind:.3g} s behind a cut, the data ask for {data.post_flow_s:g} s"
            yield Fault("gas-flow", told, burn.line, burn.pierce)


def _behind(motions: Motions, first: int, coasts: BoolArray) -> float:
    """Return how long the torch stands unlit from a row on."""
    seconds = 0.0
    for row in range(first, len(motions)):
        if motions.kind[row] == DWELL:
            seconds += float(motions.dwell_s[row])
        elif motions.kind[row] != SWITCH and not coasts[row]:
            break
    return seconds
