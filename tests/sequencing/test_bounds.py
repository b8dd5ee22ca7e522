"""No round costs less than its bound, with stages or without, and the bound heeds the stages."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from disc_sheets import plasma_data, sheet_of_discs, steel_plate

from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations
from cutplan.geometry import FloatArray
from cutplan.sequencing import SequenceOptions, sequence
from cutplan.sequencing.bounding import one_tree_bound
from cutplan.sequencing.problem import IntArray


def least_round(weights: FloatArray, stage: IntArray) -> float:
    """Return the cost of the cheapest round from the last node whose stages never fall, by trying all."""
    home, best = len(weights) - 1, np.inf
    for order in itertools.permutations(range(home)):
        if (np.diff(stage[list(order)]) >= 0).all():
            ring = [home, *order, home]
            best = min(best, float(weights[ring[:-1], ring[1:]].sum()))
    return best


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("stages", [1, 2, 3])
def test_no_round_of_few_places_costs_less_than_the_bound(stages: int, seed: int) -> None:
    random = np.random.default_rng(seed)
    points = random.uniform(0.0, 100.0, (8, 2))
    weights = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    stage = (np.arange(7) % stages).astype(np.int64)
    least = least_round(weights, stage)
    assert 0.6 * least < one_tree_bound(weights, 200, stage) <= least + 1e-9


def test_a_second_round_over_the_same_places_is_heeded() -> None:
    points = np.array([(100.0 * i, 100.0 * j) for i in range(5) for j in range(4)])
    points = np.vstack([points, points + 1.0, [(-50.0, -50.0)]])
    weights = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    at_once = one_tree_bound(weights, 200, np.zeros(40, dtype=np.int64))
    in_turn = one_tree_bound(weights, 200, np.repeat([0, 1], 20).astype(np.int64))
    assert in_turn > 1.7 * at_once


@pytest.mark.parametrize("options", [SequenceOptions(), SequenceOptions(towards="x+", return_home=False)])
def test_the_bound_of_the_starts_chosen_lies_between_that_of_all_and_the_travel(
    options: SequenceOptions,
) -> None:
    cuts = sheet_of_discs(8, 2)
    order = sequence(cuts, Machine(), plasma_data(), steel_plate(), options=options, stop=MaxIterations(1500))
    at_starts = order.statistics["bound_at_starts_s"]
    assert order.bound_s <= at_starts + 1e-6
    assert at_starts <= order.travel_s + 1e-6
    assert at_starts > 0.9 * order.travel_s
