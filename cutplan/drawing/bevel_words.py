"""Notes that order a bevel: "BEVEL V 30 DEG, LAND 3", and the same in German.

Common practice of shop drawings; what a note leaves open is asked for, never guessed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from cutplan.drawing.model import BevelKind

__all__ = ["BevelWords", "bevel_words"]


_ORDER = re.compile(
    r"\b(?:BEVEL\w*|CHAMFER\w*|WELD[ -]?PREP\w*|EDGE[ -]?PREP\w*|FASEN?|SCHWEI(?:SS|ß)(?:NAHT)?FASE\w*|"
    r"NAHTVORBEREITUNG|KANTENVORBEREITUNG|FUGENVORBEREITUNG)\b",
    re.IGNORECASE,
)
# The first that is found says the kind; HV and HY are a V and a Y on one of the two plates (DIN, from memory).
_KINDS: tuple[tuple[BevelKind, str], ...] = (
    ("double Y", r"(?:DOUBLE|DOPPEL)[ -]?Y|\bDY\b|\bDHY\b"),
    ("X", r"(?:DOUBLE|DOPPEL)[ -]?V|\bDV\b|(?<![A-Z])X(?![A-Z])"),
    ("K", r"\bDHV\b|(?<![A-Z])K(?![A-Z])"),
    ("Y", r"\bHY\b|(?<![A-Z])Y(?![A-Z])"),
    ("V", r"\bHV\b|(?<![A-Z])V(?![A-Z])"),
)
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_ANGLE = re.compile(_NUMBER + r"\s*(?:°|DEG(?:REES?|S)?\b\.?|GRAD\b)", re.IGNORECASE)
_INCLUDED = re.compile(r"\bINCL\w*|\bGROOVE ANGLE\b|ÖFFNUNGSWINKEL", re.IGNORECASE)
_LAND = re.compile(
    r"(?:\bLAND|\bROOT FACE|\bNOSE|\bSTEG(?:HÖHE)?)\s*(?:OF|VON)?\s*[:=]?\s*" + _NUMBER, re.IGNORECASE
)
_BOTH = re.compile(r"\bBOTH SIDES\b|\bBEIDSEITIG\b|\bBEIDE SEITEN\b", re.IGNORECASE)
_BOTTOM = re.compile(
    r"\bBOTTOM\b|\bFAR SIDE\b|\bUNDERSIDE\b|\bUNTEN\b|\bUNTERSEITE\b|\bRÜCKSEITE\b", re.IGNORECASE
)
_TOP = re.compile(r"\bTOP\b|\bNEAR SIDE\b|\bOBEN\b|\bOBERSEITE\b", re.IGNORECASE)
_ROUND = re.compile(r"\bALL (?:A)?ROUND\b|\bUMLAUFEND\b|\bRINGSUM\b", re.IGNORECASE)


@dataclass(frozen=True)
class BevelWords:
    """What a note says of a bevel.

    Attributes
    ----------
    kind : {"V", "Y", "X", "double Y", "K"}
        Where the note names none, that of its land and sides.
    angle_deg : float or None
        From the plate's normal, half of one that is called included; None where there is none.
    land_mm : float
    side : {"top", "bottom", "both"}
    all_round : bool
        The whole contour is meant.
    """

    kind: BevelKind
    angle_deg: float | None
    land_mm: float
    side: Literal["top", "bottom", "both"]
    all_round: bool = False


def bevel_words(text: str) -> BevelWords | None:
    """Return what a text orders of a bevel.

    Parameters
    ----------
    text : str
        One line of a drawing's text.

    Returns
    -------
    BevelWords or None
        None where it orders none.
    """
    ordered = _ORDER.search(text)
    if ordered is None:
        return None
    rest = (text[: ordered.start()] + " " + text[ordered.end() :]).upper()
    angle = _ANGLE.search(rest)
    degrees = _value(angle) if angle else None
    if degrees is not None and _INCLUDED.search(rest):
        degrees *= 0.5
    land = _LAND.search(rest)
    found = next((kind for kind, pattern in _KINDS if re.search(pattern, rest)), None)
    both = found in ("double Y", "X", "K") or bool(_BOTH.search(rest))
    height = _value(land) if land else 0.0
    kind: BevelKind = found or (("double Y" if both else "Y") if height else ("X" if both else "V"))
    side: Literal["top", "bottom", "both"] = "both" if both else "top"
    if not both and _BOTTOM.search(rest) and not _TOP.search(rest):
        side = "bottom"
    if both and kind in ("V", "Y"):
        kind = "X" if kind == "V" else "double Y"
    return BevelWords(kind, degrees, height, side, bool(_ROUND.search(rest)))


def _value(match: re.Match[str]) -> float:
    return float(match[1].replace(",", "."))
