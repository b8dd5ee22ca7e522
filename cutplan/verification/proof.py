"""The proof: what a program's text alone does to the plate, held against the drawings."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import shapely

from cutplan.base.errors import ProgramError
from cutplan.base.machine import Machine
from cutplan.control import Dialect, Motions, Reading, as_read
from cutplan.process import CutData
from cutplan.stock import NestedPlate
from cutplan.verification.before import (
    Resumed,
    begins_in_kerf,
    motions_before,
    resumed_runs,
    with_before,
)
from cutplan.verification.burning import DWELL_STEP, longest_waits
from cutplan.verification.burns import Runs, find_runs
from cutplan.verification.freeing import Freed, follow, plate_polygon, sweeps_of
from cutplan.verification.loose import NEVER, Loose, check_loose
from cutplan.verification.marks import mark_faults
from cutplan.verification.measure import post_gaps
from cutplan.verification.metal import Metal, measure_metal
from cutplan.verification.model import Done, Fault, Planned, PlannedCut, Verdict
from cutplan.verification.pierces import pierce_faults
from cutplan.verification.placed import PlacedParts, place_parts
from cutplan.verification.readings import other_reading, reading_faults
from cutplan.verification.running import running_faults
from cutplan.verification.scrap import scrap_faults, scrap_runs
from cutplan.verification.strokes import BoolArray
from cutplan.verification.switching import torch_faults
from cutplan.verification.tabs import held_by_tabs, neck_of, place_tabs
from cutplan.verification.totals import total_faults
from cutplan.verification.travel import loose_travel_faults, travel_faults
from cutplan.verification.whole_program import edge_starts, whole_program_faults

__all__ = ["offcuts", "skeleton", "tab_widths", "unreadable", "verify"]

TOLERANCE_MM = 0.05


def verify(
    text: str | Sequence[str] | Reading,
    sheet: NestedPlate,
    data: CutData,
    machine: Machine,
    *,
    dialect: Dialect | None = None,
    tolerance: float = TOLERANCE_MM,
    planned: Planned | None = None,
    done: Done | None = None,
) -> Verdict:
    """Return the verdict on a program.

    Parameters
    ----------
    text : str, sequence of str, or Reading
        The program, or the files that the control's limits split it into, in the order they
        run; or these with the motions read from them.  Nothing else says what is cut.
    sheet : NestedPlate
        The parts that should come off the plate, and where they lie.
    data : CutData
        Kerf, feeds, heights and dwells.
    machine : Machine
    dialect : Dialect, optional
        What the control's words mean.
    tolerance : float
        Bites and metal left up to this are allowed, mm.
    planned : Planned, optional
        The cuts of the plan, and how many torches make them.
    done : Done, optional
        What was cut and marked before, where the program begins again.

    Returns
    -------
    Verdict
        Passed where there is no fault; a text that cannot be read is a fault too.

    Notes
    -----
    Bites and metal left are measured on the exact lines and arcs; `measure` says how, and
    errs to the strict side by at most 0.002 mm.  What comes loose is followed on polygons
    that take away 0.005 to 0.01 mm less than the jet does.
    """
    done = done or Done()
    try:
        read = as_read(text, dialect)
        texts, dialect, motions = read.texts, read.dialect, read.motions
        earlier = motions_before(done.before, dialect)
    except ProgramError as error:
        return unreadable(error, tolerance)
    known = _known(planned, done)
    found = _followed(with_before(motions, earlier), sheet, data, tolerance, done, known)
    own, own_marks = find_runs(motions, motions.torch), find_runs(motions, motions.marker & ~motions.torch)
    first = len(found.runs.burns) - len(own.burns)
    faults = [
        *whole_program_faults(motions, own, sheet, data, machine, dialect, found.over_edge[first:], planned),
        *torch_faults(motions, texts, dialect, planned or Planned()),
        *reading_faults(motions, other_reading(texts, dialect), texts, dialect),
        *travel_faults(motions, sheet, data, machine),
        # What programs before this one did wrong was told then.
        *(
            each
            for each in _plate_faults(found, data, machine, dialect, known, tolerance)
            if (each.line or 0) >= 0
        ),
    ]
    notes = [*motions.departures, *_wait_notes(own, data)]
    if planned is not None:
        totals, more = total_faults(own, own_marks, planned, data, dialect.compensation_radius_mm or 0.0)
        faults, notes = [*faults, *totals], [*notes, *more]
    return replace(_verdict(found, first, faults), notes=tuple(notes), tolerance_mm=tolerance)


class _Known(NamedTuple):
    """What is known beside the text: the plan with the cuts of programs before it, and what those made."""

    planned: Planned | None
    resumed: dict[int, Resumed]
    marks: tuple[PlannedCut, ...]


def _known(planned: Planned | None, done: Done) -> _Known:
    if planned is not None and done.before:
        earlier = [cut for ran in done.before for cut in ran.cuts]
        planned = replace(planned, cuts=(*earlier, *planned.cuts))
    return _Known(planned, resumed_runs(planned or Planned(), done.before), done.marks)


def unreadable(error: ProgramError, tolerance: float) -> Verdict:
    """Return the verdict on a text that is no program.

    Parameters
    ----------
    error : ProgramError
    tolerance : float
        mm.

    Returns
    -------
    Verdict
    """
    found = re.search(r"line ([0-9]+)", error.where or "")
    fault = Fault("syntax", str(error), int(found[1]) if found else None)
    return Verdict(False, (fault,), 0.0, float("inf"), tolerance_mm=tolerance)


class _Followed(NamedTuple):
    """What a program does together with those before it: runs of torch and marker, and what comes of the parts."""

    motions: Motions
    runs: Runs
    marks: Runs
    parts: PlacedParts
    to_drill: BoolArray
    over_edge: BoolArray
    metal: Metal
    loose: Loose


def _followed(
    motions: Motions, sheet: NestedPlate, data: CutData, tolerance: float, done: Done, known: _Known
) -> _Followed:
    runs = find_runs(motions, motions.torch)
    marks = find_runs(motions, motions.marker & ~motions.torch)
    radius = 0.5 * data.kerf
    parts = place_parts(sheet, radius)
    # Neither is asked for any more, nor what lies in it.
    to_drill = _drilled(marks, parts, data)
    drilled = to_drill | _cut_before(parts, done)
    tabs = place_tabs(parts, known.planned, radius)
    metal = measure_metal(motions, runs, parts, radius, tolerance, drilled, known.planned, tabs)
    in_scrap = scrap_runs(runs, known.planned)
    freed = follow(sweeps_of(runs, radius), plate_polygon(sheet.plate.outline), in_scrap)
    held = held_by_tabs(parts, tabs)
    loose = check_loose(motions, runs, parts, freed, radius, tolerance, drilled, held)
    loose.faults.extend(scrap_faults(runs, known.planned, freed))
    over_edge = edge_starts(runs, sheet) | begins_in_kerf(runs, known.resumed)
    return _Followed(motions, runs, marks, parts, to_drill, over_edge, metal, loose)


def _plate_faults(
    found: _Followed, data: CutData, machine: Machine, dialect: Dialect, known: _Known, tolerance: float
) -> list[Fault]:
    """Return what is wrong on the plate, whichever program did it."""
    motions, runs, parts, loose = found.motions, found.runs, found.parts, found.loose
    return [
        *_pierce_faults(found, 0.5 * data.kerf - tolerance),
        *pierce_faults(runs, parts, data, found.over_edge, (known.planned or Planned()).shifts),
        *loose_travel_faults(motions, runs, parts, loose, data, machine),
        *running_faults(motions, runs, parts, data, dialect, known.planned, known.resumed),
        *found.metal.faults,
        *loose.faults,
        *mark_faults(
            motions, found.marks, runs, parts, loose, found.to_drill, dialect, made=known.marks,
            wanted=machine.marker and bool(dialect.marker_on), feed_trim=data.feed_trim,
        ),
    ]  # fmt: skip


def _wait_notes(runs: Runs, data: CutData) -> list[str]:
    longest = longest_waits(runs, data)
    asked = max(data.pre_flow_s, DWELL_STEP)
    return [f"the program waits up to {longest:g} s, unlit, before a cut"] if longest > asked else []


def _verdict(found: _Followed, first: int, faults: list[Fault]) -> Verdict:
    """Return the verdict; runs before the first were another program's."""
    runs, parts, metal, loose = found.runs, found.parts, found.metal, found.loose
    bite, left = _worst(metal.bite), _worst(metal.left)
    order = [int(i) for i in np.argsort(loose.by, kind="stable") if first <= loose.by[i] != NEVER]
    placements = parts.sheet.placements
    return Verdict(
        passed=all(fault.trim for fault in faults),
        faults=tuple(fault for fault in faults if not fault.trim),
        trims=tuple(fault for fault in faults if fault.trim),
        worst_bite_mm=float(metal.bite[bite]) if bite is not None else 0.0,
        worst_left_mm=float(metal.left[left]) if left is not None else 0.0,
        worst_bite_at=_xy(metal.bite_at[bite]) if bite is not None else None,
        worst_left_at=_xy(metal.left_at[left]) if left is not None else None,
        parts_freed=len(order),
        pierces=len(runs.burns) - first,
        cut_length_mm=float(runs.strokes.length[runs.owner >= first].sum()),
        freed=tuple(
            (placements[i].part.name, placements[i].copy, runs.burns[int(loose.by[i])].line) for i in order
        ),
        part_bite_mm=tuple(metal.bite.tolist()),
        part_left_mm=tuple(metal.left.tolist()),
    )


