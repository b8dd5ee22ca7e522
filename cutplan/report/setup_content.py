"""What a setup sheet says, in words and figures; how it is laid out is left to the pages."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.base.lifting import LIFTING_CAUTION, Lifting
from cutplan.base.words import duration
from cutplan.estimating import TAKEN_AS_FLAT, manifold_lines
from cutplan.geometry import bounds
from cutplan.process import PROCESS_WORDS, CutData, Quality, expected_quality, water_cautions
from cutplan.record import Plan, PlannedSheet
from cutplan.report.bevel_marks import bevel_cautions, bevel_lines
from cutplan.report.link_marks import links_of, shared_of, together_lines
from cutplan.report.operator_checks import Check, checks_of, skew_notes
from cutplan.report.sheet_lists import (
    SheetPart,
    apart_lines,
    contour_name,
    first_made,
    program_files,
    sheet_parts,
    tab_lines,
)

__all__ = ["CAUTIONS", "SIGNATURES", "GasRow", "SetupContent", "setup_content"]

# Common practice at cutting tables; local codes and the shop's own rules go before them.
CAUTIONS = (
    "Local codes, the shop's safety rules and the makers' manuals come before this sheet. "
    "The operator stays in charge, and stops the table whenever something looks wrong.",
    "Before the first cut: check plate, thickness, grade and heat number against this sheet, "
    "and run the program once with the torch off, above the plate.",
    "Fumes: run extraction or the water table. Coated, oiled or galvanised plate gives off "
    "more and worse fumes.",
    "Ultraviolet light, glare and noise: shade for the eyes, covered skin, hearing protection; "
    "screen the place from others.",
    "Fire: keep what burns away from sparks and hot slag, an extinguisher at hand, and a watch "
    "after the work. Parts and skeleton stay hot.",
    "Freed parts may tip up into the torch's way: watch each one come loose, and never reach "
    "under a moving torch.",
)
PLASMA_CAUTION = (
    "Arc voltage kills: work clamp on clean metal, and the source off and locked before the torch "
    "is opened. The start signal must hold all motion until the arc has passed to the plate: try that dry."
)
OXYFUEL_CAUTION = (
    "Cylinders stand upright and tied, their fittings free of grease; leaks are looked for before "
    "lighting, and both gases shut at the cylinders after work."
)
TIME_ROWS = (
    ("cutting", "cutting"),
    ("piercing", "piercing"),
    ("preheating", "preheating"),
    ("travel", "travel"),
    ("raising", "raising and lowering"),
    ("marking", "marking"),
    ("handling", "handling"),
)
Rows = tuple[tuple[str, str], ...]
"""Names and what stands against them."""


# What reading a drawing changed that may be seen on the part, by topic of the finding.
TOLD_AT_THE_TABLE = frozenset({"gaps", "strays", "frames", "texts", "notes", "bevels"})


SIGNATURES = ("Planned by, date", "Plate and heat checked by", "Dry run done by", "Cut by, date and time")
"""Who signs a sheet, and for what."""


@dataclass(frozen=True)
class GasRow:
    """A gas in one phase of the cut, its flow in m³/h and its pressure in bar as printed."""

    gas: str
    phase: str
    flow: str
    pressure: str


@dataclass(frozen=True)
class SetupContent:
    """The words and figures of one setup sheet.

    Attributes
    ----------
    title, subtitle : str
        The sheet's name; the job, the sheet's place in it and what planned it.
    plate, process, times, takes : tuple of (str, str)
        The last row of `times` is the total.
    gases : tuple of GasRow
    quality : tuple of str
        Edge and size to expect, in the terms of ISO 9013.
    parts : tuple of SheetPart
    steps : tuple of (str, int, str)
        Part, copy and contour of each cut, in order.
    checks : tuple of Check
        What the operator checks, measures and writes back.
    notes, cautions : tuple of str
        What is particular to this cut; what holds for every cut of the process.
    """

    title: str
    subtitle: str
    plate: Rows
    process: Rows
    times: Rows
    takes: Rows
    gases: tuple[GasRow, ...]
    quality: tuple[str, ...]
    parts: tuple[SheetPart, ...]
    steps: tuple[tuple[str, int | None, str], ...]
    checks: tuple[Check, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def parts_quantity(self) -> int:
        """Copies of all parts together."""
        return sum(part.quantity for part in self.parts)

    @property
    def parts_kg(self) -> float:
        """Weight of all parts together."""
        return sum(part.total_kg for part in self.parts)


def setup_content(sheet: PlannedSheet, plan: Plan) -> SetupContent:
    """Return what the setup sheet of one of the plan's sheets says."""
    data, parts = sheet.data, sheet_parts(sheet)
    position = plan.sheets.index(sheet) + 1
    reason = (f"Why this setting: {data.reason}",) if data.reason else ()
    return SetupContent(
        title=sheet.name,
        subtitle=f"{plan.job} · sheet {position} of {len(plan.sheets)} · cutplan {plan.version}, seed {plan.seed}",
        plate=_plate(sheet),
        process=_process(sheet),
        times=_times(sheet),
        takes=_takes(sheet),
        gases=_gases(data),
        quality=_quality(expected_quality(data, max(max(part.size_mm) for part in parts))),
        parts=parts,
        steps=tuple((*first_made(step), contour_name(step)) for step in sheet.order.steps),
        checks=checks_of(sheet, plan),
        notes=(
            *_laid(sheet),
            *_begun(sheet),
            *reason,
            *(_sentence(words) for words in water_cautions(data, water_table=plan.machine.water_table)),
            *_flat(sheet),
            *skew_notes(sheet),
            *_supply(sheet),
            *(words for told in (tab_lines, together_lines, bevel_lines) for words in told(sheet)),
            *_pieces(sheet),
            *apart_lines(sheet),
            *_as_drawn(sheet),
            *(str(finding) for finding in sheet.findings),
        ),
        cautions=(
            *CAUTIONS,
            PLASMA_CAUTION if data.process == "plasma" else OXYFUEL_CAUTION,
            *(_sentence(words) for words in data.cautions),
            *_lifting(sheet, parts, plan.lifting),
            *_clamps(sheet),
            *(words for told in (_held, _chained, _apart, bevel_cautions) for words in told(sheet)),
        ),
    )


