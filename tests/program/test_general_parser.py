"""Programs against a general-purpose parser and interpreter of G-code: pygcode, from the package registry.

It is under the GPL and no dependency of the tests, which are skipped where the extra `parser` is not there.
"""

from __future__ import annotations

import re

import numpy as np
import pytest
from hand_made_orders import MACHINE, OXYFUEL, PLASMA, tie_plates

from cutplan.base.machine import Machine
from cutplan.control import read_program
from cutplan.process import CutData
from cutplan.program import PostProcessor, list_postprocessors, write_program

pygcode = pytest.importorskip("pygcode")

POSTS = {post.name: post for post in list_postprocessors()}
PLAIN = [
    name
    for name, post in POSTS.items()
    if post.settings.subprograms is None and post.settings.compensation is None
]


def data_for(post: PostProcessor) -> CutData:
    return OXYFUEL if post.settings.switches.preheat_on else PLASMA


@pytest.mark.parametrize("name", POSTS)
def test_a_general_purpose_parser_reads_every_line(name: str) -> None:
    post = POSTS[name]
    order, sheet = tie_plates(3, data_for(post))
    machine = Machine(marker=True, torches=2)
    program = write_program(order, sheet, data_for(post), machine, post, name="PL10-1", torch_spacing=110.0)
    for line in program.text.splitlines():
        words = re.findall(r"[A-Z][-+.0-9]+", re.sub(r"\([^)]*\)", "", line))
        assert len(pygcode.Line(line).block.words) == len(words)


@pytest.mark.parametrize("name", PLAIN)
def test_a_general_purpose_interpreter_moves_to_the_same_places(name: str) -> None:
    """It knows neither subprograms nor the control's own offset, so those two are left out."""
    post = POSTS[name]
    order, sheet = tie_plates(3, data_for(post))
    text = write_program(order, sheet, data_for(post), MACHINE, post, name="PL10-1").text
    machine = pygcode.Machine()
    places = [(0.0, 0.0, 0.0)]
    for line in text.splitlines():
        machine.process_block(pygcode.Line(line).block)
        scale = 25.4 if isinstance(machine.mode.units, pygcode.GCodeUseInches) else 1.0
        here = machine.abs_pos
        place = (here.X * scale, here.Y * scale, here.Z * scale)
        if place != places[-1]:
            places.append(place)
    motions = read_program(text, post.dialect)
    moved = (motions.start != motions.end).any(axis=1)
    assert np.array(places[1:]) == pytest.approx(motions.end[moved], abs=1e-9)
