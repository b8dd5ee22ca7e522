"""Orders over a matrix: the best of all where all can be tried, and always within the precedences."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from cutplan.base.errors import SequencingError
from cutplan.base.stopping import MaxIterations, MaxSeconds
from cutplan.geometry import FloatArray
from cutplan.sequencing.matrices import path_under_precedence, round_tour


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


def least_path(matrix: FloatArray, before: list[set[int]]) -> float:
    """Return the length of the shortest path allowed, by trying all."""
    n = len(matrix)
    best = math.inf
    for middle in itertools.permutations(range(1, n - 1)):
        order = [0, *middle, n - 1]
        if keeps(order, before):
            best = min(best, sum(matrix[i, j] for i, j in itertools.pairwise(order)))
    return best


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize("pairs", [0, 4, 9])
def test_the_path_found_is_the_shortest_of_all_on_small_cases(seed: int, pairs: int) -> None:
    matrix, before = random_case(8, pairs, seed)
    found = path_under_precedence(matrix, before, seed=seed, stop=MaxIterations(1000))
    assert keeps(found.order.tolist(), before)
    assert found.length == least_path(matrix, before)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize(("n", "pairs"), [(2, 0), (3, 1), (4, 2), (5, 3), (30, 20), (60, 400), (60, 1500)])
def test_every_path_visits_each_node_once_within_random_precedences(n: int, pairs: int, seed: int) -> None:
    matrix, before = random_case(n, pairs, seed)
    found = path_under_precedence(matrix, before, seed=seed, stop=MaxIterations(1500))
    order = found.order.tolist()
    assert sorted(order) == list(range(n))
    assert (order[0], order[-1]) == (0, n - 1)
    assert keeps(order, before)
    assert found.length == sum(matrix[i, j] for i, j in itertools.pairwise(order))


def test_more_work_never_lengthens_the_best_path_and_shortens_the_first_one() -> None:
    matrix, before = random_case(60, 60, 3)
    first = path_under_precedence(matrix, before, seed=0, stop=MaxIterations(0))
    found = path_under_precedence(matrix, before, seed=0, stop=MaxIterations(2000))
    assert first.kicks == 0
    assert found.length < 0.8 * first.length


def test_the_same_seed_gives_the_same_path_and_tour() -> None:
    matrix, before = random_case(40, 60, 1)
    paths = [path_under_precedence(matrix, before, seed=5, stop=MaxIterations(1000)).order for _ in range(2)]
    assert (paths[0] == paths[1]).all()
    matrix = matrix + matrix.T
    tours = [round_tour(matrix, seed=5, stop=MaxIterations(1000)).order for _ in range(2)]
    assert (tours[0] == tours[1]).all()


def test_nodes_in_one_chain_leave_only_one_path() -> None:
    matrix, _ = random_case(12, 0, 0)
    before = [set(), *({i - 1} for i in range(1, 12))]
    found = path_under_precedence(matrix, before, seed=0, stop=MaxIterations(500))
    assert found.order.tolist() == list(range(12))


def test_precedences_in_a_ring_are_refused_with_the_chain_named() -> None:
    matrix, before = random_case(8, 0, 0)
    before[3], before[5], before[6] = {6}, {3}, {5}
    with pytest.raises(
        SequencingError, match=r"contradict each other: [356] before [356] before [356] before"
    ):
        path_under_precedence(matrix, before, seed=0, stop=MaxIterations(500))


@pytest.mark.parametrize("seed", range(4))
def test_the_round_tour_is_the_shortest_of_all_on_small_cases(seed: int) -> None:
    points = np.random.default_rng(seed).uniform(0, 100, (8, 2))
    matrix = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    found = round_tour(matrix, seed=seed, stop=MaxIterations(500))
    best = min(
        sum(matrix[i, j] for i, j in itertools.pairwise([0, *order, 0]))
        for order in itertools.permutations(range(1, 8))
    )
    assert found.order[0] == 0
    assert found.length == pytest.approx(best, abs=1e-9)


@pytest.mark.parametrize("n", [1, 2, 3, 5, 9])
def test_tours_of_few_nodes_visit_each_once(n: int) -> None:
    points = np.random.default_rng(n).uniform(0, 100, (n, 2))
    matrix = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    assert sorted(round_tour(matrix, seed=0, stop=MaxIterations(500)).order.tolist()) == list(range(n))


def test_points_on_a_circle_are_visited_round_it() -> None:
    turn = np.random.default_rng(0).permutation(200) * (2.0 * math.pi / 200)
    points = np.column_stack([np.cos(turn), np.sin(turn)])
    matrix = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    found = round_tour(matrix, seed=0, stop=MaxIterations(1000))
    assert found.length == pytest.approx(400.0 * math.sin(math.pi / 200), rel=1e-9)


def test_a_limit_in_seconds_ends_the_search_by_the_clock() -> None:
    ticks = itertools.count()
    matrix, before = random_case(20, 10, 0)
    stop = MaxSeconds(3.0, clock=lambda: float(next(ticks)))
    assert path_under_precedence(matrix, before, seed=0, stop=stop).kicks == 2 * 500


def test_an_interrupt_keeps_the_best_path_so_far() -> None:
    def interrupted(work: int, best: float) -> float:
        if work >= 1000:
            raise KeyboardInterrupt
        return 0.9

    matrix, before = random_case(20, 10, 0)
    found = path_under_precedence(matrix, before, seed=0, stop=interrupted)
    assert found.kicks == 1000
    assert keeps(found.order.tolist(), before)
