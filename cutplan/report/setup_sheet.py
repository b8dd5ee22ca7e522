"""The setup sheet: one page a plate that the operator sets the table up by."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.geometry import area, bounds
from cutplan.process import CutData, Quality, expected_quality
from cutplan.report.model import Plan, PlannedSheet
from cutplan.report.pages import duration, inline_picture, render
from cutplan.report.sheet_lists import contour_name, program_files, sheet_parts, weight_kg

__all__ = ["CAUTIONS", "setup_sheet_html"]

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
    "is opened. Let no hydrogen gather under plate on a water table, least of all with aluminium."
)
OXYFUEL_CAUTION = (
    "Oxygen and fuel gas: leak test, flashback arrestors in place, no oil or grease on oxygen "
    "fittings, cylinders upright and tied; shut both gases at the cylinders after work."
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


@dataclass(frozen=True)
class _GasRow:
    gas: str
    phase: str
    flow: str
    pressure: str


def setup_sheet_html(sheet: PlannedSheet, plan: Plan) -> str:
    """Return the setup sheet of a plate as one self-contained HTML page.

    Parameters
    ----------
    sheet : PlannedSheet
        One of the plan's sheets.
    plan : Plan

    Returns
    -------
    str
        A page that prints on A4 and Letter in grey; the same plan gives the same text.
    """
    plate = sheet.nested.plate
    x0, y0, x1, y1 = bounds(plate.outline)
    parts = sheet_parts(sheet)
    cautions = (*CAUTIONS, PLASMA_CAUTION if sheet.data.process == "plasma" else OXYFUEL_CAUTION)
    return render(
        "setup_sheet.html",
        plan=plan,
        sheet=sheet,
        plate=plate,
        data=sheet.data,
        picture=inline_picture(sheet),
        number_size=f"{max(x1 - x0, y1 - y0) / 100:.2f}",
        size=f"{x1 - x0:g} × {y1 - y0:g} mm",
        plate_kg=weight_kg(abs(area(plate.outline)), sheet),
        sheet_number=plan.sheets.index(sheet) + 1,
        programs=program_files(sheet),
        process_rows=_process_rows(sheet.data),
        gases=_gas_rows(sheet.data),
        times=_times(sheet),
        takes=_takes(sheet),
        parts=parts,
        parts_kg=sum(part.total_kg for part in parts),
        parts_quantity=sum(part.quantity for part in parts),
        steps=[(step.cut.part, step.cut.copy, contour_name(step)) for step in sheet.order.steps],
        quality=_quality_words(expected_quality(sheet.data, max(max(p.size_mm) for p in parts))),
        findings=[str(finding) for finding in sheet.findings],
        cautions=cautions,
    )


def _process_rows(data: CutData) -> list[tuple[str, str]]:
    rows = [
        ("process", {"plasma": "plasma", "oxyfuel": "oxy-fuel"}[data.process]),
        ("setting", data.setting),
        ("kerf", f"{data.kerf:.2f} mm"),
        ("feed", f"{data.feed_mm_min:.0f} mm/min"),
        ("pierce", f"{data.pierce_height:g} mm high, {data.pierce_s:g} s"),
        ("cutting height", f"{data.cut_height:g} mm"),
    ]
    if data.preheat_s > 0:
        rows.append(("preheat", f"{data.preheat_s:g} s (at an edge {data.edge_preheat_s:g} s)"))
    if data.current_a > 0:
        rows.append(("arc", f"{data.current_a:g} A, {data.voltage_v:g} V"))
    return rows


def _gas_rows(data: CutData) -> list[_GasRow]:
    return [
        _GasRow(
            gas=flow.gas,
            phase=flow.phase,
            flow=f"{flow.flow_m3_h:.2f}",
            pressure="–" if flow.pressure_bar is None else f"{flow.pressure_bar:.1f}",
        )
        for flow in data.gases
    ]


def _times(sheet: PlannedSheet) -> list[tuple[str, str]]:
    time_s = sheet.estimate.time_s
    rows = [(words, duration(time_s[key])) for key, words in TIME_ROWS if time_s.get(key, 0.0) > 0]
    return [*rows, ("total", duration(time_s["total"]))]


def _takes(sheet: PlannedSheet) -> list[tuple[str, str]]:
    figures = sheet.estimate
    rows = [
        ("torch starts", f"{figures.pierces}"),
        ("cut length", f"{figures.cut_length_mm / 1000:.2f} m"),
        *((gas, f"{volume:.2f} m³") for gas, volume in sorted(figures.gas_m3.items())),
        ("power", f"{figures.power_kwh:.1f} kWh"),
        ("consumable sets worn", f"{figures.consumable_sets:.2f}"),
    ]
    return rows


def _quality_words(quality: Quality) -> list[str]:
    words = [f"range {quality.range} for the edge: u ≤ {quality.u_mm:.2f} mm"]
    if quality.rz5_um is not None:
        words[0] += f", Rz5 ≤ {quality.rz5_um:.0f} µm"
    size = f"tolerance class {quality.tolerance_class}"
    if quality.deviation_mm is not None:
        size += f": ±{quality.deviation_mm:g} mm on the largest part's {quality.dimension:.0f} mm"
    return [*words, size, *quality.notes]
