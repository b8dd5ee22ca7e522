"""A program as a mutator sees it: its lines, what each does, and the cuts they make."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from replay import Row, run

from faults.cases import Case
from faults.words import codes, find


@dataclass(frozen=True)
class Cut:
    """The lines of one cut or mark in a file.

    Attributes
    ----------
    first : int
        The line behind the cut before, where the way to this one begins.
    on, off : int
        Lines that switch torch or marker on and off.
    last : int
        Line behind its end.
    marks : bool
        Made with the marker.
    rows : tuple of Row
    """

    first: int
    on: int
    off: int
    last: int
    marks: bool
    rows: tuple[Row, ...]

    @property
    def pierce(self) -> tuple[float, float]:
        """Where it begins, mm."""
        return self.rows[0].end[:2]

    @property
    def length(self) -> float:
        """Way of the torch, mm."""
        return sum(way(row) for row in self.rows)


def way(row: Row) -> float:
    """Return the length of a row's way, mm."""
    if not row.moves:
        return 0.0
    points = [row.start[:2], *row.points(0.01)]
    return sum(math.dist(a, b) for a, b in pairwise(points))


class View:
    """One file of a case's program."""

    def __init__(self, case: Case, file: str) -> None:
        self.case = case
        self.file = file
        self.lines = case.files[file].split("\n")
        index = case.programs.index(file) if file in case.programs else 0
        every = run([case.files[name] for name in case.programs], case.plate["dialect"])
        self.rows = [row for row in every if row.file == index]
        self.dialect = case.plate["dialect"]
        self.data = case.plate["cut_data"]

    def word(self, what: str) -> str:
        """Return the first M word of a switch, as "M3"."""
        return self.case.switches[what][0]

    @cached_property
    def end(self) -> int:
        """Line that ends the main program."""
        return next(k for k, line in enumerate(self.lines) if {"M30", "M2"} & set(codes(line)))

    @cached_property
    def cuts(self) -> list[Cut]:
        """Cuts and marks in order."""
        found: list[Cut] = []
        first = self.head
        k = 0
        while k < len(self.rows):
            row = self.rows[k]
            what = "torch" if row.torch else "marker" if row.marker else ""
            if not what:
                k += 1
                continue
            stop = next(n for n in range(k, len(self.rows)) if not getattr(self.rows[n], what))
            rows = tuple(self.rows[k:stop])
            off = self.rows[stop].line
            last = off + 1
            while last < self.end and not self._begins_way(last):
                last += 1
            found.append(Cut(first, row.line, off, last, what == "marker", rows))
            first, k = last, stop
        return found

    def _begins_way(self, line: int) -> bool:
        text = self.lines[line]
        moves = any(word in ("G0",) for word in codes(text)) and (
            find(text, "X") or find(text, "Y") or find(text, "Z")
        )
        return text.startswith("(") or (bool(moves) and not self._returns(line))

    def _returns(self, line: int) -> bool:
        """Whether a rapid belongs to the end of a cut: up to pierce height."""
        text = self.lines[line]
        height = find(text, "Z")
        return height is not None and abs(height.value - self.data["pierce_height"]) < 1e-6

    @cached_property
    def head(self) -> int:
        """Line behind the header: where the way to the first cut begins."""
        first = next(row for row in self.rows if row.kind == "rapid")
        line = first.line
        while line > 0 and self.lines[line - 1].startswith("(cut"):
            line -= 1
        return line

    @property
    def torch_cuts(self) -> list[Cut]:
        """Cuts with the torch."""
        return [cut for cut in self.cuts if not cut.marks]

    @property
    def marks(self) -> list[Cut]:
        """Runs of the marker."""
        return [cut for cut in self.cuts if cut.marks]

    def code(self, line: int) -> set[str]:
        """Return the words of a line as codes."""
        return set(codes(self.lines[line]))

    def own_rows(self, cut: Cut) -> list[Row]:
        """Return the rows of a cut that its own lines state, not a subprogram's."""
        return [row for row in cut.rows if cut.on <= row.line <= cut.off]

    def moves(self, cut: Cut, kind: str | None = None) -> list[Row]:
        """Return the moves of a cut that its own lines state."""
        return [row for row in self.own_rows(cut) if row.moves and kind in (None, row.kind)]

    def lit_lines(self, chance: random.Random, margin: int = 1) -> int | None:
        """Return a line within a cut, some moves from its ends: the arc burns behind it."""
        cuts = [cut for cut in self.torch_cuts if len(self.moves(cut)) > 2 * margin]
        if not cuts:
            return None
        rows = self.moves(chance.choice(cuts))
        return chance.choice(rows[margin : len(rows) - margin]).line

    def pick(
        self, chance: random.Random, lines: Iterable[int], wanted: Callable[[str], bool] = bool
    ) -> int | None:
        """Return one of some lines that has what is wanted."""
        found = [line for line in lines if wanted(self.lines[line])]
        return chance.choice(found) if found else None

    def without(self, first: int, last: int) -> list[str]:
        """Return the lines but for some."""
        return [*self.lines[:first], *self.lines[last:]]

    def put(self, at: int, *new: str) -> list[str]:
        """Return the lines with new ones before a place."""
        return [*self.lines[:at], *new, *self.lines[at:]]

    def swap(self, at: int, text: str) -> list[str]:
        """Return the lines with one written otherwise."""
        return [*self.lines[:at], text, *self.lines[at + 1 :]]

    def reordered(self, order: Sequence[Cut]) -> list[str]:
        """Return the lines with the cuts in another order, each with the way to it."""
        lines = self.lines[: self.cuts[0].first]
        for cut in order:
            lines = lines + self.lines[cut.first : cut.last]
        return lines + self.lines[self.cuts[-1].last :]

    def xy(self, x: float, y: float) -> str:
        """Return axis words for a place in mm, in the file's unit."""
        unit = 25.4 if any("G20" in codes(line) for line in self.lines[: self.head]) else 1.0
        return f"X{x / unit:.4f} Y{y / unit:.4f}"

    def feed_word(self, mm_min: float) -> str:
        """Return an F word in the file's unit."""
        unit = 25.4 if any("G20" in codes(line) for line in self.lines[: self.head]) else 1.0
        return f"F{mm_min / unit:.1f}"
