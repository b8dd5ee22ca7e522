"""Motions handled as a table of rows: joined where a control's limits split a program."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from cutplan.errors import ProgramError
from cutplan.program.model import Motions

__all__ = ["ROW_COLUMNS", "joined"]

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
