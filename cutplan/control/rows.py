"""Rows of motion collected while a program is read, and handed over as `Motions`."""

from __future__ import annotations

import math

import numpy as np

from cutplan.control.motions import DWELL, SWITCH, Motions
from cutplan.geometry import FloatArray

__all__ = ["COLUMNS", "Place", "Rows", "Switches"]

Place = tuple[float, float, float]

# kind, start x y z, end x y z, centre x y, turn, feed, dwell, torch, marker, flame, line
COLUMNS = 16
STRETCH = 20_000  # rows held as tuples before they become an array


class Switches:
    """What burns or marks at the moment."""

    __slots__ = ("flame", "marker", "torch")

    def __init__(self) -> None:
        self.torch = self.marker = self.flame = False

    @property
    def any(self) -> bool:
        """Whether something is on."""
        return self.torch or self.marker or self.flame


class Rows:
    """Rows in program order, held as tuples, with finished stretches held as arrays."""

    def __init__(self, switches: Switches) -> None:
        self.switches = switches
        self._tuples: list[tuple[float, ...]] = []
        self._arrays: list[FloatArray] = []

    def move(
        self,
        kind: int,
        start: Place,
        end: Place,
        feed: float,
        line: int,
        centre: tuple[float, float] = (math.nan, math.nan),
        turn: float = 0.0,
    ) -> None:
        """Add a rapid, line or arc."""
        s = self.switches
        row = (kind, *start, *end, *centre, turn, feed, 0.0, s.torch, s.marker, s.flame, line)
        self._add(row)

    def stand(self, place: Place, line: int, dwell_s: float | None = None) -> None:
        """Add a dwell, or without one a switch, at a place."""
        s, nan = self.switches, math.nan
        kind = SWITCH if dwell_s is None else DWELL
        state = (s.torch, s.marker, s.flame)
        self._add((kind, *place, *place, nan, nan, 0.0, nan, dwell_s or 0.0, *state, line))

    def extend(self, rows: FloatArray) -> None:
        """Add rows of shape (n, COLUMNS)."""
        self._close_stretch()
        self._arrays.append(rows)

    def _add(self, row: tuple[float, ...]) -> None:
        self._tuples.append(row)
        if len(self._tuples) >= STRETCH:
            self._close_stretch()

    def _close_stretch(self) -> None:
        if self._tuples:
            self._arrays.append(np.array(self._tuples, dtype=np.float64))
            self._tuples = []

    def motions(self, stated: frozenset[str], left_on: bool) -> Motions:
        """Return all rows as `Motions`."""
        self._close_stretch()
        arrays = self._arrays or [np.empty((0, COLUMNS))]

        def columns(first: int, last: int) -> FloatArray:
            return np.concatenate([rows[:, first:last] for rows in arrays])

        def column(index: int) -> FloatArray:
            return np.concatenate([rows[:, index] for rows in arrays])

        return Motions(
            kind=column(0).astype(np.int8),
            start=columns(1, 4),
            end=columns(4, 7),
            centre=columns(7, 9),
            turns=column(9),
            feed_mm_min=column(10),
            dwell_s=column(11),
            torch=column(12) != 0.0,
            marker=column(13) != 0.0,
            flame=column(14) != 0.0,
            line=column(15).astype(np.int32),
            stated=stated,
            left_on=left_on,
        )
