"""The proof of a program that bevels: in three dimensions, from its text alone, against the drawings.

Terminology
-----------
section : a finished part at one depth; the swept kerf is held against it at the top, the lands, the
    bottom, and between.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import shapely

from cutplan.base.errors import ProgramError
from cutplan.base.machine import Machine
from cutplan.control import Dialect, Motions, read_files
from cutplan.drawing import Part, PreparedEdge, faces_of, prepared_edges, section_at
from cutplan.geometry import FloatArray, place_points
from cutplan.process import CutData
from cutplan.stock import NestedPlate
from cutplan.verification.bevel_faces import Face, face_faults, faces_asked
from cutplan.verification.burns import Runs, find_runs
from cutplan.verification.jets import Jets, hand_setting, jets_of
from cutplan.verification.model import Fault, PlannedBevels, PlannedMake, Verdict
from cutplan.verification.pierces import pierce_faults
from cutplan.verification.placed import drawn_polygon, place_parts
from cutplan.verification.proof import unreadable
from cutplan.verification.readings import other_reading, reading_faults
from cutplan.verification.totals import total_faults
from cutplan.verification.travel import travel_faults
from cutplan.verification.whole_program import edge_starts, whole_program_faults

__all__ = ["unmade_bevels", "verify_bevels"]

# Sections between two planes of note.
BETWEEN = 2
# A bite of less area than this is rounding, mm².
ROUNDING_MM2 = 0.05
# A setting told in round figures is off by up to this, degrees.
SETTING_DEG = 0.05
# Metal between a square cut's start and a groove, beyond half the kerf, mm.
SOUND_METAL = 1.0


def verify_bevels(
    text: str | Sequence[str],
    sheet: NestedPlate,
    data: CutData,
    machine: Machine,
    asked: PlannedBevels,
    *,
    dialect: Dialect | None = None,
    tolerance: float = 0.05,
) -> Verdict:
    """Return the verdict on a program that bevels edges of a sheet's parts.

    Parameters
    ----------
    text : str or sequence of str
        The program.
    sheet : NestedPlate
        The parts, with what their edges ask for.
    data : CutData
        For the plate's thickness along the jet.
    machine : Machine
    asked : PlannedBevels
        Its setting and its runs.
    dialect : Dialect, optional
    tolerance : float
        Faces may lie so far off, and bites go so deep, mm.

    Returns
    -------
    Verdict

    Notes
    -----
    The kerf is a cylinder along the jet, swept along the way; faces are measured across it, exactly
    where the way is straight.
    """
    dialect = dialect or Dialect()
    texts = [text] if isinstance(text, str) else list(text)
    try:
        motions = read_files(texts, dialect, strict=False)
    except ProgramError as error:
        return unreadable(error, tolerance)
    runs = find_runs(motions, motions.torch)
    setting, told = _setting(texts, motions, dialect, asked)
    jets = jets_of(motions, runs, dialect, 0.5 * data.kerf, setting)
    over_edge = edge_starts(runs, sheet)
    faults = [
        *told,
        *whole_program_faults(motions, runs, sheet, data, machine, dialect, over_edge, asked.planned),
        *reading_faults(motions, other_reading(texts, dialect), texts, dialect),
        *pierce_faults(runs, place_parts(sheet, 0.5 * data.kerf), data, over_edge),
        *travel_faults(motions, sheet, data, machine),
        *_marker_faults(motions),
        *total_faults(runs, find_runs(motions, motions.marker), asked.planned, data, 0.0)[0],
        *_bites(jets, runs, sheet, tolerance),
    ]
    if asked.when == "before":
        faults += [*_freed(jets, sheet), *_spoilt_starts(jets, sheet, asked, data)]
    told, off = _of_faces(jets, sheet, asked, tolerance)
    return _verdict([*faults, *told], runs, off, tolerance)


def _of_faces(
    jets: Jets, sheet: NestedPlate, asked: PlannedBevels, tolerance: float
) -> tuple[list[Fault], FloatArray]:
    """Return what is wrong with the faces that a program is to make, and how far off they are, mm."""
    faults: list[Fault] = []
    off = [np.zeros(0)]
    for face in faces_asked(sheet, asked.slope, [make for cut in asked.planned.cuts for make in cut.makes]):
        if isinstance(face, PlannedMake):
            told = "the plan bevels an edge that no drawing asks for"
            faults.append(Fault("bevel-missing", told, None, None, face.part, face.copy))
            continue
        found, values = face_faults(face, jets, sheet.plate.thickness, tolerance)
        faults += found
        off.append(values)
    return faults, np.concatenate(off)


def _verdict(faults: Sequence[Fault], runs: Runs, off: FloatArray, tolerance: float) -> Verdict:
    return Verdict(
        passed=all(fault.trim for fault in faults),
        faults=tuple(fault for fault in faults if not fault.trim),
        trims=tuple(fault for fault in faults if fault.trim),
        worst_bite_mm=float(max(-off.min(initial=0.0), 0.0)),
        worst_left_mm=float(max(off.max(initial=0.0), 0.0)),
        pierces=len(runs.burns),
        cut_length_mm=float(runs.strokes.length.sum()),
        tolerance_mm=tolerance,
    )


def _setting(
    texts: list[str], motions: Motions, dialect: Dialect, asked: PlannedBevels
) -> tuple[tuple[float, float] | None, list[Fault]]:
    """Return how the operator is told to set the torch, and how that differs from the plan."""
    if dialect.head == "fixed":
        return (0.0, 0.0), [Fault("bevel-setting", "the dialect knows of no head that leans")]
    if dialect.head != "hand":
        return None, []
    found = hand_setting(texts, motions, dialect)
    if isinstance(found, str):
        return (0.0, 0.0), [Fault("bevel-setting", found)]
    apart = abs(found[0] - asked.tilt_deg)
    turned = abs((found[1] - (asked.towards_deg or 0.0) + 180.0) % 360.0 - 180.0)
    if max(apart, turned) <= SETTING_DEG:
        return found, []
    told = (
        f"the torch is to be set to {found[0]:g}° towards {found[1]:g}°, "
        f"the plan has {asked.tilt_deg:g}° towards {asked.towards_deg or 0.0:g}°"
    )
    return found, [Fault("bevel-setting", told)]


def _marker_faults(motions: Motions) -> Iterator[Fault]:
    if motions.marker.any():
        line = int(motions.line[np.argmax(motions.marker)])
        yield Fault("mark-stray", "a program that bevels marks nothing", line)


def _planes(sheet: NestedPlate) -> list[float]:
    """Return the depths at which the kerf is held against sections, mm."""
    thickness = sheet.plate.thickness
    noted = {0.0, thickness}
    for placement in sheet.placements:
        for asked in placement.part.bevelled_here:
            faces = faces_of(asked, thickness)
            noted |= {faces.upper.depth} if faces.upper else set()
            noted |= {thickness - faces.lower.depth} if faces.lower else set()
    depths = sorted(noted)
    between = [
        a + (b - a) * k / (BETWEEN + 1) for a, b in itertools.pairwise(depths) for k in range(1, BETWEEN + 1)
    ]
    return sorted({*depths, *between})


def _bites(jets: Jets, runs: Runs, sheet: NestedPlate, tolerance: float) -> Iterator[Fault]:
    """Yield the parts that the swept kerf runs into, the deepest plane of each alone."""
    thickness = sheet.plate.thickness
    worst: dict[int, tuple[float, Any]] = {}
    cache: dict[tuple[int, float], Any] = {}
    for depth in _planes(sheet):
        kerf = jets.slice_at(depth, grow=False)
        inside = min(max(depth, 1e-6), thickness - 1e-6)
        for index, placement in enumerate(sheet.placements):
            key = (id(placement.part), depth)
            if key not in cache:
                cache[key] = section_at(placement.part, inside, thickness).buffer(-tolerance)
            matter = shapely.transform(cache[key], lambda p, pose=placement.pose: place_points(p, pose))
            bitten = shapely.intersection(matter, kerf)
            if bitten.area > max(ROUNDING_MM2, worst.get(index, (0.0, None))[0]):
                worst[index] = (float(bitten.area), bitten.representative_point())
    for index, (area, at) in worst.items():
        placed = sheet.placements[index]
        told = f"the leaning jet takes {area:.1f} mm² out of a section of {placed.part.name!r}"
        yield Fault("bevel-bite", told, None, (float(at.x), float(at.y)), placed.part.name, placed.copy)


def _freed(jets: Jets, sheet: NestedPlate) -> Iterator[Fault]:
    """Yield the parts that these runs alone cut loose: enclosed at every depth."""
    enclosed: list[set[int]] = []
    places = shapely.points([place_points([_inner(p.part)], p.pose)[0] for p in sheet.placements])
    for depth in _planes(sheet):
        kerf = jets.slice_at(depth, grow=True)
        rings = [shapely.Polygon(r) for poly in shapely.get_parts(kerf) for r in poly.interiors]
        enclosed.append({k for k, at in enumerate(places) if any(ring.contains(at) for ring in rings)})
    for index in sorted(set.intersection(*enclosed) if enclosed else set()):
        placed = sheet.placements[index]
        told = f"{placed.part.name!r} copy {placed.copy} is loose before its square cut"
        at = places[index]
        yield Fault("bevel-frees", told, None, (float(at.x), float(at.y)), placed.part.name, placed.copy)


def _inner(part: Part) -> tuple[float, float]:
    """Return a place well inside a part's outline."""
    at = drawn_polygon(part).representative_point()
    return float(at.x), float(at.y)


