"""What a program cuts in all, held against the plan: how often, and how far."""

from __future__ import annotations

import math

from cutplan.process import CutData
from cutplan.verification.burns import Burn, Runs
from cutplan.verification.coasting import coasting_way
from cutplan.verification.model import Fault, Planned, PlannedCut

__all__ = ["total_faults"]

# Rounded coordinates change the length of a block by no more than this, mm.
LENGTH_STEP = 0.003
# A lead that the control offsets differs from the planned one by up to so many offsets.
LEAD_OFFSETS = 1.5
# Arcs marked in chords are shorter by no more than this.
MARKS_STEP, MARKS_SHARE = 0.3, 0.002


def total_faults(
    runs: Runs, marks: Runs, planned: Planned, data: CutData, control_offset: float
) -> tuple[list[Fault], list[str]]:
    """Return where totals differ from the plan, and what a hand has added in scrap.

    Parameters
    ----------
    runs, marks : Runs
        The torch's and the marker's.
    planned : Planned
    data : CutData
        A cut may be longer by a lead-in and a lead-out: what it meets there is proved apart.
    control_offset : float
        Radius by which the control offsets, mm; 0 where it does not.
    """
    cuts = planned.burns
    asked = len(planned.cuts) - len(cuts)
    if asked != len(marks.burns):
        message = f"the program marks {len(marks.burns)} times, the plan {asked} times"
        return [Fault("totals", message)], []
    if len(cuts) != len(runs.burns):
        message = f"the program cuts {len(runs.burns)} times, the plan {len(cuts)} times"
        return [Fault("totals", message)], []
    lengths = runs.strokes.length
    faults, longer = _mark_faults(marks, planned), 0.0
    for cut, burn in zip(cuts, runs.burns, strict=True):
        own = lengths[burn.strokes]
        asked_mm = cut.length_mm - (coasting_way(data) if cut.kind == "hole" and len(cut.makes) < 2 else 0.0)
        # Where the control offsets, it comes to the offset on a way of its own in each lead.
        slack = 0.01 + LENGTH_STEP * len(own) + LEAD_OFFSETS * control_offset
        over = float(own.sum()) - asked_mm
        longest = min(data.rules.lead_in + data.rules.lead_out, _moved(cut, burn, runs))
        if over < -slack or over > slack + longest:
            told = f"a cut runs {own.sum():.2f} mm, the plan has {asked_mm:.2f} mm"
            faults.append(Fault("totals", told, burn.line, burn.pierce))
        elif over > slack:
            longer += over
    notes = [f"the cuts run {longer:.2f} mm further in scrap than planned"] if longer else []
    return faults, notes


def _mark_faults(marks: Runs, planned: Planned) -> list[Fault]:
    """All marks together are as long as planned: nothing is scribed twice over."""
    wanted = sum(cut.length_mm for cut in planned.cuts if cut.kind == "mark")
    found = float(marks.strokes.length.sum())
    if abs(found - wanted) <= MARKS_STEP + MARKS_SHARE * wanted + LENGTH_STEP * len(marks.strokes):
        return []
    return [Fault("totals", f"the marks run {found:.2f} mm in all, the plan has {wanted:.2f} mm")]


def _moved(cut: PlannedCut, burn: Burn, runs: Runs) -> float:
    """Return how far a hand has moved the two ends of a cut: a lead can be longer by no more."""
    moved = math.dist(burn.pierce, cut.place)
    if cut.end is not None and burn.strokes.stop > burn.strokes.start:
        moved += math.dist(runs.strokes.end[burn.strokes.stop - 1], cut.end)
    return moved
