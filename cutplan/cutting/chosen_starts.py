"""The start that a person chose on a contour: the clear one nearest to the place."""

from __future__ import annotations

import numpy as np

from cutplan.base.findings import Finding
from cutplan.cutting.starts import PlacedContour, Start
from cutplan.drawing import Part
from cutplan.geometry import place_points, point_at

__all__ = ["nearest_start"]

REACH_MM = 25.0
"""A start further from the place asked for is not what was meant."""


def nearest_start(
    placed: PlacedContour, starts: list[Start], at: tuple[float, float], part: Part, copy: int
) -> tuple[list[Start], Finding | None]:
    """Return the start nearest to a place on the plate, or why there is none near it.

    Parameters
    ----------
    placed : PlacedContour
    starts : list of Start
        Clear ones.
    at : (float, float)
    part : Part
    copy : int
    """
    torch = placed.contour.torch
    called = (
        f"{'the outside' if torch.hole is None else f'hole {torch.hole + 1}'} of '{part.name}' copy {copy}"
    )
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
