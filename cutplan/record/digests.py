"""What a sheet's program has to cut, and all that its proof rests on, as digests."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from pathlib import Path as FilePath
from typing import Any

from cutplan.base.machine import Machine
from cutplan.control import Dialect, digest
from cutplan.cutting import Made, Tab
from cutplan.drawing import Part
from cutplan.geometry import length
from cutplan.process import CutData
from cutplan.record.shapes import PartRecord, PlateRecord, vertices_of
from cutplan.sequencing import Step
from cutplan.stock import Lanes, NestedPlate, Plate
from cutplan.verification import Before, Planned, PlannedCut, PlannedMake, PlannedTab

__all__ = [
    "bound_digests",
    "content_digest",
    "data_record",
    "planned_make",
    "planned_of",
    "planned_tab",
    "planned_way",
]


def data_record(data: CutData) -> dict[str, Any]:
    """Return cutting data as plain data.

    Parameters
    ----------
    data : CutData

    Returns
    -------
    dict
        Infinity, which JSON lacks, is the text "inf"; the source is without its folder.
    """
    record = asdict(data)
    record["source"] = FilePath(data.source).name
    return {key: _finite(value) for key, value in record.items()}


def planned_of(steps: Sequence[Step], lanes: Lanes, tabs: Sequence[Tab] = ()) -> Planned:
    """Return what a proof holds a program against, rounded as plan.json has it.

    Parameters
    ----------
    steps : sequence of Step
        Of one torch.
    lanes : Lanes
        How torches side by side share the plate.
    tabs : sequence of Tab, optional
        Of one torch.

    Returns
    -------
    Planned
    """
    cuts = tuple(
        PlannedCut(
            step.cut.kind,
            (round(float(step.lead.pierce[0]), 4), round(float(step.lead.pierce[1]), 4)),
            round(length(step.lead.path), 3),
            bool(step.lead.edge_start),
            bool(step.travel.raised),
            (round(float(step.lead.path.end[0]), 4), round(float(step.lead.path.end[1]), 4)),
            tuple(planned_make(made) for made in step.cut.makes),
            round(step.lead.over_run_mm, 3),
            round(step.lead.again_mm, 3),
            planned_way(step),
        )
        for step in steps
    )
    return Planned(cuts, lanes.torches, lanes.spacing or None, tuple(map(planned_tab, tabs)))


def planned_way(step: Step) -> tuple[tuple[float, float, float], ...]:
    """Return the path of a cut that makes no contour, rounded as plan.json has it; empty for others."""
    if step.cut.makes:
        return ()
    return tuple((round(x, 4), round(y, 4), round(bulge, 9)) for x, y, bulge in vertices_of(step.lead.path))


def planned_make(made: Made) -> PlannedMake:
    """Return what a proof knows of a contour that a cut makes, rounded as plan.json has it."""
    span = None if made.span is None else (round(made.span[0], 4), round(made.span[1], 4))
    return PlannedMake(made.part, made.copy, made.hole, span)


def planned_tab(tab: Tab) -> PlannedTab:
    """Return what a proof knows of a tab, rounded as plan.json has it."""
    span = round(tab.span[0], 4), round(tab.span[1], 4)
    return PlannedTab(tab.part, tab.copy, span, round(tab.width_mm, 3))


def bound_digests(
    nested: NestedPlate,
    data: CutData,
    machine: Machine,
    dialect: Dialect,
    tolerance: float,
    planned: Planned,
    before: Sequence[Before] = (),
) -> dict[str, str]:
    """Return the SHA-256 of each thing that a program is bound to, by name.

    Parameters
    ----------
    nested : NestedPlate
    data : CutData
    machine : Machine
    dialect : Dialect
    tolerance : float
        Bites and metal left that the proof allows, mm.
    planned : Planned
    before : sequence of Before
        Programs that ran on the plate before this one.

    Returns
    -------
    dict of str to str
    """
    plate = nested.plate
    parts = {placement.part.name: placement.part for placement in nested.placements}
    content: dict[str, Any] = {
        "nest": [
            [plate.id, nested.sheet, plate.thickness, plate.grade, plate.heat],
            _plate_content(plate),
            _placements_content(nested),
        ],
        # Not how they were read: that changes with the plates, and no metal does.
        "drawings": {name: _part_content(part, frozenset({"read_with"})) for name, part in parts.items()},
        "data": data_record(data),
        "machine": _machine_content(machine),
        "dialect": _dialect_content(dialect),
        "tolerance": tolerance,
        "cuts": _cuts_content(planned),
    }
    if before:
        content["before"] = [
            [list(map(digest, ran.texts)), len(ran.cuts), ran.until, round(ran.until_mm, 3)] for ran in before
        ]
    return {name: _sha256(value) for name, value in content.items()}


def _placements_content(nested: NestedPlate) -> list[Any]:
    """Return where parts lie, and what they are traced by where that is marked."""
    rows = []
    for p in nested.placements:
        row = [p.part.name, p.copy, asdict(p.pose)]
        rows.append([*row, [asdict(text) for text in p.part.trace]] if p.part.trace else row)
    return rows


def _dialect_content(dialect: Dialect) -> dict[str, Any]:
    """Return what a plan says of a dialect, as it was said before torches leaned where none does."""
    content = asdict(dialect)
    if dialect.head == "fixed":
        del content["head"], content["tilt_remark"]
    return content


def _machine_content(machine: Machine) -> dict[str, Any]:
    content = asdict(machine)
    if machine.postprocessor_bevels is None:
        del content["postprocessor_bevels"]
    return content


def _part_content(part: Part, leaving_out: frozenset[str] = frozenset()) -> dict[str, Any]:
    """Return what a plan says of a part, as it was said before edges were prepared where none is."""
    content = PartRecord.of(part).model_dump(exclude=set(leaving_out))
    for key in ("bevels", "piece"):
        if not content[key]:
            del content[key]
    return content


def _plate_content(plate: Plate) -> dict[str, Any]:
    """Return what a plan says of a plate, as it was said before good faces where it has none."""
    content = PlateRecord.of(plate).model_dump()
    if content["face"] is None:
        del content["face"], content["face_up"]
    return content


def _cuts_content(planned: Planned) -> dict[str, Any]:
    """Return what a plan says of its cuts, as it was said before one run could make several contours.

    Programs cut by plans of that time stay bound to them: what a cut makes is told only where
    it is not one whole contour.
    """
    content = asdict(planned)
    for cut in content["cuts"]:
        cut["kind"] = "outer" if cut["kind"] == "outside" else cut["kind"]
        if len(cut["makes"]) == 0 or (len(cut["makes"]) == 1 and cut["makes"][0]["span"] is None):
            del cut["makes"]
        for key in ("over_run_mm", "again_mm"):
            if not cut[key]:
                del cut[key]
        if not cut["way"]:
            del cut["way"]
    if not content["tabs"]:
        del content["tabs"]
    return content


def content_digest(record: Mapping[str, Any]) -> str:
    """Return the SHA-256 of plan.json's content without its own digest.

    Parameters
    ----------
    record : mapping
        The file as plain data; layout and order of keys do not count.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    return _sha256({key: value for key, value in record.items() if key != "digest"})


def _sha256(content: Any) -> str:
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return "inf" if isinstance(value, float) and math.isinf(value) else value
