"""What the texts of a drawing seem to say: how many, how thick, of what, and what else is to be done.

Nothing is decided here: a text is read as notes are written in the trade (common practice, in
English and German), and what it gives is listed with its place.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import lru_cache

from cutplan.base.errors import InputError

__all__ = ["ORDERS", "VALUES", "check_patterns", "meanings", "stated_units"]

# Texts longer than this are paragraphs, not notes.
LONGEST = 400

# Patterns by meaning; the first group is the value.
VALUES: Mapping[str, Sequence[str]] = {
    "grade": (
        r"\b(S\d{3}(?:[A-Z][A-Z0-9]*)?(?:\+[A-Z]+)?)\b",
        r"\b(1\.\d{4})\b",
        r"\b(?:GRADE|MAT(?:ERIAL|L)?|WERKSTOFF)\.?\s*[:=]\s*([A-Z0-9][A-Z0-9.+\-]*)",
    ),
    "thickness": (
        r"(?<![A-Z0-9])T\s*[:=]\s*(\d+(?:[.,]\d+)?)(?![\d°])",
        r"(?<![A-Z0-9])(?:THK|THICKNESS|THICK|PLATE|PL|DICKE|BLECH|BL)\.?\s*[:=]?\s*(\d+(?:[.,]\d+)?)(?![\d°])",
        r"(?<![A-Z0-9.,])(\d+(?:[.,]\d+)?)\s*(?:MM)?\s*(?:THK|THICK)\b",
    ),
    "quantity": (
        r"(?<![A-Z0-9.,])(\d{1,4})\s*(?:OFF|REQ'?D|REQUIRED|PCS?|PIECES?|NOS|STK|STÜCK)\b",
        r"(?<![A-Z])(?:QTY|QUANTITY|NO\.?\s*OFF|ANZAHL|MENGE|STÜCKZAHL|STK)\.?\s*[:=]?\s*(\d{1,4})(?![\d.,])",
    ),
    "name": (
        r"(?<![A-Z])(?:PART|MARK|POS|ITEM|TEIL)\.?\s*(?:NO|NR)?\.?\s*[:=#]?\s+([A-Z0-9][A-Z0-9_\-/.]*)",
        r"(?<![A-Z])(?:PART|MARK|POS|ITEM|TEIL)\.?\s*(?:NO|NR)?\.?[:=#]([A-Z0-9][A-Z0-9_\-/.]*)",
        r"\A\s*(?![RMDØ]\d)([A-Z]{1,3}-?\d{1,4}[A-Z]?)\s*\Z",
    ),
}  # fmt: skip

# Work beyond cutting a flat shape, by words.
ORDERS: Mapping[str, str] = {
    "bevel": r"\b(?:BEVEL\w*|CHAMFER\w*|WELD PREP\w*|EDGE PREP\w*|FASE\w*)",
    "drill": r"\b(?:DRILL\w*|REAM\w*|BOHR\w*)",
    "tap": r"\b(?:TAP|TAPPED|TAPPING|THREAD\w*|GEWINDE\w*)\b|(?<![A-Z0-9])M\d{1,2}(?:\s*[X×]\s*[\d.,]+)?(?![A-Z0-9])",
    "countersink": r"\b(?:C'?SK|CSINK|COUNTERSINK\w*|COUNTERSUNK|C'?BORE|COUNTERBORE\w*|SENK\w*)",
    "hand": r"\b(?:MIRROR\w*|OPP(?:OSITE)?\.?\s*HAND\w*|AS (?:DRAWN|SHOWN)|HANDED|SPIEGEL\w*)",
    "bend": r"\b(?:FOLD\w*|BEND\w*|KANT\w*)",
}

_MILLIMETRES = re.compile(r"\b(?:MILLIMET(?:RES?|ERS?)|MM)\b", re.IGNORECASE)
_INCHES = re.compile(r"\b(?:INCH(?:ES)?|IN\.)(?![A-Z0-9])", re.IGNORECASE)
_OF_SIZES = re.compile(r"\b(?:DIM(?:ENSION)?S?|UNITS?|SIZES?|MEASURE\w*|MASSE|MAßE)\b", re.IGNORECASE)


def check_patterns(patterns: Mapping[str, Sequence[str]]) -> None:
    """Refuse patterns that a job cannot mean.

    Raises
    ------
    InputError
        If a meaning is unknown, or a pattern is no regular expression with a group.
    """
    for meaning, each in patterns.items():
        if meaning not in VALUES:
            raise InputError(
                f"texts have no meaning {meaning!r}", remedy=f"choose one of {', '.join(VALUES)}"
            )
        if isinstance(each, str):
            raise InputError(f"the patterns for {meaning!r} must be a list")
        for pattern in each:
            try:
                groups = re.compile(pattern).groups
            except re.error as problem:
                raise InputError(
                    f"the pattern {pattern!r} in texts for {meaning!r} is wrong: {problem}"
                ) from None
            if groups < 1:
                raise InputError(
                    f"the pattern {pattern!r} in texts for {meaning!r} has no group",
                    remedy=r'put the value in round brackets, as in "QTY (\d+)"',
                )


@lru_cache(maxsize=512)
def _compiled(pattern: str) -> re.Pattern[str]:
    return re.compile(pattern, re.IGNORECASE)


def meanings(text: str, patterns: Mapping[str, Sequence[str]] | None = None) -> dict[str, str]:
    """Return what a text seems to say.

    Parameters
    ----------
    text : str
    patterns : mapping of meaning to patterns, optional
        In place of the usual ones, for the meanings it names.

    Returns
    -------
    dict of str to str
        Meaning to value or words; empty where the text says nothing known.
    """
    found: dict[str, str] = {}
    words = text[:LONGEST]
    for meaning, usual in VALUES.items():
        for pattern in (patterns or {}).get(meaning, usual):
            match = _compiled(pattern).search(words)
            if match and match.group(1):
                found[meaning] = match.group(1).strip()
                break
    # A grade by itself has the form of a part's mark, and so has a thickness: "PL10", "S355".
    if (
        "name" in found
        and found["name"] == words.strip()
        and len(found) > 1
        and not (patterns or {}).get("name")
    ):
        del found["name"]
    for order, pattern in ORDERS.items():
        match = _compiled(pattern).search(words)
        if match:
            found[order] = match.group(0)
    return found


def stated_units(text: str) -> str | None:
    """Return the unit that a text such as "ALL DIMENSIONS IN MM" states for the drawing."""
    words = text[:LONGEST]
    if not _OF_SIZES.search(words):
        return None
    metric, inches = _MILLIMETRES.search(words) is not None, _INCHES.search(words) is not None
    if metric == inches:
        return None
    return "mm" if metric else "in"
