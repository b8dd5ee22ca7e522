"""Removes overlap: moves one overlapping form at a time to where its weighted overlap is least.

Pairs that stay in conflict gain weight, so the search leaves local minima by itself.  The
measure of overlap is penetration depth, read off the no-fit polygons.

Methods: guided local search for nesting (Egeblad, Nielsen and Odgaard 2007, "Fast neighborhood
search for two- and three-dimensional nesting problems"; Imamichi, Yagiura and Nagamochi 2009,
"An iterated local search algorithm based on nonlinear programming for the irregular strip
packing problem", for penetration depth); sampling with coordinate descent and the raising of
weights after Gardeyn, Vanden Berghe and Wauters 2025, "An open-source heuristic to reboot 2D
nesting research".
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from cutplan.compiled import njit
from cutplan.geometry import FloatArray
from cutplan.nesting.chance import below, uniform
from cutplan.nesting.kernels import weighted_loss
from cutplan.nesting.nofit import Tables

__all__ = ["Layout", "Search", "deepest_overlap", "new_layout", "new_search", "run_rounds", "search_for"]

IntArray = NDArray[np.int64]

# Weights (after Gardeyn and others 2025): factor for the worst pair and the least bad one of a
# round, and the decay of pairs that have parted.
_RAISE_MOST, _RAISE_LEAST, _DECAY = 2.0, 1.2, 0.95
# A loss lower by this factor is a clear improvement.
_CLEARLY = 0.98
# Starts kept for coordinate descent.
_KEPT = 2
# Coordinate descent: step factors after success and failure.
_LONGER, _SHORTER = 1.1, 0.5
# First and least step of the descent, as shares of the form's width.
_COARSE = (0.25, 0.06)
# Reach of the last step to an exact touch, as a share of the form's width, and the most edges
# looked at.
_SNAP, _MOST_NEAR = 0.05, 12


class Search(NamedTuple):
    """What stays the same during a search; n forms, the first `fixed` of which never move.

    Attributes
    ----------
    pairs, edges, reach : ndarray
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
    edges: FloatArray
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
    scale: FloatArray,
    *,
    fixed: int = 0,
    tolerance: float,
    samples: tuple[int, int, int] = (30, 15, 15),
) -> Search:
    """Return the search data for forms that may take the given orientations.

    `scale` holds a factor for each orientation: a pair's loss is depth × both factors.
    """
    pairs = tables.pairs.copy()
    pairs[..., 9] *= scale[:, None] * scale[None, :]
    width = tables.reach[:, 2:] - tables.reach[:, :2]
    base = Search(
        pairs,
        tables.edges,
        tables.reach,
        np.ascontiguousarray(width.min(axis=1)),
        np.zeros(1, dtype=np.int64),
        np.zeros(0, dtype=np.int64),
        0,
        tolerance,
        np.array(samples, dtype=np.int64),
    )
    return search_for(base, turns, fixed)


