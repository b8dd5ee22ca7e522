"""Units of length, and the words for them: the same in job files, lists, options and post-processors."""

from __future__ import annotations

from collections.abc import Mapping

from cutplan.base.errors import InputError

__all__ = ["MM_PER_UNIT", "UNIT_WORDS", "plain_unit", "unit_named"]

MM_PER_UNIT: Mapping[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
"""Millimetres in a unit; inch and foot after the international agreement of 1959."""

UNIT_WORDS: Mapping[str, tuple[str, ...]] = {
    "mm": ("millimetre", "millimetres", "millimeter", "millimeters"),
    "cm": ("centimetre", "centimetres", "centimeter", "centimeters"),
    "m": ("metre", "metres", "meter", "meters"),
    "in": ("inch", "inches", "zoll", '"'),
    "ft": ("foot", "feet", "fuß", "'"),
}
"""What else people write for a unit, in small letters."""

_UNIT_OF = {word: unit for unit, words in UNIT_WORDS.items() for word in (unit, *words)}


def unit_named(word: str) -> str:
    """Return the unit that a word means: "in" for "inch", "Inches", "in." or a double prime.

    Parameters
    ----------
    word : str
        As people write it.

    Returns
    -------
    str

    Raises
    ------
    InputError
        If the word means no unit of length.
    """
    unit = plain_unit(word)
    if unit not in MM_PER_UNIT:
        raise InputError(f"unknown unit {word!r}", remedy=f"use {', '.join(MM_PER_UNIT)}")
    return str(unit)


def plain_unit(word: object) -> object:
    """Return the unit that a word means, and anything else as it is, for a validation to refuse.

    Parameters
    ----------
    word : object
        From a file.

    Returns
    -------
    object
    """
    return _UNIT_OF.get(word.strip().casefold().rstrip("."), word) if isinstance(word, str) else word
