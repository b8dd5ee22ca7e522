"""The cut list as CSV, and a planned sheet as a DXF with layers, for other programs to read."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterator

from cutplan.base.cleaning import csv_text
from cutplan.drawing import MarkText, placed_text, write_dxf
from cutplan.geometry import Path, bounds, place
from cutplan.record import Plan, PlannedSheet
from cutplan.report.sheet_lists import program_files, sheet_parts

__all__ = ["CUT_LIST_COLUMNS", "cut_list_csv", "cut_list_rows", "write_nest_dxf"]

CUT_LIST_COLUMNS = (
    "part", "plate", "sheet", "quantity", "thickness_mm", "grade", "heat",
    "weight_each_kg", "weight_total_kg", "cut_length_mm", "program", "kit", "due", "lift",
    "tabs_to_break", "tab_width_mm",
)  # fmt: skip


def cut_list_csv(plan: Plan) -> str:
    """Return the cut list: a row for each kind of part on each plate.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
        Comma-separated text after RFC 4180 with a heading row and decimal points.  Lengths
        are mm, weights kg; the cut length is that of all copies on the plate with their leads.
        Names are made safe by `csv_cell`.
    """
    forms = ("", "", "", "", "g", "", "", ".3f", ".3f", ".1f", "", "", "", "", "", "")
    rows = (
        [format(cell, form) for cell, form in zip(row, forms, strict=True)] for row in cut_list_rows(plan)
    )
    return csv_text(CUT_LIST_COLUMNS, rows)


def cut_list_rows(plan: Plan) -> Iterator[tuple[str | int | float, ...]]:
    """Yield the rows of the cut list, their cells those of `CUT_LIST_COLUMNS`."""
    for sheet in plan.sheets:
        plate = sheet.nested.plate
        programs = "; ".join(program_files(sheet))
        tabs = Counter(tab.part for tab in sheet.tabs)
        widths = {tab.part: tab.width_mm for tab in sheet.tabs}
        for part in sheet_parts(sheet):
            yield (
                part.name, plate.id, sheet.nested.sheet, part.quantity, plate.thickness, plate.grade,
                plate.heat or "", part.weight_kg, part.total_kg, part.cut_length_mm, programs,
                plan.kits.get(part.name, ""), plan.due.get(part.name, ""), plan.lifting.how(part.weight_kg),
                sheet.torches * tabs[part.name], widths.get(part.name, ""),
            )  # fmt: skip


def write_nest_dxf(file: str | os.PathLike[str], sheet: PlannedSheet) -> None:
    """Write a planned sheet as DXF, in millimetres and plate coordinates.

    Parameters
    ----------
    file : path
    sheet : PlannedSheet
        The plate and its keep-outs go to layer PLATE, finished outsides with the parts' names
        to PARTS, holes to HOLES, lines and texts to mark to MARKS, and the torch's paths with
        their leads, in the order of cutting, to TORCH.  Arcs stay arcs.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    plate = sheet.nested.plate
    layers: dict[str, list[Path | MarkText]] = {
        "PLATE": [plate.outline, *plate.barred],
        "PARTS": [],
        "HOLES": [],
        "MARKS": [],
        "TORCH": [step.lead.path for step in sheet.order.steps if step.cut.kind != "mark"],
    }
    for placement in sheet.nested.placements:
        part, pose = placement.part, placement.pose
        outer = place(part.outer, pose)
        layers["PARTS"] += [outer, _label(f"{part.name} {placement.copy}", outer)]
        layers["HOLES"] += [place(hole, pose) for hole in part.holes]
        layers["MARKS"] += [place(mark, pose) for mark in part.marks]
        layers["MARKS"] += [placed_text(text, pose) for text in (*part.texts, *part.trace)]
    write_dxf(file, layers)


def _label(words: str, outer: Path) -> MarkText:
    """Return a name at the left of the part's box, half way up, a twentieth of the box high."""
    x0, y0, x1, y1 = bounds(outer)
    return MarkText(words, (x0, 0.5 * (y0 + y1)), min(x1 - x0, y1 - y0) / 20.0)
