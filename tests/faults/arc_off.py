"""Faults of an arc that goes out before the end of a hole while the torch moves on."""

from __future__ import annotations

import random
from collections.abc import Callable

from faults.model import FAULTS, Mutator
from faults.places import Lines
from faults.view import View
from faults.words import find

EARLY = ("early-off",)
OPEN = "the hole is not closed, and its slug hangs"
NOTCH = "the arc burns a notch where it stops"


def _in_a_hole(edit: Callable[[list[str], int], list[str]]) -> Mutator:
    """Edit the lines about an off word behind which the torch moves on."""

    def mutate(view: View, chance: random.Random) -> Lines:
        offs = [
            cut.off
            for cut in view.torch_cuts
            if find(view.lines[cut.off + 1], "X") and find(view.lines[cut.off + 1], "F")
        ]
        return edit(list(view.lines), chance.choice(offs)) if offs else None

    return mutate


def _to(lines: list[str], off: int, to: int) -> list[str]:
    word = lines.pop(off)
    return [*lines[: off + to], word, *lines[off + to :]]


FAULTS.add("arc off too late", NOTCH, _in_a_hole(lambda lines, off: _to(lines, off, 1)), cases=EARLY)
FAULTS.add("arc off too early", OPEN, _in_a_hole(lambda lines, off: _to(lines, off, -1)), cases=EARLY)
FAULTS.add("arc off far too early", OPEN, _in_a_hole(lambda lines, off: _to(lines, off, -2)), cases=EARLY)
FAULTS.add(
    "no way on behind the arc",
    NOTCH,
    _in_a_hole(lambda lines, off: [*lines[: off + 1], *lines[off + 2 :]]),
    cases=EARLY,
)
FAULTS.add(
    "a stop behind the arc",
    NOTCH,
    _in_a_hole(lambda lines, off: [*lines[: off + 1], "G4 P0.5", *lines[off + 1 :]]),
    cases=EARLY,
)
FAULTS.add(
    "a stop before the arc goes out",
    NOTCH,
    _in_a_hole(lambda lines, off: [*lines[:off], "G4 P0.5", *lines[off:]]),
    cases=EARLY,
)
FAULTS.add(
    "a rapid on behind the arc",
    "the tail is torn over the part",
    _in_a_hole(lambda lines, off: [*lines[: off + 1], "G0" + lines[off + 1][2:], *lines[off + 2 :]]),
    cases=EARLY,
)
