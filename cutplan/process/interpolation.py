"""Monotone interpolation between the rows of a cutting-data table.

Piecewise cubic Hermite interpolation with the slope limits of F. N. Fritsch and
R. E. Carlson, "Monotone Piecewise Cubic Interpolation" (SIAM Journal on Numerical Analysis,
1980), in the harmonic form of Fritsch and Butland (1984): between two rows the value never
leaves the interval between them, so a feed that falls from row to row falls everywhere.
"""

from __future__ import annotations

import numpy as np

from cutplan.geometry import FloatArray

__all__ = ["interpolate", "slopes"]


def slopes(x: FloatArray, y: FloatArray) -> FloatArray:
    """Return slopes at the rows that keep the cubic between two rows monotone.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Strictly rising.
    y : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (n,)
    """
    if len(x) < 2:
        return np.zeros(len(x))
    width = np.diff(x)
    secant = np.diff(y) / width
    result = np.empty(len(x))
    result[0], result[-1] = secant[0], secant[-1]
    before, after = secant[:-1], secant[1:]
    weight_before = 2.0 * width[1:] + width[:-1]
    weight_after = width[1:] + 2.0 * width[:-1]
    same_sense = before * after > 0.0
    harmonic = np.zeros(len(before))
    harmonic[same_sense] = (weight_before + weight_after)[same_sense] / (
        weight_before[same_sense] / before[same_sense] + weight_after[same_sense] / after[same_sense]
    )
    result[1:-1] = harmonic
    return result


def interpolate(x: FloatArray, y: FloatArray, at: float) -> float:
    """Return the monotone interpolant at a place within the rows.

    Parameters
    ----------
    x, y : ndarray, shape (n,)
        Rows; `x` strictly rising.
    at : float
        Within [x[0], x[-1]].  A row's own `x` gives its own `y` exactly.
    """
    right = int(np.searchsorted(x, at))
    if right < len(x) and x[right] == at:
        return float(y[right])
    left = right - 1
    slope = slopes(x, y)
    width = x[right] - x[left]
    s = (at - x[left]) / width
    value = (
        (1.0 + 2.0 * s) * (1.0 - s) ** 2 * y[left]
        + s * (1.0 - s) ** 2 * width * slope[left]
        + s * s * (3.0 - 2.0 * s) * y[right]
        + s * s * (s - 1.0) * width * slope[right]
    )
    return float(value)
