"""The same under every reading: block delete on and off.

Optional stop needs no reading of its own: a stop counts as one whether it is optional or not.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import ProgramError
from cutplan.control import ROW_COLUMNS, STOP, Dialect, Motions, read_files
from cutplan.verification.model import Fault

__all__ = ["other_reading", "reading_faults"]

_DELETED = re.compile(r"^[ \t]*/", re.MULTILINE)
_COMPARED = tuple(name for name in ROW_COLUMNS if name not in ("line", "marker"))


def other_reading(texts: Sequence[str], dialect: Dialect) -> Motions | Fault | None:
    """Return what a program does with its deletable blocks passed over.

    Returns
    -------
    Motions, Fault or None
        A fault where it cannot be read then, and None where no block begins with a slash.
    """
    if not any(_DELETED.search(text) for text in texts):
        return None
    try:
        return read_files(texts, replace(dialect, block_delete=True), strict=False)
    except ProgramError as error:
        return Fault("reading", f"with block delete on the program cannot be read: {error}")


def reading_faults(
    motions: Motions, other: Motions | Fault | None, texts: Sequence[str], dialect: Dialect
) -> Iterator[Fault]:
    """Yield where a program does something else with block delete on."""
    if other is None:
        return
    if isinstance(other, Fault):
        yield other
        return
    new = [doubt for doubt in other.doubts if doubt not in motions.doubts]
    for doubt in new[:1]:
        yield Fault("reading", f"with block delete on, {doubt.message}", doubt.line)
    if dialect.deletes_marks and motions.marker.any():
        yield from _without_marks(motions, other, texts)
        return
    busy = np.flatnonzero(~_idle_stops(motions))
    row = _first_difference(_columns(motions, busy), _columns(other, np.flatnonzero(~_idle_stops(other))))
    if row is not None:
        told = "the program does something else with block delete on"
        line = int(motions.line[busy[min(row, len(busy) - 1)]]) if len(busy) else None
        yield Fault("reading", told, line)


def _idle_stops(motions: Motions) -> NDArray[np.bool_]:
    """Return the stops with everything out: whether the operator takes them is his own affair."""
    lit = motions.torch | motions.marker | motions.flame
    return np.asarray((motions.kind == STOP) & ~lit)


def _columns(motions: Motions, rows: NDArray[np.int64]) -> list[NDArray[np.generic]]:
    """Return the columns of some rows, their lines aside."""
    return [getattr(motions, name)[rows] for name in ROW_COLUMNS if name != "line"]


def _without_marks(motions: Motions, other: Motions, texts: Sequence[str]) -> Iterator[Fault]:
    """With block delete on, all marks are gone, each wholly, and every cut is as before."""
    deleted = {
        number
        for text in texts
        for number, line in enumerate(text.split("\n"), start=1)
        if _DELETED.match(line)
    }
    # The row behind a mark lifts the marker: its line belongs to the mark.
    ends = motions.marker.copy()
    ends[1:] |= motions.marker[:-1]
    kept = [row for row in np.flatnonzero(ends).tolist() if int(motions.line[row]) not in deleted]
    for row in kept[:1]:
        told = "with block delete on, a part of a mark stays"
        yield Fault("reading", told, int(motions.line[row]))
    if other.marker.any():
        row = int(np.argmax(other.marker))
        yield Fault("reading", "with block delete on, a part of the marks stays", int(other.line[row]))
    one, two = _burning(motions), _burning(other)
    if any(not np.array_equal(a, b, equal_nan=a.dtype.kind == "f") for a, b in zip(one, two, strict=True)):
        yield Fault("reading", "with block delete on, more than marks is passed over")


def _burning(motions: Motions) -> list[NDArray[np.generic]]:
    """Return the columns of all rows that burn or heat."""
    rows = motions.torch | motions.flame
    return [getattr(motions, name)[rows] for name in _COMPARED]


def _first_difference(one: list[NDArray[np.generic]], two: list[NDArray[np.generic]]) -> int | None:
    """Return the first row in which two readings differ; None where they are the same."""
    count = min(len(one[0]), len(two[0]))
    same = np.ones(count, dtype=np.bool_)
    for a, b in zip(one, two, strict=True):
        equal = (a[:count] == b[:count]) | ((a[:count] != a[:count]) & (b[:count] != b[:count]))
        same &= equal.all(axis=1) if equal.ndim > 1 else equal
    if not same.all():
        return int(np.argmin(same))
    return count if len(one[0]) != len(two[0]) else None
