"""A sample of wrong edits of programs that bevel: each is refused; `benchmarks/bevels.py` tries 500."""

from __future__ import annotations

import random

import pytest

from tests.bevel_faults import EDITS, Edit, honest_programs

HONEST = list(honest_programs())


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: str(edit.__name__))
def test_a_wrong_edit_is_refused(edit: Edit) -> None:
    chance = random.Random(7)
    tried = 0
    for made in chance.sample(HONEST, len(HONEST)):
        text = edit(made.program.text, chance)
        if text is None or text == made.program.text:
            continue
        assert not made.verdict(text).passed, (made.post.name, made.asked.slope)
        tried += 1
        if tried == 3:
            break
    assert tried
