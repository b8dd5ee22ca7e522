"""How far an estimate may be off: each figure's low and high.

The shares below are judgement (common practice), not statistics: what hangs on the program
alone is well known, what hangs on the operator, the plate's surface or the gas supply is not.
A calibration against measured times replaces the shares of time by its own scatter.
"""

from __future__ import annotations

from collections.abc import Mapping

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


def time_factors(scatter: float | None = None) -> tuple[list[float], list[float]]:
    """Return factors on the seconds of each activity for the low and the high figure.

    Parameters
    ----------
    scatter : float, optional
        Relative standard deviation of measured times from a calibration; the range is then
        two of it either way.
    """
    if scatter is None:
        low, high = zip(*(TIME_SHARE[name] for name in ACTIVITIES), strict=True)
        return [1.0 + share for share in low], [1.0 + share for share in high]
    return [max(1.0 - 2.0 * scatter, 0.0)] * len(ACTIVITIES), [1.0 + 2.0 * scatter] * len(ACTIVITIES)
