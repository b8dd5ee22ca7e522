"""Marked letters stay in their box and none is lost."""

import string

import pytest

from cutplan.drawing import MarkText
from cutplan.drawing.lettering import LETTERS, letter_paths, text_width
from cutplan.geometry import bounds


@pytest.mark.parametrize("letter", [*string.ascii_uppercase, *string.digits, *"-./:+_#(),'="])
def test_every_letter_stays_in_its_box(letter: str) -> None:
    strokes = letter_paths(MarkText(letter, (10, 20), 12))
    assert strokes
    assert letter in LETTERS
    for stroke in strokes:
        x0, y0, x1, y1 = bounds(stroke)
        assert x0 >= 10 and y0 >= 20
        assert x1 <= 10 + text_width(letter, 12) + 1e-9 and y1 <= 32 + 1e-9


def test_no_two_letters_look_the_same() -> None:
    assert len(set(LETTERS.values())) == len(LETTERS)


def test_small_letters_are_marked_as_capitals_and_unknown_ones_as_a_box() -> None:
    assert letter_paths(MarkText("ab", (0, 0), 6)) == letter_paths(MarkText("AB", (0, 0), 6))
    assert len(letter_paths(MarkText("é", (0, 0), 6))) == 1


def test_a_text_turns_about_its_lower_left() -> None:
    stroke = letter_paths(MarkText("L", (5, 5), 6, rotation_deg=90))[0]
    assert stroke.points.tolist() == [[-1, 5], [5, 5], [5, 9]]