def _gases(data: CutData) -> tuple[GasRow, ...]:
    return tuple(
        GasRow(
            gas=flow.gas,
            phase=flow.phase,
            flow=f"{flow.flow_m3_h:.2f}",
            pressure="–" if flow.pressure_bar is None else f"{flow.pressure_bar:.1f}",
        )
        for flow in data.gases
    )


def _capital(words: str) -> str:
    return f"{words[0].upper()}{words[1:]}"


def _sentence(words: str) -> str:
    return f"{_capital(words)}."


def _held(sheet: PlannedSheet) -> tuple[str, ...]:
    """Warn of what hangs in the skeleton until its tabs are broken."""
    if not sheet.tabs:
        return ()
    return (
        "Parts hang in the skeleton by tabs: secure a part against falling before its last tab is "
        "broken, let it cool, and mind the sharp stubs.",
    )


def _chained(sheet: PlannedSheet) -> tuple[str, ...]:
    """Warn of parts that come loose while the torch burns on."""
    words = (
        "In some runs several parts come loose one after another while the torch burns on: keep hands and "
        "tools out, and stop the run if a part tips or drops askew."
    )
    return (words,) if links_of(sheet) or shared_of(sheet) else ()


def _pieces(sheet: PlannedSheet) -> tuple[str, ...]:
    """Say which parts are pieces of a longer one, to be kept together until they are welded."""
    pieces = {p.part.name: p.part.piece.split.of for p in sheet.nested.placements if p.part.piece is not None}
    if not pieces:
        return ()
    told = ", ".join(f"{name} of {whole}" for name, whole in sorted(pieces.items()))
    return (f"Pieces that are welded into one part, by joints.html: {told}.",)


def _apart(sheet: PlannedSheet) -> tuple[str, ...]:
    """Warn of the plate itself coming apart on the table."""
    if all(step.cut.makes for step in sheet.order.steps):
        return ()
    return (
        "The plate comes apart at the end: see that rest and skeleton lie on enough slats on both sides of "
        "each cut, stay clear while it is cut, and lift them one by one.",
    )


