"""Every move held against what it could meet: clamps, loose parts, the ends of the table.

Moves are lines and arcs as they are; a clamp is met where its outline comes nearer to the torch's
way than the torch's radius, burning or not, unless the torch is known to be high enough above it.
Where the program states no heights the control owns them, and the machine says how high it
travels; the cutting data say how high it cuts.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely

from cutplan.base.machine import Machine
from cutplan.control import ARC_CCW, RAPID, Motions
from cutplan.geometry import FloatArray, Path, bounds, to_polygon
from cutplan.process import CutData
from cutplan.stock import Keepout, NestedPlate, Plate
from cutplan.verification.burns import Runs, strokes_in
from cutplan.verification.loose import NEVER, Loose
from cutplan.verification.measure import BoxIndex
from cutplan.verification.model import Fault
from cutplan.verification.placed import PlacedParts
from cutplan.verification.strokes import BoolArray, IntArray, Strokes, gap_between, strokes_of, tight_boxes

__all__ = ["loose_travel_faults", "travel_faults"]

# Coordinates are rounded, and outlines are seen in chords, mm.
SLACK = 0.05
VIEW_TOLERANCE = 0.01
MOST_OF_A_KIND = 20


class _Moves:
    """All moves of a program over the plate, with the height of the torch in each."""

    def __init__(self, motions: Motions, machine: Machine, data: CutData) -> None:
        motions = _from_start(motions, machine)
        way = np.abs(motions.end[:, :2] - motions.start[:, :2]).sum(axis=1)
        moving = (motions.kind >= RAPID) & (motions.kind <= ARC_CCW)
        self.row: IntArray = np.flatnonzero(moving & ((way > 0.0) | (motions.turns != 0.0)))
        self.strokes: Strokes = strokes_in(motions, self.row)
        self.line = motions.line[self.row]
        self.lit: BoolArray = (motions.torch | motions.marker)[self.row]
        self.burns: BoolArray = motions.torch[self.row]
        heights = np.minimum(motions.start[:, 2], motions.end[:, 2])
        self.stated = bool(np.abs(motions.end[:, 2]).any())
        if self.stated:
            self.height: FloatArray = heights[self.row]
        else:
            self.height = np.where(self.lit, data.cut_height, machine.travel_height_mm)


def _from_start(motions: Motions, machine: Machine) -> Motions:
    """Return motions in which each file begins where the machine stands, not where the reader does."""
    if not len(motions):
        return motions
    start = motions.start.copy()
    jumps = np.ones(len(motions), dtype=np.bool_)
    jumps[1:] = (motions.start[1:, :2] != motions.end[:-1, :2]).any(axis=1)
    # Until the first move over the plate the torch stands where it stood.
    still = (motions.start[:, :2] == motions.end[:, :2]).all(axis=1) & (motions.turns == 0.0)
    for first in np.flatnonzero(jumps).tolist():
        row = first
        while row < len(motions):
            start[row, :2] = machine.start
            if not still[row]:
                break
            row += 1
    return replace(motions, start=start)


def travel_faults(motions: Motions, sheet: NestedPlate, data: CutData, machine: Machine) -> Iterator[Fault]:
    """Yield the moves that meet a clamp, burn where no metal is, or leave the table or the plate's margin.

    Parameters
    ----------
    motions : Motions
    sheet : NestedPlate
    data : CutData
        Kerf, and the height at which the torch cuts.
    machine : Machine
        Its table, margin and start, and the torch's radius and heights.
    """
    moves = _Moves(motions, machine, data)
    for keepout in sheet.plate.keepouts:
        yield from _keepout_faults(moves, keepout, 0.5 * data.kerf, machine)
    for void in sheet.plate.voids:
        for k, _ in _near(moves, void, moves.burns, 0.5 * data.kerf):
            yield _fault(moves, k, "keep-out", "the torch burns over a hole in the plate")
    yield from _margin_faults(moves, sheet.plate, machine)
    yield from _table_faults(moves, machine)


def _keepout_faults(moves: _Moves, keepout: Keepout, radius: float, machine: Machine) -> Iterator[Fault]:
    heights, of_height = np.unique(moves.height, return_inverse=True)
    low = np.array([keepout.bars(float(height)) for height in heights], dtype=np.bool_)[of_height]
    called = "a clamp of unknown height"
    if keepout.height_mm is not None:
        called = f"a clamp {keepout.height_mm:g} mm high"
    for k, gap in _near(moves, keepout.outline, low, machine.torch_radius_mm):
        doing = "burns" if moves.burns[k] else "travels"
        told = f"the torch {doing} {gap:.2f} mm from {called}, its radius is {machine.torch_radius_mm:g} mm"
        yield _fault(moves, k, "keep-out", told)
    if not keepout.stands:
        for k, _ in _near(moves, keepout.outline, moves.burns, radius):
            yield _fault(moves, k, "keep-out", "the torch burns in a keep-out")


def _near(moves: _Moves, outline: Path, among: BoolArray, reach: float) -> Iterator[tuple[int, float]]:
    """Yield the moves among some that come nearer to an outline than a reach, and how near."""
    rows = np.flatnonzero(among)
    own, edges = moves.strokes[rows], strokes_of(outline)
    gaps = np.full(len(rows), np.inf)
    pair, edge = BoxIndex(edges.boxes()).pairs(own.boxes(), reach)
    np.minimum.at(gaps, pair, gap_between(own[pair], edges[edge])[0])
    inside = to_polygon(outline, tolerance=VIEW_TOLERANCE)
    gaps[np.asarray(shapely.contains_xy(inside, *own.start.T), dtype=np.bool_)] = 0.0
    for k in np.flatnonzero(gaps < reach - SLACK)[:MOST_OF_A_KIND].tolist():
        yield int(rows[k]), float(gaps[k])


def _fault(moves: _Moves, k: int, code: str, message: str) -> Fault:
    x, y = moves.strokes.end[k].tolist()
    return Fault(code, message, int(moves.line[k]), (x, y))


def _margin_faults(moves: _Moves, plate: Plate, machine: Machine) -> Iterator[Fault]:
    """The torch stays within the margin round the plate; its own start may lie beyond."""
    if not len(moves.row):
        return
    x0, y0, x1, y1 = bounds(plate.outline)
    margin, start = machine.plate_margin_mm + SLACK, machine.start
    room = np.array(
        [
            min(x0 - margin, start[0] - SLACK),
            min(y0 - margin, start[1] - SLACK),
            max(x1 + margin, start[0] + SLACK),
            max(y1 + margin, start[1] + SLACK),
        ]
    )
    boxes = tight_boxes(moves.strokes)
    beyond = (boxes[:, :2] < room[:2]).any(axis=1) | (boxes[:, 2:] > room[2:]).any(axis=1)
    for k in np.flatnonzero(beyond)[:MOST_OF_A_KIND].tolist():
        told = f"a move goes further than {machine.plate_margin_mm:g} mm beyond the plate"
        yield _fault(moves, k, "off-margin", told)


def _table_faults(moves: _Moves, machine: Machine) -> Iterator[Fault]:
    """The way from the lowest to the highest place, arcs included, must fit the table's travel."""
    if not len(moves.row):
        return
    boxes = tight_boxes(moves.strokes)
    for axis, name in enumerate("xy"):
        # Either end of the way may be the one that is too far.
        low, high = min(float(boxes[:, axis].min()), 0.0), float(boxes[:, 2 + axis].max())
        travel = machine.table[axis]
        if high - low <= travel + SLACK:
            continue
        over = boxes[:, 2 + axis] > travel + SLACK
        worst = over if over.any() else boxes[:, axis] <= low
        k = int(np.flatnonzero(worst)[0])
        told = f"the program needs {high - low:.1f} mm in {name}, the table travels {travel:g} mm"
        yield _fault(moves, k, "off-table", told)


