"""Rules on the words that switch: what burns, marks or follows, in which state, with how many torches."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from cutplan.control import RAPID, STOP, SWITCH, Dialect, Motions
from cutplan.verification.model import Fault, Planned
from cutplan.verification.places import MOST_OF_A_KIND, fault_at

__all__ = ["switching_faults", "torch_faults"]

SPACING_SLACK_MM = 0.05
_NUMBER = r"\s*([0-9]*\.?[0-9]+)\s*"
MM_PER_INCH = 25.4


def switching_faults(motions: Motions) -> Iterator[Fault]:
    """Yield what the reading took on trust, and switches thrown where they should not be."""
    yield from _doubt_faults(motions)
    yield from _stop_faults(motions)
    yield from _lit_faults(motions)
    for name in sorted(motions.left_on & {"torch", "marker"}):
        yield fault_at(motions, -1, f"{name}-left-on", f"the {name} is on at the program's end")


def _doubt_faults(motions: Motions) -> Iterator[Fault]:
    """What the reading took on trust is no proof; the first of each kind are told."""
    counts: Counter[str] = Counter()
    for doubt in motions.doubts:
        counts[doubt.code] += 1
        if counts[doubt.code] <= MOST_OF_A_KIND:
            yield Fault(doubt.code, doubt.message, doubt.line)


def _stop_faults(motions: Motions) -> Iterator[Fault]:
    """Nothing burns, marks or heats while the control waits for the operator."""
    lit = motions.torch | motions.marker | motions.flame
    for row in np.flatnonzero((motions.kind == STOP) & lit).tolist():
        on = [name for name in ("torch", "marker", "flame") if getattr(motions, name)[row]]
        told = f"the program waits for the operator with the {' and the '.join(on)} on"
        yield fault_at(motions, row, "stop-while-lit", told)


def _lit_faults(motions: Motions) -> Iterator[Fault]:
    kind, torch = motions.kind, motions.torch
    for row in np.flatnonzero(torch & (kind == RAPID))[:MOST_OF_A_KIND].tolist():
        yield fault_at(motions, row, "lit-rapid", "a rapid with the torch on")
    for row in np.flatnonzero(torch & motions.marker)[:1].tolist():
        yield fault_at(motions, row, "marker-with-torch", "the marker is on with the torch")
    before = np.concatenate([[False], torch[:-1]])
    others = np.zeros(len(motions), dtype=np.bool_)
    for name in ("marker", "flame", "height_control"):
        state = getattr(motions, name)
        others[1:] |= state[1:] != state[:-1]
    again = (kind == SWITCH) & torch & before & ~others
    for row in np.flatnonzero(again)[:MOST_OF_A_KIND].tolist():
        yield fault_at(motions, row, "torch-on-twice", "the torch is on already")


def torch_faults(
    motions: Motions, texts: Sequence[str], dialect: Dialect, planned: Planned
) -> Iterator[Fault]:
    """Hold how many torches are lit, and how far apart they are to be set, against the plan."""
    for line, lit in motions.torches:
        if lit != planned.torches:
            yield Fault("torches", f"T{lit} lights {lit} torches, the plan has {planned.torches}", line)
    if not dialect.spacing_remark:
        return
    before, behind = (re.escape(part.strip()) for part in dialect.spacing_remark)
    pattern = re.compile(rf"\(\s*{before}{_NUMBER}{behind}\s*\)")
    for number, text in enumerate(texts, start=1):
        told = [float(found[1]) for found in pattern.finditer(text)]
        yield from _spacing_faults(told, planned, number if len(texts) > 1 else None)


def _spacing_faults(told: list[float], planned: Planned, file: int | None) -> Iterator[Fault]:
    where = f"file {file} " if file else "the program "
    if planned.torches == 1 or planned.spacing_mm is None:
        if told:
            yield Fault("torches", f"{where}sets torches apart, and the plan has one torch")
        return
    if not told:
        yield Fault(
            "torches", f"{where}does not say how far apart the torches are, {planned.spacing_mm:g} mm"
        )
    for spacing in told:
        # The remark is in the program's unit; the plan's distance is one of the two.
        if (
            min(abs(spacing - planned.spacing_mm), abs(spacing * MM_PER_INCH - planned.spacing_mm))
            > SPACING_SLACK_MM
        ):
            message = f"{where}sets the torches {spacing:g} apart, the plan {planned.spacing_mm:g} mm"
            yield Fault("torches", message)
