"""Parts are finished one after another: few are begun and not finished at once."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from disc_sheets import disc_cut, plasma_data, sheet_of_discs, steel_plate
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations
from cutplan.cutting import Cut
from cutplan.geometry import polygon
from cutplan.sequencing import Order, Pin, SequenceOptions, Which, sequence
from cutplan.sequencing.begun import overs
from cutplan.sequencing.formulate import formulate
from cutplan.sequencing.linked import empty_tour, link, order_of, unlink

FREE = 1000


def ordered(cuts: list[Cut], **wishes) -> Order:
    stop = MaxIterations(wishes.pop("work", 2000))
    options = SequenceOptions(**wishes)
    return sequence(cuts, Machine(), plasma_data(), steel_plate(3000, 3000), options=options, stop=stop)


def rows_of_strips(seed: int) -> list[Cut]:
    """Return long strips side by side with holes along them: the next hole is that of the next strip."""
    random = np.random.default_rng(seed)
    cuts: list[Cut] = []
    for row in range(10):
        y = 100.0 + 60.0 * row
        for hole in range(6):
            x = 100.0 + 300.0 * hole + float(random.uniform(-20, 20))
            cuts.append(disc_cut((x, y), 12.0, kind="hole", placement=row, hole=hole))
        edge = polygon([(50.0, y - 25.0), (1700.0, y - 25.0), (1700.0, y + 25.0), (50.0, y + 25.0)])
        corner = disc_cut((1700.0, y + 25.0), 1.0, placement=row)
        cuts.append(replace(corner, makes=(replace(corner.makes[0], contour=edge),)))
    return cuts


def begun_at_once(order: Order) -> int:
    """Count anew, from what a watcher of the table would see."""
    names = [
        (step.cut.makes[0].part, step.cut.makes[0].copy) for step in order.steps if step.cut.kind != "mark"
    ]
    return max(
        sum(name in names[: k + 1] and name in names[k + 1 :] for name in set(names))
        for k in range(len(names))
    )


@pytest.mark.parametrize("cap", [1, 2, 5])
@pytest.mark.parametrize("seed", [0, 1])
def test_no_more_parts_are_open_than_the_shop_wants(cap: int, seed: int) -> None:
    cuts = rows_of_strips(seed)
    order = ordered(cuts, open_parts=cap)
    assert 0 < begun_at_once(order) == order.open_parts <= cap
    # Without the cap the same search opens more, so the cap is what keeps them few.
    assert begun_at_once(ordered(cuts, open_parts=FREE)) > 5


def test_the_cap_is_shared_by_torches_that_burn_in_step() -> None:
    cuts = rows_of_strips(3)
    order = ordered(cuts, open_parts=5, torch_shifts=(0.0, 700.0))
    assert begun_at_once(order) <= 2


def test_a_cap_that_a_pin_forbids_is_missed_by_no_more_than_the_pin_asks() -> None:
    cuts = [
        disc_cut((300.0 + 250.0 * i, 300.0), radius, kind=kind, placement=i, hole=hole)
        for i in range(8)
        for radius, kind, hole in ((20, "hole", 0), (100, "outside", None))
    ]
    first, then = Which(kind="hole"), Which(kind="outside")
    assert begun_at_once(ordered(cuts, open_parts=2)) <= 2
    assert begun_at_once(ordered(cuts, open_parts=2, pin=(Pin(first, then),))) == 8


def test_a_limit_on_heat_outweighs_the_cap_but_a_mere_wish_for_cool_starts_does_not() -> None:
    cuts = [
        disc_cut(
            (x + 26.0 * math.cos(turn), y + 26.0 * math.sin(turn)), 8.0, kind="hole", placement=i, hole=k
        )
        for i, (x, y) in enumerate([(200.0, 200.0), (1500.0, 200.0), (200.0, 1500.0), (1500.0, 1500.0)])
        for k, turn in enumerate(np.arange(6) * math.pi / 3)
    ]
    cuts += [disc_cut((x, y), 60.0, placement=i) for i, (x, y) in enumerate(_middles(cuts, 4))]
    warm = ordered(cuts, open_parts=1)
    assert (warm.open_parts, ordered(cuts, open_parts=1, heat_weight_s=5.0).open_parts) == (1, 1)
    cool = ordered(cuts, open_parts=1, hottest_start_c=warm.hottest_start_c - 20.0)
    assert cool.open_parts == begun_at_once(cool) > 1
    assert cool.hottest_start_c < warm.hottest_start_c - 5.0


def _middles(cuts: list[Cut], parts: int) -> list[tuple[float, float]]:
    points = [
        [cut.makes[0].contour.points.mean(axis=0) for cut in cuts if cut.makes[0].placement == i]
        for i in range(parts)
    ]
    return [(float(x), float(y)) for x, y in (np.mean(some, axis=0) for some in points)]


def test_narrow_webs_last_and_bands_keep_the_cap() -> None:
    cuts = sheet_of_discs(24, 4, seed=4, pitch=150.0)
    order = ordered(cuts, open_parts=3, narrow_webs_last=True, narrow_web_mm=30.0, towards="x+")
    assert begun_at_once(order) <= 3


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_what_is_open_is_kept_up_to_date_through_every_insertion_and_removal(seed: int) -> None:
    random = np.random.default_rng(seed)
    cuts = sheet_of_discs(8, 3, seed=seed)
    options = SequenceOptions(open_parts=1)
    free = [set() for _ in cuts]
    problem = formulate(
        cuts, Machine(), options, free, np.ones(len(cuts), dtype=np.int64), np.zeros(len(cuts), dtype=bool)
    )
    tour, over = empty_tour(problem), 0
    left = np.zeros(len(problem.members_at) - 1, dtype=np.int64)
    inside: list[int] = []
    for stop in [*random.permutation(len(cuts)), *random.integers(0, len(cuts), 12)]:
        if stop in inside:
            over += unlink(problem, tour, stop)
            inside.remove(stop)
        else:
            after = int(random.choice([*inside, len(cuts)]))
            over += link(problem, tour, stop, after, problem.first[stop])
            inside.append(int(stop))
        assert over == _counted(problem, order_of(tour), left)


def _counted(problem, order, left) -> int:
    """Return the over of a part of an order, by its definition."""
    units = [int(problem.unit[stop]) for stop in order]
    open_on = [
        sum(unit >= 0 and unit in units[: k + 1] and unit in units[k + 1 :] for unit in set(units))
        for k in range(len(units))
    ]
    counted = sum(max(0, count - problem.most_open) for count in open_on)
    if len(order) == len(problem.first) - 1:
        assert overs(problem, order, left) == counted
    return counted
