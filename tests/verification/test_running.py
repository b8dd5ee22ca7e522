"""How contours are run: square side, feed by place, over-burn; each broken by hand."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest
from sheets import DATA, MACHINE, Planned, hole, planned, sheet_of

from cutplan.drawing import Part
from cutplan.geometry import Pose, polygon
from cutplan.verification import Verdict, verify

# A round hole over and one under the width of small holes (15 mm), and a square of 40 mm round both.
PLATE = Part("plate", polygon([(0, 0), (90, 0), (90, 60), (0, 60)]), (hole(25, 30, 12), hole(65, 30, 6)))
FULL, CORNER, SMALL = 1800, 1260, 1080


@cache
def plan(corners: str = "round") -> Planned:
    return planned(sheet_of((PLATE, Pose(20, 20)), size=(140, 110)), corners=corners)


def judged(text: str, **rules: object) -> Verdict:
    p = plan()
    data = replace(DATA, rules=replace(DATA.rules, **rules))  # type: ignore[arg-type]
    return verify(text, p.sheet, data, MACHINE, dialect=p.dialect)


def codes(verdict: Verdict) -> set[str]:
    return {fault.code for fault in verdict.faults}


@pytest.mark.parametrize("corners", ["round", "loop", "plain"])
def test_every_stretch_passes_at_the_feed_that_it_is_planned_with(corners: str) -> None:
    p = plan(corners)
    assert verify(p.text, p.sheet, DATA, MACHINE, dialect=p.dialect).passed


def test_feeds_of_two_places_exchanged_are_found() -> None:
    """Each of the feeds alone is one that the cutting data have."""
    text = plan().text
    for one in (FULL, CORNER, SMALL):
        for other in {FULL, CORNER, SMALL} - {one}:
            for match in re.finditer(rf"F{one}\b", text):
                changed = text[: match.start()] + f"F{other}" + text[match.end() :]
                assert "feed" in codes(judged(changed)), (one, other, text[: match.start()].count("\n"))


def test_the_message_says_which_place_and_which_feed() -> None:
    (small,) = {m.start() for m in re.finditer(rf"F{SMALL}\b", plan().text)}
    text = plan().text[:small] + f"F{FULL}" + plan().text[small + len(f"F{SMALL}") :]
    faults = [fault.message for fault in judged(text).faults]
    assert faults == [f"a small hole runs at {FULL} mm/min, the cutting data have {SMALL} there"]


def test_a_feed_within_the_trim_is_no_fault_of_the_metal() -> None:
    text = re.sub(rf"F{FULL}\b", f"F{FULL * 0.94:.0f}", plan().text)
    verdict = judged(text)
    assert verdict.passed
    assert {fault.code for fault in verdict.trims} == {"feed"}


def test_the_part_lies_on_the_square_side_of_the_kerf() -> None:
    assert judged(plan().text).passed
    assert judged(plan().text, square_side="both").passed
    verdict = judged(plan().text, square_side="left")
    assert codes(verdict) == {"square-side"}
    assert len(verdict.faults) == 3


@pytest.mark.parametrize(("overburn", "sound"), [(2.0, True), (1.0, True), (2.2, False), (6.0, False)])
def test_a_hole_is_over_burnt_as_far_as_the_data_ask(overburn: float, sound: bool) -> None:
    verdict = judged(plan().text, overburn=overburn)
    assert (codes(verdict) == {"over-burn"}) == (not sound)
    if not sound:
        assert (
            f"over-burnt by 2.00 mm, the cutting data ask for {overburn:.2f} mm" in verdict.faults[0].message
        )


@pytest.mark.parametrize("post", ["rs274-lines-only", "rs274-control-compensation", "rs274-radius-arcs"])
def test_feeds_are_held_by_place_however_a_program_is_written(post: str) -> None:
    """Corners are those of the drawing: of lines alone, or of a control that offsets, none can be told."""
    p = planned(sheet_of((PLATE, Pose(20, 20)), size=(140, 110)), post=post)
    assert verify(p.text, p.sheet, DATA, MACHINE, dialect=p.dialect).passed
    for one, other in ((CORNER, FULL), (SMALL, FULL), (SMALL, CORNER)):
        match = next(re.finditer(rf"F{one}\b", p.text))
        changed = p.text[: match.start()] + f"F{other}" + p.text[match.end() :]
        assert "feed" in codes(verify(changed, p.sheet, DATA, MACHINE, dialect=p.dialect)), (one, other)
