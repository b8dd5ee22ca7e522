"""Rules that every motion keeps: no lit rapids, nothing off plate or table, feeds and dwells."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import contains, distance
from cutplan.machine import Machine
from cutplan.process import CutData
from cutplan.program import DWELL, RAPID, SWITCH, Motions
from cutplan.stock import Plate
from cutplan.verification.model import Fault

__all__ = ["motion_faults"]

FEED_SLACK = 0.002
"""Feeds are written in round figures."""
SLOWEST_SHARE = 0.5
"""The slowest feed allowed is this share of the least that the data's factors give."""
ROUNDING_MM = 0.01
DWELL_SLACK_S = 0.011
FEW = 20
"""Faults of one kind that are told one by one."""


def motion_faults(motions: Motions, plate: Plate, data: CutData, machine: Machine) -> list[Fault]:
    """Return what is wrong with single motions of a program."""
    moved = np.any(motions.start[:, :2] != motions.end[:, :2], axis=1) | (motions.turns != 0.0)
    faults = _lit_rapids(motions, moved)
    faults += _off_table(motions, machine)
    faults += _off_plate(motions, moved, plate, data)
    faults += _feeds(motions, moved, data)
    faults += _dwells(motions, data)
    if len(motions) and (motions.torch[-1] or motions.marker[-1]):
        faults.append(Fault("left-on", "the program ends with the torch or marker on", int(motions.line[-1])))
    return faults


def _lit_rapids(motions: Motions, moved: NDArray[np.bool_]) -> list[Fault]:
    lit = (motions.kind == RAPID) & moved & (motions.torch | motions.marker)
    return [_at(motions, row, "lit-rapid", "the torch or marker is on in a rapid") for row in _few(lit)]


def _off_table(motions: Motions, machine: Machine) -> list[Fault]:
    xy = motions.end[:, :2]
    low = -ROUNDING_MM
    off = ((xy < low) | (xy > np.array(machine.table) - low)).any(axis=1)
    return [_at(motions, row, "off-table", "moves off the table's travel") for row in _few(off)]


def _off_plate(motions: Motions, moved: NDArray[np.bool_], plate: Plate, data: CutData) -> list[Fault]:
    """Only an edge start, on plate too thick to pierce, is lit outside the plate."""
    rows = np.flatnonzero((motions.torch | motions.marker) & moved)
    if not len(rows) or data.thickness > data.rules.edge_start_above:
        return []
    ends = motions.end[rows, :2]
    outside = ~contains(plate.outline, ends) & (distance(plate.outline, ends) > ROUNDING_MM)
    return [_at(motions, int(rows[i]), "off-plate", "the torch is lit off the plate") for i in _few(outside)]


def _feeds(motions: Motions, moved: NDArray[np.bool_], data: CutData) -> list[Fault]:
    lit = motions.torch & moved & (motions.kind != RAPID)
    feed = motions.feed_mm_min
    factors = [data.rules.small_hole_feed, data.rules.corner_feed, data.moving_pierce_feed, 1.0]
    slowest = SLOWEST_SHARE * min(factors) * data.feed_mm_min
    fastest = data.feed_mm_min * (1.0 + FEED_SLACK) + 1.0
    bad = lit & ~((np.nan_to_num(feed) >= slowest) & (np.nan_to_num(feed) <= fastest))
    usual = f"the data say {data.feed_mm_min:.0f}"
    return [_at(motions, row, "feed", f"cuts at {feed[row]:.0f} mm/min, {usual}") for row in _few(bad)]


def _dwells(motions: Motions, data: CutData) -> list[Fault]:
    """A standing pierce takes its time before the torch moves."""
    if data.moving_pierce_mm:
        return []
    faults = []
    before = np.concatenate([[False], motions.torch[:-1]])
    for row in map(int, np.flatnonzero(~before & motions.torch)):
        waited = _standing(motions, row)
        if waited < data.pierce_s - DWELL_SLACK_S:
            message = f"pierces for {waited:.2f} s, the data say {data.pierce_s:.2f} s"
            faults.append(_at(motions, row, "pierce-time", message))
    return faults[:FEW]


def _standing(motions: Motions, row: int) -> float:
    """Return the dwells from a row on until the torch moves over the plate."""
    seconds = 0.0
    while row < len(motions):
        kind = motions.kind[row]
        if kind == DWELL:
            seconds += float(motions.dwell_s[row])
        elif kind != SWITCH and np.any(motions.start[row, :2] != motions.end[row, :2]):
            break
        row += 1
    return seconds


def _few(bad: NDArray[np.bool_]) -> list[int]:
    return [int(i) for i in np.flatnonzero(bad)[:FEW]]


def _at(motions: Motions, row: int, code: str, message: str) -> Fault:
    x, y = motions.end[row, :2]
    return Fault(code, message, int(motions.line[row]), (float(x), float(y)))
