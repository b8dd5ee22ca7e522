"""The setup sheet as a page: one a plate, that the operator sets the table up by."""

from __future__ import annotations

from cutplan.geometry import bounds
from cutplan.record import Plan, PlannedSheet
from cutplan.report.pages import inline_picture, render
from cutplan.report.setup_content import setup_content

__all__ = ["setup_sheet_html"]


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
    x0, y0, x1, y1 = bounds(sheet.nested.plate.outline)
    return render(
        "setup_sheet.html",
        content=setup_content(sheet, plan),
        job=plan.job,
        picture=inline_picture(sheet),
        number_size=f"{max(x1 - x0, y1 - y0) / 100:.2f}",
    )
