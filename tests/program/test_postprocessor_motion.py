"""Whatever the post-processor, the same plan means the same motion."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hand_made_orders import MACHINE, OXYFUEL, PLASMA, bracket_order, tie_plates
from replays import FEED_KINDS, apart, furthest, is_lit_in_rapid, motion_lengths, strokes

from cutplan.control import DWELL, read_program
from cutplan.geometry import FloatArray, chord_points
from cutplan.process import CutData
from cutplan.program import PostProcessor, Program, list_postprocessors, write_program
from cutplan.program.stretches import contour_of
from cutplan.sequencing import Order
from cutplan.stock import NestedPlate

POSTS = {post.name: post for post in list_postprocessors()}
ORDERS = {"tie plates": tie_plates, "brackets": bracket_order}
# What a form adds, mm, to the rounding of ends and centres (half a step in x and in y, each)
# and to the chords of this comparison.
CHORDS_MM = 5e-4
EXTRA_MM = {"rs274-lines-only": 0.01, "rs274-subprograms": 0.0008}
# The control's own offset is led round re-entrant corners by 0.02 mm, √2 − 1 of it in the corner.
COMPENSATED_MM = 0.012


def data_for(post: PostProcessor) -> CutData:
    return OXYFUEL if post.settings.switches.preheat_on else PLASMA


def written(post: PostProcessor, order: Order, sheet: NestedPlate) -> Program:
    return write_program(order, sheet, data_for(post), MACHINE, post, name="PL10-1")


def planned_strokes(order: Order, *, marker: bool = False) -> list[FloatArray]:
    return [
        chord_points(step.lead.path, CHORDS_MM) for step in order.steps if (step.cut.kind == "mark") == marker
    ]


@pytest.mark.parametrize("job", ORDERS)
@pytest.mark.parametrize("name", POSTS)
def test_every_post_processor_replays_to_the_planned_torch_path(name: str, job: str) -> None:
    post = POSTS[name]
    order, sheet = ORDERS[job](data=data_for(post))
    motions = read_program(written(post, order, sheet).text, post.dialect_for(data_for(post)))
    replayed, planned = strokes(motions), planned_strokes(order)
    assert len(replayed) == len(planned)
    if post.settings.compensation is None:
        worst = max(apart(a, b) for a, b in zip(replayed, planned, strict=True))
        rounding = 2 * post.numbers.step_mm * math.sqrt(0.5)
        assert worst <= rounding + 2 * CHORDS_MM + EXTRA_MM.get(name, 0.0)
        return
    # Leads may be entered otherwise where the control offsets; the contour must be the same.
    cuts = [step for step in order.steps if step.cut.kind != "mark"]
    for stroke, path, step in zip(replayed, planned, cuts, strict=True):
        contour = chord_points(contour_of(step.lead), CHORDS_MM)
        assert furthest(contour, stroke) <= COMPENSATED_MM
        assert furthest(stroke, path) <= step.lead.lead_in_length / 8
        assert stroke[0] == pytest.approx(path[0], abs=1e-4)
        assert stroke[-1] == pytest.approx(path[-1], abs=COMPENSATED_MM)


@pytest.mark.parametrize("name", POSTS)
def test_every_post_processor_marks_the_same_lines(name: str) -> None:
    post = POSTS[name]
    order, sheet = tie_plates(2, data_for(post))
    motions = read_program(written(post, order, sheet).text, post.dialect_for(data_for(post)))
    replayed, planned = strokes(motions, marker=True), planned_strokes(order, marker=True)
    assert len(replayed) == len(planned) == 2
    assert max(apart(a, b) for a, b in zip(replayed, planned, strict=True)) <= 0.002


@pytest.mark.parametrize("name", POSTS)
def test_torch_and_marker_are_off_in_every_rapid_and_at_the_end(name: str) -> None:
    post = POSTS[name]
    order, sheet = tie_plates(3, data_for(post))
    motions = read_program(written(post, order, sheet).text, post.dialect_for(data_for(post)))
    assert not is_lit_in_rapid(motions)
    assert not (motions.torch & motions.marker).any()
    assert not (motions.torch[-1] or motions.marker[-1] or motions.flame[-1])
    assert motions.end[-1, :2] == pytest.approx(MACHINE.start)


@pytest.mark.parametrize("name", POSTS)
def test_every_cut_pierces_and_preheats_for_the_time_of_the_cutting_data(name: str) -> None:
    post = POSTS[name]
    data = data_for(post)
    order, sheet = tie_plates(2, data)
    motions = read_program(written(post, order, sheet).text, post.dialect_for(data))
    dwells = motions.dwell_s[motions.kind == DWELL]
    cuts = sum(step.cut.kind != "mark" for step in order.steps)
    each = [data.preheat_s, data.pierce_s] if data.preheat_s else [data.pierce_s]
    assert dwells.tolist() == pytest.approx(each * cuts)
    waiting = (motions.kind == DWELL) & (motions.dwell_s == data.pierce_s)
    assert motions.torch[waiting].all()
    assert not motions.torch[(motions.kind == DWELL) & ~waiting].any()


@pytest.mark.parametrize("name", POSTS)
def test_every_cut_runs_at_the_planned_feed_slower_where_planned(name: str) -> None:
    post = POSTS[name]
    data = data_for(post)
    order, sheet = tie_plates(2, data)
    motions = read_program(written(post, order, sheet).text, post.dialect_for(data))
    level = motions.start[:, 2] == motions.end[:, 2]
    cutting = motions.torch & np.isin(motions.kind, FEED_KINDS) & level
    feeds = motions.feed_mm_min[cutting]
    slack = 0.5 * 25.4 * 10.0**-post.settings.numbers.feed_decimals if post.settings.units == "in" else 0.5
    at_full = np.abs(feeds - data.feed_mm_min) <= slack
    at_corner = np.abs(feeds - 0.6 * data.feed_mm_min) <= slack
    assert (at_full | at_corner).all()
    slow = float(motion_lengths(motions)[cutting][at_corner].sum())
    assert slow == pytest.approx(2 * (4 + 5), abs=0.05)
