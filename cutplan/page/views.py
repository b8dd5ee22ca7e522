"""What the browser is told of a plan: shapes in drawing coordinates, places, cuts and figures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from cutplan.control import read_program
from cutplan.cutting import made_name
from cutplan.drawing import Part
from cutplan.editing import State, edit_words
from cutplan.estimating import Estimate
from cutplan.geometry import Path, bounds, chord_points
from cutplan.nesting import Demand
from cutplan.planning import Handwork
from cutplan.record import Plan, PlannedSheet
from cutplan.sequencing import Step, cut_keys
from cutplan.stock import Inventory, Piece

__all__ = ["differences", "figures", "plan_view", "program_view", "rack_view"]

VIEW_MM = 0.01
"""How far the browser's outlines stand outside the metal at most, mm."""
PATH_MM = 0.05


def plan_view(work: Handwork) -> dict[str, Any]:
    """Return a plan for the browser, whole.

    Parameters
    ----------
    work : Handwork

    Returns
    -------
    dict
    """
    plan, state = work.plan, work.state
    return {
        "job": plan.job,
        "parts": {
            demand.part.name: _part(demand) | {"bench": n}
            for n, bench in enumerate(state.benches)
            for demand in bench.demands
        },
        "benches": [
            {
                "words": b.words,
                "gap": b.gaps.gap,
                "edge": b.gaps.edge,
                "clamp": max(b.gaps.gap, b.gaps.clamp_gap),
            }
            for b in state.benches
        ],
        "sheets": [sheet_view(sheet, state) for sheet in plan.sheets],
        "off": state.off(),
        "wanted": dict(state.wanted),
        "unplaced": [vars(item) for item in plan.unplaced],
        "total": figures(plan.total),
        "findings": [{"about": about, "kind": f.kind, "words": str(f)} for about, f in plan.findings],
        "edits": [edit_words(edit) for edit in work.edits.edits],
        "undone": len(work.edits.undone),
    }


def _part(demand: Demand) -> dict[str, Any]:
    part = demand.part
    return {
        "outer": _ring(part.outer, "outside"),
        "holes": [_ring(hole, "inside") for hole in part.holes],
        "marks": [_line(mark) for mark in part.marks],
        "bends": [[list(bend.start), list(bend.end)] for bend in part.bends],
        "rotations": None if demand.rotations_deg is None else list(demand.rotations_deg),
        "mirror": demand.mirror,
        "rolling": demand.rolling_direction,
        "seat": _seat(part),
    }


def _seat(part: Part) -> list[float]:
    x0, y0, x1, y1 = bounds(part.outer)
    return [0.5 * (x0 + x1), 0.5 * (y0 + y1)]


def _ring(path: Path, side: Any) -> list[float]:
    return _flat(chord_points(path, VIEW_MM, side))


def _line(path: Path) -> list[float]:
    return _flat(chord_points(path, PATH_MM))


def _flat(points: Any) -> list[float]:
    return [round(value, 4) for value in np.asarray(points).reshape(-1).tolist()]


def sheet_view(sheet: PlannedSheet, state: State) -> dict[str, Any]:
    """Return a sheet for the browser."""
    nested = sheet.nested
    laid = state.sheet(sheet.name)
    x0, y0, x1, y1 = bounds(nested.plate.outline)
    return {
        "name": sheet.name,
        "plate": nested.plate.id,
        "bench": laid.bench,
        "torches": sheet.torches,
        "size": [x1 - x0, y1 - y0],
        "outline": _line(nested.plate.outline),
        "keep_off": [_line(k.outline) for k in nested.plate.keepouts],
        "stands": [k.stands for k in nested.plate.keepouts],
        "voids": [_line(void) for void in nested.plate.voids],
        "rolling": nested.plate.rolling_direction,
        "words": f"{nested.plate.thickness:g} mm {nested.plate.grade}, {sheet.data.title}",
        "setting": sheet.data.setting,
        "process": sheet.data.process,
        "placements": [
            [p.part.name, p.copy, p.pose.x, p.pose.y, p.pose.rotation_deg, p.pose.mirrored,
             (p.part.name, p.copy) in state.pinned]
            for p in nested.placements
        ],
        "cuts": _cuts(sheet.order.steps, sheet),
        "tabs": [[round(v, 2) for v in tab.at] for tab in sheet.tabs],
        "held": sheet.name in state.orders and bool(state.orders[sheet.name].cuts),
        "figures": _sheet_figures(sheet),
        "findings": [str(finding) for finding in sheet.findings],
    }  # fmt: skip


def _cuts(steps: Sequence[Step], sheet: PlannedSheet) -> list[dict[str, Any]]:
    keys = cut_keys([step.cut for step in steps])
    heats = sheet.order.heat.start_c or (sheet.order.heat.ambient_c,) * len(steps)
    return [
        {
            "key": list(key),
            "kind": step.cut.kind,
            "path": _line(step.lead.path),
            "lead": round(step.lead.lead_in_length, 2),
            "pierce": [round(v, 3) for v in step.lead.pierce],
            "travel": _flat(step.travel.points),
            "heat": round(heat),
            "makes": [[m.part, m.copy, made_name(step.cut.kind, m)] for m in step.cut.makes],
        }
        for key, step, heat in zip(keys, steps, heats, strict=True)
    ]


