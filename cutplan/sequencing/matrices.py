"""Orders over a matrix of costs, each node with one place: paths under precedence, and round tours.

The choice of places is left to the search over the whole problem.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import SequencingError
from cutplan.base.randomness import new_stream
from cutplan.base.stopping import StoppingRule
from cutplan.sequencing.exchanges import exchange
from cutplan.sequencing.problem import FloatArray, IntArray, compressed
from cutplan.sequencing.tours import chained_steps, nearest_nodes, tour_length

__all__ = ["MatrixOrder", "path_under_precedence", "round_tour"]

BoolArray = NDArray[np.bool_]

CHUNK = 500
"""Kicks between two questions to the stopping rule."""
WAYS_IN = 12
"""Candidates for a cheaper way into a node; a search parameter."""
TOUR_NEIGHBOURS = 10
HOTTEST, COOLEST = 2.0, 0.05
"""Temperatures of the annealing as shares of the average hop; search parameters."""


@dataclass(frozen=True, eq=False)
class MatrixOrder:
    """An order over a matrix.

    Attributes
    ----------
    order : int64, shape (n,)
    length : float
        Sum of the ways; that of a round tour includes the way back.
    kicks : int
        Work done.
    """

    order: IntArray
    length: float
    kicks: int


def path_under_precedence(
    matrix: FloatArray, before: Sequence[set[int]], *, seed: int, stop: StoppingRule
) -> MatrixOrder:
    """Return a short path through all nodes, each after those that must come before it.

    The sequential ordering problem (Escudero 1988): the path goes from the first node of the
    matrix to the last.  The same seed and a rule that counts work give the same path.

    Parameters
    ----------
    matrix : float64, shape (n, n)
        Cost from row to column; ways that the precedences forbid may hold any number.
    before : sequence of set of int
        For each node those that must come before it.
    seed : int
    stop : StoppingRule
        Told the number of kicks.  An interrupt by the user ends the search too.

    Raises
    ------
    SequencingError
        If the precedences contradict each other; the message names the chain.
    """
    n = len(matrix)
    ties = _ties(n, before)
    order = _nearest_path(matrix, ties)
    length = path_length(matrix, order)
    if n < 4:
        return MatrixOrder(order, length, 0)
    direct = _direct(ties)
    after, after_at = compressed([[int(j) for j in np.flatnonzero(row)] for row in direct])
    into = _ways_in(matrix, ties, direct)
    stream = new_stream(seed)
    best, costs = order.copy(), np.array([length, length])
    kicks = 0
    # An interrupt by the user ends the search, with the best so far.
    with suppress(KeyboardInterrupt):
        while (share := stop(kicks, float(costs[1]))) < 1.0:
            heat = costs[1] / (n - 1) * HOTTEST * (COOLEST / HOTTEST) ** share
            exchange(matrix, into, after, after_at, order, best, costs, heat, CHUNK, stream)
            kicks += CHUNK
    return MatrixOrder(best, path_length(matrix, best), kicks)


def round_tour(matrix: FloatArray, *, seed: int, stop: StoppingRule) -> MatrixOrder:
    """Return a short round tour over a symmetric matrix, from node 0 and back.

    Parameters
    ----------
    matrix : float64, shape (n, n)
    seed : int
    stop : StoppingRule
        Told the number of kicks.  An interrupt by the user ends the search too.
    """
    n = len(matrix)
    tour = _nearest_path(matrix, np.zeros((n, n), dtype=np.bool_))
    kicks = 0
    if n > 3:
        near = nearest_nodes(matrix, TOUR_NEIGHBOURS)
        stream = new_stream(seed)
        with suppress(KeyboardInterrupt):
            while stop(kicks, float(tour_length(matrix, tour))) < 1.0:
                chained_steps(matrix, near, tour, CHUNK, stream)
                kicks += CHUNK
    tour = np.roll(tour, -int(np.flatnonzero(tour == 0)[0]))
    return MatrixOrder(tour, float(tour_length(matrix, tour)), kicks)


def path_length(matrix: FloatArray, order: IntArray) -> float:
    """Return the sum of the ways along the order."""
    return float(matrix[order[:-1], order[1:]].sum())


def _ties(n: int, before: Sequence[set[int]]) -> BoolArray:
    """Return which node (row) comes before which (column), by whatever chain."""
    ties = np.zeros((n, n), dtype=np.bool_)
    for later, some in enumerate(before):
        ties[list(some), later] = True
    ties[0, 1:] = True
    ties[:-1, n - 1] = True
    graph = nx.DiGraph(zip(*np.nonzero(ties), strict=True))
    if not nx.is_directed_acyclic_graph(graph):
        chain = " before ".join(str(i) for i, _ in nx.find_cycle(graph))
        raise SequencingError(
            f"the precedences contradict each other: {chain} before the first again",
            where="matrix",
            remedy="take one of them away",
        )
    for node in nx.topological_sort(graph):
        ties[:, node] |= ties[:, ties[:, node]].any(axis=1)
    return ties


def _direct(ties: BoolArray) -> BoolArray:
    """Return the precedences that do not follow from others."""
    numbers = ties.astype(np.float32)
    return ties & ~(numbers @ numbers > 0.5)


def _nearest_path(matrix: FloatArray, ties: BoolArray) -> IntArray:
    """Return the path that goes on to the nearest node allowed, from the first one free."""
    waits_for = ties.sum(axis=0)
    order = [int(np.argmin(waits_for))]
    while len(order) < len(matrix):
        at = order[-1]
        waits_for = waits_for - ties[at]
        waits_for[at] = len(matrix)
        order.append(int(np.argmin(np.where(waits_for == 0, matrix[at], np.inf))))
    return np.array(order, dtype=np.int64)


def _ways_in(matrix: FloatArray, ties: BoolArray, direct: BoolArray) -> IntArray:
    """Return for each node the cheapest nodes to come from that the precedences allow, padded with −1."""
    n = len(matrix)
    barred = np.eye(n, dtype=np.bool_) | ties.T | (ties & ~direct)
    cost = np.where(barred, np.inf, matrix)
    into = np.argsort(cost, axis=0, kind="stable")[:WAYS_IN].T.astype(np.int64)
    into[np.isinf(np.take_along_axis(cost.T, into, axis=1))] = -1
    return np.ascontiguousarray(into)
