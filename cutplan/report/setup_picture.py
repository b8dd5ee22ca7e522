"""The picture of a plate on a printed setup sheet: parts, torch paths, axes, and the cuts' numbers."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import Path, area, bounds, chord_points, place, place_points
from cutplan.record import PlannedSheet
from cutplan.report.bevel_marks import slope_lines
from cutplan.report.link_marks import links_of, shared_of
from cutplan.report.number_places import axis_ticks, number_places
from cutplan.report.paper import FONT
from cutplan.report.svg import cut_apart_words, label_seat

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["draw_plate", "shown_box"]

Point = tuple[float, float]
Box = tuple[float, float, float, float]
OnPaper = Callable[[Iterable[Iterable[float]]], list[Point]]

CHORD_ON_PAPER = 0.02  # mm, finer than a printer's dot at 600 dpi (0.042 mm)
RULE = 0.15  # mm, the lines of tables
PART_PT, NUMBER_PT, TICK_PT = 9.0, 6.0, 6.0
"""Letters; 6 pt is the least that is read at arm's length (common practice)."""
MM_PER_PT = 0.3528
AXIS_X, AXIS_Y = 7.0, 5.5  # mm, room for the figures beside and below the plate
TICK = 1.2  # mm
TAB = 0.9  # mm, half of a tab's diamond
ARROW = 2.0  # mm, length of a link's arrowhead
BEYOND_CUTS = 60.0  # mm of the plate shown beyond the last part
PLATE_GREY, BARRED_GREY, LINE_GREY = 228, 180, 130


def draw_plate(pdf: FPDF, sheet: PlannedSheet, room: Point, *, numbered: bool = False) -> None:
    """Draw a sheet in the room below the place where the document stands.

    Parameters
    ----------
    pdf : FPDF
    sheet : PlannedSheet
    room : (width, height)
        mm.
    numbered : bool
        The cuts bear their numbers, otherwise the parts do.
    """
    x0, y0, x1, y1 = box = shown_box(sheet, numbered=numbered)
    scale = min((room[0] - AXIS_X) / (x1 - x0), (room[1] - AXIS_Y - 5.0) / (y1 - y0))
    left = pdf.l_margin + AXIS_X + (room[0] - AXIS_X - scale * (x1 - x0)) / 2
    top = pdf.get_y() + 1.0

    def on_paper(points: Iterable[Iterable[float]]) -> list[Point]:
        return [(left + scale * (x - x0), top + scale * (y1 - y)) for x, y in points]

    with pdf.rect_clip(left, top, scale * (x1 - x0), scale * (y1 - y0)):
        outlines = _parts(pdf, sheet, on_paper, scale)
        paths = _torch_paths(pdf, sheet, on_paper, scale)
    if numbered:
        lost = _cut_numbers(pdf, sheet, on_paper, [*outlines, *paths], box)
        caption = "Heavy corner: origin, 0 0. Small numbers: order of the cuts, each beside its pierce."
        if lost:
            caption += f" No room for {lost} of them: see the order."
    else:
        _part_numbers(pdf, sheet, on_paper)
        caption = "Heavy corner: origin, 0 0. Bold: number of the part. Axes in mm."
    caption += cut_apart_words(sheet)
    caption += " Diamonds: tabs." if sheet.tabs else ""
    caption += " Double ticks: cut once for two parts." if shared_of(sheet) else ""
    caption += " Arrowheads: the torch burns on to the next part." if links_of(sheet) else ""
    _axes(pdf, box, on_paper)
    pdf.set_y(top + scale * (y1 - y0) + AXIS_Y)
    pdf.set_x(pdf.l_margin)
    pdf.set_font(FONT, "", 7.5)
    pdf.cell(0, 4, caption, new_x="LMARGIN", new_y="NEXT")
    pdf.set_line_width(RULE)
    pdf.set_y(pdf.get_y() + 2)


def shown_box(sheet: PlannedSheet, *, numbered: bool) -> Box:
    """Return what of a plate a picture shows: all of it, or where there are cuts to be numbered."""
    x0, y0, x1, y1 = bounds(sheet.nested.plate.outline)
    if not numbered:
        return x0, y0, x1, y1
    boxes = [bounds(place(p.part.outer, p.pose)) for p in sheet.nested.placements]
    right, top = (max(box[side] for box in boxes) + BEYOND_CUTS for side in (2, 3))
    return x0, y0, min(x1, right), min(y1, top)


def _parts(pdf: FPDF, sheet: PlannedSheet, on_paper: OnPaper, scale: float) -> list[NDArray[np.float64]]:
    """Draw the plate and what lies on it; returns the lines drawn, on paper."""
    drawn: list[NDArray[np.float64]] = []

    def outline(path: Path, grey: int) -> None:
        points = on_paper(chord_points(path, CHORD_ON_PAPER / scale).tolist())
        pdf.set_fill_color(grey)
        pdf.polygon(points, style="DF")
        drawn.append(np.array([*points, points[0]]))

    plate = sheet.nested.plate
    pdf.set_draw_color(0)
    pdf.set_line_width(0.25)
    outline(plate.outline, PLATE_GREY)
    for keepout in plate.barred:
        outline(keepout, BARRED_GREY)
    pdf.set_line_width(0.12)
    # A part may lie in another's hole: the larger is drawn first.
    for placement in sorted(sheet.nested.placements, key=lambda p: -abs(area(p.part.outer))):
        outline(place(placement.part.outer, placement.pose), 255)
        for hole in placement.part.holes:
            outline(place(hole, placement.pose), PLATE_GREY)
    pdf.set_dash_pattern(dash=0.4, gap=0.6)
    for line in slope_lines(sheet.nested):
        pdf.polyline(on_paper(line.tolist()))
    pdf.set_dash_pattern()
    return drawn


