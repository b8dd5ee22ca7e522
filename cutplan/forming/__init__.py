"""Blanks that bend: force, die, radius, shortest flange, warnings."""

from cutplan.forming.air_bending import (
    die_opening,
    force_kn_per_m,
    inside_radius,
    shortest_flange,
    tensile_strength_mpa,
)
from cutplan.forming.bends import check_bends, scribe_lines
from cutplan.forming.model import BendCheck, Press

__all__ = [
    "BendCheck",
    "Press",
    "check_bends",
    "die_opening",
    "force_kn_per_m",
    "inside_radius",
    "scribe_lines",
    "shortest_flange",
    "tensile_strength_mpa",
]
