"""Programs spoiled on purpose, seeded: words, figures, lines and bytes."""

from __future__ import annotations

import random

from line_edits import line_gone, line_twice, one_replaced

FIGURES = ("1e300", "-1", "0", "-0", "nan", "inf", "9" * 400, "-" * 9, "1.2.3", ".", "", "99999999999", "#1", "[1/0]", "1e-300")  # fmt: skip
WORDS = ("G2", "G3", "G4", "G5", "G20", "G28", "G41", "G92", "M2", "M98", "M99", "P5000", "L9999", "N1", "O100", "(", ")", ";", "%", "/",
         "\x00", "\x1b[2J", "é", "٣", "G" * 300, "X", "#1=#1", "G33.1", "T99999999", "S-1", "F0", "R1", "I0 J0")  # fmt: skip


def sound_program() -> str:
    """Return a small program with every kind of move: rapid, line, arcs, a whole circle, a dwell, a mark."""
    head = ["%", "(a plate)", "G21 G90 G17 G40 G80 G94", "G0 X10 Y10"]
    hole = ["M3", "G4 P0.5", "G1 X20 Y10 F2000", "G3 X20 Y10 I10 J0", "M5"]
    mark = ["G0 X60 Y5", "M7", "G1 X80 Y5 F6000", "M9"]
    outside = ["G0 X5 Y5", "M3", "G4 P0.5", "G1 X0 Y0 F1800", "G1 Y50", "G2 X10 Y60 I10 J0", "G1 X90", "G1 Y0", "G1 X0", "M5"]  # fmt: skip
    return "\n".join([*head, *hole, *mark, *outside, "M30", "%", ""])


def spoiled_program(text: str, seed: int) -> str:
    """Return a program spoiled in one to four places: the same seed, the same text."""
    dice = random.Random(seed)
    for _ in range(dice.randint(1, 4)):
        text = dice.choice((_figure, _figure, _word, _word, _letter, line_gone, line_twice, _swapped, _cut, _byte))(text, dice)  # fmt: skip
    return text


def _figure(text: str, dice: random.Random) -> str:
    return one_replaced(r"-?\d+(?:\.\d+)?", text, dice.choice(FIGURES), dice)


def _word(text: str, dice: random.Random) -> str:
    return one_replaced(r"[A-Z]-?\d+(?:\.\d+)?", text, dice.choice(WORDS), dice)


def _letter(text: str, dice: random.Random) -> str:
    return one_replaced(r"[A-Z]", text, dice.choice("ABCDFGHIJKLMNOPQRSTXYZ"), dice)


def _swapped(text: str, dice: random.Random) -> str:
    lines = text.split("\n")
    i, j = dice.randrange(len(lines)), dice.randrange(len(lines))
    lines[i], lines[j] = lines[j], lines[i]
    return "\n".join(lines)


def _cut(text: str, dice: random.Random) -> str:
    return text[: dice.randrange(len(text))] or "\n"


def _byte(text: str, dice: random.Random) -> str:
    place = dice.randrange(len(text))
    return text[:place] + chr(dice.randrange(256)) + text[place + 1 :]
