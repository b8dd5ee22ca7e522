"""Texts of unknown origin made fit for what they are written into: one rule for each kind of output.

Names come from drawings, lists and job files, and any of them may hold control characters,
escape codes, formulas or markup.  What HTML and SVG escape is left to their writers; here is
what no writer takes care of by itself.

Terminology
-----------
plain : without control characters, lone surrogates, letters without width, and letters that turn the
    reading direction.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape

__all__ = ["csv_cell", "csv_text", "escaped", "file_stem", "plain", "plain_lines", "shortened"]

REPLACED = "�"
# Letters that turn the direction of what follows, so that a name reads as another one.
_TURNING = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
# Letters without width: two names that read alike would be two.
_UNSEEN = "\u00ad\u200b\u200c\u200d\u2060\ufeff"
# No characters at all by the Unicode standard; XML refuses the last two of each plane.
_UNFIT = re.compile(
    f"[\x00-\x1f\x7f-\x9f\u2028\u2029{_TURNING}{_UNSEEN}\ud800-\udfff\ufdd0-\ufdef\ufffe\uffff]"
)
# A spreadsheet takes what begins with one of these for a formula, at the start of a cell and
# behind whatever it may split cells at.
_FORMULA = re.compile(r"(^|[;,\t|])(\s*)(?=[=+\-@＝＋－＠])")
_NOT_IN_FILE_NAMES = re.compile(r"[^A-Za-z0-9._-]+")
# Names that one system or another keeps for devices, whatever follows the point.
_DEVICES = re.compile(r"^(con|prn|aux|nul|com[0-9]|lpt[0-9])(\.|$)", re.IGNORECASE)


def plain(text: str) -> str:
    """Return a text on one line, with a mark in place of each character that is no letter to read.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return _UNFIT.sub(REPLACED, text)


def plain_lines(text: str) -> str:
    """Return a text of one or more lines, each plain.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return "\n".join(map(plain, text.split("\n")))


def shortened(text: str, longest: int = 80) -> str:
    """Return a text of at most so many letters, cut out in its middle.

    Parameters
    ----------
    text : str
    longest : int, optional
        Letters kept at most.

    Returns
    -------
    str
    """
    if len(text) <= longest:
        return text
    head = (longest - 1) * 2 // 3
    return f"{text[:head]}…{text[len(text) - (longest - 1 - head) :]}"


def escaped(text: str) -> str:
    """Return a text as XML and HTML take it, between tags or in quotation marks.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return escape(plain(text), {'"': "&quot;", "'": "&#39;"})


def csv_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula, whichever mark it splits cells at.

    An apostrophe stands in front of what would be one.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return _FORMULA.sub(r"\1\2'", plain(text))


def csv_text(heading: Sequence[str], rows: Iterable[Iterable[str]]) -> str:
    """Return rows as comma-separated text after RFC 4180, with a heading row.

    Parameters
    ----------
    heading : sequence of str
    rows : iterable of iterable of str
        Cells are made safe by `csv_cell`.

    Returns
    -------
    str
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text)
    writer.writerow(heading)
    writer.writerows([csv_cell(cell) for cell in row] for row in rows)
    return text.getvalue()


def file_stem(text: str) -> str:
    """Return a text as the stem of a file name that every system takes; never empty.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    ascii_text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    stem = _NOT_IN_FILE_NAMES.sub("-", ascii_text).strip("-. ")[:100].rstrip("-. ")
    return f"x-{stem}" if _DEVICES.match(stem) or not stem else stem