def _worst(values: Any) -> int | None:
    return int(np.argmax(values)) if len(values) and values.max() > 0.0 else None


def _xy(point: Any) -> tuple[float, float]:
    return (float(point[0]), float(point[1]))


def _cut_before(parts: PlacedParts, done: Done) -> BoolArray:
    """Return which contours another program has cut."""
    placements = parts.sheet.placements
    found = np.zeros(len(parts.contour_hole), dtype=np.bool_)
    for k, (index, hole) in enumerate(zip(parts.contour_placement, parts.contour_hole, strict=True)):
        placed = placements[int(index)]
        found[k] = (placed.part.name, placed.copy, int(hole) if hole >= 0 else None) in done.contours
    return found


def _drilled(marks: Runs, parts: PlacedParts, data: CutData) -> BoolArray:
    """Return which holes are too small to cut and are marked at their centre instead."""
    drilled = np.zeros(len(parts.contour_hole), dtype=np.bool_)
    holes = np.flatnonzero(parts.contour_hole >= 0)
    if not len(marks.strokes) or not len(holes):
        return drilled
    boxes = parts.edges.boxes()
    for contour in holes.tolist():
        own = boxes[parts.edge_contour == contour]
        low, high = own[:, :2].min(axis=0), own[:, 2:].max(axis=0)
        if (high - low).min() >= data.rules.smallest_hole:
            continue
        gaps, _ = post_gaps(0.5 * (low + high)[None, :], marks.strokes, 0.5 * float((high - low).min()))
        drilled[contour] = bool(np.isfinite(gaps[0]))
    return drilled


