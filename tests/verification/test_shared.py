"""Shared cuts: what they make, and the proof of it; cut twice, cut short or in another order they are refused."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from sheets import DATA, MACHINE, hole, in_order, sheet_of

from cutplan.cutting import CuttingOptions, Techniques, length_made, make_cuts, shared_stretches
from cutplan.drawing import Part
from cutplan.geometry import Pose, length, polygon
from cutplan.program import find_postprocessor, write_program
from cutplan.record import planned_of
from cutplan.stock import ONE_TORCH
from cutplan.verification import verify

BOTH = replace(DATA, rules=replace(DATA.rules, square_side="both"))
KERF = BOTH.kerf
RECT = Part("rect", polygon([(0, 0), (80, 0), (80, 50), (0, 50)]), (hole(40, 25, 12),))
TRAP = Part("trap", polygon([(0, 0), (100, 0), (75, 45), (25, 45)]))
ACROSS = KERF / math.sin(math.atan2(45, 25))
SHEET = sheet_of(
    *((RECT, Pose(30 + i * (80 + KERF), 30 + j * (50 + KERF))) for i in range(2) for j in range(2)),
    (TRAP, Pose(230, 40)), (TRAP, Pose(230 + 100 + ACROSS + 75, 85, 180)), (TRAP, Pose(230 + 150 + 2 * ACROSS, 40)),
    size=(520.0, 180.0),
)  # fmt: skip
POSTS = (
    "rs274-metric", "rs274-inch", "rs274-heights", "rs274-control-compensation", "rs274-lines-only",
    "rs274-absolute-centres", "rs274-radius-arcs", "rs274-subprograms", "rs274-small-memory", "rs274-numbered",
)  # fmt: skip
OPTIONS = CuttingOptions(techniques=Techniques(shared_cuts=True))


@cache
def ordered():
    made = make_cuts(SHEET, BOTH, OPTIONS)
    assert not [f for f in made.findings if f.kind == "refused"], made.findings
    order = in_order(made.cuts, SHEET)
    last = sorted(order.steps, key=lambda s: (s.cut.kind != "hole", bool(s.cut.frees)))
    return replace(order, steps=tuple(last))


def written(order, post: str = "rs274-metric"):
    voice = find_postprocessor(post)
    program = write_program(order, SHEET, BOTH, MACHINE, voice, name="shared")
    return tuple(f.text for f in program.files), voice.dialect_for(BOTH), planned_of(order.steps, ONE_TORCH)


def judged(texts, dialect, planned):
    return verify(list(texts), SHEET, BOTH, MACHINE, dialect=dialect, planned=planned)


def codes(verdict) -> set[str]:
    return {fault.code for fault in verdict.faults}


def dividers():
    return [step for step in ordered().steps if step.cut.kind == "outside" and not step.cut.frees]


@pytest.mark.parametrize("post", POSTS)
def test_shared_cuts_as_planned_pass_through_every_post_processor(post: str) -> None:
    verdict = judged(*written(ordered(), post))
    assert verdict.is_as_planned, [(f.code, f.message, f.place) for f in verdict.faults]
    assert verdict.parts_freed == 7


def test_a_grid_and_a_row_take_fewer_pierces_and_less_cut_than_their_parts_alone() -> None:
    # Two dividers and a run round for the grid, the same for the row: 6 instead of 7, and 4 holes.
    assert len(ordered().steps) == 4 + 3 + 3
    shared = [
        end - start for step in dividers() for _, _, start, end in shared_stretches(step.cut, step.lead)
    ]
    slant = math.hypot(25, 45)
    # Slid along each other to lie flush, slanted sides meet on a little less than their length.
    slid = ACROSS * math.cos(math.atan2(45, 25))
    assert sum(shared) == pytest.approx(2 * 80 + 2 * 50 + 2 * (slant - slid), abs=0.01)


def test_every_edge_is_made_once() -> None:
    made: dict[tuple[str, int], float] = {}
    for step in ordered().steps:
        for each in step.cut.makes if step.cut.kind == "outside" else ():
            key = each.part, each.copy
            made[key] = made.get(key, 0.0) + length_made(each)
    for (part, _), size in made.items():
        whole = float(length(RECT.outer if part == "rect" else TRAP.outer))
        assert size == pytest.approx(whole, abs=0.01)


def test_parts_are_held_until_the_run_round_their_block() -> None:
    assert all(step.cut.frees == () for step in dividers())
    last = [step.cut.frees for step in ordered().steps if step.cut.frees]
    assert sorted(last) == [(0, 1, 2, 3), (4, 5, 6)]


def test_parts_farther_apart_or_of_a_process_with_one_square_side_are_not_shared() -> None:
    apart = sheet_of((RECT, Pose(30, 30)), (RECT, Pose(30 + 80 + 30, 30)))
    assert all(len(cut.makes) == 1 for cut in make_cuts(apart, BOTH, OPTIONS).cuts)
    one_side = replace(DATA, rules=replace(DATA.rules, square_side="right"))
    made = make_cuts(apart, one_side, OPTIONS)
    assert all(len(cut.makes) == 1 for cut in made.cuts)
    assert ["one side of the kerf is bevelled" in f.message for f in made.findings] == [True]


def test_a_shared_edge_cut_twice_is_refused() -> None:
    order = ordered()
    twice = [s for step in order.steps for s in ([step, step] if step is dividers()[0] else [step])]
    texts, dialect, planned = written(replace(order, steps=tuple(twice)))
    assert "cut-twice" in codes(judged(texts, dialect, planned))
    # As the plan has it once, the totals differ besides.
    assert "totals" in codes(judged(texts, dialect, written(order)[2]))


def test_a_divider_that_stops_short_is_refused() -> None:
    order = ordered()
    step = dividers()[0]
    lead = step.lead
    short = lead.path.vertices.copy()
    short[-2:, :2] += (short[-3, :2] - short[-2, :2]) * 0.3
    path = replace(lead.path, vertices=short) if hasattr(lead.path, "__dataclass_fields__") else None
    path = type(lead.path)(short, closed=False) if path is None else path
    cut = replace(step.cut, choices=(replace(lead, path=path, end=tuple(short[-1, :2].tolist())),))
    steps = [replace(step, cut=cut, choice=0) if s is step else s for s in order.steps]
    verdict = judged(*written(replace(order, steps=tuple(steps)))[:2], written(order)[2])
    assert {"metal-left", "not-free"} & codes(verdict)


def test_the_run_round_a_block_before_its_dividers_is_refused() -> None:
    order = ordered()
    steps = sorted(order.steps, key=lambda s: (s.cut.kind != "hole", not s.cut.frees))
    assert "cut-on-freed" in codes(judged(*written(replace(order, steps=tuple(steps)))))


def test_dividers_begin_clear_of_every_part() -> None:
    for step in dividers():
        for lead in step.cut.choices:
            away = [
                np.hypot(*(np.asarray(lead.pierce) - corner).T).min()
                for made in step.cut.makes
                for corner in [made.contour.points]
            ]
            assert min(away) >= BOTH.rules.pierce_clearance
