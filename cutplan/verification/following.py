"""The height control on wherever the arc tells the height: along every stretch at the full feed.

Terminology
-----------
clear stretch : at the full feed, outside leads, and far enough from corners.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from cutplan.control import Dialect, Motions
from cutplan.geometry import FloatArray
from cutplan.process import CutData
from cutplan.verification.burns import Runs
from cutplan.verification.heights import FULL_FEED
from cutplan.verification.model import Fault
from cutplan.verification.places import fault_at
from cutplan.verification.strokes import BoolArray

__all__ = ["following_faults"]

# Where a contour's run begins is known so closely, mm.
SLACK = 1.5
Spans = list[tuple[float, float]]


def following_faults(
    motions: Motions,
    runs: Runs,
    places: tuple[FloatArray, FloatArray],
    in_lead: BoolArray,
    round_once: FloatArray,
    data: CutData,
    dialect: Dialect,
) -> Iterator[Fault]:
    """Yield clear stretches along which the height control is off.

    Parameters
    ----------
    motions : Motions
    runs : Runs
        The torch's.
    places : tuple of ndarray
        How far each stroke begins and ends from its pierce, mm.
    in_lead : ndarray of bool
        Strokes before and behind the run of a contour, and beside the plate.
    round_once : ndarray
        How far each burn has come when it has been round its contour, mm: behind that it runs
        over an open kerf.  0 in holes so small that the torch is not followed in them.
    data : CutData
    dialect : Dialect
    """
    least = dialect.height_control_from_mm
    if least is None:
        return
    begin, end = places
    slow = motions.feed_mm_min[runs.row] < FULL_FEED * (1.0 - data.feed_trim) * data.feed_mm_min
    followed = motions.height_control[runs.row]
    leaves, comes = runs.strokes.direction(at_end=True), runs.strokes.direction(at_end=False)
    turn = np.zeros(len(slow))
    turn[1:] = np.abs(np.remainder(comes[1:] - leaves[:-1] + math.pi, 2.0 * math.pi) - math.pi)
    corner = turn > math.radians(dialect.height_control_corner_deg)
    for number, burn in enumerate(runs.burns):
        own = np.arange(burn.strokes.start, burn.strokes.stop)
        if not len(own) or followed[own].all():
            continue
        off = own[in_lead[own] | slow[own]]
        at = begin[own[1:][corner[own[1:]]]]
        reach = dialect.height_control_corner_mm
        held = [(float(round_once[number]), math.inf)]
        held += [*zip(begin[off].tolist(), end[off].tolist(), strict=True)]
        held += [*zip((at - reach).tolist(), (at + reach).tolist(), strict=True)]
        for first, last in _clear(held, least, float(end[own[-1]])):
            dark = own[~followed[own] & (end[own] > first + SLACK) & (begin[own] < last - SLACK)]
            if len(dark):
                told = "the height control stays off where the torch cuts straight on at its feed"
                yield fault_at(motions, int(runs.row[dark[0]]), "height-control", told)
                break


def _clear(held: Spans, least: float, total: float) -> Spans:
    """Return the stretches between those held that are longer than the least by more than is known."""
    found: Spans = []
    reached = 0.0
    for start, end in [*sorted(held), (total, total)]:
        # A run that stops at a tab never comes round.
        start = min(start, total)
        if start - reached > least + 2.0 * SLACK:
            found.append((reached, start))
        reached = max(reached, end)
    return found
