"""Gaps that nesting must keep so that every contour finds a start; the starts are left to `leads`."""

from __future__ import annotations

from cutplan.cutting.leads import LEAST_METAL, ROUNDING
from cutplan.nesting import NestRules
from cutplan.process import CutData

__all__ = ["gaps_for"]


def gaps_for(data: CutData) -> NestRules:
    """Return the least gaps at which a lead fits everywhere, never under the process's own.

    A place nearer to its own part than the gap keeps the rest of the gap from every other.
    So a gap of twice the pierce clearance and a kerf leaves room, along any outermost stretch
    of a contour, for a pierce and a lead from there, however the neighbours lie and whether
    they are cut before or not.  At the plate's edge twice the clearance does.

    Parameters
    ----------
    data : CutData

    Returns
    -------
    NestRules
        `gap` holds for the rim of a hole with a part in it as well.
    """
    rules, radius = data.rules, 0.5 * data.kerf
    margin = radius + LEAST_METAL
    # An edge start has no pierce; its kerf still needs metal on both sides.
    pierced = data.thickness <= rules.edge_start_above
    clearance = max(rules.pierce_clearance, margin) if pierced else margin
    room = clearance + 2.0 * ROUNDING
    return NestRules(
        gap=max(rules.part_gap, 2.0 * room + data.kerf, data.kerf + LEAST_METAL),
        edge=max(rules.edge_gap, 2.0 * room),
    )
