"""Blanks that bend: force, die, radius, shortest flange, warnings."""

from cutplan.forming.air_bending import (
    die_opening,
    force_kn_per_m,
    inside_radius,
    shortest_flange,
    tensile_strength_mpa,
)
from cutplan.forming.bend_table import bend_table
from cutplan.forming.bends import check_bends, scribe_lines
from cutplan.forming.development import bend_allowance, bend_compensation, correction_factor, setback
from cutplan.forming.model import BendCheck, BendStroke, BendTable, Blank, DevelopedBend, Press, ToolPicture
from cutplan.forming.profile import BlankFlange, BlankHole, FlangeProfile

__all__ = [
    "BendCheck",
    "BendStroke",
    "BendTable",
    "Blank",
    "BlankFlange",
    "BlankHole",
    "DevelopedBend",
    "FlangeProfile",
    "Press",
    "ToolPicture",
    "bend_allowance",
    "bend_compensation",
    "bend_table",
    "check_bends",
    "correction_factor",
    "die_opening",
    "force_kn_per_m",
    "inside_radius",
    "scribe_lines",
    "setback",
    "shortest_flange",
    "tensile_strength_mpa",
]
