"""The reader held against NISTIR 6556 rule by rule; the table of rules stands in `nistir_6556`."""

from __future__ import annotations

import numpy as np
import pytest
from nistir_6556 import HEADER, RULES, Rule

from cutplan.base.errors import ProgramError
from cutplan.control import ARC_CCW, ARC_CW, DWELL, LINE, read_program

LEAST_RULES = 150


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: f"{rule.section} {rule.says}"[:60])
def test_the_reader_keeps_to_the_standard(rule: Rule) -> None:
    text = rule.example if rule.whole else f"{HEADER}\n{rule.example}\nM30"
    if rule.refused or _is_refusal(rule):
        with pytest.raises(ProgramError) as error:
            read_program(text)
        assert rule.refused in str(error.value)
        return
    motions = read_program(text)
    moves = motions.kind <= ARC_CCW
    if rule.ends is not None:
        size = len(rule.ends[0])
        assert np.allclose(motions.end[moves, :size], np.array(rule.ends, dtype=float), atol=1e-9)
    if rule.feeds is not None:
        fed = (motions.kind >= LINE) & moves
        assert motions.feed_mm_min[fed].tolist() == pytest.approx(rule.feeds)
    if rule.dwells is not None:
        assert motions.dwell_s[motions.kind == DWELL].tolist() == rule.dwells
    if rule.torch is not None:
        assert motions.torch.tolist() == rule.torch
    if rule.last is not None:
        assert motions.end[-1].tolist() == pytest.approx(rule.last)
    if rule.turns_deg is not None:
        arcs = (motions.kind == ARC_CW) | (motions.kind == ARC_CCW)
        assert np.degrees(motions.turns[arcs]).tolist() == pytest.approx(rule.turns_deg)


def _is_refusal(rule: Rule) -> bool:
    """Whether nothing is expected but that it is refused, in whatever words."""
    wanted = (rule.ends, rule.feeds, rule.dwells, rule.torch, rule.turns_deg, rule.last)
    return all(value is None for value in wanted)


def test_the_table_covers_the_standard() -> None:
    assert len(RULES) >= LEAST_RULES
    assert {"3.2", "3.3.1", "3.3.2", "3.3.3", "3.3.4", "3.3.5", "3.3.6", "3.4", "3.8"} <= {
        rule.section for rule in RULES
    }
