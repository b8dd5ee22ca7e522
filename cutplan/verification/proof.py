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
from cutplan.control import Dialect, Motions, read_files
from cutplan.process import CutData
from cutplan.stock import NestedPlate
from cutplan.verification.burning import DWELL_STEP, longest_waits
from cutplan.verification.burns import Runs, find_runs
from cutplan.verification.freeing import Freed, follow, plate_polygon, sweeps_of
from cutplan.verification.loose import NEVER, Loose, check_loose
from cutplan.verification.marks import mark_faults
from cutplan.verification.measure import post_gaps
from cutplan.verification.metal import Metal, measure_metal
from cutplan.verification.model import Done, Fault, Planned, Verdict
from cutplan.verification.pierces import pierce_faults
from cutplan.verification.placed import PlacedParts, place_parts
from cutplan.verification.readings import other_reading, reading_faults
from cutplan.verification.running import running_faults
from cutplan.verification.strokes import BoolArray
from cutplan.verification.switching import torch_faults
from cutplan.verification.tabs import held_by_tabs, place_tabs
from cutplan.verification.totals import total_faults
from cutplan.verification.travel import loose_travel_faults, travel_faults
from cutplan.verification.whole_program import edge_starts, whole_program_faults

__all__ = ["offcuts", "skeleton", "verify"]

TOLERANCE_MM = 0.05


def verify(
    text: str | Sequence[str],
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
    text : str or sequence of str
        The program, or the files that the control's limits split it into, in the order they
        run.  Nothing else says what is cut.
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
    dialect, done = dialect or Dialect(), done or Done()
    texts = [text] if isinstance(text, str) else list(text)
    try:
        motions = read_files(texts, dialect, strict=False)
    except ProgramError as error:
        return _unreadable(error, tolerance)
    runs, marks, parts, to_drill, metal, loose = _followed(motions, sheet, data, tolerance, done, planned)
    radius, over_edge = 0.5 * data.kerf, edge_starts(runs, sheet)
    faults = [
        *whole_program_faults(motions, runs, sheet, data, machine, dialect, planned),
        *torch_faults(motions, texts, dialect, planned or Planned()),
        *reading_faults(motions, other_reading(texts, dialect), texts, dialect),
        *_pierce_faults(runs, parts, radius, tolerance, over_edge),
        *pierce_faults(runs, parts, data, over_edge, (planned or Planned()).shifts),
        *travel_faults(motions, sheet, data, machine),
        *loose_travel_faults(motions, runs, parts, loose, data, machine),
        *running_faults(motions, runs, parts, data, dialect, planned),
        *metal.faults,
        *loose.faults,
        *mark_faults(
            motions, marks, runs, parts, loose, to_drill, dialect, made=done.marks,
            wanted=machine.marker and bool(dialect.marker_on), feed_trim=data.feed_trim,
        ),
    ]  # fmt: skip
    notes = [*motions.departures, *_wait_notes(runs, data)]
    if planned is not None:
        totals, more = total_faults(runs, marks, planned, data, dialect.compensation_radius_mm or 0.0)
        faults, notes = [*faults, *totals], [*notes, *more]
    return replace(_verdict(runs, parts, metal, loose, faults), notes=tuple(notes), tolerance_mm=tolerance)


def _unreadable(error: ProgramError, tolerance: float) -> Verdict:
    found = re.search(r"line ([0-9]+)", error.where or "")
    fault = Fault("syntax", str(error), int(found[1]) if found else None)
    return Verdict(False, (fault,), 0.0, float("inf"), tolerance_mm=tolerance)


class _Followed(NamedTuple):
    """What a program does: the torch's and the marker's runs, and what comes of the parts."""

    runs: Runs
    marks: Runs
    parts: PlacedParts
    to_drill: BoolArray
    metal: Metal
    loose: Loose


def _followed(
    motions: Motions, sheet: NestedPlate, data: CutData, tolerance: float, done: Done, planned: Planned | None
) -> _Followed:
    runs = find_runs(motions, motions.torch)
    marks = find_runs(motions, motions.marker & ~motions.torch)
    radius = 0.5 * data.kerf
    parts = place_parts(sheet, radius)
    # Neither is asked for any more, nor what lies in it.
    to_drill = _drilled(marks, parts, data)
    drilled = to_drill | _cut_before(parts, done)
    tabs = place_tabs(parts, planned, radius)
    metal = measure_metal(motions, runs, parts, radius, tolerance, drilled, planned, tabs)
    freed = follow(sweeps_of(runs, radius), plate_polygon(sheet.plate.outline))
    held = held_by_tabs(parts, tabs)
    loose = check_loose(motions, runs, parts, freed, radius, tolerance, drilled, held)
    return _Followed(runs, marks, parts, to_drill, metal, loose)


def _wait_notes(runs: Runs, data: CutData) -> list[str]:
    longest = longest_waits(runs, data)
    asked = max(data.pre_flow_s, DWELL_STEP)
    return [f"the program waits up to {longest:g} s, unlit, before a cut"] if longest > asked else []


def _verdict(runs: Runs, parts: PlacedParts, metal: Metal, loose: Loose, faults: list[Fault]) -> Verdict:
    bite, left = _worst(metal.bite), _worst(metal.left)
    order = [int(i) for i in np.argsort(loose.by, kind="stable") if loose.by[i] != NEVER]
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
        pierces=len(runs.burns),
        cut_length_mm=float(runs.strokes.length.sum()),
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


def _pierce_faults(
    runs: Runs, parts: PlacedParts, radius: float, tolerance: float, over_edge: BoolArray
) -> list[Fault]:
    """Return pierces on parts, or so near that the hole they blow reaches one."""
    if not runs.burns or not parts.metal:
        return []
    points = shapely.points(np.array([burn.pierce for burn in runs.burns]))
    found = shapely.STRtree(parts.metal).query(points, predicate="dwithin", distance=radius - tolerance)
    faults = []
    for run, index in zip(*found, strict=True):
        if over_edge[run]:
            continue
        placed, burn = parts.sheet.placements[int(index)], runs.burns[int(run)]
        message = f"a pierce on {placed.part.name!r} copy {placed.copy}"
        name, copy = placed.part.name, placed.copy
        faults.append(Fault("pierce-on-part", message, burn.line, burn.pierce, name, copy))
    return faults


def skeleton(
    text: str | Sequence[str], sheet: NestedPlate, data: CutData, *, dialect: Dialect | None = None
) -> Any:
    """Return what is left of the plate when all that a program frees is taken off.

    Parameters
    ----------
    text : str or sequence of str
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
    text: str | Sequence[str], sheet: NestedPlate, data: CutData, *, dialect: Dialect | None = None
) -> tuple[Any, ...]:
    """Return what a program cuts loose beside the parts: discs out of holes, ends cut off a plate.

    Parameters
    ----------
    text : str or sequence of str
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


def _freed(
    text: str | Sequence[str], sheet: NestedPlate, data: CutData, dialect: Dialect | None
) -> tuple[Any, Freed]:
    """Return the plate as a polygon, and what comes loose with sweeps never smaller than the jet's."""
    texts = [text] if isinstance(text, str) else text
    motions = read_files(texts, dialect or Dialect(), strict=False)
    plate = plate_polygon(sheet.plate.outline)
    runs = find_runs(motions, motions.torch)
    return plate, follow(sweeps_of(runs, 0.5 * data.kerf, grow=True), plate)
