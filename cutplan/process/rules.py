"""Default rules of each process by thickness: gaps, leads, holes, feed factors, webs.

All values are common practice, meant as a start; a data file's own rules override them
one by one.  How wide a gap must be for the leads that share it is left to `cutting`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

import numpy as np

from cutplan.process.model import Process, Rules

__all__ = ["RULE_NAMES", "SquareSide", "default_rules"]

SquareSide = Literal["right", "left", "both"]

RULE_NAMES = (
    "part_gap",
    "edge_gap",
    "lead_in",
    "lead_out",
    "pierce_clearance",
    "pierce_mound",
    "overburn",
    "arc_off_before",
    "smallest_hole",
    "small_hole",
    "small_hole_feed",
    "corner_feed",
    "corner_length",
    "thinnest_web",
)
"""Rules a data file may set, in its `[rules]` or as a column."""

# Thickness and gap, mm (common practice): narrow on thin plate, half the thickness on hot
# work up to 60 mm, and the full thickness where the heat of heavy cuts demands it.
PLASMA_GAP = ((1.0, 3.0, 6.0, 10.0, 20.0, 30.0, 50.0, 80.0), (4.0, 5.0, 7.0, 9.0, 14.0, 18.0, 35.0, 80.0))
OXYFUEL_GAP = ((3.0, 10.0, 20.0, 40.0, 60.0, 100.0), (6.0, 10.0, 13.0, 20.0, 35.0, 100.0))
# Thickness and diameter, mm (common practice): about the plate's thickness, less on heavy plate.
OXYFUEL_SMALLEST_HOLE = ((3.0, 10.0, 25.0, 50.0, 100.0, 150.0), (8.0, 12.0, 25.0, 35.0, 60.0, 90.0))
# Thickness and least distance from a pierce to a finished edge, mm (common practice): spatter and
# blow-out grow faster than the plate.
PLASMA_CLEARANCE = ((1.0, 6.0, 10.0, 16.0, 25.0, 40.0, 80.0), (1.5, 2.8, 4.0, 7.0, 12.5, 20.0, 30.0))
OXYFUEL_CLEARANCE = ((3.0, 10.0, 20.0, 40.0, 60.0, 100.0, 150.0), (3.0, 5.0, 9.0, 16.0, 22.0, 33.0, 45.0))
SMALLEST_HOLE_IN_KERFS = 1.5
LEAD_SPARE = 0.5
"""A lead-in is this much longer than the pierce's clearance and half a kerf ask for, mm."""
# Radius of the slag around a pierce, in kerf widths (common practice).
PIERCE_MOUND_IN_KERFS = 1.0
SMALL_HOLE_IN_THICKNESSES = {"plasma": 2.5, "oxyfuel": 1.5}
SMALL_HOLE_FEED = {"plasma": 0.6, "oxyfuel": 0.8}
CORNER_FEED = {"plasma": 0.75, "oxyfuel": 0.7}


def default_rules(
    process: Process,
    thickness: float,
    kerf: float,
    *,
    square_side: SquareSide = "right",
    pierce_limit: float = float("inf"),
    overrides: Mapping[str, float] | None = None,
) -> Rules:
    """Return the rules of a process at a thickness.

    Parameters
    ----------
    process : {"plasma", "oxyfuel"}
    thickness, kerf : float
        mm.
    square_side : {"right", "left", "both"}
    pierce_limit : float
        Thickest plate that can be pierced, mm; above it cuts start at an edge.
    overrides : mapping, optional
        Rules by name (`RULE_NAMES`) that replace the defaults.

    Returns
    -------
    Rules
    """
    values = (_plasma if process == "plasma" else _oxyfuel)(thickness, kerf)
    values["small_hole"] = max(SMALL_HOLE_IN_THICKNESSES[process] * thickness, 10.0, values["smallest_hole"])
    values["pierce_mound"] = PIERCE_MOUND_IN_KERFS * kerf
    values["small_hole_feed"] = SMALL_HOLE_FEED[process]
    values["corner_feed"] = CORNER_FEED[process]
    values.update(overrides or {})
    return Rules(
        **{name: round(value, 3) for name, value in values.items()},
        square_side=square_side,
        edge_start_above=pierce_limit,
    )


def _gap(thickness: float, table: tuple[tuple[float, ...], tuple[float, ...]]) -> float:
    return max(float(np.interp(thickness, *table)), thickness if thickness >= table[0][-1] else 0.0)


def _plasma(thickness: float, kerf: float) -> dict[str, float]:
    gap = _gap(thickness, PLASMA_GAP)
    clearance = float(np.interp(thickness, *PLASMA_CLEARANCE))
    return {
        "part_gap": gap,
        "edge_gap": gap,
        "lead_in": max(min(max(2.0 + 0.4 * thickness, 3.0), 30.0), clearance + 0.5 * kerf + LEAD_SPARE),
        "lead_out": min(max(1.0 + 0.2 * thickness, 1.5), 10.0),
        "pierce_clearance": clearance,
        "overburn": max(2.0, 1.5 * kerf),
        "smallest_hole": max(thickness, SMALLEST_HOLE_IN_KERFS * kerf),
        "corner_length": max(2.0, 0.5 * thickness),
        "thinnest_web": max(4.0, thickness),
    }


def _oxyfuel(thickness: float, kerf: float) -> dict[str, float]:
    gap = _gap(thickness, OXYFUEL_GAP)
    clearance = float(np.interp(thickness, *OXYFUEL_CLEARANCE))
    return {
        "part_gap": gap,
        "edge_gap": gap,
        "lead_in": max(min(max(4.0 + 0.2 * thickness, 5.0), 30.0), clearance + 0.5 * kerf + LEAD_SPARE),
        "lead_out": min(2.0 + 0.1 * thickness, 15.0),
        "pierce_clearance": clearance,
        "overburn": max(2.0, kerf),
        "smallest_hole": float(np.interp(thickness, *OXYFUEL_SMALLEST_HOLE)),
        "corner_length": max(3.0, 0.3 * thickness),
        "thinnest_web": max(8.0, thickness),
    }
