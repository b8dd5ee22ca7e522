"""Edits that spoil any text of lines: settings, job files, programs."""

from __future__ import annotations

import random
import re


def one_replaced(pattern: str, text: str, new: str, dice: random.Random) -> str:
    """Return a text with one match of a pattern replaced, as it is where there is none."""
    found = list(re.finditer(pattern, text))
    if not found:
        return text
    place = dice.choice(found)
    return text[: place.start()] + new + text[place.end() :]


def line_gone(text: str, dice: random.Random) -> str:
    """Return a text without one of its lines."""
    lines = text.split("\n")
    del lines[dice.randrange(len(lines))]
    return "\n".join(lines) or "\n"


def line_twice(text: str, dice: random.Random) -> str:
    """Return a text with one of its lines said again elsewhere."""
    lines = text.split("\n")
    lines.insert(dice.randrange(len(lines)), dice.choice(lines))
    return "\n".join(lines)
