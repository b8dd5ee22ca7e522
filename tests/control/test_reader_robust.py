"""No text makes the reader crash, hang, or read a long program otherwise than a short one."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import cutplan.control.plain_stretch as stretch
import cutplan.control.reader as reader
from cutplan.base.errors import ProgramError
from cutplan.control import Dialect, Motions, read_program

FIELDS = [
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
    "height_control",
    "line",
]
GOOD = """%
N10 G21 G90 G17 G40 G80 G94 (header)
N20 G0 X10.5 Y-3
M3
G4 P0.5
G1 X30 F1500
G3 X40 Y7 J10
G2 X40 Y7 I5 J0
G91 G1 X1 Y1
G90 #1=3 G1 X[#1*2+sin[30]] Y.5
M5
G20 G1 X1.5 Y2 F60
G21 G42 D1 G1 X90
Y60
G40 X20
M7
G1 X3
M9
O5
M98 P5
M99
M30
%
"""
EVERYTHING = Dialect(compensation_radius_mm=1.0, subprograms=True, bare_circles=True, arc_distance_words=True)


def read_or_refuse(text: str, dialect: Dialect) -> Motions | str:
    try:
        return read_program(text, dialect)
    except ProgramError as error:
        assert "line" in str(error)
        return str(error)


@settings(max_examples=200, derandomize=True, deadline=2000)
@given(st.text(alphabet="GMXYZIJKRFPNDLO%/()[]#*+-.0123456789 \t\r\n=ABSTANMODé", max_size=120))
def test_random_text_is_read_or_refused(text: str) -> None:
    read_or_refuse(text, EVERYTHING)
    read_or_refuse(text + "\nM30", Dialect())


@settings(max_examples=60, derandomize=True, deadline=2000)
@given(st.text(max_size=60))
def test_any_characters_are_read_or_refused(text: str) -> None:
    read_or_refuse(text, EVERYTHING)


def test_mutated_programs_are_read_or_refused() -> None:
    chance = random.Random(6556)
    for _ in range(600):
        text = list(GOOD)
        for _ in range(chance.randint(1, 6)):
            at = chance.randrange(len(text))
            what = chance.randrange(4)
            if what == 0:
                del text[at]
            elif what == 1:
                text.insert(at, chance.choice("GMXYIJRF0123456789.-[]#()%/\n "))
            elif what == 2:
                text[at] = chance.choice("GMXYIJRF0123456789.-[]#()%/\n ")
            else:
                other = chance.randrange(len(text))
                text[at], text[other] = text[other], text[at]
        read_or_refuse("".join(text), EVERYTHING)


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


def test_stretches_give_the_rows_of_single_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    """The two ways of reading share their meaning, errors included."""
    monkeypatch.setattr(stretch, "LONGEST_STRETCH", 400)
    monkeypatch.setattr(stretch, "SHORTEST_STRETCH", 60)
    read, refused = 0, 0
    for seed in range(300):
        chance = random.Random(seed)
        lines = [random_line(chance) for _ in range(chance.choice([3, 10, 40]))]
        text = "\n".join(["G21 G90 G1 X0 F5", *lines, "M30"])
        monkeypatch.setattr(reader, "LONG_TEXT", len(text) + 1)
        one_by_one = read_or_refuse(text, Dialect())
        monkeypatch.setattr(reader, "LONG_TEXT", 0)
        in_stretches = read_or_refuse(text, Dialect())
        if isinstance(one_by_one, str) or isinstance(in_stretches, str):
            assert in_stretches == one_by_one
            refused += 1
            continue
        read += 1
        for name in FIELDS:
            np.testing.assert_array_equal(getattr(in_stretches, name), getattr(one_by_one, name), name)
        assert in_stretches.doubts == one_by_one.doubts and in_stretches.left_on == one_by_one.left_on
    assert min(read, refused) > 50


def test_endless_calls_are_cut_short() -> None:
    text = "G21 G90\nM98 P1 L999999\nM30\nO1\nG0 X1\nX2\nM99\n"
    with pytest.raises(ProgramError, match="subprograms run through more than"):
        original = reader.MOST_CALLED_BLOCKS
        try:
            reader.MOST_CALLED_BLOCKS = 5000
            read_program(text, Dialect(subprograms=True))
        finally:
            reader.MOST_CALLED_BLOCKS = original
