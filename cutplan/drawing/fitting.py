"""Ellipses and splines at the door: replaced once by lines and arcs within the tolerance."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np

from cutplan.base.errors import DrawingError, GeometryError
from cutplan.drawing.splines import BSpline
from cutplan.drawing.strokes import Conic, check_numbers, check_points
from cutplan.geometry import FloatArray, Path, distance, fit_curve, reverse

__all__ = ["conic_rows", "spline_rows"]

# Ends nearer than this, mm, are one: the curve closes on itself.
CLOSED = 1e-6
# A fit is held against so many samples for each span between knots, and is done again in
# halves where it is off by this many times the tolerance.
SAMPLES_A_SPAN = 6
OVERLOOKED = 1.05


def conic_rows(conic: Conic, tolerance: float) -> tuple[FloatArray, bool]:
    """Return the vertices of a conic, and whether it closes.

    Circles and arcs stay what they are; ellipses are fitted from quarter to quarter, so that
    the ends of their axes are kept exactly.
    """
    check_numbers(*conic.centre, *conic.a, *conic.b, conic.start, conic.sweep)
    if conic.is_round:
        return conic.arc(), conic.full
    low, high = sorted((conic.start, conic.start + conic.sweep))
    quarter = math.pi / 2.0
    inner = [quarter * k for k in range(math.floor(low / quarter) + 1, math.ceil(high / quarter))]
    stations = [low, *(t for t in inner if low + 1e-9 < t < high - 1e-9), high]
    pieces = [_fitted(conic, t0, t1, tolerance) for t0, t1 in itertools.pairwise(stations)]
    if conic.sweep < 0.0:
        pieces = [reverse(piece) for piece in reversed(pieces)]
    return _joined(pieces)


def spline_rows(curve: BSpline, tolerance: float) -> tuple[FloatArray, bool]:
    """Return the vertices of a spline, and whether it closes; its corners are kept."""
    knots = curve.knots_within
    pieces: list[Path] = []
    for t0, t1 in itertools.pairwise(curve.corners()):
        pieces += _proved(curve, knots[(knots >= t0) & (knots <= t1)], tolerance)
    return _joined(pieces)


def _proved(curve: BSpline, knots: FloatArray, tolerance: float) -> list[Path]:
    """Fit a smooth piece; where the fit overlooked something between its samples, fit halves."""
    path = _fitted(curve, float(knots[0]), float(knots[-1]), tolerance)
    spans = len(knots) - 1
    shares = np.arange(SAMPLES_A_SPAN * spans) / SAMPLES_A_SPAN
    samples = curve.point(np.interp(shares, np.arange(spans + 1), knots))
    if spans == 1 or distance(path, samples).max() <= OVERLOOKED * tolerance:
        return [path]
    middle = spans // 2
    return _proved(curve, knots[: middle + 1], tolerance) + _proved(curve, knots[middle:], tolerance)


def _fitted(curve: Conic | BSpline, t0: float, t1: float, tolerance: float) -> Path:
    # The direction at a corner is taken from inside the piece.
    inset = 1e-9 * (t1 - t0)
    low, high = t0 + inset, t1 - inset
    try:
        return fit_curve(curve.point, lambda t: curve.derivative(np.clip(t, low, high)), t0, t1, tolerance)
    except GeometryError as problem:
        raise DrawingError(problem.message, place=problem.place, remedy="draw the curve again") from None


def _joined(pieces: Sequence[Path]) -> tuple[FloatArray, bool]:
    rows = np.vstack([*(piece.vertices[:-1] for piece in pieces), pieces[-1].vertices[-1:]])
    check_points(rows[:, :2])
    closes = len(rows) > 2 and bool(np.hypot(*(rows[0, :2] - rows[-1, :2])) < CLOSED)
    return (rows[:-1] if closes else rows), closes
