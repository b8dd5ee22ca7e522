"""Gaps that nesting must keep so that every contour finds a start; the starts are left to `leads`."""

from __future__ import annotations

from cutplan.base.machine import Machine
from cutplan.cutting.leads import LEAST_METAL, ROUNDING
from cutplan.nesting import NestGaps
from cutplan.process import CutData

__all__ = ["gaps_for"]

# Kept between the torch's body and a clamp, mm.
CLAMP_ROOM = 0.5


def gaps_for(data: CutData, torch_radius_mm: float = Machine.torch_radius_mm) -> NestGaps:
    """Return the least gaps at which a lead fits everywhere, never under the process's own.

    A place nearer to its own part than the gap keeps the rest of the gap from every other.
    So a gap of twice the pierce clearance and a kerf leaves room, along any outermost stretch
    of a contour, for a pierce and a lead from there, however the neighbours lie and whether
    they are cut before or not.  At the plate's edge twice the clearance does.

    Parameters
    ----------
    data : CutData
    torch_radius_mm : float
        Radius of the torch's body, which keeps off clamps wherever it cuts.

    Returns
    -------
    NestGaps
        `gap` holds for the rim of a hole with a part in it as well, `clamp_gap` for what
        stands on the plate.
    """
    rules, radius = data.rules, 0.5 * data.kerf
    margin = radius + LEAST_METAL
    # An edge start has no pierce; its kerf still needs metal on both sides.
    pierced = data.thickness <= rules.edge_start_above
    clearance = max(rules.pierce_clearance, margin) if pierced else margin
    room = clearance + 2.0 * ROUNDING
    return NestGaps(
        gap=max(rules.part_gap, 2.0 * room + data.kerf, data.kerf + LEAST_METAL),
        edge=max(rules.edge_gap, 2.0 * room),
        # The torch's middle goes half a kerf outside the part.
        clamp_gap=radius + torch_radius_mm + CLAMP_ROOM,
    )
