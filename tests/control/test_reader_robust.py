"""No text makes the reader crash, hang, or read a long program otherwise than a short one."""

from __future__ import annotations

import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_programs import read_alike

import cutplan.control.reader as reader
from cutplan.base.errors import ProgramError
from cutplan.control import Dialect, Motions, read_program

RANDOM_TEXTS = 300
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


def test_stretches_give_the_rows_of_single_lines() -> None:
    """The two ways of reading share their meaning, errors included; `benchmarks/reading.py` tries more."""
    read = sum(read_alike(seed) for seed in range(RANDOM_TEXTS))
    assert 50 < read < RANDOM_TEXTS - 50


def test_endless_calls_are_cut_short() -> None:
    text = "G21 G90\nM98 P1 L999999\nM30\nO1\nG0 X1\nX2\nM99\n"
    with pytest.raises(ProgramError, match="subprograms run through more than"):
        original = reader.MOST_CALLED_BLOCKS
        try:
            reader.MOST_CALLED_BLOCKS = 5000
            read_program(text, Dialect(subprograms=True))
        finally:
            reader.MOST_CALLED_BLOCKS = original
