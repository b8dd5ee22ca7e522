"""Carbon equivalent of a steel, and whether oxy-fuel cutting wants the plate warm.

A flame-cut edge cools fast and hardens where the steel can harden; a warm plate cools
slower.  The advice is a caution for the setup sheet: the steel's data sheet decides.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from cutplan.base.errors import DataError, StockError
from cutplan.stock import grade_of

__all__ = ["PreheatAdvice", "carbon_equivalent", "preheat_advice", "preheat_advice_for_grade"]

ELEMENTS = ("C", "Mn", "Cr", "Mo", "V", "Ni", "Cu")
# Above this carbon equivalent (percent) and thickness (mm), warm the plate to °C before flame
# cutting.  Bands of common practice, highest first.
BANDS = (
    (0.60, 0.0, 150.0),
    (0.52, 20.0, 120.0),
    (0.47, 30.0, 100.0),
    (0.45, 60.0, 75.0),
)
COLD_PLATE_C = 5.0
DATA_SHEET = "the steel maker's data sheet and the welding supervisor decide"


@dataclass(frozen=True)
class PreheatAdvice:
    """Whether to warm a plate before flame cutting.

    Attributes
    ----------
    cev : float
        Carbon equivalent, percent.
    temperature_c : float or None
        Plate temperature advised; None where a plate at shop temperature will do.
    text : str
        A sentence for the setup sheet.
    """

    cev: float
    temperature_c: float | None
    text: str


def carbon_equivalent(composition: Mapping[str, float]) -> float:
    """Return the carbon equivalent CEV of the International Institute of Welding, percent.

    CEV = C + Mn/6 + (Cr + Mo + V)/5 + (Ni + Cu)/15 (IIW document IX-535-67).

    Parameters
    ----------
    composition : mapping
        Percent by weight by element; elements that do not count are left aside.

    Returns
    -------
    float
        Percent.

    Raises
    ------
    DataError
        If carbon is missing, or a share is negative or not a number.
    """
    if "C" not in composition:
        raise DataError("a carbon equivalent needs the carbon content", remedy="see the mill certificate")
    for element, percent in composition.items():
        if not (math.isfinite(percent) and 0.0 <= percent <= 100.0):
            raise DataError(f"{element} of {percent} percent is no share of a steel")
    c, mn, cr, mo, v, ni, cu = (composition.get(element, 0.0) for element in ELEMENTS)
    return c + mn / 6.0 + (cr + mo + v) / 5.0 + (ni + cu) / 15.0


def preheat_advice(cev: float, thickness: float) -> PreheatAdvice:
    """Return advice on warming the plate before oxy-fuel cutting.

    Parameters
    ----------
    cev : float
        Carbon equivalent, percent.
    thickness : float
        mm.

    Returns
    -------
    PreheatAdvice
    """
    for limit, above, temperature in BANDS:
        if cev > limit and thickness > above:
            return PreheatAdvice(
                cev,
                temperature,
                f"carbon equivalent {cev:.2f} on {thickness:g} mm: warm the plate to about "
                f"{temperature:.0f} °C before flame cutting and let it cool slowly; {DATA_SHEET}",
            )
    return PreheatAdvice(
        cev,
        None,
        f"carbon equivalent {cev:.2f} on {thickness:g} mm: no preheat of a plate above "
        f"{COLD_PLATE_C:.0f} °C; {DATA_SHEET}",
    )


def preheat_advice_for_grade(grade: str, thickness: float) -> PreheatAdvice | None:
    """Return advice from the highest carbon equivalent that the grade's standard allows.

    The plate's own mill certificate is usually kinder: give its composition to
    `carbon_equivalent` where it is at hand.

    Parameters
    ----------
    grade : str
        As on the plate, "S355".
    thickness : float
        mm.

    Returns
    -------
    PreheatAdvice or None
        None where the grade or its limit is not known here.
    """
    try:
        cev = grade_of(grade).highest_cev(thickness)
    except StockError:
        return None
    return None if cev is None else preheat_advice(cev, thickness)
