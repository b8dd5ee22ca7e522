"""What all printed pages share: paper, margins, the font, the same bytes each time."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from fpdf import FPDF

__all__ = ["FONT", "PAPERS", "Paper", "fitted_lines", "new_pdf", "plain_letters"]

Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")
# The file's date says nothing of the plan, and the same plan shall give the same bytes.
NO_DATE = datetime(2000, 1, 1, tzinfo=UTC)
FONT = "Sheet"
"""Name of the sheets' own font in a document: DejaVu Sans Condensed, embedded as far as it is used."""
FONTS = Path(__file__).with_name("fonts")
_FILES = {"": "DejaVuSansCondensed.ttf", "B": "DejaVuSansCondensed-Bold.ttf"}


def new_pdf(title: str, paper: Paper, margin: float) -> FPDF:
    """Return a document of a title, with margins in mm, without a page."""
    from fpdf import FPDF

    pdf = FPDF(format=paper)
    pdf.set_creation_date(NO_DATE)
    for style, file in _FILES.items():
        pdf.add_font(FONT, style, FONTS / file)
    pdf.set_title(plain_letters(title))
    pdf.set_margin(margin)
    pdf.set_auto_page_break(True, margin)
    return pdf


def plain_letters(words: str) -> str:
    """Return words in the letters that the font has: Latin, Greek, Cyrillic and many signs.

    A letter that it lacks loses its accents, or becomes a question mark.
    """
    known = _letters()
    shown = []
    for letter in words:
        if ord(letter) in known:
            shown.append(letter)
        else:
            bare = "".join(each for each in unicodedata.normalize("NFKD", letter) if ord(each) in known)
            shown.append(bare or "?")
    return "".join(shown)


@cache
def _letters() -> frozenset[int]:
    from fontTools.ttLib import TTFont

    with TTFont(FONTS / _FILES[""], lazy=True) as font:
        return frozenset(font.getBestCmap())


def fitted_lines(pdf: FPDF, words: str, room: float) -> list[str]:
    """Return words in lines no wider than the room, in the font as set; long words are broken."""
    lines: list[str] = []
    for word in plain_letters(words).split() or [""]:
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and pdf.get_string_width(longer) <= room:
            lines[-1] = longer
            continue
        while len(word) > 1 and pdf.get_string_width(word) > room:
            size = len(word) - 1
            while size > 1 and pdf.get_string_width(word[:size]) > room:
                size -= 1
            lines.append(word[:size])
            word = word[size:]
        lines.append(word)
    return lines
