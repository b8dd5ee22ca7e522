"""The start that a person chose on a contour: the clear one nearest to the place."""

from __future__ import annotations

import numpy as np

from cutplan.base.findings import Finding
from cutplan.cutting.model import ByHand
from cutplan.cutting.starts import PlacedContour, Start
from cutplan.geometry import place_points, point_at
from cutplan.stock import Placement

__all__ = ["nearest_start"]

REACH_MM = 25.0
"""A start further from the place asked for is not what was meant."""


def nearest_start(
    placed: PlacedContour, starts: list[Start], by_hand: ByHand, placement: Placement
) -> tuple[list[Start], Finding | None]:
    """Return the start nearest to the place that was chosen, or why there is none near it.

    Where none was chosen all of them come back.

    Parameters
    ----------
    placed : PlacedContour
    starts : list of Start
        Clear ones.
    by_hand : ByHand
    placement : Placement
        The part's.
    """
    torch = placed.contour.torch
    at = by_hand.starts.get((placed.placement, torch.hole))
    if at is None:
        return starts, None
    what = "the outside" if torch.hole is None else f"hole {torch.hole + 1}"
    called = f"{what} of '{placement.part.name}' copy {placement.copy}"
    if not starts:
        return [], Finding("refused", f"no start of {called} is clear at all", at)
    joins = place_points(point_at(torch.path, np.array([start.lead.at for start in starts])), placed.pose)
    away = np.hypot(*(joins - np.array(at)).T)
    best = int(away.argmin())
    if away[best] > REACH_MM:
        x, y = joins[best].tolist()
        told = f"no start of {called} is clear near the place chosen: the nearest is {away[best]:.0f} mm away"
        return [], Finding("refused", told, at, f"choose the one at ({x:.1f}, {y:.1f}) mm, or make more room")
    return [starts[best]], None
