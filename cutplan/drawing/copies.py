"""Strokes drawn twice, exactly on top of each other: found by their own shape, however many there are.

Those that overlap in part, or by a hair's breadth, are left to `cutplan.drawing.overlap`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutplan.drawing.notes import Notes, at
from cutplan.drawing.strokes import Stroke

__all__ = ["without_copies"]

# Strokes that agree to this, mm and bulge, when rounded, are copies.
GRAIN = 1e-6


def without_copies(strokes: Sequence[Stroke], notes: Notes) -> list[Stroke]:
    """Return strokes without those that were drawn before, in either direction.

    Parameters
    ----------
    strokes : sequence of Stroke
    notes : Notes
        Takes what was dropped, a finding for each stroke that has copies.
    """
    first: dict[bytes, int] = {}
    copies: dict[int, int] = {}
    kept = []
    for k, (stroke, key) in enumerate(zip(strokes, _keys(strokes), strict=True)):
        original = first.setdefault(key, k)
        if original == k:
            kept.append(stroke)
        else:
            copies[original] = copies.get(original, 0) + 1
    for k, count in copies.items():
        times = "twice" if count == 1 else f"{count + 1} times"
        message = f"{strokes[k].source} is drawn {times} on top of each other; one was kept"
        notes.add("mended", "doubled edges", message, at(strokes[k].rows[0]))
    return kept


def _keys(strokes: Sequence[Stroke]) -> list[bytes]:
    """Return what copies share: rounded vertices from the lowest one on, in the lower of both directions."""
    alike: dict[tuple[int, bool], list[int]] = defaultdict(list)
    for k, stroke in enumerate(strokes):
        alike[len(stroke.rows), stroke.closed].append(k)
    keys = [b""] * len(strokes)
    for (_, closed), members in alike.items():
        here = np.round(np.array([strokes[k].rows for k in members]) / GRAIN).astype(np.int64)
        there = np.empty_like(here)
        if closed:
            there[:, :, :2] = np.roll(here[:, ::-1, :2], 1, axis=1)
            there[:, :, 2] = -here[:, ::-1, 2]
            here, there = _from_lowest(here), _from_lowest(there)
        else:
            there[:, :, :2] = here[:, ::-1, :2]
            there[:, :-1, 2], there[:, -1, 2] = -here[:, -2::-1, 2], 0
        mark = b"closed" if closed else b"open"
        for k, a, b in zip(members, here, there, strict=True):
            keys[k] = min(a.tobytes(), b.tobytes()) + mark
    return keys


def _from_lowest(rows: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return vertices of shape (m, n, 3) turned so that the leftmost, and lowest of these, comes first."""
    x, y = rows[:, :, 0], rows[:, :, 1]
    lowest = np.argmin(np.where(x == x.min(axis=1, keepdims=True), y, np.iinfo(np.int64).max), axis=1)
    turned = (np.arange(rows.shape[1]) + lowest[:, None]) % rows.shape[1]
    return np.take_along_axis(rows, turned[:, :, None], axis=1)
