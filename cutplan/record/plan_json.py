"""plan.json: the plan for scripts and other programs (schema ``cutplan.plan/1``)."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from cutplan.control import digest
from cutplan.estimating import Estimate, PartEstimate
from cutplan.geometry import bounds, length
from cutplan.nesting import Nest
from cutplan.record.identity import marked_parts, plan_name
from cutplan.record.model import Plan, PlannedSheet
from cutplan.record.plan_file import data_record, part_record, plate_record
from cutplan.sequencing import Step
from cutplan.stock import NestedPlate

__all__ = ["SCHEMA", "nest_record", "plan_json", "plan_record"]

SCHEMA = "cutplan.plan/1"


def plan_json(plan: Plan, files: Mapping[str, str] | None = None) -> str:
    """Return the text of plan.json; `files` are the names written with it, and the digest of each."""
    return json.dumps(plan_record(plan, files), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def plan_record(plan: Plan, files: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Return the plan as plain data: mm, seconds, degrees, m³ at 15 °C and 1.013 bar."""
    parts = {p.part.name: p.part for sheet in plan.sheets for p in sheet.nested.placements}
    marks: dict[str, list[str]] = {}
    for sheet, _, mark in marked_parts(plan):
        marks.setdefault(sheet.name, []).append(mark)
    return {
        "schema": SCHEMA,
        "job": plan.job,
        "plan": plan_name(plan),
        "seed": plan.seed,
        "version": plan.version,
        "tolerance_mm": plan.tolerance_mm,
        "from_rack": list(plan.from_rack),
        "plates": [_sheet(sheet, marks[sheet.name]) for sheet in plan.sheets],
        "unplaced": [{"part": u.part, "quantity": u.quantity, "reason": u.reason} for u in plan.unplaced],
        "totals": _totals(plan),
        "findings": [
            {"about": about, "kind": f.kind, "message": f.message, "place_mm": _place(f.place)}
            for about, f in plan.findings
        ],
        "machine": asdict(plan.machine),
        "parts": {name: part_record(part) for name, part in parts.items()},
        "files": sorted([*files, "plan.json"]) if files else [],
        "file_digests": dict(files or {}),
    }


def nest_record(nest: Nest) -> dict[str, Any]:
    """Return a nest as plain data."""
    return {
        "least_plates": nest.least_plates,
        "plates": [{"id": n.plate.id, "sheet": n.sheet, "placements": _placements(n)} for n in nest.plates],
        "unplaced": [asdict(item) for item in nest.unplaced],
    }


def _placements(nested: NestedPlate) -> list[dict[str, Any]]:
    return [
        {
            "part": p.part.name,
            "copy": p.copy,
            "x_mm": p.pose.x,
            "y_mm": p.pose.y,
            "rotation_deg": p.pose.rotation_deg,
            "mirrored": p.pose.mirrored,
        }
        for p in nested.placements
    ]


def _sheet(sheet: PlannedSheet, marks: Sequence[str]) -> dict[str, Any]:
    plate, data = sheet.nested.plate, sheet.data
    x0, y0, x1, y1 = bounds(plate.outline)
    return {
        "id": plate.id,
        "sheet": sheet.nested.sheet,
        "program": sheet.program.file_name,
        "programs": [{"file": p.file_name, "digest": digest(p.text)} for p in sheet.program.files],
        "process": data.process,
        "setting": data.setting,
        "postprocessor": sheet.program.postprocessor,
        "dialect": asdict(sheet.program.dialect),
        "torches": sheet.torches,
        "torch_spacing_mm": sheet.lanes.spacing or None,
        "thickness_mm": plate.thickness,
        "grade": plate.grade,
        "heat": plate.heat,
        "length_mm": round(x1 - x0, 6),
        "width_mm": round(y1 - y0, 6),
        "kerf_mm": data.kerf,
        "utilisation": round(sheet.utilisation, 6),
        "placements": [
            {**record, "mark": mark} for record, mark in zip(_placements(sheet.nested), marks, strict=True)
        ],
        "cuts": [_cut(n, step, data.feed_mm_min) for n, step in enumerate(sheet.order.steps, start=1)],
        "order": {
            "travel_s": round(sheet.order.travel_s, 3),
            "bound_s": round(sheet.order.bound_s, 3),
            "hottest_start_c": _rounded(sheet.order.hottest_start_c, 1),
            "greatest_difference_c": _rounded(sheet.order.greatest_difference_c, 1),
            "crossings": sheet.order.crossings,
        },
        "plate": plate_record(plate),
        "cut_data": data_record(data),
        "estimate": _estimate(sheet.estimate),
        "verification": {
            "passed": sheet.verdict.passed,
            "worst_bite_mm": round(sheet.verdict.worst_bite_mm, 4),
            "worst_left_mm": round(sheet.verdict.worst_left_mm, 4),
            "parts_freed": sheet.verdict.parts_freed,
            "pierces": sheet.verdict.pierces,
            "cut_length_mm": round(sheet.verdict.cut_length_mm, 3),
        },
    }


