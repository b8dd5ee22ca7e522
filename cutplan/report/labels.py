"""Part labels to print and stick on: what the part is, where it came from, and a code to scan.

The code is a QR code after ISO/IEC 18004; it holds the label's own words, so that a part can be
traced without the plan at hand, and by its mark in the inventory with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from cutplan.drawing import metal_area
from cutplan.record import Plan, marked_parts
from cutplan.report.pages import render
from cutplan.report.paper import FONT, Paper, fitted_lines, new_pdf

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["PartLabel", "labels_html", "labels_pdf", "part_labels"]

MARGIN = 10.0  # mm
COLUMNS, ROWS = 3, 8
PADDING = 2.0  # mm
CODE_SIDE = 25.0  # mm, with the quiet zone of 4 modules that the standard asks for
QUIET_MODULES = 4
TITLE_PT, TEXT_PT = 11.0, 8.0
SHARES = (1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 0.42)
"""Shares of the letters' size that are tried, largest first."""
LINE_PER_PT, BASELINE_PER_PT = 0.42, 0.32  # mm: 1 pt is 0.353 mm
CROWDED, VERY_CROWDED = 110, 190
"""Letters on a label from which the page writes it smaller."""
CUT_LINE_GREY = 150


@dataclass(frozen=True)
class PartLabel:
    """The words of one part's label.

    Attributes
    ----------
    mark : str
        By which the inventory knows the part.
    part : str
    copy : int
    plate, heat, job : str
        The sheet it is cut from, its heat number, the job's name.
    stock : str
        Thickness and grade.
    weight_kg : float
    lift : str
        "two persons", "crane" or "beyond the crane"; empty where one person lifts it.
    wanted : str
        Its kit and the day it is due, empty where neither is said.
    """

    mark: str
    part: str
    copy: int
    plate: str
    heat: str
    job: str
    stock: str
    weight_kg: float
    lift: str = ""
    wanted: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """What stands under the part's name."""
        return (
            self.mark,
            f"copy {self.copy}, {self.weight_kg:.2f} kg"
            + (f": LIFT BY {self.lift.upper()}" if self.lift else ""),
            f"plate {self.plate}",
            f"heat {self.heat}",
            self.stock,
            self.job,
            *((self.wanted,) if self.wanted else ()),
        )

    @property
    def crowding(self) -> str:
        """How small its words must be on a page: "", "crowded" or "very-crowded"."""
        letters = len(self.part) + sum(map(len, self.lines))
        return "very-crowded" if letters > VERY_CROWDED else "crowded" if letters > CROWDED else ""

    @property
    def coded(self) -> str:
        """What the code says, a line each."""
        return "\n".join(
            (f"mark {self.mark}", f"part {self.part}", f"copy {self.copy}", f"plate {self.plate}",
             f"heat {self.heat}", f"job {self.job}")
        )  # fmt: skip


def part_labels(plan: Plan) -> tuple[PartLabel, ...]:
    """Return a label for every part of a plan, in the order of its sheets.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of PartLabel
    """
    labels = []
    for sheet, placement, mark in marked_parts(plan):
        plate, part = sheet.nested.plate, placement.part
        mass = plate.mass_kg(metal_area(part))
        label = PartLabel(
            mark=mark,
            part=part.name,
            copy=placement.copy,
            plate=sheet.name,
            heat=plate.heat or "not given",
            job=plan.job,
            stock=f"{plate.thickness:g} mm {plate.grade}",
            weight_kg=mass,
            lift=plan.lifting.how(mass),
            wanted=_wanted(plan, part.name),
        )
        labels.append(label)
    return tuple(labels)


def _wanted(plan: Plan, part: str) -> str:
    kit, due = plan.kits.get(part), plan.due.get(part)
    return ", ".join(words for words in (kit and f"kit {kit}", due and f"due {due}") if words)


