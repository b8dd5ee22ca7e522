"""Removes overlap: moves one overlapping form at a time to where its weighted overlap is least.

Pairs that stay in conflict gain weight, so the search leaves local minima by itself.  The
measure of overlap is penetration depth, read off the no-fit polygons.

Methods: guided local search for nesting (Egeblad, Nielsen and Odgaard 2007, "Fast neighborhood
search for two- and three-dimensional nesting problems"; Imamichi, Yagiura and Nagamochi 2009,
"An iterated local search algorithm based on nonlinear programming for the irregular strip
packing problem", for penetration depth); the raising of weights after Gardeyn, Vanden Berghe
and Wauters 2025, "An open-source heuristic to reboot 2D nesting research".
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.base.randomness import below
from cutplan.geometry import FloatArray
from cutplan.nesting.layout import Layout, Search, refresh, total_loss
from cutplan.nesting.place_anew import place_anew

__all__ = ["run_rounds"]

IntArray = NDArray[np.int64]

# Weights (after Gardeyn and others 2025): factor for the worst pair and the least bad one of a
# round, and the decay of pairs that have parted.
_RAISE_MOST, _RAISE_LEAST, _DECAY = 2.0, 1.2, 0.95
# A loss lower by this factor is a clear improvement.
_CLEARLY = 0.98


@njit(nogil=True)
def _reweigh(search: Search, layout: Layout) -> None:
    """Raise the weights of pairs in conflict, the worst most; let the others fade."""
    n = len(layout.orientations)
    worst = 0.0
    for i in range(n):
        for j in range(i):
            worst = max(worst, layout.losses[i, j])
    for i in range(n):
        for j in range(i):
            loss = layout.losses[i, j]
            if loss > 0.0:
                factor = _RAISE_LEAST + (_RAISE_MOST - _RAISE_LEAST) * loss / worst
                weight = layout.weights[i, j] * factor
            else:
                weight = max(1.0, layout.weights[i, j] * _DECAY)
            layout.weights[i, j] = weight
            layout.weights[j, i] = weight


@njit(nogil=True)
def run_rounds(
    search: Search,
    layout: Layout,
    box: FloatArray,
    best_places: FloatArray,
    best_orientations: IntArray,
    state: FloatArray,
    patience: int,
    most: int,
) -> bool:
    """Move every overlapping form once a round until nothing overlaps or patience ends.

    Parameters
    ----------
    box : ndarray, shape (4,)
        Least and greatest x and y that forms may reach.
    best_places, best_orientations : ndarray
        Where the layout of least loss is kept; updated in place.
    state : ndarray, shape (3,)
        Least loss, the loss that counts as the last clear improvement, and the rounds since;
        infinite, infinite and 0 to begin with.  Updated in place.
    patience : int
        Rounds without a clear improvement after which to stop.
    most : int
        Most rounds of this call.

    Returns
    -------
    bool
        Whether the search is over: nothing overlaps, or patience has ended.
    """
    n = len(layout.orientations)
    for i in range(n):
        refresh(search, layout, i)
    order = np.empty(n, dtype=np.int64)
    for i in range(n):
        order[i] = i
    for _ in range(most):
        _round(search, layout, box, order)
        layout.counts[0] += 1
        loss = total_loss(layout)
        if loss < state[0]:
            state[0] = loss
            for i in range(n):
                best_places[i, 0], best_places[i, 1] = layout.places[i, 0], layout.places[i, 1]
                best_orientations[i] = layout.orientations[i]
        if loss == 0.0:
            return True
        if loss < _CLEARLY * state[1]:
            state[1] = loss
            state[2] = 0.0
        else:
            state[2] += 1.0
            if state[2] >= patience:
                return True
        _reweigh(search, layout)
    return False


@njit(nogil=True)
def _round(search: Search, layout: Layout, box: FloatArray, order: IntArray) -> None:
    """Move every overlapping form once, in random order."""
    n = len(order)
    for k in range(n - 1, 0, -1):
        m = below(layout.random, k + 1)
        order[k], order[m] = order[m], order[k]
    for k in range(n):
        i = order[k]
        if i < search.fixed:
            continue
        for j in range(n):
            if layout.losses[i, j] > 0.0:
                place_anew(search, layout, box, i)
                break
