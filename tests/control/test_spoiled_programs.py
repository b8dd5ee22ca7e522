"""Spoiled programs are read, or refused by the program's name; nothing else comes of them."""

from collections import Counter

from spoiled_programs import sound_program, spoiled_program

from cutplan.base.errors import CutplanError
from cutplan.control import read_program


def test_the_program_that_is_spoiled_is_sound_to_begin_with() -> None:
    assert len(read_program(sound_program()).kind) > 10


def test_spoiled_programs_are_read_or_refused_by_name() -> None:
    outcomes: Counter[str] = Counter()
    for seed in range(600):
        text = spoiled_program(sound_program(), seed)
        try:
            read_program(text, name="A-1.nc", strict=seed % 2 == 0)
            outcomes["read"] += 1
        except CutplanError as problem:
            assert "A-1.nc" in str(problem) and str(problem).isprintable(), seed
            outcomes["refused"] += 1
    assert outcomes["read"] > 30 and outcomes["refused"] > 30
