"""The state of a separation: what stays the same during a search, what changes, and its losses."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.geometry import FloatArray
from cutplan.nesting.kernels import weighted_loss
from cutplan.nesting.tables import Tables

__all__ = [
    "Layout",
    "Search",
    "deepest_overlap",
    "new_layout",
    "new_search",
    "refresh",
    "total_loss",
]

IntArray = NDArray[np.int64]


class Search(NamedTuple):
    """What stays the same during a search; n forms, the first `fixed` of which never move.

    Attributes
    ----------
    pairs, sides, reach : ndarray
        As in `Tables`.
    step : ndarray, shape (O,)
        Length on which an orientation's descent starts, mm.
    turn_start, turns : ndarray of int64
        Orientations allowed to form k are ``turns[turn_start[k]:turn_start[k + 1]]``.
    tolerance : float
        Depth taken as touching, mm.
    samples : ndarray of int64, shape (3,)
        Candidates a move: over the whole box, around the present place, on no-fit vertices.
    """

    pairs: FloatArray
    sides: FloatArray
    reach: FloatArray
    step: FloatArray
    turn_start: IntArray
    turns: IntArray
    fixed: int
    tolerance: float
    samples: IntArray


def new_search(
    tables: Tables,
    turns: Sequence[Sequence[int]],
    *,
    fixed: int = 0,
    tolerance: float,
    samples: tuple[int, int, int] = (30, 15, 15),
) -> Search:
    """Return the search data for forms that may take the given orientations of the tables."""
    width = tables.reach[:, 2:] - tables.reach[:, :2]
    starts = np.zeros(len(turns) + 1, dtype=np.int64)
    starts[1:] = np.cumsum([len(t) for t in turns])
    return Search(
        *tables,
        np.ascontiguousarray(width.min(axis=1)),
        starts,
        np.array([t for allowed in turns for t in allowed], dtype=np.int64),
        fixed,
        tolerance,
        np.array(samples, dtype=np.int64),
    )


class Layout(NamedTuple):
    """What changes: places, orientations, pair weights, pair losses, random state, counts.

    `counts` holds rounds, moves and candidates tested.
    """

    places: FloatArray
    orientations: IntArray
    weights: FloatArray
    losses: FloatArray
    random: IntArray
    counts: IntArray


def new_layout(places: FloatArray, orientations: IntArray, random: IntArray) -> Layout:
    """Return a layout with all weights at one; losses are worked out by `run_rounds`."""
    n = len(places)
    return Layout(
        np.ascontiguousarray(places, dtype=np.float64),
        np.ascontiguousarray(orientations, dtype=np.int64),
        np.ones((n, n)),
        np.zeros((n, n)),
        random,
        np.zeros(3, dtype=np.int64),
    )


@njit(nogil=True)
def refresh(search: Search, layout: Layout, i: int) -> None:
    """Work out the losses of form i with all others."""
    weighted_loss(
        search.pairs,
        search.sides,
        layout.places,
        layout.orientations,
        layout.weights[i],
        layout.losses[i],
        search.tolerance,
        i,
        layout.orientations[i],
        layout.places[i, 0],
        layout.places[i, 1],
        np.inf,
    )
    for j in range(len(layout.orientations)):
        if i < search.fixed and j < search.fixed:
            layout.losses[i, j] = 0.0
        layout.losses[j, i] = layout.losses[i, j]


@njit(nogil=True)
def total_loss(layout: Layout) -> float:
    """Sum of all pair losses, unweighted."""
    total = 0.0
    n = len(layout.orientations)
    for i in range(n):
        for j in range(i):
            total += layout.losses[i, j]
    return total


@njit(nogil=True)
def deepest_overlap(search: Search, layout: Layout) -> float:
    """Greatest depth of overlap in a layout, mm; works out all losses anew."""
    worst = 0.0
    turned = layout.orientations
    for i in range(len(turned)):
        refresh(search, layout, i)
        for j in range(i):
            worst = max(worst, layout.losses[i, j] / search.pairs[turned[i], turned[j], 9])
    return worst
