"""Cuts through the plate itself in the proof: as planned they pass; moved, short or too many they are refused."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from sheets import DATA, GUSSET, LINK, MACHINE, in_order, sheet_of

from cutplan.cutting import CuttingOptions, RestCut, Techniques, make_cuts
from cutplan.geometry import Pose
from cutplan.program import find_postprocessor, write_program
from cutplan.record import planned_of
from cutplan.stock import ONE_TORCH
from cutplan.verification import verify

SHEET = sheet_of((GUSSET, Pose(20, 20)), (LINK, Pose(40, 120)), size=(600.0, 220.0))
POSTS = (
    "rs274-metric", "rs274-inch", "rs274-heights", "rs274-control-compensation", "rs274-lines-only",
    "rs274-subprograms", "rs274-numbered",
)  # fmt: skip


@cache
def planned(post: str = "rs274-metric"):
    asked = Techniques(rest_cut=RestCut(keep_mm=(200, 200)))
    made = make_cuts(SHEET, DATA, CuttingOptions(techniques=asked))
    order = in_order(made.cuts, SHEET)
    voice = find_postprocessor(post)
    program = write_program(order, SHEET, DATA, MACHINE, voice, name="rest")
    texts = tuple(file.text for file in program.files)
    return texts, voice.dialect_for(DATA), planned_of(order.steps, ONE_TORCH)


def judge(texts, dialect, plan):
    return verify(list(texts), SHEET, DATA, MACHINE, dialect=dialect, planned=plan)


def codes(verdict):
    return {fault.code for fault in verdict.faults}


@pytest.mark.parametrize("post", POSTS)
def test_a_rest_cut_as_planned_passes_through_every_post_processor(post: str) -> None:
    verdict = judge(*planned(post))
    assert verdict.is_as_planned, [(f.code, f.message) for f in verdict.faults]
    assert verdict.parts_freed == 2


def rest_lines(text: str) -> list[str]:
    lines = text.splitlines()
    first = next(k for k, line in enumerate(lines) if line.startswith("(cut") and "rest" in line)
    last = next(k for k in range(first, len(lines)) if lines[k] == "M5")
    return lines[first:last]


def changed(text: str, old: str, new: str) -> str:
    """Return a program with a line of its rest cut changed, or left out."""
    block = rest_lines(text)
    assert old in block
    fresh = [line if line != old else new for line in block]
    return text.replace("\n".join(block), "\n".join(line for line in fresh if line))


def test_a_rest_cut_that_is_moved_or_stops_short_is_refused() -> None:
    (text,), dialect, plan = planned()
    (rest,) = [cut for cut in plan.cuts if cut.kind == "rest"]
    at = f"X{rest.place[0]:g}"
    assert text.count(at) == 1
    aside = text.replace(at, f"X{rest.place[0] + 0.3:g}")
    assert "scrap-cut" in codes(judge((aside,), dialect, plan))
    moves = [line for line in rest_lines(text) if line[0] in "GXY"]
    last = moves[-1]
    y = next(word for word in last.split() if word[0] == "Y")
    inward = 30.0 if float(y[1:]) < 0.0 else -30.0
    short = changed(text, last, last.replace(y, f"Y{float(y[1:]) + inward:.3f}"))
    assert codes(judge((short,), dialect, plan)) & {"scrap-cut", "totals"}


def test_a_run_beside_the_plate_is_a_rest_cuts_alone() -> None:
    texts, dialect, plan = planned()
    as_hole = replace(plan, cuts=tuple(replace(cut, kind="outside", way=()) for cut in plan.cuts))
    assert codes(judge(texts, dialect, as_hole)) >= {"extra-cut", "off-plate"}


def test_a_rest_cut_through_a_part_is_refused_even_where_the_plan_has_it() -> None:
    (text,), dialect, plan = planned()
    (rest,) = [cut for cut in plan.cuts if cut.kind == "rest"]
    at = f"X{rest.place[0]:g}"
    through = text.replace(at, "X60")
    way = tuple((60.0, y, bulge) for _, y, bulge in rest.way)
    moved = replace(rest, place=(60.0, rest.place[1]), end=(60.0, rest.end[1]), way=way)
    other = replace(plan, cuts=tuple(moved if cut is rest else cut for cut in plan.cuts))
    assert codes(judge((through,), dialect, other)) & {"bite", "cut-on-freed"}
