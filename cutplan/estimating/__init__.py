"""Time, gas, power, consumables and cost of a proved program."""

from cutplan.estimating.model import (
    Estimate,
)

__all__ = [
    "Estimate",
]