def labels_html(plan: Plan) -> str:
    """Return the labels of a plan as a page to print, 24 on a sheet of A4 or Letter.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
    """
    from markupsafe import Markup

    labels = [
        (label, Markup(_code(label).svg_inline(omitsize=True, border=QUIET_MODULES)))
        for label in part_labels(plan)
    ]
    per_page = COLUMNS * ROWS
    pages = [labels[first : first + per_page] for first in range(0, len(labels), per_page)]
    return render("labels.html", job=plan.job, pages=pages, columns=COLUMNS, rows=ROWS, side=CODE_SIDE)


def labels_pdf(plan: Plan, *, paper: Paper = "A4") -> bytes:
    """Return the labels of a plan as PDF, 24 on a page.

    Parameters
    ----------
    plan : Plan
    paper : {"A4", "Letter"}

    Returns
    -------
    bytes
        The same plan gives the same bytes.  Letters that the font lacks are replaced in the
        words, but not in the code.
    """
    pdf = new_pdf(f"Labels {plan.job}", paper, MARGIN)
    pdf.set_auto_page_break(False)
    width, height = (pdf.w - 2 * MARGIN) / COLUMNS, (pdf.h - 2 * MARGIN) / ROWS
    for number, label in enumerate(part_labels(plan)):
        row, column = divmod(number % (COLUMNS * ROWS), COLUMNS)
        if row == column == 0:
            pdf.add_page()
        _draw(pdf, label, MARGIN + column * width, MARGIN + row * height, width, height)
    return bytes(pdf.output())


def _code(label: PartLabel) -> Any:
    import segno

    return segno.make(label.coded, error="m", micro=False)


def _draw(pdf: FPDF, label: PartLabel, x: float, y: float, width: float, height: float) -> None:
    pdf.set_draw_color(CUT_LINE_GREY)
    pdf.set_line_width(0.1)
    pdf.rect(x, y, width, height)
    _draw_code(pdf, label, x + width - PADDING - CODE_SIDE, y + 0.5 * (height - CODE_SIDE))
    room = (width - 3 * PADDING - CODE_SIDE, height - 2 * PADDING)
    _write(pdf, label, (x + PADDING, y + PADDING), room)


def _write(pdf: FPDF, label: PartLabel, place: tuple[float, float], room: tuple[float, float]) -> None:
    """Write a label's words, wrapped, in letters so small that all of them fit."""
    for share in SHARES:
        lines = [
            ("B", share * TITLE_PT, words)
            for words in _wrapped(pdf, label.part, "B", share * TITLE_PT, room[0])
        ]
        for text in label.lines:
            lines += [
                ("", share * TEXT_PT, words) for words in _wrapped(pdf, text, "", share * TEXT_PT, room[0])
            ]
        if sum(LINE_PER_PT * size for _, size, _ in lines) <= room[1]:
            break
    top = place[1]
    for style, size, words in lines:
        if top + LINE_PER_PT * size > place[1] + room[1]:
            break
        pdf.set_font(FONT, style, size)
        pdf.text(place[0], top + BASELINE_PER_PT * size, words)
        top += LINE_PER_PT * size


def _wrapped(pdf: FPDF, words: str, style: str, size: float, room: float) -> list[str]:
    pdf.set_font(FONT, style, size)
    return fitted_lines(pdf, words, room)


def _draw_code(pdf: FPDF, label: PartLabel, x: float, y: float) -> None:
    modules = list(_code(label).matrix_iter(border=QUIET_MODULES))
    side = CODE_SIDE / len(modules)
    pdf.set_fill_color(0)
    for row, cells in enumerate(modules):
        for start, end in _runs(cells):
            # Runs drawn as one, so that no reader sees hairlines between modules.
            pdf.rect(x + start * side, y + row * side, (end - start) * side, side, style="F")


def _runs(cells: Any) -> list[tuple[int, int]]:
    """Return where dark modules follow each other in a row: first, and one past the last."""
    edges = [0, *(int(bool(cell)) for cell in cells), 0]
    starts = [k for k in range(1, len(edges)) if edges[k] > edges[k - 1]]
    ends = [k for k in range(1, len(edges)) if edges[k] < edges[k - 1]]
    return [(start - 1, end - 1) for start, end in zip(starts, ends, strict=True)]
