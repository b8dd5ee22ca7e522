"""Heights have one owner: where the program moves the torch up and down, every height is proved.

Where the control does, a Z in the program is a doubt of the reader already, and there is
nothing to prove here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from cutplan.control import DWELL, STOP, Dialect, Motions
from cutplan.process import CutData
from cutplan.verification.burns import Runs
from cutplan.verification.coasting import coasting_rows
from cutplan.verification.model import Fault, Planned
from cutplan.verification.places import MOST_OF_A_KIND, fault_at
from cutplan.verification.start_heights import HEIGHT_STEP, start_height_faults
from cutplan.verification.strokes import BoolArray

__all__ = ["FULL_FEED", "height_faults"]

FULL_FEED = 0.99
"""Share of the feed above which the arc's voltage tells the height."""
HIGHEST_TRAVEL = 2.0
"""How many times the travel height a hand may raise the torch to; further may be its stop."""
NEAR_MM = 1.0


def height_faults(
    motions: Motions,
    runs: Runs,
    data: CutData,
    dialect: Dialect,
    planned: Planned | None,
    low_travel_mm: float,
    over_edge: BoolArray,
) -> Iterator[Fault]:
    """Yield heights, and states of the height control, that are not as they must be."""
    if dialect.heights == "program":
        yield from _below(motions)
        yield from _travel_faults(motions, data, dialect, low_travel_mm)
        yield from _raise_faults(motions, data, dialect, planned)
        yield from start_height_faults(motions, runs, data, dialect, over_edge)
        yield from _upright_faults(motions, data)
    if dialect.height_on:
        yield from _control_faults(motions, data, dialect)


def _below(motions: Motions) -> Iterator[Fault]:
    height = motions.end[:, 2]
    for row in np.flatnonzero(height < -HEIGHT_STEP)[:MOST_OF_A_KIND].tolist():
        told = f"the torch goes to {height[row]:g} mm, below the plate's face"
        yield fault_at(motions, row, "height", told)


def _over_the_plate(motions: Motions) -> BoolArray:
    sideways = (motions.start[:, :2] != motions.end[:, :2]).any(axis=1) | (motions.turns != 0.0)
    return np.asarray(sideways & (motions.kind < DWELL))


def _travel_faults(
    motions: Motions, data: CutData, dialect: Dialect, low_travel_mm: float
) -> Iterator[Fault]:
    """Travel and marks run level, at the travel height or, unmarked, at that of low travel or the pierce."""
    travel = dialect.travel_height_mm or 0.0
    ways = _over_the_plate(motions) & ~motions.torch & ~coasting_rows(motions, data)
    low, high = motions.start[:, 2], motions.end[:, 2]
    slanted = ways & (np.abs(high - low) > HEIGHT_STEP)
    for row in np.flatnonzero(slanted)[:MOST_OF_A_KIND].tolist():
        yield fault_at(motions, row, "height", "the torch climbs or sinks on its way over the plate")
    raised = (high >= travel - HEIGHT_STEP) & (high <= HIGHEST_TRAVEL * travel + HEIGHT_STEP)
    as_low = np.abs(high - data.pierce_height) <= HEIGHT_STEP + data.height_trim * data.pierce_height
    as_low |= np.abs(high - low_travel_mm) <= HEIGHT_STEP
    wrong = ways & ~slanted & ~np.where(motions.marker, raised, raised | as_low)
    for row in np.flatnonzero(wrong)[:MOST_OF_A_KIND].tolist():
        what = "marks" if motions.marker[row] else "travels"
        told = f"the torch {what} at {high[row]:g} mm, raised it is at {travel:g} mm"
        yield fault_at(motions, row, "height", told)
    up = (motions.kind < DWELL) & (high > travel + HEIGHT_STEP) & ~wrong & ~slanted
    for row in np.flatnonzero(up)[:MOST_OF_A_KIND].tolist():
        told = f"the torch rises to {high[row]:g} mm, over {travel:g} mm"
        beyond = bool(high[row] > HIGHEST_TRAVEL * travel + HEIGHT_STEP)
        yield fault_at(motions, row, "height", told, trim=not beyond)


def _raise_faults(
    motions: Motions, data: CutData, dialect: Dialect, planned: Planned | None
) -> Iterator[Fault]:
    """The way to a cut that is planned with a raise, and the first of all, runs raised."""
    travel = (dialect.travel_height_mm or 0.0) - HEIGHT_STEP
    ways = _over_the_plate(motions) & ~motions.torch & ~motions.marker & ~coasting_rows(motions, data)
    rows = np.flatnonzero(ways)
    on = motions.torch | motions.marker
    begins = np.flatnonzero(on & ~np.concatenate([[False], on[:-1]]))
    cuts = () if planned is None else planned.cuts
    last = 0
    for count, row in enumerate(begins.tolist()):
        before = rows[(rows >= last) & (rows < row)]
        last = row
        place = motions.start[row, :2]
        near = [cut for cut in cuts if math.dist(cut.place, place) <= NEAR_MM]
        raised = count == 0 or (bool(cuts) and (not near or any(cut.raised for cut in near)))
        if raised and len(before) and motions.end[before, 2].min() < travel:
            yield fault_at(
                motions, int(before[0]), "height", "the torch travels low where it is to be raised"
            )


def _upright_faults(motions: Motions, data: CutData) -> Iterator[Fault]:
    """The lit torch moves up and down between its pierce and its cutting height only."""
    low, high = sorted((data.cut_height, data.pierce_height))
    slack = HEIGHT_STEP + data.height_trim * high
    upright = motions.torch & (motions.kind < DWELL) & ~_over_the_plate(motions)
    ends = np.stack([motions.start[:, 2], motions.end[:, 2]])
    beyond = upright & ((ends.min(axis=0) < low - slack) | (ends.max(axis=0) > high + slack))
    for row in np.flatnonzero(beyond)[:MOST_OF_A_KIND].tolist():
        told = f"the lit torch moves between {ends[:, row].min():g} and {ends[:, row].max():g} mm"
        yield fault_at(motions, row, "height", f"{told}, beyond pierce and cutting height")


def _control_faults(motions: Motions, data: CutData, dialect: Dialect) -> Iterator[Fault]:
    """The height control needs a burning arc that moves at its feed; elsewhere it must be off."""
    over = _over_the_plate(motions)
    following = motions.height_control & (motions.kind <= STOP)
    wrong = following & ((~motions.torch & over) | (motions.kind == DWELL) | (motions.kind == STOP))
    wrong |= following & motions.torch & (motions.kind < DWELL) & ~over
    if dialect.slow_without_height_control:
        slow = motions.feed_mm_min < FULL_FEED * (1.0 - data.feed_trim) * data.feed_mm_min
        wrong |= following & motions.torch & over & slow
    for row in np.flatnonzero(wrong)[:MOST_OF_A_KIND].tolist():
        told = "the height control is on where the torch does not cut at its feed"
        yield fault_at(motions, row, "height-control", told)
