"""What the command line shows: the progress display, the summary table, lists.

Everything heavy is imported where it is used, so that ``cutplan --help`` answers at once.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from cutplan.base.cleaning import plain
from cutplan.cli.tables import Table, plain_table

if TYPE_CHECKING:
    from cutplan.base.findings import Finding
    from cutplan.estimating import Compared, Estimate
    from cutplan.forming import BendTable
    from cutplan.nesting import Nest, StripNest
    from cutplan.planning import CheckedDrawing, CheckedProgram, Group
    from cutplan.record import Plan
    from cutplan.verification import Fault

__all__ = [
    "check_tables", "compare_summary", "duration", "estimate_lines", "estimate_summary", "findings_lines", "nest_summary", "order_lines",
    "plan_summary", "progress_display", "strip_summary", "verdict_lines",
]  # fmt: skip


def duration(seconds: float) -> str:
    """Return a time as hours, minutes and seconds: ``1:02:03``, ``2:03``."""
    whole = round(seconds)
    hours, rest = divmod(whole, 3600)
    minutes, left = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{left:02d}" if hours else f"{minutes}:{left:02d}"


@contextmanager
def progress_display(console: Console) -> Iterator[Callable[[str, float | None], None]]:
    """Yield a callback that shows what runs and its share on a terminal, and nothing elsewhere.

    The bar is that of the stage that is named; it runs to and fro where no share is known.
    """
    if not console.is_terminal:
        yield lambda stage, share: None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as display:
        task = display.add_task("starting", total=None)

        def tell(stage: str, share: float | None) -> None:
            if share is None:
                display.update(task, description=escape(stage), total=None)
            else:
                display.update(task, description=escape(stage), total=1.0, completed=min(share, 1.0))

        yield tell


def gas_text(estimate: Estimate) -> str:
    """Return the gases of an estimate in one cell."""
    return ", ".join(f"{gas} {m3:.2f}" for gas, m3 in estimate.gas_m3.items() if m3 >= 0.005) or "–"


def plan_summary(plan: Plan) -> Table:
    """Return the table of a plan: a row a plate, and the sum."""
    rows = []
    for sheet in plan.sheets:
        figures = sheet.estimate
        rows.append(
            [
                sheet.name,
                sheet.data.title,
                str(len(sheet.nested.placements)),
                f"{100 * sheet.utilisation:.1f} %",
                str(figures.pierces),
                f"{figures.cut_length_mm / 1000:.2f} m",
                duration(figures.time_s["total"]),
                gas_text(figures),
                f"{max(sheet.verdict.worst_bite_mm, sheet.verdict.worst_left_mm):.3f} mm",
            ]
        )
    total = plan.total
    parts = sum(len(sheet.nested.placements) for sheet in plan.sheets)
    rows.append(
        ["all", "", str(parts), "", str(total.pierces), f"{total.cut_length_mm / 1000:.2f} m",
         duration(total.time_s["total"]), gas_text(total), ""]
    )  # fmt: skip
    headings = ["plate", "process", "parts", "used", "pierces", "cut", "time", "gas m³", "worst error"]
    return plain_table(f"{plan.job}, planned and proved", headings, rows, left=2, total=True)


def findings_lines(findings: Sequence[tuple[str, Finding]], limit: int = 20) -> list[str]:
    """Return warnings and refusals as lines; what holds for many holes or copies is said once."""
    alike: dict[tuple[str, str, str], list[Finding]] = {}
    for about, finding in findings:
        if finding.kind != "mended":
            key = (finding.kind, about, re.sub(r"^hole \d+ of", "hole of", finding.message))
            alike.setdefault(key, []).append(finding)
    lines = []
    for (kind, about, _), found in alike.items():
        first, others = found[0], len({(each.message, each.place) for each in found}) - 1
        place = f" at ({first.place[0]:.2f}, {first.place[1]:.2f})" if first.place else ""
        more = f" (and {others} more like it)" if others else ""
        lines.append(plain(f"{kind}: {about}: {first.message}{place}{more}"))
    if len(lines) > limit:
        lines = [*lines[:limit], f"… and {len(lines) - limit} more, all in plan.json"]
    return lines


def strip_summary(answers: Sequence[tuple[Group, StripNest]]) -> Table:
    """Return the table of plates to be ordered."""
    from cutplan.drawing import metal_area

    rows = []
    for group, strip in answers:
        metal = sum(metal_area(p.part) for p in strip.placements)
        rows.append(
            [f"{group.data.thickness:g} mm {group.demands[0].grade}", f"{strip.width:g}",
             f"{math.ceil(strip.length)}", f"{math.ceil(strip.least_length)}", str(len(strip.placements)),
             f"{100 * metal / (strip.width * strip.length):.1f} %" if strip.length else "–"]
        )  # fmt: skip
    headings = ["plate", "width mm", "length mm", "at least mm", "parts", "used"]
    return plain_table("To be ordered", headings, rows, left=1)


def nest_summary(nests: Sequence[Nest]) -> Table:
    """Return the table of nested plates, with the least number of plates that area allows."""
    from cutplan.drawing import metal_area

    rows = []
    for nest in nests:
        for sheet in nest.plates:
            metal = sum(metal_area(p.part) for p in sheet.placements)
            used = metal / sheet.plate.metal_mm2
            plate = sheet.plate
            rows.append(
                [f"{plate.id}-{sheet.sheet}", f"{plate.thickness:g} mm {plate.grade}", str(len(sheet.placements)),
                 f"{100 * used:.1f} %", f"{metal * plate.thickness * plate.density_kg_m3 * 1e-9:.1f} kg",
                 f"{len(nest.plates)} of at least {nest.least_plates}"]
            )  # fmt: skip
    headings = ["plate", "stock", "parts", "used", "parts' mass", "plates"]
    return plain_table("Nested", headings, rows, left=2)


def estimate_summary(plan: Plan) -> Table:
    """Return the table of a plan's time, gas, power, consumables and cost."""
    activities = ["cutting", "piercing", "preheating", "travel", "raising", "marking"]
    activities += ["handling"] if plan.total.time_s.get("handling") else []
    rows = []
    for name, figures in [*((s.name, s.estimate) for s in plan.sheets), ("all", plan.total)]:
        cost = "–" if figures.cost is None else f"{figures.cost['total']:.2f} {figures.currency}"
        rows.append(
            [name, duration(figures.time_s["total"]), *(duration(figures.time_s.get(a, 0.0)) for a in activities),
             gas_text(figures), f"{figures.power_kwh:.1f}", f"{figures.consumable_sets:.2f}", cost]
        )  # fmt: skip
    headings = ["plate", "time", *activities, "gas m³", "kWh", "sets worn", "cost"]
    return plain_table(f"{plan.job}, estimated", headings, rows, total=True)