def _spoilt_starts(jets: Jets, sheet: NestedPlate, asked: PlannedBevels, data: CutData) -> Iterator[Fault]:
    """Yield the starts of the square cut that lie in a groove, or too near to one."""
    if not asked.square_starts or not len(jets):
        return
    starts = np.array(asked.square_starts)
    depths = np.linspace(0.0, sheet.plate.thickness, 5)
    points = np.vstack([np.column_stack([starts, np.full(len(starts), -depth)]) for depth in depths])
    nearest_ = jets.clearance(points).reshape(len(depths), -1).min(axis=0)
    for k in np.flatnonzero(nearest_ < SOUND_METAL).tolist():
        x, y = starts[k].tolist()
        yield Fault("bevel-start", "a square cut begins where a bevel is cut before", None, (x, y))


def unmade_bevels(sheet: NestedPlate, programs: Sequence[PlannedBevels]) -> tuple[Fault, ...]:
    """Return the slopes that the drawings ask for and no program of a sheet makes.

    Parameters
    ----------
    sheet : NestedPlate
    programs : sequence of PlannedBevels
        All that bevel on this sheet.

    Returns
    -------
    tuple of Fault
    """
    made: set[tuple[str, int, str, int, float, float]] = set()
    for program in programs:
        makes = [make for cut in program.planned.cuts for make in cut.makes]
        for face in faces_asked(sheet, program.slope, makes):
            if isinstance(face, Face):
                made.add(_key(face.placement.part.name, face.placement.copy, program.slope, face.edge))
    faults = []
    thickness = sheet.plate.thickness
    for placement in sheet.placements:
        part = placement.part
        for asked in part.bevelled_here:
            faces = faces_of(asked, thickness)
            slopes = [name for name, face in (("upper", faces.upper), ("lower", faces.lower)) if face]
            for edge in prepared_edges(part, asked):
                for slope in slopes:
                    if _key(part.name, placement.copy, slope, edge) not in made:
                        x, y = place_points([edge.path.start], placement.pose)[0].tolist()
                        told = f"no program cuts the {slope} bevel of {part.name!r}"
                        faults.append(Fault("bevel-missing", told, None, (x, y), part.name, placement.copy))
    return tuple(faults)


def _key(part: str, copy: int, slope: str, edge: PreparedEdge) -> tuple[str, int, str, int, float, float]:
    x, y = edge.path.start.tolist()
    return (part, copy, slope, -1 if edge.asked.hole is None else edge.asked.hole, round(x, 3), round(y, 3))