def _pierce_faults(found: _Followed, radius: float) -> list[Fault]:
    """Return pierces on parts, or so near that a hole of a radius reaches one."""
    runs, parts = found.runs, found.parts
    if not runs.burns or not parts.metal:
        return []
    points = shapely.points(np.array([burn.pierce for burn in runs.burns]))
    near = shapely.STRtree(parts.metal).query(points, predicate="dwithin", distance=radius)
    faults = []
    for run, index in zip(*near, strict=True):
        if found.over_edge[run]:
            continue
        placed, burn = parts.sheet.placements[int(index)], runs.burns[int(run)]
        message = f"a pierce on {placed.part.name!r} copy {placed.copy}"
        name, copy = placed.part.name, placed.copy
        faults.append(Fault("pierce-on-part", message, burn.line, burn.pierce, name, copy))
    return faults


def skeleton(
    text: str | Sequence[str] | Reading, sheet: NestedPlate, data: CutData, *, dialect: Dialect | None = None
) -> Any:
    """Return what is left of the plate when all that a program frees is taken off.

    Parameters
    ----------
    text : str, sequence of str, or Reading
    sheet : NestedPlate
    data : CutData
    dialect : Dialect, optional

    Returns
    -------
    shapely Polygon or MultiPolygon
        Plate coordinates, mm; never more metal than there is, and less by at most 0.02 mm.
    """
    plate, freed = _freed(text, sheet, data, dialect)
    # Parts that tabs hold come off too, once these are broken.
    parts = [shapely.Polygon(metal.exterior) for metal in place_parts(sheet, 0.5 * data.kerf).metal]
    return shapely.difference(plate, shapely.union_all([*freed.removed, *freed.rings, *parts]))


