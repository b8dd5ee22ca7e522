"""How far an estimate may be off: each figure's low and high.

The shares below are judgement (common practice), not statistics: what hangs on the program
alone is well known, what hangs on the operator, the plate's surface or the gas supply is not.
A calibration against measured times replaces the shares of the times that it was fitted to by its
own scatter and the intervals of its factors.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from cutplan.estimating.calibration import FACTOR_GROUPS, Calibration
from cutplan.estimating.model import ACTIVITIES

__all__ = ["CONSUMABLES_SHARE", "FLOW_SHARE", "POWER_SHARE", "TIME_SHARE", "time_factors"]

TIME_SHARE: Mapping[str, tuple[float, float]] = {
    "cutting": (-0.03, 0.08),
    "piercing": (-0.15, 0.25),
    "preheating": (-0.30, 0.50),
    "travel": (-0.05, 0.15),
    "raising": (-0.30, 0.30),
    "marking": (-0.10, 0.20),
    "handling": (-0.30, 0.50),
}
"""What an activity may take less or more than estimated, as a share of it."""
FLOW_SHARE = (-0.15, 0.15)
POWER_SHARE = (-0.10, 0.15)
CONSUMABLES_SHARE = (-0.30, 0.50)


def time_factors(calibration: Calibration | None = None) -> tuple[list[float], list[float]]:
    """Return factors on the seconds of each activity for the low and the high figure.

    Parameters
    ----------
    calibration : Calibration, optional
        Factors from measured times.  What they stand for then ranges by two of their scatter
        and by the interval of the factor itself, added as independent errors are; what no factor
        stands for, as handling, keeps its share.
    """
    shares = dict(TIME_SHARE)
    if calibration is not None and not math.isnan(calibration.scatter):
        for group, factor in calibration.factors.items():
            low, high = calibration.intervals.get(group, (factor, factor))
            ends = (
                -math.hypot(2.0 * calibration.scatter, 1.0 - low / factor),
                math.hypot(2.0 * calibration.scatter, high / factor - 1.0),
            )
            shares |= dict.fromkeys(FACTOR_GROUPS[group], ends)
    return (
        [max(1.0 + shares[name][0], 0.0) for name in ACTIVITIES],
        [1.0 + shares[name][1] for name in ACTIVITIES],
    )
