"""The motions that a control makes of a program: a table of rows, one each motion, dwell or switch."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import ProgramError
from cutplan.geometry import FloatArray

__all__ = ["ARC_CCW", "ARC_CW", "DWELL", "LINE", "RAPID", "ROW_COLUMNS", "SWITCH", "Motions", "joined"]

RAPID, LINE, ARC_CW, ARC_CCW, DWELL, SWITCH = range(6)


@dataclass(frozen=True, eq=False)
class Motions:
    """What a control does on reading a program, one row for each motion, dwell or switch.

    Rows keep the program's order.  Units are mm, mm/min and seconds, whatever the program
    was written in.

    Attributes
    ----------
    kind : ndarray of int8, shape (n,)
        RAPID, LINE, ARC_CW, ARC_CCW, DWELL, or SWITCH (a torch word, or the flame or marker
        changing).
    start, end : ndarray, shape (n, 3)
        x, y, z before and after.
    centre : ndarray, shape (n, 2)
        Arc centres, nan elsewhere.
    turns : ndarray, shape (n,)
        Signed included angle of arcs, rad, positive counter-clockwise; 0 elsewhere.
    feed_mm_min : ndarray, shape (n,)
        Feed in force; nan where a rapid, a dwell or a switch has none.
    dwell_s : ndarray, shape (n,)
    torch, marker, flame : ndarray of bool, shape (n,)
        State during the row (for a SWITCH: after it).
    line : ndarray of int32, shape (n,)
        Line of the program, counted from 1.
    stated : frozenset of str
        Modes that the program states itself before its first motion: "units", "distance".
    left_on : bool
        The torch was still on when the program ended.
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
    line: NDArray[np.int32]
    stated: frozenset[str] = frozenset()
    left_on: bool = False

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
    "line",
)
"""Of `Motions`, what has an entry a row."""


def joined(files: Sequence[Motions]) -> Motions:
    """Return the motions of several files of one plate, run one after another.

    Lines are those of each file, so a breakdown goes by cut, not by line.

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
    return replace(files[0], **columns)