def offcuts(
    text: str | Sequence[str] | Reading, sheet: NestedPlate, data: CutData, *, dialect: Dialect | None = None
) -> tuple[Any, ...]:
    """Return what a program cuts loose beside the parts: discs out of holes, ends cut off a plate.

    Parameters
    ----------
    text : str, sequence of str, or Reading
    sheet : NestedPlate
    data : CutData
    dialect : Dialect, optional

    Returns
    -------
    tuple of shapely Polygon
        Plate coordinates, mm, largest first; never more metal than there is, and less by at
        most 0.02 mm.
    """
    _, freed = _freed(text, sheet, data, dialect)
    loose = shapely.difference(shapely.union_all(freed.rings), shapely.union_all(freed.removed))
    pieces = shapely.get_parts(loose)
    parts = place_parts(sheet, 0.5 * data.kerf)
    holding, _ = shapely.STRtree(parts.metal).query(pieces, predicate="intersects")
    others = np.delete(pieces, np.unique(holding))
    return tuple(sorted(others, key=lambda piece: (-piece.area, piece.bounds)))


def tab_widths(
    text: str | Sequence[str] | Reading,
    sheet: NestedPlate,
    data: CutData,
    planned: Planned,
    *,
    dialect: Dialect | None = None,
) -> tuple[float, ...]:
    """Return how wide a program leaves each planned tab, by the proof's own measure.

    Parameters
    ----------
    text : str, sequence of str, or Reading
    sheet : NestedPlate
        What one torch cuts.
    data : CutData
    planned : Planned
    dialect : Dialect, optional

    Returns
    -------
    tuple of float
        mm, of the metal where it is narrowest, in the plan's order; inf where there is no tab.
    """
    motions = as_read(text, dialect).motions
    runs, radius = find_runs(motions, motions.torch), 0.5 * data.kerf
    tabs = place_tabs(place_parts(sheet, radius), planned, radius)
    return tuple(neck_of(runs.strokes, tab, radius) for tab in tabs)


def _freed(
    text: str | Sequence[str] | Reading, sheet: NestedPlate, data: CutData, dialect: Dialect | None
) -> tuple[Any, Freed]:
    """Return the plate as a polygon, and what comes loose with sweeps never smaller than the jet's."""
    motions = as_read(text, dialect).motions
    plate = plate_polygon(sheet.plate.outline)
    runs = find_runs(motions, motions.torch)
    return plate, follow(sweeps_of(runs, 0.5 * data.kerf, grow=True), plate)