def loose_travel_faults(
    motions: Motions, runs: Runs, parts: PlacedParts, loose: Loose, data: CutData, machine: Machine
) -> Iterator[Fault]:
    """Yield the travels below travel height over parts that are loose: they may stand up.

    Only a program that states heights can be told to travel low.
    """
    moves = _Moves(motions, machine, data)
    if not moves.stated or not parts.metal:
        return
    raised = min(machine.travel_height_mm, float(moves.height.max(initial=0.0)))
    low = np.flatnonzero(~moves.lit & (moves.height < raised - SLACK))
    lines = shapely.linestrings(np.stack([moves.strokes.start[low], moves.strokes.end[low]], axis=1))
    # The torch leaves a part from the middle of its kerf, so it crosses its edge only to go over it.
    move, part = shapely.STRtree(parts.metal).query(lines, predicate="intersects")
    freed_at = np.array([runs.burns[int(by)].last if by != NEVER else len(motions) for by in loose.by])
    over = moves.row[low[move]] >= freed_at[part]
    for k, index in sorted(set(zip(low[move[over]].tolist(), part[over].tolist(), strict=True)))[
        :MOST_OF_A_KIND
    ]:
        placed = parts.sheet.placements[index]
        told = (
            f"a travel at {moves.height[k]:g} mm over {placed.part.name!r} copy {placed.copy}, which is loose"
        )
        yield replace(_fault(moves, k, "low-over-loose", told), part=placed.part.name, copy=placed.copy)
