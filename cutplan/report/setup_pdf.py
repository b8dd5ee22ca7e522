"""The setup sheet as PDF, for a printer that has no browser before it.

The words are those of `setup_content`, the picture is drawn anew in lines fit for paper; for
the picture's own arcs see the SVG.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from cutplan.geometry import Path, area, bounds, chord_points, place, place_points
from cutplan.record import Plan, PlannedSheet
from cutplan.report.paper import Paper, new_pdf, plain_letters
from cutplan.report.setup_content import SetupContent, setup_content
from cutplan.report.svg import label_seat

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["setup_sheet_pdf"]

Point = tuple[float, float]

MARGIN = 12.0  # mm
GUTTER = 5.0  # mm between columns
PICTURE_HEIGHT = 118.0  # mm at most
BOXES_HEIGHT = 58.0  # mm that a row of boxes may need
ORDER_COLUMNS = 3
RULE = 0.15  # mm, the lines of tables
LINE = 4.2  # mm, a line of 8.5 pt text
CHORD_ON_PAPER = 0.02  # mm, finer than a printer's dot at 600 dpi (0.042 mm)


def setup_sheet_pdf(sheet: PlannedSheet, plan: Plan, *, paper: Paper = "A4") -> bytes:
    """Return the setup sheet of a plate as PDF.

    Parameters
    ----------
    sheet : PlannedSheet
        One of the plan's sheets.
    plan : Plan
    paper : {"A4", "Letter"}

    Returns
    -------
    bytes
        The same plan gives the same bytes.

    Notes
    -----
    Uses the fonts that every PDF reader has, so letters outside Latin alphabet 1 lose their
    accents or become question marks; the HTML sheet keeps them.
    """
    content = setup_content(sheet, plan)
    pdf = new_pdf(f"Setup sheet {content.title}", paper, MARGIN)
    pdf.add_page()
    _header(pdf, content)
    _picture(pdf, sheet)
    _boxes(pdf, [_pairs("Plate", content.plate), _pairs("Process", content.process),
                 _pairs("Time (h:min:s)", content.times)])  # fmt: skip
    gases = [(f"{g.gas}, {g.phase}", f"{g.flow} m³/h, {g.pressure} bar") for g in content.gases]
    edge = [("", words) for words in content.quality]
    _boxes(pdf, [_pairs("It takes", content.takes), _pairs("Gas settings", gases),
                 _pairs("Expected edge (ISO 9013)", edge)])  # fmt: skip
    _parts(pdf, content)
    _list(pdf, "Notes on this cut", content.notes)
    _list(pdf, "Cautions", content.cautions)
    _order(pdf, content)
    return bytes(pdf.output())


def _header(pdf: FPDF, content: SetupContent) -> None:
    pdf.set_font("Helvetica", "B", 16)
    pdf.multi_cell(0, 7, plain_letters(content.title), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font("Helvetica", "", 9)
    pdf.multi_cell(0, 4.5, plain_letters(content.subtitle), new_x="LMARGIN", new_y="NEXT")
    pdf.set_line_width(0.5)
    pdf.line(pdf.l_margin, pdf.get_y() + 1, pdf.l_margin + pdf.epw, pdf.get_y() + 1)
    pdf.set_y(pdf.get_y() + 4)


def _picture(pdf: FPDF, sheet: PlannedSheet) -> None:
    """Draw plate, numbered parts, torch paths and pierces; heavy lines mark the origin."""
    plate = sheet.nested.plate
    x0, y0, x1, y1 = bounds(plate.outline)
    scale = min(pdf.epw / (x1 - x0), PICTURE_HEIGHT / (y1 - y0))
    left, top = pdf.l_margin + (pdf.epw - scale * (x1 - x0)) / 2, pdf.get_y()

    def on_paper(points: Iterable[Iterable[float]]) -> list[Point]:
        return [(left + scale * (x - x0), top + scale * (y1 - y)) for x, y in points]

    def outline(path: Path, grey: int) -> None:
        pdf.set_fill_color(grey)
        pdf.polygon(on_paper(chord_points(path, CHORD_ON_PAPER / scale).tolist()), style="DF")

    pdf.set_draw_color(0)
    pdf.set_line_width(0.25)
    outline(plate.outline, 228)
    for keepout in plate.barred:
        outline(keepout, 180)
    pdf.set_line_width(0.12)
    # A part may lie in another's hole: the larger is drawn first.
    for placement in sorted(sheet.nested.placements, key=lambda p: -abs(area(p.part.outer))):
        outline(place(placement.part.outer, placement.pose), 255)
        for hole in placement.part.holes:
            outline(place(hole, placement.pose), 228)
    _torch_paths(pdf, sheet, on_paper, scale)
    _numbers(pdf, sheet, on_paper)
    (x, y), *_ = on_paper([(0.0, 0.0)])
    pdf.set_line_width(0.9)
    pdf.polyline([(x + 7, y), (x, y), (x, y - 7)])
    pdf.set_y(top + scale * (y1 - y0) + 1.5)
    pdf.set_font("Helvetica", "", 7.5)
    caption = "Heavy corner: origin. Bold: number of the part. Small, at its pierce: number of the cut."
    pdf.cell(0, 4, caption, new_x="LMARGIN", new_y="NEXT")
    pdf.set_line_width(RULE)
    pdf.set_y(pdf.get_y() + 2)


OnPaper = Callable[[Iterable[Iterable[float]]], list[Point]]


def _torch_paths(pdf: FPDF, sheet: PlannedSheet, on_paper: OnPaper, scale: float) -> None:
    pdf.set_font("Helvetica", "", 5)
    pdf.set_fill_color(0)
    for number, step in enumerate(sheet.order.steps, start=1):
        pdf.set_dash_pattern(dash=1.2, gap=0.8) if step.cut.kind == "mark" else pdf.set_dash_pattern()
        pdf.set_line_width(0.25)
        path = step.lead.path
        places = chord_points(path, CHORD_ON_PAPER / scale)
        for shift in sheet.lanes.shifts:
            points = on_paper((places + np.array([0.0, shift])).tolist())
            pdf.polyline([*points, points[0]] if path.closed else points)
        pdf.set_dash_pattern()
        x, y = on_paper([step.lead.pierce])[0]
        pdf.circle(x, y, 0.45, style="F")
        pdf.text(x + 0.6, y - 0.5, str(number))


def _numbers(pdf: FPDF, sheet: PlannedSheet, on_paper: OnPaper) -> None:
    pdf.set_font("Helvetica", "B", 9)
    numbers: dict[str, int] = {}
    seats: dict[str, Point] = {}
    for placement in sheet.nested.placements:
        name = placement.part.name
        if name not in seats:
            numbers[name], seats[name] = len(numbers) + 1, label_seat(placement.part)
        words = str(numbers[name])
        x, y = on_paper(place_points([seats[name]], placement.pose).tolist())[0]
        pdf.text(x - pdf.get_string_width(words) / 2, y + 1.1, words)


def _heading(pdf: FPDF, title: str, width: float) -> None:
    pdf.set_font("Helvetica", "B", 10)
    x = pdf.get_x()
    pdf.cell(width, 5, plain_letters(title), border="B")
    pdf.set_xy(x, pdf.get_y() + 5.6)


def _pairs(title: str, rows: Iterable[tuple[str, str]]) -> Callable[[FPDF, float, float], None]:
    """Return what draws a box of names and values at a place and a width."""

    def draw(pdf: FPDF, x: float, width: float) -> None:
        pdf.set_x(x)
        _heading(pdf, title, width)
        for name, value in rows:
            pdf.set_x(x)
            pdf.set_font("Helvetica", "B", 8)
            share = 0.0
            if name:
                share = max(pdf.get_string_width(plain_letters(name)) + 3, 0.36 * width)
                pdf.cell(share, LINE, plain_letters(name))
            pdf.set_font("Helvetica", "", 8)
            pdf.multi_cell(
                width - share, LINE, plain_letters(value), align="L", new_x="LMARGIN", new_y="NEXT"
            )

    return draw


def _boxes(pdf: FPDF, boxes: Sequence[Callable[[FPDF, float, float], None]]) -> None:
    """Draw boxes side by side, on a new page where they might not fit."""
    if pdf.will_page_break(BOXES_HEIGHT):
        pdf.add_page()
    width = (pdf.epw - GUTTER * (len(boxes) - 1)) / len(boxes)
    top, bottom = pdf.get_y(), pdf.get_y()
    for index, draw in enumerate(boxes):
        pdf.set_y(top)
        draw(pdf, pdf.l_margin + index * (width + GUTTER), width)
        bottom = max(bottom, pdf.get_y())
    pdf.set_xy(pdf.l_margin, bottom + 3)


def _parts(pdf: FPDF, content: SetupContent) -> None:
    if pdf.will_page_break(25):
        pdf.add_page()
    _heading(pdf, "Parts", pdf.epw)
    pdf.set_font("Helvetica", "", 8)
    rows = [("no.", "part", "quantity", "size, mm", "kg each", "kg in all")]
    for part in content.parts:
        size = "{:.0f} × {:.0f}".format(*part.size_mm)
        rows.append((str(part.number), part.name, str(part.quantity), size,
                     f"{part.weight_kg:.2f}", f"{part.total_kg:.2f}"))  # fmt: skip
    rows.append(("", "all", str(content.parts_quantity), "", "", f"{content.parts_kg:.2f}"))
    with pdf.table(
        col_widths=(8, 60, 16, 24, 16, 18),
        text_align=("RIGHT", "LEFT", "RIGHT", "RIGHT", "RIGHT", "RIGHT"),
        borders_layout="HORIZONTAL_LINES",
        line_height=LINE,
    ) as table:
        for row in rows:
            table.row([plain_letters(cell) for cell in row])
    pdf.set_xy(pdf.l_margin, pdf.get_y() + 3)


def _list(pdf: FPDF, title: str, items: Iterable[str]) -> None:
    lines = [plain_letters(item) for item in items]
    if not lines:
        return
    if pdf.will_page_break(25):
        pdf.add_page()
    _heading(pdf, title, pdf.epw)
    pdf.set_font("Helvetica", "", 8.5)
    for line in lines:
        pdf.multi_cell(0, LINE, f"· {line}", align="L", new_x="LMARGIN", new_y="NEXT")
    pdf.set_y(pdf.get_y() + 3)


def _order(pdf: FPDF, content: SetupContent) -> None:
    if pdf.will_page_break(25):
        pdf.add_page()
    _heading(pdf, "Order of cutting (read across)", pdf.epw)
    pdf.set_font("Helvetica", "", 8)
    lines = [
        plain_letters(f"{number}  {part}, copy {copy}: {contour}")
        for number, (part, copy, contour) in enumerate(content.steps, start=1)
    ]
    lines += [""] * (-len(lines) % ORDER_COLUMNS)
    with pdf.table(
        first_row_as_headings=False, text_align="LEFT", borders_layout="NONE", line_height=LINE
    ) as table:
        for row in range(0, len(lines), ORDER_COLUMNS):
            table.row(lines[row : row + ORDER_COLUMNS])
