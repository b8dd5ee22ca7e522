"""The segments of many strokes in one table, and the dropping of those without length."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from cutplan.drawing.notes import Notes, at
from cutplan.drawing.strokes import Stroke
from cutplan.geometry import FloatArray

__all__ = ["SHORTEST", "Edges", "Run", "edges_of", "without_empty_edges"]

# Edges shorter than this, mm, are leftovers of rounding.
SHORTEST = 1e-3


class Run(Protocol):
    """Vertices with bulges, open or closed: a stroke, or strokes joined."""

    @property
    def rows(self) -> FloatArray: ...
    @property
    def closed(self) -> bool: ...


@dataclass(frozen=True)
class Edges:
    """Segments of strokes, a row each.

    Attributes
    ----------
    start, end : ndarray, shape (n, 2)
    bulge : ndarray, shape (n,)
    stroke, index : ndarray of int, shape (n,)
        Which stroke a segment belongs to, and its number in it.
    closed : ndarray of bool, shape (n,)
        Whether that stroke is closed.
    """

    start: FloatArray
    end: FloatArray
    bulge: FloatArray
    stroke: NDArray[np.int64]
    index: NDArray[np.int64]
    closed: NDArray[np.bool_]

    @cached_property
    def chord(self) -> FloatArray:
        """Length of each chord, mm."""
        return np.asarray(np.hypot(*(self.end - self.start).T))

    @cached_property
    def centre(self) -> FloatArray:
        """Centres of arcs; meaningless for lines."""
        bulge = np.where(self.bulge != 0.0, self.bulge, 1.0)
        rise = (1.0 - bulge * bulge) / (4.0 * bulge)
        chord = self.end - self.start
        return np.asarray(
            0.5 * (self.start + self.end) + rise[:, None] * np.column_stack([-chord[:, 1], chord[:, 0]])
        )

    @cached_property
    def radius(self) -> FloatArray:
        """Radii of arcs; meaningless for lines."""
        bulge = np.abs(np.where(self.bulge != 0.0, self.bulge, 1.0))
        return np.asarray(self.chord * (1.0 + bulge * bulge) / (4.0 * bulge))

    @cached_property
    def half_turn(self) -> FloatArray:
        """Half the included angle of each arc, rad, never negative; 0 for lines."""
        return np.asarray(2.0 * np.abs(np.arctan(self.bulge)))

    @cached_property
    def middle(self) -> FloatArray:
        """The point halfway along each segment."""
        chord = self.end - self.start
        aside = np.column_stack([chord[:, 1], -chord[:, 0]])
        return np.asarray(0.5 * (self.start + self.end) + 0.5 * self.bulge[:, None] * aside)


def edges_of(strokes: Sequence[Run]) -> Edges:
    """Return the segments of strokes or chains, in their order."""
    counts = np.array([len(stroke.rows) for stroke in strokes], dtype=np.int64)
    closed = np.array([stroke.closed for stroke in strokes], dtype=bool)
    rows = np.vstack([stroke.rows for stroke in strokes])
    first = np.cumsum(counts) - counts
    last = first + counts - 1
    following = np.arange(1, len(rows) + 1)
    following[last] = first
    drawn = np.ones(len(rows), dtype=bool)
    drawn[last[~closed]] = False
    owner = np.repeat(np.arange(len(strokes)), counts)
    index = np.arange(len(rows)) - first[owner]
    return Edges(
        rows[drawn, :2],
        rows[following[drawn], :2],
        rows[drawn, 2],
        owner[drawn],
        index[drawn],
        closed[owner[drawn]],
    )


def without_empty_edges(strokes: Sequence[Stroke], notes: Notes) -> list[Stroke]:
    """Return strokes without edges shorter than `SHORTEST`; those left with none are dropped."""
    if not strokes:
        return []
    edges = edges_of(strokes)
    short = edges.chord * np.maximum(1.0, np.abs(edges.bulge)) < SHORTEST
    touched = set(edges.stroke[short].tolist())
    if not touched:
        return list(strokes)
    result = []
    for k, stroke in enumerate(strokes):
        if k not in touched:
            result.append(stroke)
            continue
        rows = _thinned(stroke)
        if rows is None:
            message = f"{stroke.source} has no length and was left out"
            notes.add("mended", "edges without length", message, at(stroke.rows[0]))
        else:
            dropped = len(stroke.rows) - len(rows)
            message = f"{stroke.source} repeats {dropped} of its vertices; one of each was kept"
            notes.add("mended", "repeated vertices", message, at(stroke.rows[0]))
            result.append(Stroke(rows, stroke.closed, stroke.source, stroke.layer))
    return result


def _thinned(stroke: Stroke) -> FloatArray | None:
    """Return the vertices with every step at least `SHORTEST` long, or None if nothing is left.

    The bulge of a dropped step goes with it; the vertex that is kept takes the next one's.
    """
    rows = stroke.rows.tolist()
    kept = [rows[0]]
    for row in rows[1:]:
        if np.hypot(row[0] - kept[-1][0], row[1] - kept[-1][1]) < SHORTEST:
            kept[-1][2] = row[2]
        else:
            kept.append(row)
    if stroke.closed and len(kept) > 1:
        step = np.hypot(kept[-1][0] - kept[0][0], kept[-1][1] - kept[0][1])
        if step < SHORTEST:
            kept.pop()
    elif not stroke.closed and len(kept) > 1:
        # The end of an open stroke stays where it was drawn.
        kept[-1][:2] = rows[-1][:2]
    return np.array(kept) if len(kept) > 1 else None
