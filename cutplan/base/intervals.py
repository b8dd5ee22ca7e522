"""Quantiles for the uncertainty of a mean and of a spread, from few readings.

Student's t by the finite series of M. Abramowitz and I. A. Stegun, Handbook of Mathematical
Functions, 26.7.3 and 26.7.4; chi-squared after E. B. Wilson and M. M. Hilferty, The
Distribution of Chi-Square (1931), good to a few thousandths from three degrees of freedom.
"""

from __future__ import annotations

import math
from statistics import NormalDist

__all__ = ["chi_squared", "students_t"]

LARGE = 1e6


def students_t(share: float, freedom: int) -> float:
    """Return t such that a share of Student's distribution lies between -t and t.

    Parameters
    ----------
    share : float
        Between 0 and 1, as 0.95.
    freedom : int
        Degrees of freedom, at least 1.

    Returns
    -------
    float
    """
    low, high = 0.0, 1.0
    while _within(high, freedom) < share and high < LARGE:
        high *= 2.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        if _within(middle, freedom) < share:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _within(t: float, freedom: int) -> float:
    """Return the share of Student's distribution between -t and t."""
    angle = math.atan(t / math.sqrt(freedom))
    sine, cosine = math.sin(angle), math.cos(angle)
    odd = freedom % 2 == 1
    term, total = (cosine if odd else 1.0), 0.0
    for k in range(2 if odd else 1, freedom, 2):
        total += term
        term *= cosine * cosine * k / (k + 1)
    return 2.0 / math.pi * (angle + sine * total) if odd else sine * total


def chi_squared(share: float, freedom: int) -> float:
    """Return the value below which a share of the chi-squared distribution lies.

    Parameters
    ----------
    share : float
        Between 0 and 1.
    freedom : int
        Degrees of freedom, at least 1.

    Returns
    -------
    float
    """
    z, small = NormalDist().inv_cdf(share), 2.0 / (9.0 * freedom)
    return freedom * max(1.0 - small + z * math.sqrt(small), 0.0) ** 3
