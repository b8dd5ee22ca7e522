"""Runs of the leaning torch that bevel edges: where the jet goes, which first, and what room they take.

Terminology
-----------
slope : a bevelled face of a prepared edge, "upper" above the land or "lower" below it.
run : one way of the torch along an edge, straight on beyond both of its ends into scrap.
reach : how far outside the outline the jet of a run gets, at whatever depth.
setting : how the torch stands in one program: before or after the square cut, one slope, one tilt,
    and where it does not turn by itself one way that it leans.

The jet's axis is programmed where it meets the plate's top.  With r half the kerf at the tilt β,
the axis lies r / cos β outside the slope's own line there: that of an upper slope is its setback
behind the outline, that of a lower one (t - depth)·tan β before it.

Order, by what each jet can finish before it meets a kerf: lower slopes, the square cut, upper
slopes (common practice for oxygen, which does not burn on across a gap); an arc does, and so
bevels by plasma come before the square cut, while the part is still held by the plate.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple

import numpy as np
import shapely

from cutplan.base.errors import JobError
from cutplan.base.findings import Finding
from cutplan.cutting.bevel_paths import Run, run_of, slices_of
from cutplan.cutting.lean import Lean
from cutplan.cutting.model import Cut, LeadChoice, Made, SheetCuts, cut_name
from cutplan.drawing import (
    EdgePreparation,
    Part,
    PreparedEdge,
    Slope,
    faces_of,
    preparation_name,
    prepared_edges,
    section_at,
)
from cutplan.geometry import Path, Pose, chord_points, length, nearest, place, point_at, subpath
from cutplan.process import CutData
from cutplan.stock import NestedPlate

__all__ = [
    "BevelCuts",
    "BevelHead",
    "bevel_angles",
    "bevel_cuts",
    "bevel_foot",
    "bevel_refusals",
    "clear_of_grooves",
]

# A slope may run out over the end of its edge where the contour turns by this much at least; at
# blunter corners it would take too much of the next edge, degrees.
LEAST_TURN_DEG = 45.0
# A turn that is drawn a little short of it will do, degrees.
TURN_SLACK_DEG = 0.5
# Depths at which a run is held against the part that it bevels.
LOOKS = 5
# Area of a section that a run may take by rounding and chords, mm².
ROUNDING_MM2 = 0.5
When = Literal["before", "after"]


@dataclass(frozen=True)
class BevelHead:
    """What leans the torch.

    Attributes
    ----------
    turns : bool
        It leans and turns by the program's words; otherwise the operator sets it, for straight edges.
    most_deg : float
        How far it leans.
    """

    turns: bool
    most_deg: float


@dataclass(frozen=True, eq=False)
class BevelCuts:
    """The runs of one setting of the torch.

    Attributes
    ----------
    when : {"before", "after"}
        The square cut.
    slope : {"upper", "lower"}
    tilt_deg : float
    towards_deg : float or None
        Which way the jet goes as it goes down, degrees from X; None where the head turns.
    data : CutData
        For the plate's thickness along the jet.
    cuts : tuple of Cut
    """

    when: When
    slope: Literal["upper", "lower"]
    tilt_deg: float
    towards_deg: float | None
    data: CutData
    cuts: tuple[Cut, ...]


class _Edge(NamedTuple):
    """An edge of a part, and one slope of it."""

    bevel: int
    asked: EdgePreparation
    edge: PreparedEdge
    name: Literal["upper", "lower"]
    slope: Slope


def _slopes(part: Part, thickness: float) -> Iterator[_Edge]:
    for k, asked in enumerate(part.bevels):
        if asked.elsewhere:
            continue
        faces = faces_of(asked, thickness)
        for edge in prepared_edges(part, asked):
            if faces.lower is not None:
                yield _Edge(k, asked, edge, "lower", faces.lower)
            if faces.upper is not None:
                yield _Edge(k, asked, edge, "upper", faces.upper)


def bevel_angles(part: Part, thickness: float) -> set[float]:
    """Return the tilts that a part's bevels ask for, degrees.

    Parameters
    ----------
    part : Part
    thickness : float
        mm.

    Returns
    -------
    set of float
    """
    return {each.slope.angle_deg for each in _slopes(part, thickness)}


def bevel_refusals(
    part: Part, thickness: float, data_at: Mapping[float, CutData], head: BevelHead
) -> Iterator[JobError]:
    """Yield why the bevels of a part cannot be cut here, each with its place.

    Parameters
    ----------
    part : Part
    thickness : float
        mm.
    data_at : mapping of float to CutData
        For the plate's thickness along the jet, by tilt in degrees.
    head : BevelHead

    Yields
    ------
    JobError
    """
    for each in _slopes(part, thickness):
        at = each.edge.path.start
        told = _why_not(part, each, thickness, data_at[each.slope.angle_deg], head)
        if told:
            yield JobError(
                f"{preparation_name(each.asked)}: {told}",
                place=(float(at[0]), float(at[1])),
                remedy="say elsewhere = true in the bevel or under [bevels]: the edge is then cut square, and listed",
            )
            return


def _why_not(part: Part, each: _Edge, thickness: float, data: CutData, head: BevelHead) -> str:
    """Return why a slope cannot be cut, empty where it can."""
    angle, edge = each.slope.angle_deg, each.edge
    if angle > head.most_deg:
        return f"the head leans {head.most_deg:g}° at most"
    if data.thickness > data.rules.edge_start_above:
        return f"{data.thickness:.1f} mm along the jet cannot be pierced"
    if not head.turns and (edge.path.closed or bool(edge.path.segments.is_arc.any())):
        return "a torch that is set by hand bevels straight edges only"
    if each.asked.hole is not None:
        return "a leaning jet finds no start in a hole"
    if not edge.path.closed and min(edge.turns_deg) < LEAST_TURN_DEG:
        return (
            "it ends where the contour goes on, and the jet cannot come out there without cutting into it; "
            f"it needs a corner that turns by {LEAST_TURN_DEG:g}° or more"
        )
    run = _run(each, thickness, data)
    if run is None:
        return "an arc of its edge is too tight for the jet"
    for depth in np.linspace(0.0, thickness, LOOKS):
        bitten = shapely.intersection(section_at(part, float(depth), thickness), run.slice_at(float(depth)))
        if bitten.area > ROUNDING_MM2 + 0.01 * float(length(edge.path)):
            return "its jet would run into another limb of the part"
    return ""


def _run(each: _Edge, thickness: float, data: CutData) -> Run | None:
    turn = 90.0 if each.edge.path.closed else max(min(each.edge.turns_deg), LEAST_TURN_DEG - TURN_SLACK_DEG)
    return run_of(each.edge.path, each.slope, each.name, thickness, data, turn)


def bevel_foot(part: Part, thickness: float, data_at: Mapping[float, CutData]) -> Any | None:
    """Return what the bevels of a part take of the plate at whatever depth, pierces with their room.

    Parameters
    ----------
    part : Part
    thickness : float
        mm.
    data_at : mapping of float to CutData
        By tilt in degrees.

    Returns
    -------
    shapely geometry or None
        Drawing coordinates; None where nothing is bevelled.
    """
    shapes = []
    for each in _slopes(part, thickness):
        data = data_at[each.slope.angle_deg]
        run = _run(each, thickness, data)
        if run is not None:
            shapes.append(slices_of(run, thickness))
            clear = max(data.rules.pierce_clearance - data.rules.part_gap, 0.5 * data.kerf)
            shapes.append(shapely.Point(*run.path.start).buffer(clear))
    return shapely.union_all(shapes) if shapes else None


def bevel_cuts(
    sheet: NestedPlate, data_at: Mapping[float, CutData], head: BevelHead, square: Literal["first", "last"]
) -> list[BevelCuts]:
    """Return the runs that bevel the edges of a sheet's parts, by setting, in the order they are made.

    Parameters
    ----------
    sheet : NestedPlate
    data_at : mapping of float to CutData
        By tilt in degrees.
    head : BevelHead
    square : {"first", "last"}
        Whether the square cut comes before the upper slopes, or behind all of them.

    Returns
    -------
    list of BevelCuts
    """
    thickness = sheet.plate.thickness
    found: dict[tuple[bool, str, float, float | None], list[Cut]] = defaultdict(list)
    for index, placement in enumerate(sheet.placements):
        part = placement.part
        slopes = list(_slopes(part, thickness))
        kept = _kept_for_later(part, slopes)
        for each in slopes:
            run = _run(each, thickness, data_at[each.slope.angle_deg])
            if run is None:
                continue
            after = each.edge in kept or (square == "first" and each.name == "upper")
            cut = _cut(each, run, index, part, placement.copy, placement.pose)
            way = None if head.turns else _towards(cut)
            found[after, each.name, each.slope.angle_deg, way].append(cut)
    settings = sorted(found, key=lambda key: (key[0], key[1] != "lower", key[2], key[3] or 0.0))
    return [
        BevelCuts("after" if key[0] else "before", "upper" if key[1] == "upper" else "lower", key[2], key[3],
                  data_at[key[2]], tuple(found[key]))
        for key in settings
    ]  # fmt: skip


def _kept_for_later(part: Part, slopes: Sequence[_Edge]) -> list[PreparedEdge]:
    """Return the edges that are bevelled behind the square cut so that the plate holds the part until then.

    Where all of an outside is bevelled, its shortest edge waits; a round one is one edge.
    """
    edges = list({id(each.edge.path): each.edge for each in slopes if each.asked.hole is None}.values())
    if not edges or sum(float(length(edge.path)) for edge in edges) < float(length(part.outer)) - 1.0:
        return []
    shortest = min(float(length(edge.path)) for edge in edges)
    first = next(edge for edge in edges if float(length(edge.path)) <= shortest)
    return [edge for edge in edges if edge is first]


def _cut(each: _Edge, run: Run, index: int, part: Part, copy: int, pose: Pose) -> Cut:
    """Return a run as a cut in plate coordinates."""
    path = place(run.path, pose)
    contour: Path = part.outer if each.asked.hole is None else part.holes[each.asked.hole]
    lead = LeadChoice(
        path,
        (float(path.start[0]), float(path.start[1])),
        (float(path.end[0]), float(path.end[1])),
        run.lead_in,
        run.lead_out,
    )
    made = Made(part.name, copy, index, place(contour, pose), each.asked.hole, _span_of(each, contour))
    lean = Lean(each.slope.angle_deg, run.left != pose.mirrored, each.bevel, each.name)
    return Cut("bevel", (made,), (lead,), lean=lean)


def _span_of(each: _Edge, contour: Path) -> tuple[float, float] | None:
    """Return from where to where along its contour an edge runs, None where it is all of it."""
    if each.edge.path.closed:
        return None
    whole, size = float(length(contour)), float(length(each.edge.path))
    middle = point_at(each.edge.path, np.array([0.5 * size]))
    at = float(nearest(contour, middle)[1][0])
    return (at - 0.5 * size) % whole, (at + 0.5 * size) % whole


def _towards(cut: Cut) -> float:
    """Return which way the jet of a straight run goes as it goes down, degrees from 0 to 360."""
    assert cut.lean is not None
    path = cut.choices[0].path
    (ax, ay), (bx, by) = path.start.tolist(), path.end.tolist()
    way = cut.lean.towards_deg(math.degrees(math.atan2(by - ay, bx - ax)))
    return round(way % 360.0, 2) % 360.0


def clear_of_grooves(
    cuts: SheetCuts, sets: Sequence[BevelCuts], thickness: float, clearance: float
) -> SheetCuts:
    """Return square cuts with those starts alone that keep clear of the bevels cut before them.

    A cut that is left without a start is refused among the findings.

    Parameters
    ----------
    cuts : SheetCuts
    sets : sequence of BevelCuts
        Made before.
    thickness : float
        mm.
    clearance : float
        From the middle of the torch's way to the groove, mm.

    Returns
    -------
    SheetCuts
    """
    grooves = shapely.union_all([_groove(cut, each.data, thickness) for each in sets for cut in each.cuts])
    zone = grooves.buffer(clearance)
    kept, findings = [], list(cuts.findings)
    for cut in cuts.cuts:
        sound = tuple(lead for lead in cut.choices if cut.kind == "mark" or not _meets(lead, zone))
        if not sound:
            told = f"the {cut_name(cut)} finds no start clear of the bevels that are cut before it"
            at = cut.choices[0].pierce if cut.choices else None
            findings.append(Finding("refused", told, at))
            sound = cut.choices
        kept.append(replace(cut, choices=sound))
    return replace(cuts, cuts=tuple(kept), findings=tuple(findings))


def _groove(cut: Cut, data: CutData, thickness: float) -> Any:
    """Return what a run takes of the plate at any depth, plate coordinates."""
    assert cut.lean is not None
    lead = cut.choices[0]
    run = Run(
        lead.path,
        cut.lean.left,
        lead.lead_in_length,
        lead.lead_out_length,
        0.5 * data.kerf,
        cut.lean.tilt_deg,
    )
    return slices_of(run, thickness)


def _meets(lead: LeadChoice, zone: Any) -> bool:
    """Return whether a start's way in comes into a zone."""
    size = float(length(lead.path))
    way_in = subpath(lead.path, 0.0, min(max(lead.lead_in_length, 1e-3), size))
    return bool(shapely.intersects(zone, shapely.LineString(chord_points(way_in, 0.1))))
