"""A first order: a short round through the parts, each cut out in one go."""

from __future__ import annotations

import math

import networkx as nx
import numpy as np

from cutplan.base.randomness import new_stream
from cutplan.sequencing.problem import (
    ARRIVE_X,
    ARRIVE_Y,
    FloatArray,
    IntArray,
    Problem,
)
from cutplan.sequencing.tours import chained_steps, nearest_nodes

__all__ = ["first_order"]

KICKS_PER_BLOCK = 5


def first_order(problem: Problem, seed: int) -> IntArray:
    """Return an order that keeps the precedences, start and end included.

    Stops that are tied by precedence make a block.  A short round tour through the blocks'
    middles, from the start and back, gives the order of blocks; inside a block the order is
    topological.  Later stages follow earlier ones.
    """
    stops = len(problem.first) - 3
    ties = nx.DiGraph()
    ties.add_nodes_from(range(stops))
    for later in range(stops):
        for i in problem.before[problem.before_at[later] : problem.before_at[later + 1]]:
            ties.add_edge(int(i), later)
    blocks = [sorted(block) for block in nx.weakly_connected_components(ties)]
    blocks.sort()
    turn = _round(problem, blocks, seed)
    topological = [
        stop for block in turn for stop in nx.lexicographical_topological_sort(ties.subgraph(blocks[block]))
    ]
    in_stages = sorted(topological, key=lambda stop: int(problem.stage[stop]))
    return np.array([stops, *in_stages, stops + 1], dtype=np.int64)


def _round(problem: Problem, blocks: list[list[int]], seed: int) -> list[int]:
    middles = np.array([_middle(problem, block) for block in blocks])
    start = problem.sites[[ARRIVE_X, ARRIVE_Y], problem.first[-3]]
    points = np.vstack([middles.reshape(-1, 2), start])
    matrix = np.hypot(*(points[:, None, :] - points[None, :, :]).transpose(2, 0, 1))
    n = len(points)
    if n < 5:
        return list(range(len(blocks)))
    tour = _along_curve(points)
    chained_steps(matrix, nearest_nodes(matrix, 8), tour, KICKS_PER_BLOCK * n, new_stream(seed))
    begin = int(np.flatnonzero(tour == n - 1)[0])
    return [int(i) for i in np.roll(tour, -begin)[1:]]


def _middle(problem: Problem, block: list[int]) -> FloatArray:
    points = np.hstack(
        [problem.sites[[ARRIVE_X, ARRIVE_Y], problem.first[stop] : problem.first[stop + 1]] for stop in block]
    )
    return np.asarray(points.mean(axis=1))


def _along_curve(points: FloatArray) -> IntArray:
    """Return the points' numbers swept in strips, to and fro."""
    size = np.ptp(points, axis=0)
    strips = max(1, round(math.sqrt(len(points) * size[1] / max(1e-9, size[0]) / 2.0)))
    row = np.minimum(strips - 1, (points[:, 1] - points[:, 1].min()) * strips / max(1e-9, size[1])).astype(
        int
    )
    across = np.where(row % 2 == 0, points[:, 0], -points[:, 0])
    return np.lexsort((across, row)).astype(np.int64)
