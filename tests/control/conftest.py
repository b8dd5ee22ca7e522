"""Puts the table of the standard's rules and the random programs where the tests can import them."""

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from cutplan.control import Motions, read_program

sys.path.insert(0, str(Path(__file__).parent))

START = "G21 G90 G17 G40 G80 G94\n"


@pytest.fixture
def motions_of() -> Callable[[str], Motions]:
    """Read the blocks of a program, its usual first and last lines added."""
    return lambda text: read_program(START + text + "\nM30\n")
