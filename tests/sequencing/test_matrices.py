"""The planner's search over a matrix: the best of all where all can be tried, and always within the precedences."""

from __future__ import annotations

import itertools
import math
import runpy
from pathlib import Path

import numpy as np
import pytest

from cutplan.base.stopping import MaxIterations
from cutplan.geometry import FloatArray

BENCHMARK = runpy.run_path(str(Path(__file__).parents[2] / "benchmarks" / "sequencing.py"))
path_order, round_order = BENCHMARK["path_order"], BENCHMARK["round_order"]


def random_case(n: int, pairs: int, seed: int) -> tuple[FloatArray, list[set[int]]]:
    """Return a random lopsided matrix, and precedences along a hidden order of the nodes."""
    random = np.random.default_rng(seed)
    matrix = random.integers(1, 100, (n, n)).astype(np.float64)
    hidden = [0, *(random.permutation(n - 2) + 1).tolist(), n - 1]
    before: list[set[int]] = [set() for _ in range(n)]
    for _ in range(pairs):
        i, j = sorted(random.choice(n, 2, replace=False).tolist())
        before[hidden[j]].add(hidden[i])
    return matrix, before


def keeps(order: list[int], before: list[set[int]]) -> bool:
    """Whether each node follows all that must come before it."""
    position = {node: k for k, node in enumerate(order)}
    return all(position[i] < position[j] for j in range(len(order)) for i in before[j])


def length_of(matrix: FloatArray, order: list[int]) -> float:
    return float(sum(matrix[i, j] for i, j in itertools.pairwise(order)))


def least_path(matrix: FloatArray, before: list[set[int]]) -> float:
    """Return the length of the shortest path allowed, by trying all."""
    n = len(matrix)
    best = math.inf
    for middle in itertools.permutations(range(1, n - 1)):
        order = [0, *middle, n - 1]
        if keeps(order, before):
            best = min(best, length_of(matrix, order))
    return best


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("pairs", [0, 4, 9])
def test_the_path_found_is_the_shortest_of_all_on_small_cases(seed: int, pairs: int) -> None:
    matrix, before = random_case(8, pairs, seed)
    found = path_order(matrix, before, seed, MaxIterations(2000))
    assert keeps(found, before)
    assert length_of(matrix, found) == least_path(matrix, before)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("n", "pairs"), [(3, 1), (4, 2), (5, 3), (30, 20), (60, 400), (60, 1500)])
def test_every_path_visits_each_node_once_within_random_precedences(n: int, pairs: int, seed: int) -> None:
    matrix, before = random_case(n, pairs, seed)
    order = path_order(matrix, before, seed, MaxIterations(1500))
    assert sorted(order) == list(range(n))
    assert (order[0], order[-1]) == (0, n - 1)
    assert keeps(order, before)


def test_more_work_shortens_the_first_path_and_the_same_seed_gives_the_same() -> None:
    matrix, before = random_case(60, 60, 3)
    first, found, again = (path_order(matrix, before, 0, MaxIterations(n)) for n in (0, 3000, 3000))
    assert length_of(matrix, found) < 0.9 * length_of(matrix, first)
    assert found == again


def test_nodes_in_one_chain_leave_only_one_path() -> None:
    matrix, _ = random_case(12, 0, 0)
    before = [set(), *({i - 1} for i in range(1, 12))]
    assert path_order(matrix, before, 0, MaxIterations(500)) == list(range(12))


@pytest.mark.parametrize("seed", range(4))
def test_the_round_tour_is_the_shortest_of_all_on_small_cases(seed: int) -> None:
    points = np.random.default_rng(seed).uniform(0, 100, (8, 2))
    matrix = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    found = round_order(matrix, seed, MaxIterations(500))
    best = min(length_of(matrix, [0, *order, 0]) for order in itertools.permutations(range(1, 8)))
    assert found[0] == 0
    assert length_of(matrix, [*found, 0]) == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("n", [1, 2, 3, 5, 9])
def test_tours_of_few_nodes_visit_each_once(n: int) -> None:
    points = np.random.default_rng(n).uniform(0, 100, (n, 2))
    matrix = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    assert sorted(round_order(matrix, 0, MaxIterations(500))) == list(range(n))


def test_points_on_a_circle_are_visited_round_it() -> None:
    turn = np.random.default_rng(0).permutation(200) * (2.0 * math.pi / 200)
    points = np.column_stack([np.cos(turn), np.sin(turn)])
    matrix = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    found = round_order(matrix, 0, MaxIterations(1000))
    assert length_of(matrix, [*found, found[0]]) == pytest.approx(400.0 * math.sin(math.pi / 200), rel=1e-9)
