"""Tabs in the proof: as planned they pass; shortened, cut through, moved or too few they are refused."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
import shapely
from sheets import DATA, GUSSET, LINK, MACHINE, RING, in_order, sheet_of

from cutplan.control import Dialect
from cutplan.cutting import CuttingOptions, Tabs, Techniques, make_cuts
from cutplan.geometry import Pose
from cutplan.program import find_postprocessor, write_program
from cutplan.record import planned_of
from cutplan.stock import ONE_TORCH
from cutplan.verification import Verdict, skeleton, verify

WIDTH = 3.0
SHEET = sheet_of(
    (GUSSET, Pose(20, 20)), (RING, Pose(200, 100)), (LINK, Pose(330, 120, 90, mirrored=True)),
    size=(430.0, 220.0),
)  # fmt: skip
POSTS = (
    "rs274-metric", "rs274-inch", "rs274-heights", "rs274-control-compensation", "rs274-lines-only",
    "rs274-absolute-centres", "rs274-radius-arcs", "rs274-subprograms", "rs274-small-memory", "rs274-numbered",
)  # fmt: skip


@cache
def planned(post: str = "rs274-metric", count: int = 2):
    made = make_cuts(
        SHEET, DATA, CuttingOptions(techniques=Techniques(tabs=Tabs(count=count, width_mm=WIDTH)))
    )
    assert len(made.tabs) == 3 * count
    order = in_order(made.cuts, SHEET)
    voice = find_postprocessor(post)
    program = write_program(order, SHEET, DATA, MACHINE, voice, name="tabs")
    return (
        tuple(file.text for file in program.files),
        voice.dialect_for(DATA),
        planned_of(order.steps, ONE_TORCH, made.tabs),
    )


def judge(texts, dialect: Dialect, plan) -> Verdict:
    return verify(list(texts), SHEET, DATA, MACHINE, dialect=dialect, planned=plan)


def codes(verdict: Verdict) -> set[str]:
    return {fault.code for fault in verdict.faults}


@pytest.mark.parametrize("count", [1, 2, 3])
@pytest.mark.parametrize("post", POSTS)
def test_tabs_as_planned_pass_through_every_post_processor(post: str, count: int) -> None:
    verdict = judge(*planned(post, count))
    assert verdict.is_as_planned, [(f.code, f.message) for f in verdict.faults]
    assert verdict.parts_freed == 0


def last_moves(text: str) -> list[int]:
    """Lines of the last move of each run of the torch on an outside."""
    lines = text.splitlines()
    found, outside = [], False
    for k, line in enumerate(lines):
        if line.startswith("(cut"):
            outside = "outside" in line
        elif line == "M5" and outside:
            found.append(k - 1)
    return found


def moved(text: str, line: int, by: float, axis: str) -> str:
    lines = text.splitlines()
    words = lines[line].split()
    for k, word in enumerate(words):
        if word[0] == axis:
            words[k] = f"{axis}{float(word[1:]) + by:.3f}"
            lines[line] = " ".join(words)
            return "\n".join(lines) + "\n"
    return text


@pytest.mark.parametrize("by", [-3.5, -1.0, -0.2, 0.2, 1.0, 3.5, 8.0, -8.0])
def test_a_tab_made_narrower_or_wider_or_cut_through_is_refused(by: float) -> None:
    (text,), dialect, plan = planned()
    tried = 0
    for line in last_moves(text):
        # Only straight runs end along an axis here, so only these are moved along their edge.
        words = text.splitlines()[line].split()
        axes = [word[0] for word in words if word[0] in "XY"]
        if len(axes) != 1 or any(word[0] in "IJ" for word in words):
            continue
        tried += 1
        verdict = judge((moved(text, line, by, axes[0]),), dialect, plan)
        assert codes(verdict) & {"tab", "metal-left", "bite"}, (line, by)
    assert tried


def test_a_change_within_the_tolerance_is_none() -> None:
    (text,), dialect, plan = planned()
    line = next(k for k in last_moves(text) if "I" not in text.splitlines()[k])
    axis = next(word[0] for word in text.splitlines()[line].split() if word[0] in "XY")
    assert "tab" not in codes(judge((moved(text, line, 0.04, axis),), dialect, plan))


def test_a_plan_of_other_tabs_does_not_fit_the_program() -> None:
    texts, dialect, plan = planned()
    wider = replace(plan, tabs=tuple(replace(tab, width_mm=WIDTH + 0.2) for tab in plan.tabs))
    assert "tab" in codes(judge(texts, dialect, wider))
    elsewhere = replace(
        plan, tabs=(replace(plan.tabs[0], span=tuple(s + 1.0 for s in plan.tabs[0].span)), *plan.tabs[1:])
    )
    assert codes(judge(texts, dialect, elsewhere)) & {"tab", "metal-left"}


def test_metal_left_where_no_tab_is_planned_is_refused() -> None:
    texts, dialect, plan = planned()
    fewer = replace(plan, tabs=plan.tabs[1:])
    assert "metal-left" in codes(judge(texts, dialect, fewer))


def test_a_part_without_planned_tabs_must_come_loose() -> None:
    texts, dialect, plan = planned()
    assert "not-free" in codes(judge(texts, dialect, replace(plan, tabs=())))


def test_what_is_left_of_the_plate_is_without_the_parts_that_tabs_hold() -> None:
    texts, dialect, _ = planned()
    left = skeleton(texts, SHEET, DATA, dialect=dialect)
    assert not left.contains(shapely.Point(25.0, 25.0))
    assert left.contains(shapely.Point(5.0, 5.0))
