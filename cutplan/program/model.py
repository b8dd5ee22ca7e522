"""Program text, and the motions that a control makes of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import FloatArray
from cutplan.program.dialect import Dialect

__all__ = ["ARC_CCW", "ARC_CW", "DWELL", "LINE", "RAPID", "SWITCH", "Motions", "Program"]

RAPID, LINE, ARC_CW, ARC_CCW, DWELL, SWITCH = range(6)


@dataclass(frozen=True)
class Program:
    """The text for one sheet, and the post-processor that wrote it.

    Attributes
    ----------
    name : str
        File name without the ending.
    text : str
    postprocessor : str
    dialect : Dialect
        How a control, or the reader, has to take the text.
    extension : str
        Ending of the file's name, without the point.
    more : tuple of Program
        The files that follow where the control's limits split the program, in order; each
        is a complete program.
    """

    name: str
    text: str
    postprocessor: str
    dialect: Dialect
    extension: str = "ngc"
    more: tuple[Program, ...] = ()

    @property
    def files(self) -> tuple[Program, ...]:
        """This file and the ones that follow."""
        return (self, *self.more)


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
