"""The setup sheet as PDF, for a printer that has no browser before it.

The words are those of `setup_content`, the picture is drawn anew in lines fit for paper; for
the picture's own arcs see the SVG.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from cutplan.record import Plan, PlannedSheet
from cutplan.report.paper import FONT, Paper, new_pdf, plain_letters
from cutplan.report.setup_content import SIGNATURES, SetupContent, setup_content
from cutplan.report.setup_picture import draw_plate, shown_box

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["setup_sheet_pdf"]

MARGIN = 12.0  # mm
GUTTER = 5.0  # mm between columns
PICTURE_HEIGHT = 118.0  # mm at most
BOXES_HEIGHT = 58.0  # mm that a row of boxes may need
ORDER_COLUMNS = 3
NUMBERED_MARGIN = 18.0  # mm, for heading and caption of the numbered picture
MOST_FOR_NAMES = 0.55  # share of a box that its names may take
SIGNED_HEIGHT = 16.0  # mm
RULE = 0.15  # mm, the lines of tables
LINE = 4.2  # mm, a line of 8.5 pt text


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
    Letters are Latin, Greek and Cyrillic, in a font that is embedded; others lose their accents
    or become question marks, which the HTML sheet keeps.
    """
    content = setup_content(sheet, plan)
    pdf = new_pdf(f"Setup sheet {content.title}", paper, MARGIN)
    pdf.add_page()
    _header(pdf, content)
    draw_plate(pdf, sheet, (pdf.epw, PICTURE_HEIGHT))
    _boxes(pdf, [_pairs("Plate", content.plate), _pairs("Process", content.process),
                 _pairs("Time (h:min:s)", content.times)])  # fmt: skip
    gases = [(f"{g.gas}, {g.phase}", f"{g.flow} m³/h, {g.pressure} bar") for g in content.gases]
    edge = [("", words) for words in content.quality]
    _boxes(pdf, [_pairs("It takes", content.takes), _pairs("Gas settings", gases),
                 _pairs("Expected edge (ISO 9013)", edge)])  # fmt: skip
    _parts(pdf, content)
    _list(pdf, "Notes on this cut", content.notes)
    _list(pdf, "Cautions", content.cautions)
    _checks(pdf, content)
    _signed(pdf)
    x0, y0, x1, y1 = shown_box(sheet, numbered=True)
    pdf.add_page(orientation="landscape" if x1 - x0 > y1 - y0 else "portrait")
    _heading(pdf, "Where each cut begins, by its number in the order", pdf.epw)
    draw_plate(pdf, sheet, (pdf.epw, pdf.eph - NUMBERED_MARGIN), numbered=True)
    pdf.add_page(orientation="portrait")
    _order(pdf, content)
    return bytes(pdf.output())


def _header(pdf: FPDF, content: SetupContent) -> None:
    pdf.set_font(FONT, "B", 16)
    pdf.multi_cell(0, 7, plain_letters(content.title), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font(FONT, "", 9)
    pdf.multi_cell(0, 4.5, plain_letters(content.subtitle), new_x="LMARGIN", new_y="NEXT")
    pdf.set_line_width(0.5)
    pdf.line(pdf.l_margin, pdf.get_y() + 1, pdf.l_margin + pdf.epw, pdf.get_y() + 1)
    pdf.set_y(pdf.get_y() + 4)


def _heading(pdf: FPDF, title: str, width: float) -> None:
    pdf.set_font(FONT, "B", 10)
    x = pdf.get_x()
    pdf.cell(width, 5, plain_letters(title), border="B")
    pdf.set_xy(x, pdf.get_y() + 5.6)


def _pairs(title: str, rows: Iterable[tuple[str, str]]) -> Callable[[FPDF, float, float], None]:
    """Return what draws a box of names and values at a place and a width."""

    def draw(pdf: FPDF, x: float, width: float) -> None:
        pdf.set_x(x)
        _heading(pdf, title, width)
        rows_shown = [(plain_letters(name), plain_letters(value)) for name, value in rows]
        pdf.set_font(FONT, "B", 8)
        share = max((pdf.get_string_width(name) + 3 for name, _ in rows_shown if name), default=0.0)
        share = min(share, MOST_FOR_NAMES * width)
        for name, value in rows_shown:
            top = pdf.get_y()
            pdf.set_font(FONT, "B", 8)
            pdf.set_x(x)
            if name:
                pdf.multi_cell(share, LINE, name, align="L", new_x="LMARGIN", new_y="NEXT")
            bottom = pdf.get_y()
            pdf.set_font(FONT, "", 8)
            pdf.set_xy(x + share, top)
            pdf.multi_cell(width - share, LINE, value, align="L", new_x="LMARGIN", new_y="NEXT")
            pdf.set_y(max(bottom, pdf.get_y()))

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
    pdf.set_font(FONT, "", 8)
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
    pdf.set_font(FONT, "", 8.5)
    for line in lines:
        pdf.multi_cell(0, LINE, f"· {line}", align="L", new_x="LMARGIN", new_y="NEXT")
    pdf.set_y(pdf.get_y() + 3)


def _checks(pdf: FPDF, content: SetupContent) -> None:
    """Leave places for what was found, and by whom."""
    if pdf.will_page_break(25):
        pdf.add_page()
    _heading(pdf, "Check before the first cut, measure, write back", pdf.epw)
    pdf.set_font(FONT, "", 8)
    with pdf.table(
        col_widths=(48, 78, 40, 20), text_align="LEFT", borders_layout="ALL", line_height=LINE
    ) as table:
        table.row(["what", "has to be", "found", "by"])
        for check in content.checks:
            table.row([plain_letters(check.what), plain_letters(check.asked), "", ""])
    pdf.set_xy(pdf.l_margin, pdf.get_y() + 3)


def _signed(pdf: FPDF) -> None:
    """Leave places for the date, and for the names of who planned, ran dry and cut."""
    if pdf.will_page_break(SIGNED_HEIGHT):
        pdf.add_page()
    _heading(pdf, "Date and signature", pdf.epw)
    pdf.set_font(FONT, "", 8)
    width = (pdf.epw - GUTTER * (len(SIGNATURES) - 1)) / len(SIGNATURES)
    top = pdf.get_y()
    for index, words in enumerate(SIGNATURES):
        x = pdf.l_margin + index * (width + GUTTER)
        pdf.line(x, top + 9, x + width, top + 9)
        pdf.set_xy(x, top + 9.5)
        pdf.cell(width, LINE, words)
    pdf.set_xy(pdf.l_margin, top + SIGNED_HEIGHT)


def _order(pdf: FPDF, content: SetupContent) -> None:
    if pdf.will_page_break(25):
        pdf.add_page()
    _heading(pdf, "Order of cutting (read across)", pdf.epw)
    pdf.set_font(FONT, "", 8)
    lines = [
        plain_letters(f"{number}  {part}{f', copy {copy}' if copy else ''}: {contour}")
        for number, (part, copy, contour) in enumerate(content.steps, start=1)
    ]
    lines += [""] * (-len(lines) % ORDER_COLUMNS)
    with pdf.table(
        first_row_as_headings=False, text_align="LEFT", borders_layout="NONE", line_height=LINE
    ) as table:
        for row in range(0, len(lines), ORDER_COLUMNS):
            table.row(lines[row : row + ORDER_COLUMNS])
