"""Tables as plain text: figures never broken, at any width of the screen, and whole in a pipe.

A table too wide for the screen is parted into several below each other, each with the first
column; words may wrap, figures do not.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions
from rich.text import Text

__all__ = ["Table", "plain_table", "wide_console"]

BETWEEN = 2  # letters
LEAST_WORDS = 16
"""Letters to which a column of words may be narrowed to share a screen with others."""
NO_LIMIT = 100_000
"""Letters in a line of a pipe or a file, where nothing is wrapped."""


@dataclass(frozen=True)
class Table:
    """A table to print.

    Attributes
    ----------
    title : str
    headings : tuple of str
    rows : tuple of tuple of str
    left : int
        So many columns from the left hold words and may wrap; the others hold figures.
    total : bool
        The last row is the sum of the others.
    """

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    left: int = 1
    total: bool = False

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Text]:
        yield Text(self.title, style="bold")
        for number, columns in enumerate(self._shares(options.max_width)):
            if number:
                yield Text("")
            widths = self._widths(columns, options.max_width)
            yield from self._lines(self.headings, columns, widths, "bold")
            rule = Text("  ".join("─" * width for width in widths), style="dim")
            yield rule
            for index, row in enumerate(self.rows):
                if self.total and index == len(self.rows) - 1:
                    yield rule
                yield from self._lines(row, columns, widths)

    def _natural(self, column: int) -> int:
        return max(len(text) for text in (self.headings[column], *(row[column] for row in self.rows)))

    def _least(self, column: int) -> int:
        """Return the width below which a column is not narrowed: figures are left whole."""
        natural = self._natural(column)
        return natural if column >= self.left or column == 0 else min(natural, LEAST_WORDS)

    def _shares(self, width: int) -> list[list[int]]:
        """Part the columns so that each share fits the width, the first column in each."""
        shares, used = [[0]], self._least(0)
        for column in range(1, len(self.headings)):
            needed = self._least(column) + BETWEEN
            if used + needed > width and len(shares[-1]) > 1:
                shares.append([0])
                used = self._least(0)
            shares[-1].append(column)
            used += needed
        return shares

    def _widths(self, columns: Sequence[int], width: int) -> list[int]:
        """Give what room is left to the columns of words, from left to right."""
        widths = {column: self._least(column) for column in columns}
        room = width - sum(widths.values()) - BETWEEN * (len(columns) - 1)
        for column in columns:
            more = max(0, min(self._natural(column) - widths[column], room))
            widths[column] += more
            room -= more
        last = columns[-1]
        if room < 0 and last < self.left:
            widths[last] = max(LEAST_WORDS, widths[last] + room)
        return [widths[column] for column in columns]

    def _lines(
        self, row: Sequence[str], columns: Sequence[int], widths: Sequence[int], style: str = ""
    ) -> Iterator[Text]:
        """Yield a row, over several lines where words wrap."""
        cells = [_wrapped(row[column], width) for column, width in zip(columns, widths, strict=True)]
        for number in range(max(map(len, cells))):
            words = []
            for column, width, lines in zip(columns, widths, cells, strict=True):
                text = lines[number] if number < len(lines) else ""
                words.append(text.ljust(width) if column < self.left else text.rjust(width))
            yield Text("  ".join(words).rstrip(), style=style, no_wrap=True, overflow="ignore")


def _wrapped(text: str, width: int) -> list[str]:
    return textwrap.wrap(text, width, break_on_hyphens=False) or [""] if len(text) > width else [text]


def plain_table(
    title: str, headings: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1, *, total: bool = False
) -> Table:
    """Return a table whose first `left` columns hold words, the rest figures."""
    return Table(title, tuple(headings), tuple(tuple(row) for row in rows), left, total)


def wide_console() -> Console:
    """Return a console as wide as the screen; a pipe or a file has lines as long as need be."""
    console = Console(highlight=False, soft_wrap=True)
    return console if console.is_terminal else Console(width=NO_LIMIT, highlight=False, soft_wrap=True)
