"""The bend tables as PDF, a part a page, for a printer that has no browser before it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from cutplan.geometry import bounds, chord_points
from cutplan.record import Plan
from cutplan.report.bending_content import BENDING_CAUTIONS, HEADINGS, BentPart, bent_parts
from cutplan.report.bending_pages import bend_labels, shown_window
from cutplan.report.paper import FONT, Paper, new_pdf, plain_letters

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["bending_pdf"]

MARGIN = 12.0  # mm
LINE = 4.2  # mm
BLANK_HEIGHT = 62.0  # mm at most
STROKES_ACROSS = 3
STROKE_HEIGHT = 42.0  # mm
GUTTER = 3.0  # mm
CHORD_ON_PAPER = 0.02  # mm, finer than a printer's dot at 600 dpi (0.042 mm)
COLUMNS = (11, 9, 19, 22, 30, 20, 14, 10, 15, 17)


def bending_pdf(plan: Plan, *, paper: Paper = "A4") -> bytes:
    """Return the bend tables of a plan as PDF.

    Parameters
    ----------
    plan : Plan
        With bend tables.
    paper : {"A4", "Letter"}

    Returns
    -------
    bytes
        The same plan gives the same bytes.
    """
    pdf = new_pdf(f"Bend tables {plan.job}", paper, MARGIN)
    for bent in bent_parts(plan):
        pdf.add_page()
        _part(pdf, bent, plan)
    if pdf.will_page_break(35):
        pdf.add_page()
    _lines(pdf, "Cautions", BENDING_CAUTIONS)
    return bytes(pdf.output())


def _part(pdf: FPDF, bent: BentPart, plan: Plan) -> None:
    pdf.set_font(FONT, "B", 15)
    pdf.multi_cell(0, 7, plain_letters(bent.part.name), new_x="LMARGIN", new_y="NEXT")
    pdf.set_font(FONT, "", 9)
    words = f"Bend table · {plan.job} · cutplan {plan.version} · bends are counted from edge A to edge B"
    pdf.multi_cell(0, LINE, plain_letters(words), new_x="LMARGIN", new_y="NEXT")
    for name, value in bent.facts:
        pdf.multi_cell(0, LINE, plain_letters(f"{name}: {value}"), new_x="LMARGIN", new_y="NEXT")
    _blank(pdf, bent)
    if bent.rows:
        pdf.set_font(FONT, "", 8)
        with pdf.table(
            col_widths=COLUMNS, text_align="LEFT", borders_layout="HORIZONTAL_LINES", line_height=LINE
        ) as table:
            for row in (HEADINGS, *bent.rows):
                table.row([plain_letters(cell) for cell in row])
        pdf.set_y(pdf.get_y() + 3)
        _strokes(pdf, bent)
    _lines(pdf, "Notes", bent.notes)


def _blank(pdf: FPDF, bent: BentPart) -> None:
    x0, y0, x1, y1 = bounds(bent.part.outer)
    scale = min((pdf.epw - 12) / (x1 - x0), (BLANK_HEIGHT - 6) / (y1 - y0))
    left, top = pdf.l_margin + (pdf.epw - scale * (x1 - x0)) / 2, pdf.get_y() + 4

    def on_paper(x: float, y: float) -> tuple[float, float]:
        return left + scale * (x - x0), top + scale * (y1 - y)

    pdf.set_line_width(0.25)
    for path, grey in [(bent.part.outer, 228), *((hole, 255) for hole in bent.part.holes)]:
        pdf.set_fill_color(grey)
        pdf.polygon([on_paper(*p) for p in chord_points(path, CHORD_ON_PAPER / scale).tolist()], style="DF")
    pdf.set_font(FONT, "B", 8)
    pdf.set_line_width(0.15)
    for x, y, number, start, end in bend_labels(bent, (x1 - x0) / 100):
        pdf.line(*on_paper(*start), *on_paper(*end))
        pdf.text(*on_paper(x, y), str(number))
    pdf.set_font(FONT, "B", 10)
    for name, place in zip("AB", bent.table.edges or (), strict=False):
        pdf.text(*on_paper(*place), name)
    pdf.set_xy(pdf.l_margin, top + scale * (y1 - y0) + 4)


def _strokes(pdf: FPDF, bent: BentPart) -> None:
    """Draw each stroke at its end, some side by side."""
    width = (pdf.epw - GUTTER * (STROKES_ACROSS - 1)) / STROKES_ACROSS
    shown = [(n, s) for n, s in enumerate(bent.table.strokes, start=1) if s.picture is not None]
    for index, (number, stroke) in enumerate(shown):
        column = index % STROKES_ACROSS
        if column == 0 and pdf.will_page_break(STROKE_HEIGHT + LINE + 2):
            pdf.add_page()
        left, top = pdf.l_margin + column * (width + GUTTER), pdf.get_y()
        picture = stroke.picture
        assert picture is not None
        x0, y0, x1, y1 = shown_window(picture)
        scale = min(width / (x1 - x0), STROKE_HEIGHT / (y1 - y0))
        middle = left + (width - scale * (x1 - x0)) / 2
        pdf.set_line_width(0.15)
        pdf.rect(left, top, width, STROKE_HEIGHT)
        with pdf.rect_clip(left, top, width, STROKE_HEIGHT):
            for points, grey in ((picture.die, 255), (picture.punch, 255), (picture.part, 120)):
                pdf.set_fill_color(grey)
                outline = [(middle + scale * (x - x0), top + scale * (y1 - y)) for x, y in points]
                pdf.polygon(outline, style="DF")
        pdf.set_font(FONT, "", 7.5)
        pdf.set_xy(left, top + STROKE_HEIGHT)
        pdf.cell(width, LINE, f"stroke {number}: bend {stroke.bend}; gauge at the right")
        pdf.set_xy(pdf.l_margin, top)
        if column == STROKES_ACROSS - 1 or index == len(shown) - 1:
            pdf.set_xy(pdf.l_margin, top + STROKE_HEIGHT + LINE + 2)


def _lines(pdf: FPDF, title: str, items: tuple[str, ...]) -> None:
    if not items:
        return
    pdf.set_font(FONT, "B", 10)
    pdf.cell(0, 6, title, border="B", new_x="LMARGIN", new_y="NEXT")
    pdf.set_font(FONT, "", 8.5)
    for item in items:
        pdf.multi_cell(0, LINE, f"· {plain_letters(item)}", align="L", new_x="LMARGIN", new_y="NEXT")
    pdf.set_y(pdf.get_y() + 2)
