"""The arc goes out before the end of a hole while the torch moves on, and the hole is closed all the same."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from sheets import DATA, DISC, MACHINE, RING, RULES, Planned, planned, sheet_of

from cutplan.geometry import Pose
from cutplan.verification import Verdict, verify

EARLY = replace(DATA, rules=replace(RULES, arc_off_before=1.5))


@cache
def early(post: str = "rs274-metric") -> Planned:
    return planned(sheet_of((DISC, Pose(60, 60)), size=(120, 120)), EARLY, post=post)


def judge(p: Planned, text: str | None = None, data: object = None) -> Verdict:
    return verify(
        p.text if text is None else text,
        p.sheet,
        data or p.data,  # type: ignore[arg-type]
        MACHINE,
        dialect=p.dialect,
        planned=p.cuts,
    )


def codes(verdict: Verdict) -> set[str]:
    return {fault.code for fault in verdict.faults}


def lines_of(p: Planned) -> tuple[list[str], int]:
    """The program's lines, and the one that puts the hole's arc out."""
    lines = p.text.splitlines()
    return lines, lines.index("M5", lines.index("M3"))


@pytest.mark.parametrize(
    "post",
    ["rs274-metric", "rs274-heights", "rs274-lines-only", "rs274-subprograms", "rs274-control-compensation"],
)
def test_an_arc_that_goes_out_on_its_way_closes_the_hole_first(post: str) -> None:
    p = early(post)
    verdict = judge(p)
    assert verdict.is_as_planned, verdict.faults[:3]
    lines, off = lines_of(p)
    assert lines[off + 1].startswith(("G1 X", "G2 X", "G3 X")) and " F" in lines[off + 1]
    wide = planned(sheet_of((RING, Pose(70, 70)), size=(140, 140)), EARLY, post=post)
    assert judge(wide).is_as_planned, judge(wide).faults[:3]
    # The outside ends with its arc, as ever.
    assert p.text.count("\nM5\nG0") == 1


def test_an_arc_that_goes_out_elsewhere_is_a_fault() -> None:
    p = early()
    lines, off = lines_of(p)
    cut, coast = lines[off - 1], lines[off + 1]
    late = [*lines[:off], coast, "M5", *lines[off + 2 :]]
    earlier = [*lines[: off - 1], "M5", cut, coast, *lines[off + 2 :]]
    stops = [*lines[: off + 1], "G4 P1", *lines[off + 1 :]]
    left_out = [*lines[: off + 1], *lines[off + 2 :]]
    for text, wanted in (
        (late, "arc-off"),
        (earlier, "over-burn"),
        (stops, "arc-off"),
        (left_out, "arc-off"),
    ):
        assert wanted in codes(judge(p, "\n".join(text)))
    # A way on that leaves the kerf, as long as the right one.
    x, y = (float(word[1:]) for word in cut.split() if word[0] in "XY")
    aside = [*lines[: off + 1], f"G1 X{x} Y{y + 1.5:.3f} F{EARLY.feed_mm_min * 0.6:g}", *lines[off + 2 :]]
    assert "arc-off" in codes(judge(p, "\n".join(aside)))


def test_the_torch_moves_on_at_its_cutting_height() -> None:
    p = early("rs274-heights")
    lines, off = lines_of(p)
    low = [*lines[: off + 1], f"{lines[off + 1]} Z1", *lines[off + 2 :]]
    assert "height" in codes(judge(p, "\n".join(low)))


def test_data_without_an_early_arc_off_refuse_one() -> None:
    assert codes(judge(early(), data=DATA)) & {"over-burn", "totals"}
