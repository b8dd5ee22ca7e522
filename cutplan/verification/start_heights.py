"""Where the torch heats, pierces, comes down and cuts: each height at its place, where the program gives them.

Terminology
-----------
way down : the stretch behind a pierce over which the torch comes down to its cutting height while
    it moves off; it ends before the torch comes to the part.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from cutplan.control import DWELL, RAPID, STOP, SWITCH, Dialect, Motions
from cutplan.geometry import FloatArray
from cutplan.process import CutData
from cutplan.verification.burns import Burn, Runs
from cutplan.verification.coasting import coasting_rows
from cutplan.verification.model import Fault
from cutplan.verification.places import MOST_OF_A_KIND, fault_at
from cutplan.verification.strokes import BoolArray, IntArray, Strokes

__all__ = ["HEIGHT_STEP", "comes_down_moving", "start_height_faults"]

HEIGHT_STEP = 0.05
# Rounded places, and chords in place of arcs, change the length of the way down by so much.
WAY_STEP, WAY_SHARE = 0.1, 0.02
# A way that comes back to its beginning, rounded, comes as near to it, mm.
SAME_PLACE = 0.01
# Blocks that a lead-in takes at most.
LONGEST_LEAD = 8


@dataclass(frozen=True, eq=False)
class _Wanted:
    """Rows that ask for one height."""

    rows: IntArray
    height: float
    what: str


def comes_down_moving(data: CutData, dialect: Dialect) -> bool:
    """Return whether a program has the torch come down while it moves off from a pierce."""
    return dialect.heights == "program" and dialect.lowers_moving and data.lowering_mm > 0.0


def start_height_faults(
    motions: Motions, runs: Runs, data: CutData, dialect: Dialect, over_edge: BoolArray
) -> Iterator[Fault]:
    """Yield heights of preheating, piercing, coming down and cutting that are not the data's.

    Parameters
    ----------
    motions : Motions
    runs : Runs
        The torch's.
    data : CutData
    dialect : Dialect
    over_edge : ndarray of bool
        Runs that begin beside the plate, where nothing is pierced.
    """
    ways = [
        _way_down(runs, burn, data, dialect, bool(edge))
        for burn, edge in zip(runs.burns, over_edge, strict=True)
    ]
    down = (
        np.concatenate([way for way in ways if len(way)]) if any(map(len, ways)) else np.array([], dtype=int)
    )
    yield from _standing_faults(motions, runs, data, over_edge)
    yield from _cutting_faults(motions, runs, data, down)
    for burn, way in zip(runs.burns, ways, strict=True):
        if len(way):
            yield from _way_faults(motions, runs, burn, way, data)


def _way_down(runs: Runs, burn: Burn, data: CutData, dialect: Dialect, edge: bool) -> IntArray:
    """Return the strokes on which the torch has to come down; none where it comes down standing."""
    own = np.arange(burn.strokes.start, burn.strokes.stop)
    if edge or not len(own) or not comes_down_moving(data, dialect):
        return own[:0]
    strokes = runs.strokes[own]
    ends = np.cumsum(strokes.length)
    way = min(data.lowering_mm, float(ends[-1]))
    found = _contour_run(strokes, ends, len(own) - 1, len(own) - 1)
    if found is not None and found[0] > 0:
        way = min(way, float(ends[found[0] - 1]))
    slack = WAY_STEP + WAY_SHARE * way + 2.0 * (dialect.compensation_radius_mm or 0.0)
    return own[ends <= way + slack]


def _contour_run(
    strokes: Strokes, ends: FloatArray, first_on: int, last_on: int
) -> tuple[int, int, int] | None:
    """Return the first stroke of a contour's run, the one that closes it, and the last.

    The lead-in ends where the way comes back to; None where it never does.
    """
    for first in range(min(first_on, LONGEST_LEAD) + 1):
        back = np.hypot(*(strokes.end - strokes.start[first]).T) <= SAME_PLACE
        begins = ends[first - 1] if first else 0.0
        far = ends - begins > 0.5 * ends[-1]
        closing = np.flatnonzero(back & far)
        if len(closing):
            return first, int(closing[0]), max(int(closing[0]), last_on)
    return None


def _standing_faults(motions: Motions, runs: Runs, data: CutData, over_edge: BoolArray) -> Iterator[Fault]:
    waits = (motions.kind == DWELL) | (motions.kind == STOP)
    heats = waits & motions.flame & ~motions.torch
    pierces = waits & motions.torch
    if data.process == "oxyfuel":
        for burn in runs.burns:
            heats[_waits_before(motions, burn.first)] = True
    # Where the jet is lit it stands at its pierce height already.
    pierces[[burn.first for burn in runs.burns]] = True
    begins = np.zeros(len(motions), dtype=np.bool_)
    for burn, edge in zip(runs.burns, over_edge, strict=True):
        begins[burn.first : burn.last] = edge and data.process == "oxyfuel"
    wanted = (
        _Wanted(np.flatnonzero(heats), data.preheat_height or data.pierce_height, "preheats"),
        _Wanted(np.flatnonzero(pierces & ~begins), data.pierce_height, "pierces"),
        _Wanted(np.flatnonzero(pierces & begins), data.cut_height, "waits at an edge"),
    )
    for each in wanted:
        yield from _off(motions, each, data)


def _waits_before(motions: Motions, first: int) -> list[int]:
    """Return the rows that wait at the place of a start before the torch is switched on."""
    rows = []
    for row in range(first - 1, -1, -1):
        if motions.kind[row] == DWELL:
            rows.append(row)
        elif motions.kind[row] not in (SWITCH, STOP) and (
            (motions.start[row, :2] != motions.end[row, :2]).any() or motions.turns[row] != 0.0
        ):
            break
    return rows


def _cutting_faults(motions: Motions, runs: Runs, data: CutData, down: IntArray) -> Iterator[Fault]:
    level = np.ones(len(runs.row), dtype=np.bool_)
    level[down] = False
    rows = np.concatenate([runs.row[level], np.flatnonzero(coasting_rows(motions, data))])
    rows = rows[motions.kind[rows] != RAPID]
    slanted = np.abs(motions.end[rows, 2] - motions.start[rows, 2]) > HEIGHT_STEP
    for row in rows[slanted][:MOST_OF_A_KIND].tolist():
        told = "the torch climbs or sinks in a cut, where it has to stay at its cutting height"
        yield fault_at(motions, row, "height", told)
    yield from _off(motions, _Wanted(rows[~slanted], data.cut_height, "cuts"), data)


def _off(motions: Motions, wanted: _Wanted, data: CutData) -> Iterator[Fault]:
    """Yield the rows that are not at the height they ask for, the worst first."""
    rows, height = wanted.rows, wanted.height
    off = np.maximum(
        np.abs(motions.start[rows, 2] - height), np.abs(motions.end[rows, 2] - height), dtype=np.float64
    )
    wrong = np.flatnonzero(off > HEIGHT_STEP)
    for k in wrong[np.argsort(-off[wrong], kind="stable")][:MOST_OF_A_KIND].tolist():
        row = int(rows[k])
        found = max((motions.start[row, 2], motions.end[row, 2]), key=lambda z: abs(z - height))
        told = f"the torch {wanted.what} at {found:g} mm, the cutting data ask for {height:g} mm"
        trim = bool(off[k] <= data.height_trim * height + HEIGHT_STEP)
        yield fault_at(motions, row, "height", told, trim=trim)


def _way_faults(motions: Motions, runs: Runs, burn: Burn, way: IntArray, data: CutData) -> Iterator[Fault]:
    """The torch begins at its pierce height and comes down evenly to its cutting height."""
    rows = runs.row[way]
    first, last = float(motions.start[rows[0], 2]), float(motions.end[rows[-1], 2])
    yield from _off_at(motions, int(rows[0]), first, data.pierce_height, "moves off", data)
    if way[-1] + 1 >= burn.strokes.stop:
        yield from _off_at(motions, int(rows[-1]), last, data.cut_height, "ends", data)
    share = np.cumsum(runs.strokes.length[way])
    even = first + (last - first) * share / share[-1]
    slack = HEIGHT_STEP + WAY_SHARE * abs(first - last)
    for k in np.flatnonzero(np.abs(motions.end[rows, 2] - even) > slack)[:1].tolist():
        found = motions.end[rows[k], 2]
        told = f"the torch is at {found:g} mm on its way down, even over {share[-1]:.3g} mm it is at {even[k]:.3g} mm"
        yield fault_at(motions, int(rows[k]), "height", told)


def _off_at(
    motions: Motions, row: int, found: float, height: float, what: str, data: CutData
) -> Iterator[Fault]:
    off = abs(found - height)
    if off > HEIGHT_STEP:
        told = f"the torch {what} at {found:g} mm, the cutting data ask for {height:g} mm"
        yield fault_at(motions, row, "height", told, trim=off <= data.height_trim * height + HEIGHT_STEP)
