"""Which way a part may lie, by the rolling and the good face of its plate."""

from __future__ import annotations

from cutplan.nesting.model import Demand

__all__ = ["along_rolling"]

# Angle within which a part's direction counts as along the rolling direction, degrees.
_ROLLING_TOLERANCE_DEG = 0.5


def along_rolling(demand: Demand, angle: float, flip: bool, axis: str) -> bool:
    """Return whether a part may lie turned, and mirrored or not: its direction along the rolling, its face up.

    Parameters
    ----------
    demand : Demand
    angle : float
        Rotation, degrees.
    flip : bool
        Whether it is mirrored.
    axis : {"x", "y", "x face", "y face"}
        `lying` of the plate: its rolling direction, and whether it has a good face.

    Returns
    -------
    bool
    """
    if flip and axis.endswith("face"):
        return False
    if demand.rolling_direction is None:
        return True
    direction = 180.0 - demand.rolling_direction if flip else demand.rolling_direction
    off = (direction + angle - (0.0 if axis[0] == "x" else 90.0)) % 180.0
    return min(off, 180.0 - off) <= _ROLLING_TOLERANCE_DEG