def estimate_lines(total: Estimate) -> list[str]:
    """Return what stands behind an estimate: its range, its inputs, what moves it, what is left out."""
    words = []
    for key, name, shown in (("time_s.total", "time", duration), ("cost.total", "cost", "{:.0f}".format)):
        if key in total.ranges:
            low, high = total.ranges[key]
            words.append(f"{name} {shown(low)} to {shown(high)}")
    words += [
        f"{key.removeprefix('gas_m3.')} {low:.2f} to {high:.2f} m³"
        for key, (low, high) in total.ranges.items()
        if key.startswith("gas_m3.")
    ]
    lines = [f"range: {', '.join(words)}"]
    if total.cylinders:
        full = ", ".join(f"{gas} {count:.2f}" for gas, count in total.cylinders.items())
        manifold = (
            f"; {total.acetylene_manifold} of acetylene on the manifold at once"
            if total.acetylene_manifold
            else ""
        )
        lines.append(f"cylinders: {full}{manifold}")
    others = [f"{name}: {amount:.2f}" for name, amount in total.supplies.items() if "cylinders" not in name]
    if others:
        lines.append(f"other supply: {'; '.join(others)}")
    if total.remnant_kg:
        lines.append(f"kept of the plates: {total.remnant_kg:.0f} of {total.plate_kg or 0.0:.0f} kg")
    if total.sorting_s:
        lines.append(f"beside the table: {duration(total.sorting_s)} of sorting")
    if total.co2_kg is not None:
        sources = ", ".join(f"{name} {kg:.0f}" for name, kg in total.co2_kg.items() if name != "total")
        lines.append(f"carbon dioxide: {total.co2_kg['total']:.0f} kg ({sources})")
    if total.sensitivity:
        lines.append(f"what moves it: {total.sensitivity}")
    return [*lines, *(f"from {text}" for text in total.inputs), *(f"note: {text}" for text in total.notes)]


