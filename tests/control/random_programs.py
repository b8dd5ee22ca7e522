"""Random programs that are mostly plain, now and then odd, seldom wrong; read fast and one by one.

`read_alike` holds the two ways of reading against each other: the same rows, doubts and errors.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np

import cutplan.control.plain_stretch as stretch
import cutplan.control.reader as reader
from cutplan.base.errors import ProgramError
from cutplan.control import ROW_COLUMNS, Dialect, Motions, read_program

SHORT_STRETCH, SHORTEST = 400, 60  # bytes: a few lines, so that every text is read in several


def number(chance: random.Random) -> str:
    return chance.choice(
        [f"{chance.uniform(-50, 50):.3f}", f"{chance.randint(-20, 20)}", f"{chance.random():.2f}"[1:], "7."]
    )


def random_line(chance: random.Random) -> str:
    """A line that is mostly plain, now and then odd, seldom wrong."""
    kind = chance.random()
    words = [f"N{chance.randint(0, 99999)}"] if chance.random() < 0.2 else []
    if kind < 0.5:
        words += [chance.choice(["G0", "G1", "g01", ""]), "X" + number(chance)]
        words += chance.choice([["Y" + number(chance)], ["F100"], ["(a note)"], []])
    elif kind < 0.7:
        words += [chance.choice(["G2", "G3"]), f"X{chance.randint(0, 9)}", f"I{chance.randint(1, 9)}"]
    elif kind < 0.85:
        words += [chance.choice(["M3", "M5", "M7", "M9", "M3 M9", "M7 M5 G1 X3", "G4 P2", "M3 G4 P.5"])]
    else:
        words += [
            chance.choice(
                ["G91", "G90", "G20", "G21", "#1=3", "G0 X#1", "G92 X0", "/G1 X1", "G1 X1 2", "G1 X[1+1]",
                 "G41", "G17", "G1 Z-2.5", "X 1 . 5", "(\u00e9)", "G18", "G1 X1(a)2", "G1 X1 X2", "M8", "%", "N1 N2"]
            )
        ]  # fmt: skip
    return chance.choice([" ", "", "  "]).join(words) + chance.choice(["", "", "\r"])


def random_program(seed: int) -> str:
    """Return the text of a seed."""
    chance = random.Random(seed)
    lines = [random_line(chance) for _ in range(chance.choice([3, 10, 40]))]
    return "\n".join(["G21 G90 G1 X0 F5", *lines, "M30"])


@contextmanager
def _set(**values: int) -> Iterator[None]:
    """Read in stretches of other lengths."""
    before = (stretch.LONGEST_STRETCH, stretch.SHORTEST_STRETCH, reader.LONG_TEXT)
    stretch.LONGEST_STRETCH, stretch.SHORTEST_STRETCH = SHORT_STRETCH, SHORTEST
    reader.LONG_TEXT = values["long_text"]
    try:
        yield
    finally:
        stretch.LONGEST_STRETCH, stretch.SHORTEST_STRETCH, reader.LONG_TEXT = before


def _read(text: str, dialect: Dialect, long_text: int) -> Motions | str:
    with _set(long_text=long_text):
        try:
            return read_program(text, dialect)
        except ProgramError as error:
            return str(error)


def read_alike(seed: int) -> bool:
    """Return whether a random program is read at all.

    Raises
    ------
    AssertionError
        If the two ways of reading differ.
    """
    text, dialect = random_program(seed), Dialect()
    one_by_one = _read(text, dialect, len(text) + 1)
    in_stretches = _read(text, dialect, 0)
    if isinstance(one_by_one, str) or isinstance(in_stretches, str):
        assert in_stretches == one_by_one, text
        return False
    for name in ROW_COLUMNS:
        np.testing.assert_array_equal(getattr(in_stretches, name), getattr(one_by_one, name), name)
    assert in_stretches.doubts == one_by_one.doubts and in_stretches.left_on == one_by_one.left_on, text
    return True