def _cut(n: int, step: Step, feed: float) -> dict[str, Any]:
    lead = step.lead
    slowest = min((span.factor for span in lead.spans), default=1.0)
    return {
        "n": n,
        "part": step.cut.part,
        "copy": step.cut.copy,
        "contour": step.cut.kind,
        "pierce_mm": _place(lead.pierce),
        "edge_start": lead.edge_start,
        "length_mm": round(length(lead.path), 3),
        "contour_mm": round(length(step.cut.contour), 3),
        "feed_mm_min": round(feed, 3),
        "slowest_mm_min": round(feed * slowest, 3),
    }


def _totals(plan: Plan) -> dict[str, Any]:
    plate_area = sum(s.part_area / s.utilisation for s in plan.sheets if s.utilisation)
    return {
        "plates": len(plan.sheets),
        "parts": sum(len(s.nested.placements) for s in plan.sheets),
        "unplaced": sum(u.quantity for u in plan.unplaced),
        "utilisation": round(sum(s.part_area for s in plan.sheets) / plate_area, 6) if plate_area else 0.0,
        **_estimate(plan.total),
    }


def _estimate(estimate: Estimate) -> dict[str, Any]:
    record: dict[str, Any] = {
        "time_s": {key: round(value, 3) for key, value in estimate.time_s.items()},
        "gas_m3": {key: round(value, 5) for key, value in estimate.gas_m3.items()},
        "power_kwh": round(estimate.power_kwh, 4),
        "pierces": estimate.pierces,
        "cut_length_mm": round(estimate.cut_length_mm, 3),
        "consumable_sets": round(estimate.consumable_sets, 4),
        "notes": list(estimate.notes),
        "inputs": list(estimate.inputs),
        "ranges": {key: [round(low, 4), round(high, 4)] for key, (low, high) in estimate.ranges.items()},
        "gas_kg": {key: round(value, 5) for key, value in estimate.gas_kg.items()},
        "cylinders": {key: round(value, 4) for key, value in estimate.cylinders.items()},
        "acetylene_manifold": estimate.acetylene_manifold,
        "by_part": {name: _part_share(share) for name, share in estimate.by_part.items()},
    }
    if estimate.cost is not None:
        record["cost"] = {key: round(value, 2) for key, value in estimate.cost.items()}
        record["currency"] = estimate.currency
        record["sensitivity"] = estimate.sensitivity
    return record


def _part_share(share: PartEstimate) -> dict[str, Any]:
    record: dict[str, Any] = {
        "copies": share.copies,
        "time_s": round(share.time_s["total"], 3),
        "gas_m3": {key: round(value, 5) for key, value in share.gas_m3.items()},
        "power_kwh": round(share.power_kwh, 4),
    }
    if share.cost is not None:
        record["cost"] = {key: round(value, 2) for key, value in share.cost.items()}
    return record


def _place(place: tuple[float, float] | None) -> list[float] | None:
    return None if place is None else [round(float(place[0]), 4), round(float(place[1]), 4)]


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)
