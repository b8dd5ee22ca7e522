"""The motions that a control makes of a program: a table of rows, one each motion, dwell or switch."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import ProgramError
from cutplan.control.head import HeadTurn
from cutplan.geometry import FloatArray

__all__ = [
    "ARC_CCW",
    "ARC_CW",
    "DWELL",
    "LINE",
    "RAPID",
    "ROW_COLUMNS",
    "STOP",
    "SWITCH",
    "Doubt",
    "Motions",
    "joined",
]

RAPID, LINE, ARC_CW, ARC_CCW, DWELL, SWITCH, STOP = range(7)


@dataclass(frozen=True)
class Doubt:
    """Something that a reading took on trust, so that a control may take it otherwise.

    Attributes
    ----------
    code : str
        "inherited": the result depends on what the control held before the program.
        "foreign": a word that the dialect does not permit.
        "order": words of one block that controls carry out in different orders.
        "not-restored": a mode or offset is left changed at the end.
        "short-arc": an arc whose ends are one place on the control's grid.
        "comment": a comment that controls act on.
        "reading": a form that controls read differently.
    message : str
    line : int
        Of its file, counted from 1.
    """

    code: str
    message: str
    line: int


@dataclass(frozen=True, eq=False)
class Motions:
    """What a control does on reading a program, one row for each motion, dwell or switch.

    Rows keep the program's order.  Units are mm, mm/min and seconds, whatever the program
    was written in.

    Attributes
    ----------
    kind : ndarray of int8, shape (n,)
        RAPID, LINE, ARC_CW, ARC_CCW, DWELL, SWITCH (a torch word, or another switch changing),
        or STOP (the control waits for the operator, or for a tool change).
    start, end : ndarray, shape (n, 3)
        x, y, z before and after.
    centre : ndarray, shape (n, 2)
        Arc centres, nan elsewhere.
    turns : ndarray, shape (n,)
        Signed included angle of arcs, rad, positive counter-clockwise; 0 elsewhere.
    feed_mm_min : ndarray, shape (n,)
        Feed in force; nan where a rapid, a dwell or a switch has none.
    dwell_s : ndarray, shape (n,)
    torch, marker, flame, height_control : ndarray of bool, shape (n,)
        State during the row (for a SWITCH: after it).
    line : ndarray of int32, shape (n,)
        Line of the program, counted from 1.
    doubts : tuple of Doubt
        What the reading took on trust.
    departures : tuple of str
        What is written otherwise than the standard has it, and means the same all the same.
    left_on : frozenset of str
        What was still on when the program ended: "torch", "marker", "flame", "height".
    torches : tuple of (int, int)
        How many torches the torch word lights, by the line that says so.
    turned : tuple of HeadTurn
        Moves on which the head turns, in order.
    """

    kind: NDArray[np.int8]
    start: FloatArray
    end: FloatArray
    centre: FloatArray
    turns: FloatArray
    feed_mm_min: FloatArray
    dwell_s: FloatArray
    torch: NDArray[np.bool_]
    marker: NDArray[np.bool_]
    flame: NDArray[np.bool_]
    height_control: NDArray[np.bool_]
    line: NDArray[np.int32]
    doubts: tuple[Doubt, ...] = ()
    departures: tuple[str, ...] = ()
    left_on: frozenset[str] = frozenset()
    torches: tuple[tuple[int, int], ...] = ()
    turned: tuple[HeadTurn, ...] = ()

    def head_angles(self) -> tuple[FloatArray, FloatArray]:
        """Return A, B and C of the head at the start and the end of each row, degrees, two of shape (n, 3)."""
        before, after = np.zeros((len(self), 3)), np.zeros((len(self), 3))
        for turn in self.turned:
            before[turn.row :] = after[turn.row :] = turn.after
            before[turn.row] = turn.before
        return before, after

    def __len__(self) -> int:
        return len(self.kind)


ROW_COLUMNS = (
    "kind",
    "start",
    "end",
    "centre",
    "turns",
    "feed_mm_min",
    "dwell_s",
    "torch",
    "marker",
    "flame",
    "height_control",
    "line",
)
"""Of `Motions`, what has an entry a row."""


def joined(files: Sequence[Motions]) -> Motions:
    """Return the motions of several files of one plate, run one after another.

    Lines are those of each file, so a breakdown goes by cut, not by line.  Doubts, departures
    and torch counts are those of all files.

    Parameters
    ----------
    files : sequence of Motions

    Returns
    -------
    Motions

    Raises
    ------
    ProgramError
        If there are no files.
    """
    if not files:
        raise ProgramError("no programs to join")
    columns: dict[str, Any] = {
        name: np.concatenate([getattr(file, name) for file in files]) for name in ROW_COLUMNS
    }
    return replace(
        files[0],
        **columns,
        doubts=tuple(doubt for file in files for doubt in file.doubts),
        departures=tuple(dict.fromkeys(told for file in files for told in file.departures)),
        left_on=frozenset().union(*(file.left_on for file in files)),
        torches=tuple(count for file in files for count in file.torches),
        turned=tuple(
            replace(turn, row=turn.row + first)
            for file, first in zip(files, _first_rows(files), strict=True)
            for turn in file.turned
        ),
    )


def _first_rows(files: Sequence[Motions]) -> list[int]:
    """Return how many rows stand before each file."""
    return [0, *itertools.accumulate(map(len, files))][:-1]
