"""Rows of motion collected while a program is read, and handed over as `Motions`."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from cutplan.control.head import HeadTurn
from cutplan.control.motions import DWELL, STOP, SWITCH, Doubt, Motions
from cutplan.geometry import FloatArray

__all__ = ["COLUMNS", "SWITCH_NAMES", "Place", "Rows", "Switches"]

Place = tuple[float, float, float]

# kind, start x y z, end x y z, centre x y, turn, feed, dwell, torch, marker, flame, height, line
COLUMNS = 17
SWITCH_NAMES = ("torch", "marker", "flame", "height")
STRETCH = 20_000  # rows held as tuples before they become an array


class Switches:
    """What burns, marks or follows the plate at the moment."""

    __slots__ = SWITCH_NAMES

    def __init__(self) -> None:
        self.torch = self.marker = self.flame = self.height = False

    @property
    def on(self) -> frozenset[str]:
        """What is on, by name."""
        return frozenset(name for name in SWITCH_NAMES if getattr(self, name))


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
        row = (kind, *start, *end, *centre, turn, feed, 0.0, s.torch, s.marker, s.flame, s.height, line)
        self._add(row)

    def switch(self, place: Place, line: int) -> None:
        """Add a switch at a place."""
        self._stand(SWITCH, place, line, 0.0)

    def dwell(self, place: Place, line: int, seconds: float) -> None:
        """Add a dwell at a place."""
        self._stand(DWELL, place, line, seconds)

    def stop(self, place: Place, line: int) -> None:
        """Add a wait for the operator at a place."""
        self._stand(STOP, place, line, 0.0)

    def _stand(self, kind: int, place: Place, line: int, seconds: float) -> None:
        s, nan = self.switches, math.nan
        state = (s.torch, s.marker, s.flame, s.height)
        self._add((kind, *place, *place, nan, nan, 0.0, nan, seconds, *state, line))

    def extend(self, rows: FloatArray) -> None:
        """Add rows of shape (n, COLUMNS)."""
        self._close_stretch()
        self._arrays.append(rows)

    def _add(self, row: tuple[float, ...]) -> None:
        self._tuples.append(row)
        if len(self._tuples) >= STRETCH:
            self._close_stretch()

    @property
    def count(self) -> int:
        """How many rows there are."""
        return len(self._tuples) + sum(map(len, self._arrays))

    def _close_stretch(self) -> None:
        if self._tuples:
            self._arrays.append(np.array(self._tuples, dtype=np.float64))
            self._tuples = []

    def motions(
        self,
        doubts: Sequence[Doubt],
        departures: Sequence[str],
        left_on: frozenset[str],
        torches: Sequence[tuple[int, int]],
        turned: Sequence[HeadTurn] = (),
    ) -> Motions:
        """Return all rows as `Motions`, with what else is to be told of them."""
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
            height_control=column(15) != 0.0,
            line=column(16).astype(np.int32),
            doubts=tuple(doubts),
            departures=tuple(departures),
            left_on=left_on,
            torches=tuple(torches),
            turned=tuple(turned),
        )
