"""What all printed pages share: paper, margins, the standard fonts' letters, the same bytes each time."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["PAPERS", "Paper", "new_pdf", "plain_letters"]

Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")
# The file's date says nothing of the plan, and the same plan shall give the same bytes.
NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)
# Signs that the PDF standard's own fonts (Latin alphabet 1) lack.
SPELLED = str.maketrans({"≤": "<=", "≥": ">=", "–": "-", "—": "-", "’": "'", "“": '"', "”": '"', "…": "..."})


def new_pdf(title: str, paper: Paper, margin: float) -> FPDF:
    """Return a document of a title, with margins in mm, without a page."""
    from fpdf import FPDF

    pdf = FPDF(format=paper)
    pdf.set_creation_date(NO_DATE)
    pdf.set_title(plain_letters(title))
    pdf.set_margin(margin)
    pdf.set_auto_page_break(True, margin)
    return pdf


def plain_letters(words: str) -> str:
    """Return words in the letters that the standard fonts have."""
    letters = []
    for letter in words.translate(SPELLED):
        if ord(letter) < 256:
            letters.append(letter)
        else:
            bare = unicodedata.normalize("NFKD", letter).encode("latin-1", "ignore").decode("latin-1")
            letters.append(bare or "?")
    return "".join(letters)
