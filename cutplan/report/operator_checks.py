"""What the operator checks, measures and writes back on a setup sheet, each with a place to fill in."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.geometry import bounds
from cutplan.process import limit_deviation_mm
from cutplan.record import Plan, PlannedSheet
from cutplan.stock import skew_allowed, touch_points

__all__ = ["Check", "checks_of", "skew_notes"]

MOST_MEASURED = 6
"""Kinds of parts whose first copy is measured on a sheet: the rest are the programmer's to name."""


@dataclass(frozen=True)
class Check:
    """One line to check, measure or fill in.

    Attributes
    ----------
    what : str
    asked : str
        What it has to be.
    """

    what: str
    asked: str


def checks_of(sheet: PlannedSheet, plan: Plan) -> tuple[Check, ...]:
    """Return what is checked before the first cut, measured on the first parts, and written back.

    Parameters
    ----------
    sheet : PlannedSheet
        One of the plan's sheets.
    plan : Plan

    Returns
    -------
    tuple of Check
    """
    plate, data = sheet.nested.plate, sheet.data
    x0, y0, x1, y1 = bounds(plate.outline)
    return (
        Check("plate and its size", f"{plate.id}, {x1 - x0:g} × {y1 - y0:g} mm"),
        Check("thickness, measured", f"{plate.thickness:g} mm"),
        Check("grade and heat, as stamped", f"{plate.grade}, {plate.heat or 'heat not given: write it down'}"),
        _water(sheet, plan),
        *(
            Check(f"{flow.gas}, {flow.phase}", "pressure: see the data" if flow.pressure_bar is None else
                  f"{flow.pressure_bar:.1f} bar")
            for flow in data.gases
        ),
        Check(
            "consumables fitted, starts on them so far",
            f"{data.setting}; this sheet takes {sheet.estimate.pierces} starts, {sheet.estimate.consumable_sets:.2f} sets",
        ),
        *(Check("clamps", "where this sheet bars the plate") for _ in plate.keepouts[:1]),
        *(
            Check(f"corner {letter} touched at X, Y", f"({x:g}, {y:g})")
            for letter, (x, y) in zip("ABC", touch_points(plate), strict=False)
        ),
        *_measured(sheet, plan),
        Check("minutes, restarts, sets worn", f"write back: cutplan stock ran plan.json {sheet.name}"),
    )  # fmt: skip


def _water(sheet: PlannedSheet, plan: Plan) -> Check:
    if not plan.machine.water_table:
        return Check("water", "no water table")
    if sheet.data.process == "oxyfuel":
        return Check("water level", "none: below the plate's underside before the flame is lit")
    return Check("water level", "as the feed was set for: see the notes")


def _measured(sheet: PlannedSheet, plan: Plan) -> list[Check]:
    """Return the sizes of the first copy of each kind of part, with what ISO 9013 allows."""
    checks = []
    for part in {p.part.name: p.part for p in reversed(sheet.nested.placements)}.values():
        asked = plan.classes.get(part.name)
        grade = asked or sheet.data.iso9013_tolerance_class
        x0, y0, x1, y1 = bounds(part.outer)
        sizes = [
            f"{size:.1f}" + (f" ±{limit:g}" if limit is not None else "")
            for size in (x1 - x0, y1 - y0)
            for limit in (limit_deviation_mm(grade, sheet.nested.plate.thickness, size),)
        ]
        words = f"{' × '.join(sizes)} mm, class {grade}{' as asked' if asked else ''}"
        checks.append((asked is None, Check(f"first {part.name}, measured", words)))
    # Where the job asks for a class, that is measured first.
    ranked = [check for _, check in sorted(checks[::-1], key=lambda each: each[0])]
    return ranked[:MOST_MEASURED]


def skew_notes(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return how crooked the plate may lie for the program as it is, and what to do beyond.

    Parameters
    ----------
    sheet : PlannedSheet

    Returns
    -------
    tuple of str
    """
    plate = sheet.nested.plate
    x0, _, x1, _ = bounds(plate.outline)
    allowed = skew_allowed(sheet.nested, sheet.data.kerf)
    rise = (x1 - x0) * allowed * 0.01745
    corners = ", ".join(
        f"{letter} ({x:g}, {y:g})" for letter, (x, y) in zip("ABC", touch_points(plate), strict=False)
    )
    return (
        f"Crooked plate: with its zero set on the lower left corner the program stands a skew of "
        f"{allowed:.2f} degrees, {rise:.0f} mm over the length. Beyond that touch {corners} and fit the program "
        f"to the plate: cutplan align {sheet.program.file_name} --found.",
    )