def _flat(sheet: PlannedSheet) -> tuple[str, ...]:
    """Warn where the program gives the heights and nothing finds the plate's surface."""
    if not any(TAKEN_AS_FLAT in note for note in sheet.estimate.notes):
        return ()
    return ("The program takes the plate as flat: see that it lies flat and level before the first cut.",)


def _face(sheet: PlannedSheet) -> tuple[str, ...]:
    """Say which side of a plate with a good face lies up."""
    plate = sheet.nested.plate
    if not plate.face:
        return ()
    if plate.face_up:
        return (f"Good face ({plate.face}): lay it UP. Drawings show this face; no part is mirrored.",)
    return (
        f"Good face ({plate.face}): lay it DOWN, and keep it from slag and slats. Drawings show the other "
        "face; no part is mirrored.",
    )


def _begun(sheet: PlannedSheet) -> tuple[str, ...]:
    """Say what a plate that shifts can spoil."""
    most = sheet.order.open_parts * sheet.torches
    if most == 0:
        return ()
    return (
        f"Parts begun and not finished at once: at most {most}. If the plate shifts, stop: these are lost, "
        "the others are whole or still to be cut.",
    )


def _supply(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return how the gases come, and what the acetylene cylinders must stand."""
    figures = sheet.estimate
    taken = [f"{name}: {amount:.2f}" for name, amount in figures.supplies.items()]
    lines = (f"Supply this sheet takes: {'; '.join(taken)}.",) if taken else ()
    return (*lines, *map(_capital, manifold_lines(figures.peak_flow_m3_h.get("acetylene", 0.0))))


def _lifting(sheet: PlannedSheet, parts: tuple[SheetPart, ...], lifting: Lifting) -> tuple[str, ...]:
    """Return what one person must not lift by hand."""
    plate = sheet.nested.plate.mass_kg()
    masses = [("the plate", plate), *((part.name, part.weight_kg) for part in parts)]
    heavy = [f"{name} {mass:.0f} kg ({lifting.how(mass)})" for name, mass in masses if lifting.how(mass)]
    if not heavy:
        return ()
    return (
        f"Lift by one person up to {lifting.one_person_kg:g} kg, by two up to {lifting.two_persons_kg:g} kg, by crane "
        f"or magnets up to {lifting.crane_kg:g} kg: {'; '.join(heavy)}. Nobody stands under the load. {LIFTING_CAUTION}",
    )


def _clamps(sheet: PlannedSheet) -> tuple[str, ...]:
    if not sheet.nested.plate.keepouts:
        return ()
    return ("Clamps: set them where this sheet bars the plate, no higher than it was planned with.",)


def _as_drawn(sheet: PlannedSheet) -> tuple[str, ...]:
    """Return what the cut parts owe to the reading of their drawings: gaps closed, strays left out, orders."""
    kinds = {placement.part.name: placement.part for placement in sheet.nested.placements}
    return tuple(
        f"{name}, in its drawing: {finding}"
        for name, part in kinds.items()
        for finding in part.findings
        if finding.topic in TOLD_AT_THE_TABLE
    )


def _plate(sheet: PlannedSheet) -> Rows:
    plate = sheet.nested.plate
    x0, y0, x1, y1 = bounds(plate.outline)
    remnant = " (remnant)" if plate.is_remnant else ""
    return (
        ("plate", f"{plate.id}, sheet {sheet.nested.sheet}{remnant}"),
        ("size", f"{x1 - x0:g} × {y1 - y0:g} mm"),
        ("thickness", f"{plate.thickness:g} mm"),
        ("grade", f"{plate.grade} ({plate.material})"),
        ("heat", plate.heat or "not given"),
        *(
            (("good face", f"{plate.face}: lay it {'UP' if plate.face_up else 'DOWN'}"),)
            if plate.face
            else ()
        ),
        ("weight", f"{plate.mass_kg():.1f} kg"),
        ("used", f"{100 * sheet.utilisation:.1f} %"),
        ("program", ", then ".join(program_files(sheet))),
        ("proof", "passed" if sheet.verdict.passed else "FAILED: do not cut"),
    )


def _laid(sheet: PlannedSheet) -> tuple[str, ...]:
    """Say how torches and plate are set before the first cut."""
    return (*_torches(sheet), *_face(sheet))


def _torches(sheet: PlannedSheet) -> tuple[str, ...]:
    if sheet.torches == 1:
        return ()
    words = (
        f"{sheet.torches} torches burn together. Set them {sheet.lanes.spacing:g} mm apart across the plate, "
        "measure that, and run dry with all of them: each cuts its own lane, just as the first."
        + (f" They go across the plate in {sheet.lanes.bands} bands." if sheet.lanes.bands > 1 else "")
    )
    return (words,)


def _process(sheet: PlannedSheet) -> Rows:
    data = sheet.data
    rows = [
        ("process", PROCESS_WORDS[data.process]),
        ("setting", data.setting),
        ("kerf", f"{data.kerf:.2f} mm"),
        ("feed", f"{data.feed_mm_min:.0f} mm/min"),
        ("pierce", f"{data.pierce_height:g} mm high, {data.pierce_s:g} s"),
        *_on_the_move(data),
        ("cutting height", f"{data.cut_height:g} mm"),
    ]
    if sheet.torches > 1:
        rows.append(("torches", f"{sheet.torches}, set {sheet.lanes.spacing:g} mm apart"))
    if data.preheat_s > 0:
        rows.append(("preheat", f"{data.preheat_height:g} mm high, {data.preheat_s:g} s"))
        rows.append(("at an edge", f"preheat {data.edge_preheat_s:g} s"))
        if data.high_preheat > 1.0:
            rows.append(("flames up", f"{data.high_preheat:g} × the steady flow"))
    if data.current_a > 0:
        rows.append(("arc", f"{data.current_a:g} A, {data.voltage_v:g} V"))
        rows.append(("gas", f"{data.pre_flow_s:g} s before, {data.post_flow_s:g} s after"))
        rows.append(("transfer", f"{data.transfer_s:g} s, standing"))
    return tuple(rows)


def _on_the_move(data: CutData) -> Rows:
    """Return what the torch does while it moves off from a pierce."""
    rows = []
    if data.moving_pierce_mm > 0.0:
        rows.append(
            ("creeping", f"{data.moving_pierce_mm:g} mm at {data.moving_pierce_feed:.0%} of the feed")
        )
    if data.lowering_mm > 0.0:
        rows.append(("coming down", f"over {data.lowering_mm:g} mm, moving"))
    if data.rules.arc_off_before > 0.0:
        rows.append(("arc out", f"{data.rules.arc_off_before:g} mm before a hole's end, moving on"))
    return tuple(rows)


def _times(sheet: PlannedSheet) -> Rows:
    time_s = sheet.estimate.time_s
    rows = [(words, duration(time_s[key])) for key, words in TIME_ROWS if time_s.get(key, 0.0) > 0]
    return (*rows, ("total", duration(time_s["total"])))


def _takes(sheet: PlannedSheet) -> Rows:
    figures = sheet.estimate
    return (
        ("torch starts", f"{figures.pierces}"),
        ("cut length", f"{figures.cut_length_mm / 1000:.2f} m"),
        *((gas, f"{volume:.2f} m³") for gas, volume in sorted(figures.gas_m3.items())),
        ("power", f"{figures.power_kwh:.1f} kWh"),
        ("consumable sets worn", f"{figures.consumable_sets:.2f}"),
    )


def _quality(quality: Quality) -> tuple[str, ...]:
    edge = f"range {quality.range} for the edge: u ≤ {quality.u_mm:.2f} mm"
    if quality.rz5_um is not None:
        edge += f", Rz5 ≤ {quality.rz5_um:.0f} µm"
    size = f"tolerance class {quality.tolerance_class}"
    if quality.deviation_mm is not None:
        size += f": ±{quality.deviation_mm:g} mm on the largest part's {quality.dimension:.0f} mm"
    return (edge, size, *quality.notes)
