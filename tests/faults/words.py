"""Program text as lines of words, light enough for every dialect.

A line is taken apart only as far as a mutator needs: its words with their places, outside
comments.  Lines are put back as they were but for what is changed.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from dataclasses import dataclass

_WORD = re.compile(r"([A-Za-z])[ \t]*([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")


@dataclass(frozen=True)
class Word:
    """A word of a line, and where it stands in it."""

    letter: str
    text: str
    first: int
    last: int

    @property
    def value(self) -> float:
        """Its number."""
        return float(self.text)

    @property
    def code(self) -> str:
        """Letter and number without idle zeros, as "G1"."""
        return f"{self.letter}{self.value:g}"


def words(line: str) -> list[Word]:
    """Return the words of a line outside its comments."""
    blank = re.sub(r"\([^()]*\)", lambda m: " " * len(m[0]), line)
    return [Word(m[1].upper(), m[2], m.start(), m.end()) for m in _WORD.finditer(blank)]


def codes(line: str) -> list[str]:
    """Return the words of a line as codes."""
    return [word.code for word in words(line)]


def find(line: str, letter: str) -> Word | None:
    """Return the first word of a letter."""
    return next((word for word in words(line) if word.letter == letter), None)


def number(value: float, like: str = "") -> str:
    """Return a number written with as many decimals as another needs, at least three."""
    decimals = max(3, len(like.partition(".")[2]))
    return f"{value:.{decimals}f}"


def replaced(line: str, word: Word, text: str) -> str:
    """Return a line with one word written otherwise; an empty text takes it out."""
    return line[: word.first] + text + line[word.last :]


def with_value(line: str, word: Word, value: float) -> str:
    """Return a line with another number behind a letter."""
    return replaced(line, word, f"{word.letter}{number(value, word.text)}")


def changed(line: str, letters: str, change: Callable[[float], float], chance: random.Random) -> str | None:
    """Return a line with one word of some letters changed; None where it has none."""
    found = [word for word in words(line) if word.letter in letters]
    if not found:
        return None
    word = chance.choice(found)
    return with_value(line, word, change(word.value))
