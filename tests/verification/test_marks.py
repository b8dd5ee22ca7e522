"""Marks both ways: each wanted stroke is made, and the marker makes no other."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from sheets import DATA, MACHINE, Planned, hole, planned, sheet_of

from cutplan.drawing import MarkText, Part, wanted_strokes
from cutplan.geometry import Pose, polygon, polyline
from cutplan.verification import Done, Verdict, verify

PLATE = Part(
    "plate",
    polygon([(0, 0), (120, 0), (120, 60), (0, 60)]),
    (hole(95, 30, 10),),
    marks=(polyline([(10, 50), (60, 50)]),),
    texts=(MarkText("L7T", (10, 20), 12.0),),
)


@pytest.fixture(scope="module", params=[False, True], ids=["as drawn", "turned over"])
def plan(request: pytest.FixtureRequest) -> Planned:
    return planned(sheet_of((PLATE, Pose(170, 90, 20, mirrored=request.param)), size=(330, 200)))


def judged(p: Planned, text: str | None = None, **part: object) -> Verdict:
    (placement,) = p.sheet.placements
    changed = replace(placement, part=replace(placement.part, **part))  # type: ignore[arg-type]
    sheet = replace(p.sheet, placements=(changed,))
    return verify(p.text if text is None else text, sheet, DATA, MACHINE, dialect=p.dialect)


def codes(verdict: Verdict) -> set[str]:
    return {fault.code for fault in verdict.faults}


def mark_blocks(text: str) -> list[str]:
    """The marker's runs of a program, from on to off."""
    return re.findall(r"M7\n(?:.*\n)*?M9\n", text)


def test_marks_and_letters_pass_as_they_are_planned(plan: Planned) -> None:
    assert judged(plan).passed
    assert len(mark_blocks(plan.text)) == 1 + 1 + 1 + 2


def test_each_letter_left_out_is_missed(plan: Planned) -> None:
    for block in mark_blocks(plan.text):
        without = plan.text.replace(block, "M7\nM9\n", 1)
        assert "mark-missing" in codes(judged(plan, without))


def test_another_text_is_told_from_the_one_that_is_marked(plan: Planned) -> None:
    for words in ("L1T", "7LT", "L7", "L7TT"):
        text = replace(PLATE.texts[0], text=words)
        assert codes(judged(plan, texts=(text,))) & {"mark-missing", "mark-stray"}
    shifted = replace(PLATE.texts[0], place=(10.3, 20.0))
    assert {"mark-missing", "mark-stray"} <= codes(judged(plan, texts=(shifted,)))


def test_a_travel_with_the_marker_down_is_a_stray_mark(plan: Planned) -> None:
    first, second = mark_blocks(plan.text)[:2]
    between = plan.text[
        plan.text.index(first) + len(first) - len("M9\n") : plan.text.index(second) + len("M7\n")
    ]
    down = plan.text.replace(between, re.sub(r"M9\n|M7\n|M5\n", "", between), 1)
    assert {"mark-stray", "mark-run"} <= codes(judged(plan, down))


def test_the_marker_runs_at_its_own_feed_and_never_stands(plan: Planned) -> None:
    block = mark_blocks(plan.text)[0]
    feed = re.search(r"F(\d+)", block)
    assert feed is not None
    slow = plan.text.replace(block, block.replace(feed[0], "F100"), 1)
    assert codes(judged(plan, slow)) == {"mark-run"}
    bent = next(b for b in mark_blocks(plan.text) if len(b.splitlines()) == 4)
    on, first, second, off = bent.splitlines(keepends=True)
    waits = plan.text.replace(bent, "".join([on, "G4 P1\n", first, second, off]), 1)
    assert judged(plan, waits).passed
    stands = plan.text.replace(bent, "".join([on, first, "G4 P1\n", second, off]), 1)
    assert codes(judged(plan, stands)) == {"mark-run"}


def test_a_mark_over_a_hole_is_left_out_there_and_asked_for_nowhere() -> None:
    through = replace(PLATE, marks=(polyline([(70, 30), (115, 30)]),), texts=())
    pieces = [stroke.path for stroke in wanted_strokes(through, Pose())]
    assert [path.points.round(6).tolist() for path in pieces] == [
        [[70, 30], [85, 30]],
        [[105, 30], [115, 30]],
    ]
    p = planned(sheet_of((through, Pose(30, 30)), size=(330, 200)))
    assert judged(p).passed
    assert len(mark_blocks(p.text)) == 2
    whole = p.text.replace(mark_blocks(p.text)[0], mark_blocks(p.text)[0].replace("X115", "X145"), 1)
    assert "mark-stray" in codes(judged(p, whole))


def test_a_mark_off_the_part_is_not_made() -> None:
    over = replace(PLATE, marks=(polyline([(100, 50), (140, 50)]),), texts=())
    (stroke,) = wanted_strokes(over, Pose())
    assert stroke.path.points.round(6).tolist() == [[100, 50], [120, 50]]


def test_a_stroke_made_before_a_restart_is_not_asked_for_and_no_other_is_let_off(plan: Planned) -> None:
    first, second = [cut for cut in plan.cuts.cuts if cut.kind == "mark"][:2]
    text = plan.text.replace(mark_blocks(plan.text)[0], "", 1)
    for made, missing in ((first, False), (second, True)):
        verdict = verify(text, plan.sheet, DATA, MACHINE, dialect=plan.dialect, done=Done(marks=(made,)))
        assert ("mark-missing" in codes(verdict)) == missing
