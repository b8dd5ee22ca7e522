"""B-splines, rational or not, evaluated for many parameters at once.

The evaluation is de Boor's algorithm in homogeneous coordinates (Piegl and Tiller 1997,
"The NURBS Book", chapters 3 and 4).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from cutplan.base.errors import DrawingError
from cutplan.geometry import FloatArray

__all__ = ["LARGEST_SPLINE", "BSpline"]

# A drawn edge has some dozens of control points; beyond this it is a scan or damage.
LARGEST_SPLINE = 20_000
HIGHEST_DEGREE = 25
# Directions before and after a knot that differ by more than this, rad, make a corner.
CORNER = 1e-4
# Points before and after a knot that lie farther apart than this, mm, are a tear.
TEAR = 1e-3


class BSpline:
    """A B-spline in the plane.

    Parameters
    ----------
    degree : int
    knots : array_like, shape (n + degree + 1,)
    points : array_like, shape (n, 2)
        Control points, mm.
    weights : array_like, shape (n,), optional
    domain : tuple of float, optional
        First and last parameter, where not all of the curve is wanted.

    Raises
    ------
    DrawingError
        If the numbers do not make a spline.
    """

    def __init__(
        self,
        degree: int,
        knots: ArrayLike,
        points: ArrayLike,
        weights: ArrayLike | None = None,
        domain: tuple[float, float] | None = None,
    ) -> None:
        self.degree = degree
        self.knots: FloatArray = np.asarray(knots, dtype=np.float64)
        control = np.asarray(points, dtype=np.float64)
        weight = np.ones(len(control)) if weights is None else np.asarray(weights, dtype=np.float64)
        _check(degree, self.knots, control, weight)
        self._control: FloatArray = np.column_stack([control * weight[:, None], weight])
        self._slopes = _slopes(degree, self.knots, self._control)
        self.domain = domain or (float(self.knots[degree]), float(self.knots[-degree - 1]))

    def point(self, t: ArrayLike) -> FloatArray:
        """Return points at parameters of shape (k,), shape (k, 2)."""
        value = _de_boor(self.degree, self.knots, self._control, t)
        return np.asarray(value[:, :2] / value[:, 2:])

    def derivative(self, t: ArrayLike) -> FloatArray:
        """Return derivatives at parameters of shape (k,), shape (k, 2)."""
        value = _de_boor(self.degree, self.knots, self._control, t)
        slope = _de_boor(self.degree - 1, self.knots[1:-1], self._slopes, t)
        at = value[:, :2] / value[:, 2:]
        return np.asarray((slope[:, :2] - at * slope[:, 2:]) / value[:, 2:])

    @property
    def knots_within(self) -> FloatArray:
        """Distinct knots between both ends of the curve, ends included."""
        first, last = self.domain
        return np.unique(
            np.concatenate([self.knots[(self.knots > first) & (self.knots < last)], self.domain])
        )

    def corners(self) -> Sequence[float]:
        """Return the parameters that bound its smooth pieces: both ends, and corners between."""
        first, last = self.domain
        inner = self.knots_within[1:-1]
        if len(inner) == 0:
            return [first, last]
        step = 1e-9 * (last - first)
        before, after = self.derivative(inner - step), self.derivative(inner + step)
        turn = np.arctan2(
            before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], np.sum(before * after, axis=1)
        )
        jump = np.hypot(*(self.point(inner + step) - self.point(inner - step)).T) > TEAR
        if jump.any():
            raise DrawingError("its curve is torn at a knot", remedy="draw it again in pieces")
        return [first, *inner[np.abs(turn) > CORNER].tolist(), last]


def _check(degree: int, knots: FloatArray, points: FloatArray, weights: FloatArray) -> None:
    remedy = "export it again, or as polylines"
    if not 1 <= degree <= HIGHEST_DEGREE:
        raise DrawingError(f"its degree is {degree}", remedy=remedy)
    if not degree < len(points) <= LARGEST_SPLINE:
        raise DrawingError(f"it has {len(points)} control points at degree {degree}", remedy=remedy)
    if len(knots) != len(points) + degree + 1:
        raise DrawingError(
            f"it has {len(knots)} knots where {len(points) + degree + 1} belong", remedy=remedy
        )
    if not np.isfinite(knots).all() or (np.diff(knots) < 0.0).any() or knots[degree] >= knots[-degree - 1]:
        raise DrawingError("its knots are out of order", remedy=remedy)
    if len(weights) != len(points) or not (np.isfinite(weights).all() and (weights > 0.0).all()):
        raise DrawingError("it has weights that are not above zero", remedy=remedy)


def _slopes(degree: int, knots: FloatArray, control: FloatArray) -> FloatArray:
    """Return the control points of the derivative, homogeneous."""
    span = knots[degree + 1 : -1] - knots[1 : -degree - 1]
    factor = np.divide(degree, span, out=np.zeros_like(span), where=span > 0.0)
    return np.asarray(np.diff(control, axis=0) * factor[:, None])


def _de_boor(degree: int, knots: FloatArray, control: FloatArray, t: ArrayLike) -> FloatArray:
    parameters = np.asarray(t, dtype=np.float64)
    spans: NDArray[np.intp] = np.searchsorted(knots, parameters, side="right") - 1
    # The last point belongs to the last span that is not empty.
    last = int(np.searchsorted(knots, knots[-degree - 1], side="left")) - 1
    spans = np.clip(spans, degree, max(last, degree))
    values = [control[spans - degree + j] for j in range(degree + 1)]
    for level in range(1, degree + 1):
        for j in range(degree, level - 1, -1):
            left = knots[spans - degree + j]
            width = knots[spans + 1 + j - level] - left
            share = np.divide(parameters - left, width, out=np.zeros_like(parameters), where=width > 0.0)
            values[j] = (1.0 - share)[:, None] * values[j - 1] + share[:, None] * values[j]
    return values[degree]
