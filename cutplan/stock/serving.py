"""Whether a plate of one grade may serve where another was asked for, and if not, why not.

A plate serves where it is the same steel and its designation promises at least what was asked:
"S355J2+N" serves for "S355", since nothing was asked about impact or delivery; "S355" does not
serve for "S355J2", since its certificate need not show the impact test at −20 °C.  A stronger
steel never serves unasked: it welds and bends differently.  The order of qualities is that of
EN 10025-2 to -6 (from memory); a customer's or a code's own rules go first.
"""

from __future__ import annotations

import re

from cutplan.base.errors import StockError
from cutplan.stock.grades import grade_of, plain_designation

__all__ = ["shortfall"]

IMPACT = {"JR": 0, "J0": 1, "JO": 1, "J2": 2, "K2": 3}
"""Qualities by impact energy, rising: 27 J at 20, 0 and −20 °C, 40 J at −20 °C (EN 10025-2)."""
FINE_GRAIN = {"N": 0, "NL": 1, "M": 0, "ML": 1, "Q": 0, "QL": 1, "QL1": 2}
"""Qualities of fine-grain steels by impact energy, rising within each kind (EN 10025-3, -4, -6)."""
WEATHERING = {"W", "WP"}
_MARKS = re.compile(r"JR|J0|JO|J2|K2|NL|N|ML|M|QL1|QL|Q|WP|W|G[1-4]|C")
_CLASS_WORD = re.compile(r"GRADE|GR\.?")
_CONDITIONS = re.compile(r"\+(Z\d\d|[A-Z]+)")


def shortfall(stocked: str, asked: str) -> str | None:
    """Return why a plate of a grade does not serve where another is asked for; None where it serves.

    Parameters
    ----------
    stocked : str
        Grade of the plate, as it is stamped.
    asked : str
        Grade of the part.

    Returns
    -------
    str or None

    Examples
    --------
    >>> shortfall("S355J2+N", "S355")
    >>> shortfall("S355", "S355J2")
    'no impact quality is stated, J2 is asked'
    """
    have, want = plain_designation(stocked), plain_designation(asked)
    if have == want:
        return None
    have_base, want_base = _base(have), _base(want)
    if have_base is None or want_base is None or have_base != want_base:
        return f"another steel than {asked}"
    return _less(have[len(have_base) :], want[len(want_base) :])


def _base(designation: str) -> str | None:
    try:
        return grade_of(designation).name
    except StockError:
        return None


def _less(have: str, want: str) -> str | None:
    """Return what the end of a designation promises less than another, None where nothing."""
    had, wanted = _marks(have), _marks(want)
    if (had ^ wanted) & WEATHERING:
        return "weathering steel, which is not asked" if had & WEATHERING else "no weathering steel"
    for mark in sorted(wanted):
        if mark in IMPACT:
            best = max((IMPACT[m] for m in had if m in IMPACT), default=None)
            if best is None:
                return f"no impact quality is stated, {mark} is asked"
            if best < IMPACT[mark]:
                return f"its impact quality is below {mark}"
        elif mark in FINE_GRAIN:
            alike = [FINE_GRAIN[m] for m in had if m[:1] == mark[:1] and m in FINE_GRAIN]
            if not alike or max(alike) < FINE_GRAIN[mark]:
                return f"not of quality {mark}"
        elif mark not in had:
            return f"{mark} is asked"
    missing = set(_CONDITIONS.findall(want)) - set(_CONDITIONS.findall(have))
    if missing:
        return f"+{sorted(missing)[0]} is asked"
    if _unknown(want) and _unknown(want) != _unknown(have):
        return f"not of {_unknown(want)}"
    return None


def _marks(end: str) -> set[str]:
    return set(_MARKS.findall(_CONDITIONS.sub("", end)))


def _unknown(end: str) -> str:
    """Return what is left of a designation's end besides the marks known here: a class, a temper."""
    return _MARKS.sub("", _CONDITIONS.sub("", _CLASS_WORD.sub("", end)))
