"""Which way a part may lie, by the rolling of its plate."""

from __future__ import annotations

from cutplan.nesting.model import Demand

__all__ = ["along_rolling"]

# Angle within which a part's direction counts as along the rolling direction, degrees.
_ROLLING_TOLERANCE_DEG = 0.5


def along_rolling(demand: Demand, angle: float, flip: bool, axis: str) -> bool:
    """Return whether a part that is turned, and mirrored or not, has its direction along the rolling.

    Parameters
    ----------
    demand : Demand
    angle : float
        Rotation, degrees.
    flip : bool
        Whether it is mirrored.
    axis : {"x", "y"}
        Rolling direction of the plate.

    Returns
    -------
    bool
    """
    if demand.rolling_direction is None:
        return True
    direction = 180.0 - demand.rolling_direction if flip else demand.rolling_direction
    off = (direction + angle - (0.0 if axis == "x" else 90.0)) % 180.0
    return min(off, 180.0 - off) <= _ROLLING_TOLERANCE_DEG
