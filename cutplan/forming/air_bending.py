"""Force, die and radius of air bending, by the handbook's rule.

Rule and worked example: US tons a foot = 575·t²/V for mild steel of 60 ksi tensile strength,
t and V in inches, scaled by tensile strength (handbook rule); die opening 8·t, 10·t above
12 mm, inside radius 0.16·V and shortest flange 0.7·V (common practice).  Starting values: the
press maker's own tables go first.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from cutplan.base.errors import DataError

__all__ = ["die_opening", "force_kn_per_m", "inside_radius", "shortest_flange", "tensile_strength_mpa"]

RULE_TONS_PER_FOOT = 575.0
RULE_TENSILE_MPA = 415.0
KN_PER_US_TON = 8.896443
MM_PER_INCH = 25.4
M_PER_FOOT = 0.3048
THICK_PLATE_MM = 12.0
RADIUS_SHARE = 0.16
FLANGE_SHARE = 0.7

UPPER_TENSILE_MPA = {
    # Upper limits of tensile strength, EN 10025-2 to -6 and EN 10149-2 (from memory): the
    # force must suffice for the strongest plate the standard allows.
    "S235": 510.0, "S275": 560.0, "S355": 630.0, "S420": 680.0, "S460": 720.0, "S500": 700.0,
    "S550": 760.0, "S600": 820.0, "S650": 880.0, "S690": 940.0, "S700": 950.0, "S960": 1150.0,
    # ASTM A36, A572 grade 50 and A514 (from memory).
    "A36": 550.0, "A572": 620.0, "A514": 895.0,
}  # fmt: skip
GROUP_TENSILE_MPA = {"mild steel": 630.0, "stainless": 720.0, "aluminium": 350.0}
"""For grades not in the table: strong ones of the group (from memory of the standards)."""


def tensile_strength_mpa(grade: str, material: str) -> float:
    """Return the highest tensile strength to reckon with for a grade.

    Parameters
    ----------
    grade : str
        As on the plate, "S355".
    material : str
        Material group.

    Returns
    -------
    float
        MPa.
    """
    found = re.match(r"(?:EN|ASTM)?\s*([SA]\d+)", grade.strip().upper())
    if found and found.group(1) in UPPER_TENSILE_MPA:
        return UPPER_TENSILE_MPA[found.group(1)]
    return GROUP_TENSILE_MPA[material]


def force_kn_per_m(thickness: float, die: float, tensile_mpa: float) -> float:
    """Return the air-bending force, kN a metre of bend.

    Parameters
    ----------
    thickness, die : float
        Plate thickness and die opening, mm.
    tensile_mpa : float
        Tensile strength.

    Returns
    -------
    float
        kN/m.

    Raises
    ------
    DataError
        If one of them is not above zero.
    """
    if thickness <= 0 or die <= 0 or tensile_mpa <= 0:
        raise DataError("thickness, die opening and tensile strength must be above zero")
    tons_per_foot = RULE_TONS_PER_FOOT * (thickness / MM_PER_INCH) ** 2 / (die / MM_PER_INCH)
    return tons_per_foot * KN_PER_US_TON / M_PER_FOOT * tensile_mpa / RULE_TENSILE_MPA


def die_opening(thickness: float, dies: Sequence[float] = (), radius: float | None = None) -> float:
    """Return the die opening to take: the usual, or what the radius asks for, from those on hand.

    The next larger die on hand is taken where there is one, since a narrower one costs force
    and marks the plate; otherwise the largest.

    Parameters
    ----------
    thickness : float
        mm.
    dies : sequence of float, optional
        Openings on hand, mm; empty for any.
    radius : float, optional
        mm.

    Returns
    -------
    float
        mm.
    """
    usual = (10.0 if thickness > THICK_PLATE_MM else 8.0) * thickness
    wanted = max(usual, radius / RADIUS_SHARE) if radius else usual
    if not dies:
        return wanted
    return min((die for die in dies if die >= wanted), default=max(dies))


def inside_radius(die: float) -> float:
    """Return the inside radius that air bending over a die opening gives, mm.

    Parameters
    ----------
    die : float
        Opening, mm.

    Returns
    -------
    float
        mm.
    """
    return RADIUS_SHARE * die


def shortest_flange(die: float) -> float:
    """Return the shortest flange that a die opening carries, mm.

    Parameters
    ----------
    die : float
        Opening, mm.

    Returns
    -------
    float
        mm.
    """
    return FLANGE_SHARE * die
