"""What a bend table says, in words and figures; how it is laid out is left to the pages."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from cutplan.base.cleaning import plain
from cutplan.drawing import Part
from cutplan.forming import BendStroke, BendTable
from cutplan.geometry import bounds
from cutplan.record import Plan

__all__ = ["BENDING_CAUTIONS", "HEADINGS", "BentPart", "bent_parts"]

# Common practice at press brakes; local codes and the press maker's manual go before them.
BENDING_CAUTIONS = (
    "Hands never go between punch and die, nor between plate and gauge. Guards stay on and are checked.",
    "The flange whips up, and long parts drop out behind: stand clear, hold from below, support what is long.",
    "Bend one piece first and measure it. Springback, material and tools move angle and length.",
    "Force is that of the rule for air bending, for the strongest plate its grade allows. See that die, "
    "punch and press carry it on the length of this part; a short part loads the tools over its length alone.",
    "Flame-cut edges of hardenable steel crack in bending: grind them where they cross the bend.",
    "The order was checked in section against the tools named in the job, without springback: "
    "run the first piece slowly, and stop before anything touches.",
)
HEADINGS = ("stroke", "bend", "angle", "face up", "back gauge", "touches", "die", "R", "force", "length")


@dataclass(frozen=True)
class BentPart:
    """A part with its bend table, as the pages show it.

    Attributes
    ----------
    part : Part
    table : BendTable
    facts : tuple of (str, str)
    rows : tuple of tuple of str
        A stroke each, under `HEADINGS`.
    notes : tuple of str
    """

    part: Part
    table: BendTable
    facts: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]


def bent_parts(plan: Plan) -> list[BentPart]:
    """Return the bent parts of a plan, in the order of its bend tables."""
    placed = [p.part for sheet in plan.sheets for p in sheet.nested.placements]
    parts, counts = {part.name: part for part in placed}, Counter(part.name for part in placed)
    return [_bent(parts[table.part], table, counts[table.part]) for table in plan.bending]


def _bent(part: Part, table: BendTable, quantity: int) -> BentPart:
    x0, y0, x1, y1 = bounds(part.outer)
    facts = (
        ("part", plain(part.name)),
        ("quantity", str(quantity)),
        ("blank", f"{x1 - x0:.1f} × {y1 - y0:.1f} mm, {table.thickness:g} mm {table.grade}"),
        ("greatest force", f"{max((s.force_kn for s in table.strokes), default=0.0):.0f} kN"),
    )
    rows = tuple(_row(n, stroke) for n, stroke in enumerate(table.strokes, start=1))
    over_the_end = [str(n) for n, s in enumerate(table.strokes, start=1) if s.slide_out]
    notes = [str(finding) for finding in table.findings]
    if over_the_end:
        notes.append(
            f"Stroke {', '.join(over_the_end)}: the punch does not rise past the part; slide it out over the end of the press."
        )
    return BentPart(part, table, facts, rows, tuple(notes))


def _row(number: int, stroke: BendStroke) -> tuple[str, ...]:
    return (
        str(number),
        str(stroke.bend),
        f"{stroke.angle_deg:g}° {stroke.direction}",
        "other face" if stroke.turned_over else "face as drawn",
        f"{stroke.gauge_mm:.1f} mm, edge {stroke.gauge_edge}",
        stroke.gauge_on,
        f"V {stroke.die_mm:g}",
        f"{stroke.radius_mm:.1f}",
        f"{stroke.force_kn:.0f} kN",
        f"{stroke.length_mm:.0f} mm",
    )