def order_lines(plan: Plan) -> list[str]:
    """Return how each order stands to its bound, and how hot it leaves the plate."""
    lines = []
    for sheet in plan.sheets:
        order = sheet.order
        text = f"{sheet.name}: travel {duration(order.travel_s)}"
        lifting = order.statistics.get("lifting_s")
        if lifting is not None:
            text += f", of it {duration(lifting)} to raise and lower the torch"
        text += f"; no order takes less than {duration(order.bound_s)}"
        at_starts = order.statistics.get("bound_at_starts_s")
        if at_starts is not None:
            text += f", none that begins its cuts where this one does less than {duration(at_starts)}"
        if order.hottest_start_c is not None and order.greatest_difference_c is not None:
            text += (
                f"; hottest start {order.hottest_start_c:.0f} °C, "
                f"at most {order.greatest_difference_c:.0f} K across a part"
            )
        text += f"; parts begun and not finished at once: {order.open_parts}"
        if order.crossings:
            text += f"; {order.crossings} low travels over freed parts"
        lines.append(text)
    return lines


def compare_summary(results: Sequence[Compared]) -> Table:
    """Return the table of a batch cut in several ways."""
    rows = []
    for result in results:
        figures = result.estimate
        if figures is None:
            rows.append([result.alternative.name, "–", "–", "–", result.reason])
            continue
        cost = "–" if figures.cost is None else f"{figures.cost['total']:.2f} {figures.currency}"
        rows.append(
            [
                result.alternative.name,
                duration(figures.time_s["total"]),
                gas_text(figures),
                cost,
                result.reason,
            ]
        )
    return plain_table("Compared", ["process", "time", "gas m³", "cost", "with"], rows)


def check_tables(result: CheckedDrawing) -> list[Table]:
    """Return the tables of a checked drawing: its parts, and what was found."""
    rows = []
    for part, m in zip(result.drawing.parts, result.measures, strict=True):
        x0, y0, x1, y1 = m.bounds
        widths = [m.smallest_hole, m.narrowest_gap, m.thinnest_web]
        rows.append(
            [part.name, f"{x1 - x0:.1f} × {y1 - y0:.1f}", f"{m.area / 100:.1f}", f"{m.cut_length:.1f}",
             str(m.pierces), *("–" if w is None else f"{w.value:.2f}" for w in widths),
             str(len(part.marks) + len(part.texts)), str(len(part.bends)), str(part.drawn),
             "; ".join(note.text for note in part.notes if note.values)]
        )  # fmt: skip
    headings = ["part", "size mm", "area cm²", "cut mm", "pierces", "smallest hole", "narrowest gap",
                "thinnest web", "marks", "bends", "drawn", "texts"]  # fmt: skip
    process = "" if result.data is None else f", for {result.data.title}"
    tables = [plain_table(f"{result.drawing.source} in {result.drawing.units}{process}", headings, rows)]
    if result.findings:
        lines = [[str(n), f.kind, str(f)] for n, f in enumerate(result.findings, start=1)]
        tables.append(plain_table("Found", ["no", "kind", "what, where, and what to do"], lines, left=3))
    tables += [bending_table(table) for table in result.bending if table.strokes]
    if result.drawing.unused:
        unused = [[what, str(count)] for what, count in result.drawing.unused.items()]
        tables.append(plain_table("Nothing was made of", ["what", "count"], unused, left=1))
    return tables


