"""The order found is the best there is on small sheets, and the bound is never above it."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from disc_sheets import disc_cut, plasma_data, sheet_of_discs, steel_plate

from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations, MaxSeconds
from cutplan.cutting import Cut
from cutplan.sequencing import SequenceOptions, sequence
from cutplan.sequencing.anneal import CHUNK
from cutplan.sequencing.precedence import must_precede, precedence_graph
from cutplan.sequencing.problem import motion_array, move_time

MACHINE = Machine()


def travel_s(length: float) -> float:
    """Time of a move from rest to rest, by the textbook: up the ramp, along, and down again."""
    speed, acceleration = MACHINE.rapid_mm_min / 60.0, MACHINE.acceleration_mm_s2
    ramp = speed**2 / acceleration
    if length >= ramp:
        return 2.0 * speed / acceleration + (length - ramp) / speed
    return 2.0 * math.sqrt(length / acceleration)


@pytest.mark.parametrize("length", [0.0, 1.0, 100.0, 222.0, 223.0, 3000.0])
def test_travel_takes_the_time_of_kinematics(length: float) -> None:
    motion = motion_array(MACHINE.rapid_mm_min / 60.0, MACHINE.acceleration_mm_s2)
    assert move_time(motion, length) == pytest.approx(travel_s(length), abs=1e-12)


def least_travel(cuts: list[Cut], *, home: bool = True) -> float:
    """Return the least travel of all orders and leads, by trying all orders, leads by layers."""
    before = must_precede(precedence_graph(cuts, SequenceOptions()), len(cuts))
    best = math.inf
    for order in itertools.permutations(range(len(cuts))):
        if any(j in order[k:] for k, i in enumerate(order) for j in before[i]):
            continue
        ends = {MACHINE.start: 0.0}
        for i in order:
            ends = {
                lead.end: min(cost + travel_s(math.dist(end, lead.pierce)) for end, cost in ends.items())
                for lead in cuts[i].choices
            }
        last = travel_s if home else (lambda length: 0.0)
        best = min(best, *(cost + last(math.dist(end, MACHINE.start)) for end, cost in ends.items()))
    lifts = len(cuts) * (MACHINE.raise_s + MACHINE.lower_s) - (0.0 if home else MACHINE.raise_s)
    return best + lifts


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("home", [True, False])
def test_on_small_sheets_the_order_is_the_best_of_all_and_the_bound_below_it(seed: int, home: bool) -> None:
    cuts = sheet_of_discs(3, 2, seed=seed)[:6]
    options = SequenceOptions(return_home=home, crossing_weight_s=0.0)
    order = sequence(cuts, MACHINE, plasma_data(), steel_plate(), options=options, stop=MaxIterations(1500))
    best = least_travel(cuts, home=home)
    assert order.travel_s == pytest.approx(best, abs=1e-6)
    assert order.bound_s <= best + 1e-6
    assert order.bound_s > 0.5 * best
    assert order.statistics["gap"] == pytest.approx(order.travel_s / order.bound_s - 1.0)


def test_the_bound_of_one_and_two_cuts_is_the_travel_itself_or_below() -> None:
    for count in (1, 2):
        cuts = [disc_cut((300.0 * (i + 1), 400.0), 60, placement=i) for i in range(count)]
        order = sequence(cuts, MACHINE, plasma_data(), steel_plate(), stop=MaxIterations(500))
        assert order.bound_s <= order.travel_s + 1e-9
        assert order.bound_s > 0.8 * order.travel_s


def test_a_poorer_start_is_taken_only_where_it_saves_its_penalty() -> None:
    from dataclasses import replace

    cut = disc_cut((500, 500), 100)
    order = sequence([cut], MACHINE, plasma_data(), steel_plate(), stop=MaxIterations(500))
    dear = replace(cut.choices[order.steps[0].choice], penalty_s=100.0)
    choices = tuple(dear if i == order.steps[0].choice else lead for i, lead in enumerate(cut.choices))
    again = sequence(
        [replace(cut, choices=choices)], MACHINE, plasma_data(), steel_plate(), stop=MaxIterations(500)
    )
    assert again.steps[0].choice != order.steps[0].choice


def test_the_order_beats_the_nearest_next_cut_clearly() -> None:
    cuts = sheet_of_discs(40, 2, seed=5)
    order = sequence(cuts, MACHINE, plasma_data(), steel_plate(9000, 9000), stop=MaxIterations(4000))
    before = must_precede(precedence_graph(cuts, SequenceOptions()), len(cuts))
    done: set[int] = set()
    at, greedy = MACHINE.start, 0.0
    while len(done) < len(cuts):
        free = [i for i in range(len(cuts)) if i not in done and before[i] <= done]
        leads = [
            (travel_s(math.dist(at, lead.pierce)), i, lead.end) for i in free for lead in cuts[i].choices
        ]
        seconds, i, at = min(leads)
        greedy += seconds
        done.add(i)
    greedy += travel_s(math.dist(at, MACHINE.start))
    lifts = len(cuts) * (MACHINE.raise_s + MACHINE.lower_s)
    assert order.travel_s - lifts < 0.85 * greedy


def test_a_limit_in_seconds_ends_the_search_by_the_clock() -> None:
    ticks = itertools.count()
    stop = MaxSeconds(3.0, clock=lambda: float(next(ticks)))
    order = sequence(sheet_of_discs(6), MACHINE, plasma_data(), steel_plate(), stop=stop)
    assert order.statistics["iterations"] == 2 * CHUNK


def test_progress_is_told_and_the_travel_never_grows() -> None:
    told: list[tuple[float, float]] = []
    sequence(
        sheet_of_discs(10), MACHINE, plasma_data(), steel_plate(), stop=MaxIterations(3000),
        progress=lambda share, best: told.append((share, best)),
    )  # fmt: skip
    assert len(told) == 3000 // CHUNK
    assert (np.diff([best for _, best in told]) <= 0.0).all()


def test_an_interrupt_keeps_the_best_order_so_far() -> None:
    def interrupted(work: int, best: float) -> float:
        if work >= 1000:
            raise KeyboardInterrupt
        return 0.1

    order = sequence(sheet_of_discs(8), MACHINE, plasma_data(), steel_plate(), stop=interrupted)
    assert len(order.steps) == len(sheet_of_discs(8))
