"""One page for the whole batch: a table, pictures one can zoom, and a playback of the cutting.

Everything stands in the one file: it opens without a network, and its own policy forbids any.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from cutplan.geometry import bounds, length
from cutplan.record import Plan, PlannedSheet
from cutplan.report.pages import inline_picture, render
from cutplan.report.setup_content import CAUTIONS
from cutplan.report.sheet_lists import contour_name, first_made, program_files, sheet_parts
from cutplan.report.svg import path_data
from cutplan.sequencing import Step

__all__ = ["batch_html", "playback_script"]

# Decimal places of the playback's times; a frame on a screen lasts some hundredths of a second.
SECONDS_DIGITS = 3
# Lowest temperature of each shade of the playback, °C, and how densely it is laid on.
SHADES = ((50, 0.18), (100, 0.32), (150, 0.46), (250, 0.6), (400, 0.75))


def batch_html(plan: Plan, pictures: Mapping[str, str] | None = None, *, script: str | None = None) -> str:
    """Return the batch's page.

    Parameters
    ----------
    plan : Plan
    pictures : mapping of str to str, optional
        By the sheets' names what `plate_svg` makes of them, where it is there already.
    script : str, optional
        Where the page finds its script (`playback_script`), instead of holding it: for a server
        that allows no script inside pages.

    Returns
    -------
    str
        Self-contained HTML; the same plan gives the same text.  The fragment ``#SHEET-CUT``
        (``#2-7``) opens it at a sheet, counted from 1, with that many cuts done.

    Notes
    -----
    The playback's clock adds up starts, cuts and travel as the order has them, by the estimate's
    own kinematics.  Its temperatures come from the heat model of the order (`sequencing.heat`).
    """
    return render(
        "batch.html",
        plan=plan,
        sheets=[_sheet_values(sheet, (pictures or {}).get(sheet.name)) for sheet in plan.sheets],
        playback=[_playback(sheet) for sheet in plan.sheets],
        shades=SHADES,
        unplaced=[f"{u.quantity} × {u.part}: {u.reason}" for u in plan.unplaced],
        findings=[f"{about}: {finding}" for about, finding in plan.findings],
        cautions=CAUTIONS,
        script=script,
    )


def playback_script() -> str:
    """Return the script that plays a batch's page.

    Returns
    -------
    str
        JavaScript.
    """
    return render("batch.js")


def _sheet_values(sheet: PlannedSheet, picture: str | None) -> dict[str, Any]:
    parts = sheet_parts(sheet)
    return {
        "sheet": sheet,
        "picture": inline_picture(sheet, picture),
        "programs": ", ".join(program_files(sheet)),
        "quantity": sum(part.quantity for part in parts),
        "parts_kg": sum(part.total_kg for part in parts),
    }


def _playback(sheet: PlannedSheet) -> dict[str, Any]:
    """Return what the page's script plays, in the coordinates of the sheet's picture."""
    steps, heat = sheet.order.steps, sheet.order.heat
    _, _, _, height = bounds(sheet.nested.plate.outline)
    starts = heat.start_c or (heat.ambient_c,) * len(steps)
    return {
        "kerf": sheet.data.kerf,
        "torch_shifts": sheet.lanes.shifts,
        "heat": {
            "plate": [heat.conductance_w_k, heat.diffusivity_mm2_s, heat.loss_per_s],
            "joule_mm": heat.joule_mm,
            "ambient_c": heat.ambient_c,
            "shades": SHADES,
        },
        "steps": [
            _playback_step(step, sheet, height) | {"start_c": round(start)}
            for step, start in zip(steps, starts, strict=True)
        ],
    }


def _playback_step(step: Step, sheet: PlannedSheet, height: float) -> dict[str, Any]:
    cut, lead = step.cut, step.lead
    in_a_lane = len(sheet.nested.placements) // sheet.torches
    return {
        "words": _words(step),
        "path": path_data(lead.path, height),
        "travel": _points(step.travel.points.tolist(), height),
        "travel_s": round(step.travel.seconds, SECONDS_DIGITS),
        "start_s": round(step.start_s, SECONDS_DIGITS),
        "run_s": round(step.run_s, SECONDS_DIGITS),
        "mark": cut.kind == "mark",
        "frees": [placement + k * in_a_lane for placement in cut.frees for k in range(sheet.torches)],
        "freed_at": [share for share in _freed_at(step) for _ in range(sheet.torches)],
    }


def _freed_at(step: Step) -> list[float]:
    """Return the share of its way that a step has run when it frees each of its placements."""
    if len(step.cut.frees) < 2:
        return [1.0] * len(step.cut.frees)
    total = float(length(step.lead.path))
    done = {m.placement: end for m, (_, end) in zip(step.cut.makes, step.lead.made_along, strict=True)}
    return [round(done[placement] / total, 5) for placement in step.cut.frees]


def _words(step: Step) -> str:
    part, copy = first_made(step)
    return f"{part}, copy {copy}: {contour_name(step)}" if step.cut.makes else contour_name(step)


def _points(points: Iterable[Iterable[float]], height: float) -> list[list[float]]:
    return [[round(x, 3), round(height - y, 3)] for x, y in points]
