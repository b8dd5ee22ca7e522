"""Exchanges of runs keep what must come before what, and reckon what they cost."""

from __future__ import annotations

import runpy
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from cutplan.base.randomness import new_stream
from cutplan.sequencing.exchanges import exchange, exchanges_of, line_of
from cutplan.sequencing.problem import IntArray, Problem

BENCHMARK = runpy.run_path(str(Path(__file__).parents[2] / "benchmarks" / "sequencing.py"))


def a_problem(n: int, pairs: int, seed: int) -> Problem:
    """Return a lopsided matrix with precedences along the numbers of its nodes, and two stages."""
    random = np.random.default_rng(seed)
    before: list[set[int]] = [set() for _ in range(n)]
    for _ in range(pairs):
        i, j = sorted(random.choice(n - 2, 2, replace=False) + 1)
        before[j].add(int(i))
    problem, _ = BENCHMARK["matrix_problem"](random.integers(1, 100, (n, n)).astype(np.float64), before)
    stage = np.repeat([0, 1], [n // 3, n - n // 3])
    stage[n - 2] = 0
    return problem._replace(stage=stage.astype(np.int64))


def length_of(problem: Problem, order: IntArray) -> float:
    return float(sum(problem.matrix[p, q] for p, q in pairwise(order.tolist())))


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("pairs", [0, 30, 200])
def test_what_is_exchanged_keeps_precedences_and_stages_and_costs_what_is_told(pairs: int, seed: int) -> None:
    problem = a_problem(40, pairs, seed)
    first = np.array([38, *range(38), 39], dtype=np.int64)
    line, best = line_of(problem, first, np.arange(40)), first.copy()
    costs = np.full(2, length_of(problem, first))
    assert exchange(problem, exchanges_of(problem), line, best, costs, 5.0, 300, new_stream(seed)) > 0
    for order, cost in ((line.order, costs[0]), (best, costs[1])):
        assert sorted(order) == list(range(40)) and (order[0], order[-1]) == (38, 39)
        assert cost == pytest.approx(length_of(problem, order), abs=1e-6)
        position = np.argsort(order)
        assert (np.diff(problem.stage[order[1:-1]]) >= 0).all()
        for stop in range(38):
            earlier = problem.before[problem.before_at[stop] : problem.before_at[stop + 1]]
            assert (position[earlier] < position[stop]).all()
    assert costs[1] < 0.8 * length_of(problem, first)


def test_two_long_runs_the_wrong_way_round_are_exchanged_at_once() -> None:
    n = 42
    matrix = np.full((n, n), 50.0)
    wanted = [0, *range(21, 41), *range(1, 21), n - 1]
    for i, j in pairwise(wanted):
        matrix[i, j] = 1.0
    problem, nodes = BENCHMARK["matrix_problem"](matrix, [set() for _ in range(n)])
    first = np.array([n - 2, *range(n - 2), n - 1], dtype=np.int64)
    line, costs = line_of(problem, first, np.arange(n)), np.full(2, length_of(problem, first))
    best = first.copy()
    exchange(problem, exchanges_of(problem), line, best, costs, 1e-3, 50, new_stream(0))
    assert [nodes[stop] for stop in best] == wanted
