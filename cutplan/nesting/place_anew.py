"""One form's next place: sampled, improved by descent, then moved to an exact touch.

Methods: sampling with coordinate descent after Gardeyn, Vanden Berghe and Wauters 2025, "An
open-source heuristic to reboot 2D nesting research"; least overlap lies where no-fit sides
cross, so the last step goes there.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutplan.base.compiled import njit
from cutplan.base.randomness import below, uniform
from cutplan.geometry import FloatArray
from cutplan.nesting.kernels import weighted_loss
from cutplan.nesting.layout import Layout, Search, refresh

__all__ = ["place_anew"]

IntArray = NDArray[np.int64]

# Starts kept for coordinate descent.
_KEPT = 2
# Coordinate descent: step factors after success and failure.
_LONGER, _SHORTER = 1.1, 0.5
# First and least step of the descent, as shares of the form's width.
_COARSE = (0.25, 0.06)
# Reach of the last step to an exact touch, as a share of the form's width, and the most edges
# looked at.
_SNAP, _MOST_NEAR = 0.05, 12


@njit(nogil=True)
def _descend(
    pairs: FloatArray,
    sides: FloatArray,
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
                pairs,
                sides,
                places,
                orientations,
                weights,
                unused,
                tolerance,
                i,
                turn,
                px,
                py,
                value,
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
def _set_window(window: FloatArray, reach: FloatArray, box: FloatArray, turn: int) -> None:
    """Write the least and greatest x and y of an orientation's places in the box."""
    for k in range(2):
        window[k] = box[k] - reach[turn, k]
        window[k + 2] = max(window[k], box[k + 2] - reach[turn, k + 2])


@njit(nogil=True, error_model="numpy")
def _sides_near(
    pairs: FloatArray,
    sides: FloatArray,
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
    """Collect window sides and no-fit sides nearer than `reach` to a place, as x, y, dx, dy."""
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
            px, py = qx - sides[k, 0], qy - sides[k, 1]
            ux, uy = sides[k, 3], sides[k, 4]
            t = min(1.0, max(0.0, (px * ux + py * uy) * sides[k, 5]))
            if (px - t * ux) ** 2 + (py - t * uy) ** 2 <= reach * reach:
                if n == len(found):
                    return n
                found[n, 0] = places[j, 0] + c * sides[k, 0] - s * sides[k, 1]
                found[n, 1] = places[j, 1] + s * sides[k, 0] + c * sides[k, 1]
                found[n, 2] = c * ux - s * uy
                found[n, 3] = s * ux + c * uy
                n += 1
    return n


@njit(nogil=True, error_model="numpy")
def _snap(
    pairs: FloatArray,
    sides: FloatArray,
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

    Least loss lies where no-fit sides cross; descent alone only comes close to it.
    """
    near = np.empty((_MOST_NEAR, 4))
    x0, y0 = spot[0], spot[1]
    n = _sides_near(pairs, sides, places, orientations, window, i, turn, x0, y0, reach, near)
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
                pairs,
                sides,
                places,
                orientations,
                weights,
                unused,
                tolerance,
                i,
                turn,
                x,
                y,
                spot[2],
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
    pairs, sides = search.pairs, search.sides
    weights = layout.weights[i]
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
            x = places[j, 0] + c * sides[e, 0] - s * sides[e, 1]
            y = places[j, 1] + s * sides[e, 0] + c * sides[e, 1]
        x = max(window[0], min(window[2], x))
        y = max(window[1], min(window[3], y))
        bound = spots[kept - 1, 2] if kept == _KEPT else np.inf
        value = weighted_loss(
            pairs,
            sides,
            places,
            orientations,
            weights,
            unused,
            search.tolerance,
            i,
            turn,
            x,
            y,
            bound,
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
def place_anew(search: Search, layout: Layout, box: FloatArray, i: int) -> bool:
    """Move form i to the best place found, if it is better than where it lies."""
    pairs, sides = search.pairs, search.sides
    tolerance, random = search.tolerance, layout.random
    places, orientations, weights = layout.places, layout.orientations, layout.weights[i]
    turns = np.zeros(_KEPT, dtype=np.int64)
    spots = np.zeros((_KEPT, 3))
    window = np.empty(4)
    turns[0], spots[0, 0], spots[0, 1] = orientations[i], places[i, 0], places[i, 1]
    present = weighted_loss(
        pairs, sides, places, orientations, weights, window[:0], tolerance,
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
            pairs, sides, places, orientations, weights, random, window, tolerance,
            i, turns[k], spots[k], _COARSE[0] * step, _COARSE[1] * step,
        )  # fmt: skip
        if spots[k, 2] < spots[best, 2]:
            best = k
    if spots[best, 2] > 0.0:
        _set_window(window, search.reach, box, turns[best])
        tested += _snap(
            pairs, sides, places, orientations, weights, window, tolerance,
            i, turns[best], spots[best], _SNAP * search.step[turns[best]],
        )  # fmt: skip
    layout.counts[1] += 1
    layout.counts[2] += tested
    if spots[best, 2] >= present:
        return False
    places[i, 0], places[i, 1] = spots[best, 0], spots[best, 1]
    orientations[i] = turns[best]
    refresh(search, layout, i)
    return True