def bending_table(table: BendTable) -> Table:
    """Return the strokes that bend a part."""
    rows = [
        [str(n), str(s.bend), f"{s.angle_deg:g}° {s.direction}", "over" if s.turned_over else "as drawn",
         f"{s.gauge_mm:.1f} to {s.gauge_edge}, {s.gauge_on}", f"{s.die_mm:g}", f"{s.force_kn:.0f}", f"{s.length_mm:.0f}"]
        for n, s in enumerate(table.strokes, start=1)
    ]  # fmt: skip
    headings = ["stroke", "bend", "angle", "face", "back gauge mm", "die mm", "kN", "length mm"]
    return plain_table(f"Bending {table.part}", headings, rows)


def _firsts(labelled: Sequence[tuple[str, Fault]]) -> list[tuple[str, Fault]]:
    """Return the first fault of each label."""
    first: dict[str, Fault] = {}
    for label, fault in labelled:
        first.setdefault(label, fault)
    return list(first.items())


def check_summary(results: Sequence[CheckedDrawing]) -> Table:
    """Return the table of many checked drawings: a row each."""
    kinds = ["refused", "question", "warning", "left out", "mended", "taken"]
    rows = []
    for result in results:
        counts = [sum(f.kind == kind for f in result.findings) for kind in kinds]
        parts = sum(part.drawn for part in result.drawing.parts)
        verdict = "stops" if result.stops else "sound"
        rows.append(
            [
                result.drawing.source,
                verdict,
                str(parts),
                result.drawing.units,
                *(str(n) if n else "–" for n in counts),
            ]
        )
    headings = ["drawing", "verdict", "parts", "units", *kinds]
    return plain_table(f"{len(results)} drawings checked", headings, rows, left=2)


def verdict_lines(result: CheckedProgram) -> list[str]:
    """Return a verdict in words: faults one by one, what was trimmed once for each kind."""
    verdict = result.verdict
    word = "FAILED" if not verdict.passed else "PASSED, but TRIMMED" if verdict.trims else "PASSED"
    hand = "as planned, word for word" if result.untouched else "EDITED since it was planned"
    lines = [f"{result.program} against sheet {result.sheet.name}: {word}; {hand}"]
    if verdict.is_read:
        left = f"{verdict.worst_left_mm:.3f} mm" if math.isfinite(verdict.worst_left_mm) else "a whole edge"
        lines.append(
            f"worst bite {verdict.worst_bite_mm:.3f} mm, worst metal left {left}, "
            f"allowed {verdict.tolerance_mm:g} mm; {verdict.parts_freed} parts freed, "
            f"{verdict.pierces} pierces, {verdict.cut_length_mm / 1000:.2f} m cut"
        )
    told: dict[str, int] = {}
    for label, _ in verdict.labelled:
        told[label] = told.get(label, 0) + 1
    for label, fault in _firsts(verdict.labelled):
        line = f"line {fault.line}: " if fault.line else ""
        place = f" at ({fault.place[0]:.3f}, {fault.place[1]:.3f}) mm" if fault.place else ""
        part = f"{fault.part} copy {fault.copy}: " if fault.part and fault.copy else ""
        often = f" ({told[label]} times, this is the first)" if told[label] > 1 else ""
        lines.append(f"{label}: {line}{part}{fault.message}{place}{often} [{fault.code}]")
    rest = len(verdict.faults) - sum(label.startswith("F") for label in told)
    if rest > 0:
        lines.append(f"… and {rest} more faults")
    return [*lines, *(f"note: {note}" for note in verdict.notes)]
