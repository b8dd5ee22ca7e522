"""Ellipses and splines at the door: replaced once by lines and arcs within the tolerance."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence

import numpy as np

from cutplan.drawing.splines import BSpline
from cutplan.drawing.strokes import Conic, check_numbers
from cutplan.errors import DrawingError, GeometryError
from cutplan.geometry import FloatArray, fit_curve

__all__ = ["conic_rows", "spline_rows"]

CLOSED = 1e-6
"""Ends nearer than this, mm, are one: the curve closes on itself."""


def conic_rows(conic: Conic, tolerance: float) -> tuple[FloatArray, bool]:
    """Return the vertices of a conic, and whether it closes.

    Circles and arcs stay what they are; ellipses are fitted from quarter to quarter, so that
    the ends of their axes are kept exactly.
    """
    check_numbers(*conic.centre, *conic.a, *conic.b, conic.start, conic.sweep)
    if conic.is_round:
        return conic.arc(), conic.full
    first, last = conic.start, conic.start + conic.sweep
    low, high = min(first, last), max(first, last)
    quarter = math.pi / 2.0
    inner = [quarter * k for k in range(math.floor(low / quarter) + 1, math.ceil(high / quarter))]
    stations = [low, *(t for t in inner if low + 1e-9 < t < high - 1e-9), high]
    if last < first:
        stations.reverse()
    return _fitted(conic.point, conic.derivative, stations, tolerance)


def spline_rows(curve: BSpline, tolerance: float) -> tuple[FloatArray, bool]:
    """Return the vertices of a spline, and whether it closes; its corners are kept."""
    return _fitted(curve.point, curve.derivative, curve.stations(), tolerance)


def _fitted(
    point: Callable[[FloatArray], FloatArray],
    derivative: Callable[[FloatArray], FloatArray],
    stations: Sequence[float],
    tolerance: float,
) -> tuple[FloatArray, bool]:
    pieces: list[FloatArray] = []
    try:
        for t0, t1 in itertools.pairwise(stations):
            pieces.append(fit_curve(point, _one_sided(derivative, t0, t1), t0, t1, tolerance).vertices)
    except GeometryError as problem:
        raise DrawingError(problem.message, place=problem.place, remedy="draw the curve again") from None
    rows = np.vstack([*(piece[:-1] for piece in pieces), pieces[-1][-1:]])
    check_numbers(*rows[:, 0], *rows[:, 1])
    closes = len(rows) > 2 and bool(np.hypot(*(rows[0, :2] - rows[-1, :2])) < CLOSED)
    return (rows[:-1] if closes else rows), closes


def _one_sided(
    derivative: Callable[[FloatArray], FloatArray], t0: float, t1: float
) -> Callable[[FloatArray], FloatArray]:
    """Take the direction at a corner from inside the piece."""
    inset = 1e-9 * (t1 - t0)
    low, high = sorted((t0 + inset, t1 - inset))
    return lambda t: derivative(np.clip(t, low, high))