def _torch_paths(
    pdf: FPDF, sheet: PlannedSheet, on_paper: OnPaper, scale: float
) -> list[NDArray[np.float64]]:
    drawn = []
    pdf.set_fill_color(0)
    for step in sheet.order.steps:
        pdf.set_dash_pattern(dash=1.2, gap=0.8) if step.cut.kind == "mark" else pdf.set_dash_pattern()
        pdf.set_line_width(0.2)
        if not step.cut.makes:
            pdf.set_dash_pattern(dash=4.0, gap=1.2)
            pdf.set_line_width(0.6)
        path = step.lead.path
        places = chord_points(path, CHORD_ON_PAPER / scale)
        for shift in sheet.lanes.shifts:
            points = on_paper((places + np.array([0.0, shift])).tolist())
            points = [*points, points[0]] if path.closed else points
            pdf.polyline(points)
            drawn.append(np.array(points))
        pdf.set_dash_pattern()
        x, y = on_paper([step.lead.pierce])[0]
        pdf.circle(x, y, 0.4, style="F")
    for tab in sheet.tabs:
        for shift in sheet.lanes.shifts:
            x, y = on_paper([(tab.at[0], tab.at[1] + shift)])[0]
            pdf.polygon([(x, y - TAB), (x + TAB, y), (x, y + TAB), (x - TAB, y)], style="F")
    for link in links_of(sheet):
        for shift in sheet.lanes.shifts:
            arrow = link.arrow(ARROW / scale) + np.array([0.0, shift])
            pdf.polygon(on_paper(arrow.tolist()), style="F")
    pdf.set_line_width(0.3)
    for mark in shared_of(sheet):
        for shift in sheet.lanes.shifts:
            for tick in mark.ticks(ARROW / scale) + np.array([0.0, shift]):
                pdf.polyline(on_paper(tick.tolist()))
    return drawn


def _cut_numbers(
    pdf: FPDF, sheet: PlannedSheet, on_paper: OnPaper, lines: list[NDArray[np.float64]], box: Box
) -> int:
    """Write each cut's number where it lies on nothing; returns how many found no room."""
    pdf.set_font(FONT, "", NUMBER_PT)
    numbers = [str(number) for number in range(1, len(sheet.order.steps) + 1)]
    anchors = on_paper([step.lead.pierce for step in sheet.order.steps])
    height = 0.8 * NUMBER_PT * MM_PER_PT
    sizes = [(pdf.get_string_width(words) + 0.5, height + 0.3) for words in numbers]
    x0, y0, x1, y1 = box
    (left, bottom), (right, top) = on_paper([(x0, y0), (x1, y1)])
    places = number_places(anchors, sizes, lines, (left, top, right, bottom))
    pdf.set_line_width(0.1)
    for words, anchor, found in zip(numbers, anchors, places, strict=True):
        if found is None:
            continue
        (x, y), led = found
        if led:
            pdf.set_draw_color(LINE_GREY)
            pdf.line(*anchor, x, y)
            pdf.set_fill_color(255)
            pdf.rect(
                x - 0.5 * pdf.get_string_width(words),
                y - 0.45 * height,
                pdf.get_string_width(words),
                0.9 * height,
                style="F",
            )
            pdf.set_draw_color(0)
        pdf.text(x - 0.5 * pdf.get_string_width(words), y + 0.45 * height, words)
    return places.count(None)


def _part_numbers(pdf: FPDF, sheet: PlannedSheet, on_paper: OnPaper) -> None:
    pdf.set_font(FONT, "B", PART_PT)
    numbers: dict[str, int] = {}
    seats: dict[str, Point] = {}
    for placement in sheet.nested.placements:
        name = placement.part.name
        if name not in seats:
            numbers[name], seats[name] = len(numbers) + 1, label_seat(placement.part)
        words = str(numbers[name])
        x, y = on_paper(place_points([seats[name]], placement.pose).tolist())[0]
        pdf.text(x - pdf.get_string_width(words) / 2, y + 1.1, words)


def _axes(pdf: FPDF, box: Box, on_paper: OnPaper) -> None:
    """Draw figures along both axes, and heavy lines at the origin."""
    x0, y0, x1, y1 = box
    pdf.set_draw_color(0)
    pdf.set_line_width(0.15)
    pdf.set_font(FONT, "", TICK_PT)
    (left, bottom), *_ = on_paper([(x0, y0)])
    for value in (t for t in axis_ticks(x1) if t >= x0):
        (x, _), *_ = on_paper([(value, y0)])
        words = f"{value:g}"
        pdf.line(x, bottom, x, bottom + TICK)
        pdf.text(x - 0.5 * pdf.get_string_width(words), bottom + TICK + 2.2, words)
    for value in axis_ticks(y1):
        (_, y), *_ = on_paper([(x0, value)])
        words = f"{value:g}"
        pdf.line(left - TICK, y, left, y)
        pdf.text(left - TICK - 0.6 - pdf.get_string_width(words), y + 0.8, words)
    (x, y), *_ = on_paper([(0.0, 0.0)])
    pdf.set_line_width(0.9)
    pdf.polyline([(x + 7, y), (x, y), (x, y - 7)])