def figures(estimate: Estimate) -> dict[str, Any]:
    """Return the figures of an estimate.

    Parameters
    ----------
    estimate : Estimate

    Returns
    -------
    dict
    """
    cost = estimate.cost
    return {
        "time_s": round(estimate.time_s["total"], 1),
        "gas_m3": {gas: round(volume, 3) for gas, volume in sorted(estimate.gas_m3.items())},
        "power_kwh": round(estimate.power_kwh, 2),
        "cut_m": round(estimate.cut_length_mm / 1000.0, 2),
        "starts": estimate.pierces,
        "cost": None if cost is None else round(cost["total"], 2),
        "currency": estimate.currency,
    }


def _sheet_figures(sheet: PlannedSheet) -> dict[str, Any]:
    order, verdict = sheet.order, sheet.verdict
    return figures(sheet.estimate) | {
        "used": round(sheet.utilisation, 4),
        "error_mm": round(max(verdict.worst_bite_mm, verdict.worst_left_mm), 4),
        "passed": verdict.passed,
        "travel_s": round(order.travel_s, 1),
        "hottest_c": None if order.hottest_start_c is None else round(order.hottest_start_c),
        "parts": len(sheet.nested.placements),
        "open_parts": order.open_parts,
    }


def program_view(sheet: PlannedSheet) -> list[dict[str, Any]]:
    """Return a sheet's program files with the number of the cut that each line belongs to, 0 for none.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    list of dict
    """
    files, done = [], 0
    for program in sheet.program.files:
        motions = read_program(program.text, program.dialect)
        on = motions.torch | motions.marker
        count = program.text.count("\n") + 1
        cut_of, last = [0] * (count + 1), 0
        starts = np.flatnonzero(on & ~np.concatenate([[False], on[:-1]]))
        ends = np.flatnonzero(on & ~np.concatenate([on[1:], [False]]))
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True):
            done += 1
            first, final = int(motions.line[start]), int(motions.line[min(end + 1, len(on) - 1)])
            # The way there belongs to the cut that it leads to.
            before = [int(line) for line in motions.line[last:start].tolist()]
            for line in range(min([*before, first]), final + 1):
                cut_of[line] = done
            last = end + 2
        files.append({"name": program.file_name, "lines": program.text.splitlines(), "cuts": cut_of[1:]})
    return files


def differences(one: Plan, other: Plan) -> dict[str, Any]:
    """Return what differs between two plans of a job, sheet by sheet.

    Parameters
    ----------
    one, other : Plan

    Returns
    -------
    dict
    """
    names = list(dict.fromkeys(sheet.name for plan in (one, other) for sheet in plan.sheets))
    first, then = ({sheet.name: sheet for sheet in plan.sheets} for plan in (one, other))
    rows = []
    for name in names:
        a, b = first.get(name), then.get(name)
        rows.append(
            {
                "sheet": name,
                "before": None if a is None else _sheet_figures(a),
                "after": None if b is None else _sheet_figures(b),
                "moved": _moved(a, b),
                "same": a is not None and b is not None and a.program.text == b.program.text,
            }
        )
    return {"rows": rows, "before": figures(one.total), "after": figures(other.total)}


def _moved(one: PlannedSheet | None, other: PlannedSheet | None) -> list[str]:
    """Return which copies lie otherwise, are gone or have come."""
    a, b = _lies(one), _lies(other)
    return [
        f"{part} {copy}"
        for part, copy in sorted(a.keys() | b.keys())
        if a.get((part, copy)) != b.get((part, copy))
    ]


def _lies(sheet: PlannedSheet | None) -> dict[tuple[str, int], Any]:
    placements = () if sheet is None else sheet.nested.placements
    return {(p.part.name, p.copy): p.pose for p in placements}


def rack_view(inventory: Inventory) -> list[dict[str, Any]]:
    """Return the rack's pieces with their shapes.

    Parameters
    ----------
    inventory : Inventory

    Returns
    -------
    list of dict
    """
    return [_piece(piece) for piece in inventory.pieces() if piece.state in ("in rack", "reserved")]


def _piece(piece: Piece) -> dict[str, Any]:
    return {
        "label": piece.label,
        "words": f"{piece.thickness_mm:g} mm {piece.grade}",
        "size": [piece.length_mm, piece.width_mm],
        "outline": _line(piece.contour),
        "voids": _lines(piece.voids),
        "heat": piece.heat,
        "location": piece.location,
        "state": piece.state,
        "plan": piece.plan,
    }


def _lines(paths: Iterable[Path]) -> list[list[float]]:
    return [_line(path) for path in paths]