def search_for(base: Search, turns: Sequence[Sequence[int]], fixed: int) -> Search:
    """Return the search data for other forms over the same tables."""
    starts = np.zeros(len(turns) + 1, dtype=np.int64)
    starts[1:] = np.cumsum([len(t) for t in turns])
    options = np.array([t for allowed in turns for t in allowed], dtype=np.int64)
    return base._replace(turn_start=starts, turns=options, fixed=fixed)


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
def _refresh(search: Search, layout: Layout, i: int) -> None:
    """Work out the losses of form i with all others."""
    weighted_loss(
        search.pairs,
        search.edges,
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
def _descend(
    pairs: FloatArray,
    edges: FloatArray,
    places: FloatArray,
    orientations: IntArray,
    weights: FloatArray,
    random: IntArray,
    window: FloatArray,
    tolerance: float,
    i: int,
    turn: int,
    start: FloatArray,
    step: float,
    least: float,
) -> int:
    """Coordinate descent along the axes and diagonals in random order.

    `start` holds x, y and value and is updated; returns the number of places tested.
    """
    x, y, value = start[0], start[1], start[2]
    unused = start[:0]
    tested = 0
    step_x, step_y = step, step
    while (step_x >= least or step_y >= least) and value > 0.0:
        axis = below(random, 4)
        dx = step_x if axis != 1 else 0.0
        dy = 0.0 if axis == 0 else (-step_y if axis == 3 else step_y)
        better = False
        from_x, from_y = x, y
        for sign in (1.0, -1.0):
            px = max(window[0], min(window[2], from_x + sign * dx))
            py = max(window[1], min(window[3], from_y + sign * dy))
            tried = weighted_loss(
                pairs, edges, places, orientations, weights, unused, tolerance, i, turn, px, py, value
            )
            tested += 1
            if tried < value:
                x, y, value, better = px, py, tried, True
        factor = _LONGER if better else _SHORTER
        if axis != 1:
            step_x *= factor
        if axis != 0:
            step_y *= factor
    start[0], start[1], start[2] = x, y, value
    return tested


@njit(nogil=True)
def deepest_overlap(search: Search, layout: Layout) -> float:
    """Greatest depth of overlap in a layout, mm; works out all losses anew."""
    worst = 0.0
    turned = layout.orientations
    for i in range(len(turned)):
        _refresh(search, layout, i)
        for j in range(i):
            worst = max(worst, layout.losses[i, j] / search.pairs[turned[i], turned[j], 9])
    return worst


@njit(nogil=True)
def _set_window(window: FloatArray, reach: FloatArray, box: FloatArray, turn: int) -> None:
    """Write the least and greatest x and y of an orientation's places in the box."""
    for k in range(2):
        window[k] = box[k] - reach[turn, k]
        window[k + 2] = max(window[k], box[k + 2] - reach[turn, k + 2])


@njit(nogil=True, error_model="numpy")
def _edges_near(
    pairs: FloatArray,
    edges: FloatArray,
    places: FloatArray,
    orientations: IntArray,
    window: FloatArray,
    i: int,
    turn: int,
    x: float,
    y: float,
    reach: float,
    found: FloatArray,
) -> int:
    """Collect window sides and no-fit edges nearer than `reach` to a place, as x, y, dx, dy."""
    n = 0
    for side in range(4):
        away = window[side] - (x if side % 2 == 0 else y)
        if abs(away) <= reach:
            found[n, 0] = window[side] if side % 2 == 0 else x
            found[n, 1] = y if side % 2 == 0 else window[side]
            found[n, 2] = 0.0 if side % 2 == 0 else 1.0
            found[n, 3] = 1.0 if side % 2 == 0 else 0.0
            n += 1
    for j in range(len(orientations)):
        other = orientations[j]
        dx = x - places[j, 0]
        dy = y - places[j, 1]
        if (
            dx < pairs[other, turn, 0] - reach
            or dx > pairs[other, turn, 2] + reach
            or dy < pairs[other, turn, 1] - reach
            or dy > pairs[other, turn, 3] + reach
            or j == i
        ):
            continue
        c, s = pairs[other, turn, 4], pairs[other, turn, 5]
        qx, qy = c * dx + s * dy, c * dy - s * dx
        for k in range(int(pairs[other, turn, 6]), int(pairs[other, turn, 7])):
            px, py = qx - edges[k, 0], qy - edges[k, 1]
            ux, uy = edges[k, 3], edges[k, 4]
            t = min(1.0, max(0.0, (px * ux + py * uy) * edges[k, 5]))
            if (px - t * ux) ** 2 + (py - t * uy) ** 2 <= reach * reach:
                if n == len(found):
                    return n
                found[n, 0] = places[j, 0] + c * edges[k, 0] - s * edges[k, 1]
                found[n, 1] = places[j, 1] + s * edges[k, 0] + c * edges[k, 1]
                found[n, 2] = c * ux - s * uy
                found[n, 3] = s * ux + c * uy
                n += 1
    return n


@njit(nogil=True, error_model="numpy")
def _snap(
    pairs: FloatArray,
    edges: FloatArray,
    places: FloatArray,
    orientations: IntArray,
    weights: FloatArray,
    window: FloatArray,
    tolerance: float,
    i: int,
    turn: int,
    spot: FloatArray,
    reach: float,
) -> int:
    """Move a spot to the best place near by where the form touches others exactly.

    Least loss lies where no-fit edges cross; descent alone only comes close to it.
    """
    near = np.empty((_MOST_NEAR, 4))
    x0, y0 = spot[0], spot[1]
    n = _edges_near(pairs, edges, places, orientations, window, i, turn, x0, y0, reach, near)
    unused = spot[:0]
    tested = 0
    for a in range(n):
        ax, ay, ux, uy = near[a, 0], near[a, 1], near[a, 2], near[a, 3]
        for b in range(a + 1):
            if a == b:
                t = ((x0 - ax) * ux + (y0 - ay) * uy) / (ux * ux + uy * uy)
            else:
                vx, vy = near[b, 2], near[b, 3]
                cross = ux * vy - uy * vx
                if abs(cross) < 1e-9 * (abs(ux) + abs(uy)) * (abs(vx) + abs(vy)):
                    continue
                t = ((near[b, 0] - ax) * vy - (near[b, 1] - ay) * vx) / cross
            x, y = ax + t * ux, ay + t * uy
            if abs(x - x0) > reach or abs(y - y0) > reach:
                continue
            x = max(window[0], min(window[2], x))
            y = max(window[1], min(window[3], y))
            value = weighted_loss(
                pairs, edges, places, orientations, weights, unused, tolerance, i, turn, x, y, spot[2]
            )
            tested += 1
            if value < spot[2]:
                spot[0], spot[1], spot[2] = x, y, value
                if value == 0.0:
                    return tested
    return tested


@njit(nogil=True)
def _sampled(
    search: Search, layout: Layout, box: FloatArray, i: int, turns: IntArray, spots: FloatArray
) -> int:
    """Keep the best of random places of form i in `turns` and `spots`; row 0 holds the present one.

    Returns how many are kept.
    """
    random, places, orientations = layout.random, layout.places, layout.orientations
    pairs, edges, weights = search.pairs, search.edges, layout.weights[i]
    first, last = search.turn_start[i], search.turn_start[i + 1]
    over_box, near_by = search.samples[0], search.samples[0] + search.samples[1]
    window, unused = np.empty(4), np.empty(0)
    kept = 1
    for k in range(near_by + search.samples[2]):
        turn = search.turns[first + below(random, last - first)]
        if over_box <= k < near_by:
            turn = orientations[i]
        _set_window(window, search.reach, box, turn)
        if k < over_box:
            x = window[0] + uniform(random) * (window[2] - window[0])
            y = window[1] + uniform(random) * (window[3] - window[1])
        elif k < near_by:
            x = places[i, 0] + (uniform(random) - 0.5) * (search.reach[turn, 2] - search.reach[turn, 0])
            y = places[i, 1] + (uniform(random) - 0.5) * (search.reach[turn, 3] - search.reach[turn, 1])
        else:
            j = below(random, len(orientations))
            other = orientations[j]
            e = int(pairs[other, turn, 6]) + below(random, int(pairs[other, turn, 7] - pairs[other, turn, 6]))
            c, s = pairs[other, turn, 4], pairs[other, turn, 5]
            x = places[j, 0] + c * edges[e, 0] - s * edges[e, 1]
            y = places[j, 1] + s * edges[e, 0] + c * edges[e, 1]
        x = max(window[0], min(window[2], x))
        y = max(window[1], min(window[3], y))
        bound = spots[kept - 1, 2] if kept == _KEPT else np.inf
        value = weighted_loss(
            pairs, edges, places, orientations, weights, unused, search.tolerance, i, turn, x, y, bound
        )
        layout.counts[2] += 1
        if value >= bound:
            continue
        kept = min(_KEPT, kept + 1)
        at = kept - 1
        while at > 0 and spots[at - 1, 2] > value:
            turns[at] = turns[at - 1]
            for m in range(3):
                spots[at, m] = spots[at - 1, m]
            at -= 1
        turns[at], spots[at, 0], spots[at, 1], spots[at, 2] = turn, x, y, value
        if value == 0.0:
            break
    return kept


@njit(nogil=True)
def _move(search: Search, layout: Layout, box: FloatArray, i: int) -> bool:
    """Move form i to the best place found, if it is better than where it lies."""
    pairs, edges, tolerance, random = search.pairs, search.edges, search.tolerance, layout.random
    places, orientations, weights = layout.places, layout.orientations, layout.weights[i]
    turns = np.zeros(_KEPT, dtype=np.int64)
    spots = np.zeros((_KEPT, 3))
    window = np.empty(4)
    turns[0], spots[0, 0], spots[0, 1] = orientations[i], places[i, 0], places[i, 1]
    present = weighted_loss(
        pairs, edges, places, orientations, weights, window[:0], tolerance,
        i, orientations[i], places[i, 0], places[i, 1], np.inf,
    )  # fmt: skip
    spots[0, 2] = present
    kept = _sampled(search, layout, box, i, turns, spots)
    tested = 1
    best = 0
    for k in range(kept):
        step = search.step[turns[k]]
        _set_window(window, search.reach, box, turns[k])
        tested += _descend(
            pairs, edges, places, orientations, weights, random, window, tolerance,
            i, turns[k], spots[k], _COARSE[0] * step, _COARSE[1] * step,
        )  # fmt: skip
        if spots[k, 2] < spots[best, 2]:
            best = k
    if spots[best, 2] > 0.0:
        _set_window(window, search.reach, box, turns[best])
        tested += _snap(
            pairs, edges, places, orientations, weights, window, tolerance,
            i, turns[best], spots[best], _SNAP * search.step[turns[best]],
        )  # fmt: skip
    layout.counts[1] += 1
    layout.counts[2] += tested
    if spots[best, 2] >= present:
        return False
    places[i, 0], places[i, 1] = spots[best, 0], spots[best, 1]
    orientations[i] = turns[best]
    _refresh(search, layout, i)
    return True


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
        _refresh(search, layout, i)
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
                _move(search, layout, box, i)
                break
