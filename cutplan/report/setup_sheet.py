"""The setup sheet as a page: one a plate, that the operator sets the table up by."""

from __future__ import annotations

from cutplan.record import Plan, PlannedSheet
from cutplan.report.pages import inline_picture, render
from cutplan.report.setup_content import SIGNATURES, setup_content

__all__ = ["setup_sheet_html"]


def setup_sheet_html(sheet: PlannedSheet, plan: Plan, picture: str | None = None) -> str:
    """Return the setup sheet of a plate as one self-contained HTML page.

    Parameters
    ----------
    sheet : PlannedSheet
        One of the plan's sheets.
    plan : Plan
    picture : str, optional
        What `plate_svg` makes of the sheet, where it is there already.

    Returns
    -------
    str
        A page that prints on A4 and Letter in grey; the same plan gives the same text.
    """
    return render(
        "setup_sheet.html",
        content=setup_content(sheet, plan),
        job=plan.job,
        signatures=SIGNATURES,
        picture=inline_picture(sheet, picture),
    )
