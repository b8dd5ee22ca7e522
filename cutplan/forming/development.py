"""Developed lengths: how much flat plate a bend takes, and what it saves against its outside lengths.

After DIN 6935 (from memory): the correction factor k = 0.65 + ½·lg(r/s) up to r/s = 5 and 1 above,
the compensation v for an opening angle β = 180° − bend angle,

    β ≤ 90°:          v = π·(180 − β)/180·(r + s/2·k) − 2·(r + s)
    90° < β ≤ 165°:   v = π·(180 − β)/180·(r + s/2·k) − 2·(r + s)·tan((180 − β)/2)
    β > 165°:         v = 0

and the developed length as the sum of all outside lengths and v for each bend.  Outside lengths
end at the tangent beside the bend up to β = 90°, where the outsides meet above.  A shop's own
K-factor, the share of the thickness at which its tools leave the length as it was, goes before.
"""

from __future__ import annotations

import math
from typing import Literal

from cutplan.base.errors import DataError

__all__ = ["Measured", "bend_allowance", "bend_compensation", "correction_factor", "setback"]

Measured = Literal["outside", "inside"]
FULL_FACTOR_RATIO = 5.0  # DIN 6935: above it k is 1
SQUARE_DEG = 90.0
SLIGHT_DEG = 15.0  # bend angle of an opening of 165°: below it nothing is made up for


def correction_factor(radius: float, thickness: float) -> float:
    """Return the factor k of DIN 6935.

    Parameters
    ----------
    radius, thickness : float
        Inside radius and thickness, mm.

    Returns
    -------
    float
        0 to 1; the neutral line lies at k/2 of the thickness from the inside.

    Raises
    ------
    DataError
        If one of them is not above zero.
    """
    if radius <= 0 or thickness <= 0:
        raise DataError("inside radius and thickness of a bend must be above zero")
    ratio = radius / thickness
    if ratio > FULL_FACTOR_RATIO:
        return 1.0
    return min(1.0, max(0.0, 0.65 + 0.5 * math.log10(ratio)))


def setback(angle_deg: float, radius: float, thickness: float, measured: Measured = "outside") -> float:
    """Return how far a bend's round reaches into a flange's length, mm.

    Parameters
    ----------
    angle_deg : float
        Bend angle, 0 flat, 90 square.
    radius, thickness : float
        mm.
    measured : {"outside", "inside"}
        Which face the flange's length is measured on.

    Returns
    -------
    float
    """
    reach = radius + thickness if measured == "outside" else radius
    return reach if angle_deg >= SQUARE_DEG else reach * math.tan(math.radians(angle_deg) / 2.0)


def bend_allowance(angle_deg: float, radius: float, thickness: float, k_factor: float | None = None) -> float:
    """Return the length of flat plate between the straight stretches beside a bend, mm.

    Parameters
    ----------
    angle_deg : float
        Bend angle, 0 flat, 90 square.
    radius, thickness : float
        mm.
    k_factor : float, optional
        Share of the thickness, from the inside, at which the length stays; by DIN 6935 where it
        is not given.

    Returns
    -------
    float
    """
    if k_factor is None and angle_deg < SLIGHT_DEG:
        return 2.0 * setback(angle_deg, radius, thickness)
    share = correction_factor(radius, thickness) / 2.0 if k_factor is None else k_factor
    return math.radians(angle_deg) * (radius + share * thickness)


def bend_compensation(
    angle_deg: float, radius: float, thickness: float, k_factor: float | None = None
) -> float:
    """Return the compensation v of a bend, mm: added to the outside lengths, and mostly below zero.

    Parameters
    ----------
    angle_deg : float
        Bend angle, 0 flat, 90 square.
    radius, thickness : float
        mm.
    k_factor : float, optional
        As for `bend_allowance`.

    Returns
    -------
    float
    """
    allowance = bend_allowance(angle_deg, radius, thickness, k_factor)
    return allowance - 2.0 * setback(angle_deg, radius, thickness)
