"""Strokes: what one entity draws, as vertices with bulges in mm; arcs stay arcs here.

Terminology
-----------
stroke : a run of lines and arcs drawn by one entity, open or closed in itself.
source : the entity a stroke comes from, named so that its drawer can find it.
conic : centre + a·cos t + b·sin t; a circle, an arc or an ellipse under any affine map.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from cutplan.base.errors import DrawingError
from cutplan.drawing.frames import Frame
from cutplan.geometry import FloatArray

__all__ = [
    "FARTHEST",
    "FULL_TURN",
    "WHOLE_TURN",
    "Conic",
    "Source",
    "Stroke",
    "arc_rows",
    "check_numbers",
    "check_points",
    "polyline_rows",
    "segment_conic",
    "split_wide",
]

# Coordinates beyond ten kilometres from the origin leave too few digits for what programs are
# proved to, and no plate lies there; surveyors' coordinates in mm do reach beyond one.
FARTHEST = 1e7
# An image of a circle this close to one, in mm of radius, is taken as one.
ROUND = 1e-4
FULL_TURN = 2.0 * math.pi
# Sweeps from this on, rad, go all the way round.
WHOLE_TURN = FULL_TURN - 1e-9


class Source(NamedTuple):
    """The entity behind a stroke."""

    kind: str
    handle: str
    block: str = ""
    layer: str = ""

    def __str__(self) -> str:
        return f"{self.kind} #{self.handle}" + (f" in block {self.block!r}" if self.block else "")


class Stroke(NamedTuple):
    """What one entity draws.

    Attributes
    ----------
    rows : ndarray, shape (n, 3)
        x, y, bulge, as in `cutplan.geometry.Path`; the last bulge of an open stroke is 0.
    closed : bool
    source : Source
    layer : str
    """

    rows: FloatArray
    closed: bool
    source: Source
    layer: str


class Conic(NamedTuple):
    """A stretch of centre + a·cos t + b·sin t, t from `start` over `sweep` (rad, signed)."""

    centre: tuple[float, float]
    a: tuple[float, float]
    b: tuple[float, float]
    start: float = 0.0
    sweep: float = FULL_TURN

    @property
    def full(self) -> bool:
        """Whether it closes on itself."""
        return abs(self.sweep) >= WHOLE_TURN

    def mapped(self, frame: Frame) -> Conic:
        """Return its image, again a conic with the same parameters."""
        return Conic(
            frame.point(*self.centre), frame.vector(*self.a), frame.vector(*self.b), self.start, self.sweep
        )

    @property
    def is_round(self) -> bool:
        """Whether it is a circle or an arc of one, to `ROUND` mm."""
        major, minor = math.hypot(*self.a), math.hypot(*self.b)
        skew = abs(self.a[0] * self.b[0] + self.a[1] * self.b[1])
        return abs(major - minor) <= ROUND and skew <= ROUND * max(major, minor)

    def point(self, t: FloatArray) -> FloatArray:
        """Return points at parameters of shape (k,), shape (k, 2)."""
        return np.asarray(np.outer(np.cos(t), self.a) + np.outer(np.sin(t), self.b) + np.asarray(self.centre))

    def derivative(self, t: FloatArray) -> FloatArray:
        """Return derivatives at parameters of shape (k,), shape (k, 2)."""
        return np.asarray(np.outer(np.cos(t), self.b) - np.outer(np.sin(t), self.a))

    def arc(self) -> FloatArray:
        """Return the vertices of a round conic: a full one closed, another open."""
        turns = 1.0 if self.a[0] * self.b[1] - self.a[1] * self.b[0] >= 0.0 else -1.0
        radius = 0.5 * (math.hypot(*self.a) + math.hypot(*self.b))
        start = math.atan2(self.a[1], self.a[0]) + turns * self.start
        return arc_rows(self.centre, radius, start, turns * self.sweep)


def arc_rows(centre: tuple[float, float], radius: float, start: float, sweep: float) -> FloatArray:
    """Return the vertices of an arc in pieces of at most half a turn; a full turn is closed."""
    x, y = centre
    full = abs(sweep) >= WHOLE_TURN
    if full:
        sweep = math.copysign(FULL_TURN, sweep)
    pieces = 1 if abs(sweep) <= math.pi + 1e-9 else 2
    bulge = math.tan(0.25 * sweep / pieces)
    rows = []
    for k in range(pieces if full else pieces + 1):
        angle = start + sweep * k / pieces
        rows.append((x + radius * math.cos(angle), y + radius * math.sin(angle), bulge))
    if not full:
        rows[-1] = (rows[-1][0], rows[-1][1], 0.0)
    return np.array(rows)


def check_numbers(*values: float) -> None:
    """Refuse coordinates that are no numbers, or too far out to be kept to 0.001 mm.

    Raises
    ------
    DrawingError
    """
    for value in values:
        if not abs(value) <= FARTHEST:
            _refuse_number(value)


def check_points(points: FloatArray) -> None:
    """Refuse points like `check_numbers` does."""
    if len(points) and not (farthest := float(np.abs(points).max())) <= FARTHEST:
        _refuse_number(farthest)


def _refuse_number(value: float) -> None:
    if not math.isfinite(value):
        raise DrawingError("it has a coordinate that is not a finite number", remedy="draw it again")
    raise DrawingError(
        f"it lies more than {FARTHEST / 1e6:g} km from the origin",
        remedy="move the drawing to the origin, or state its units",
    )


def split_wide(rows: FloatArray, closed: bool) -> FloatArray:
    """Return the vertices with arcs of more than half a turn cut in two."""
    if not (np.abs(rows[:, 2]) > 1.0 + 1e-9).any():
        return rows
    result: list[tuple[float, float, float]] = []
    following = np.roll(rows, -1, axis=0)
    for k, ((x, y, bulge), (x1, y1, _)) in enumerate(zip(rows.tolist(), following.tolist(), strict=True)):
        if abs(bulge) <= 1.0 + 1e-9 or (not closed and k == len(rows) - 1):
            result.append((x, y, bulge))
            continue
        half = math.tan(0.5 * math.atan(bulge))
        # The middle of the arc lies half a chord times the bulge to the right of its chord.
        middle = (0.5 * (x + x1) + 0.5 * bulge * (y1 - y), 0.5 * (y + y1) - 0.5 * bulge * (x1 - x))
        result += [(x, y, half), (*middle, half)]
    return np.array(result)


def polyline_rows(rows: FloatArray, frame: Frame) -> FloatArray:
    """Return the vertices of a polyline under a similarity."""
    mapped = np.empty((len(rows), 3))
    mapped[:, :2] = frame.points(rows[:, :2])
    mapped[:, 2] = rows[:, 2] if frame.determinant > 0.0 else -rows[:, 2]
    return mapped


def segment_conic(row: FloatArray, end: FloatArray) -> Conic:
    """Return the arc of a polyline's segment as a conic."""
    x, y, bulge = (float(v) for v in row)
    dx, dy = float(end[0]) - x, float(end[1]) - y
    rise = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = (x + 0.5 * dx - rise * dy, y + 0.5 * dy + rise * dx)
    a = (x - centre[0], y - centre[1])
    return Conic(centre, a, (-a[1], a[0]), 0.0, 4.0 * math.atan(bulge))
