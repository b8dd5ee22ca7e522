"""How few sheets any nest needs: the largest of several lower bounds.

Areas count with each part's half of the gap.  Beside the plain sum of areas stand dual feasible
functions (Fekete and Schepers 2001, "New classes of fast lower bounds for bin packing
problems"): on areas, and on rectangles that lie inside the parts, which also tells which parts
can share no sheet.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely

from cutplan.geometry import FloatArray
from cutplan.nesting.problem import Problem
from cutplan.nesting.shapes import Form, turned

__all__ = ["least_sheets"]

# Coordinates of vertices that corners of inner rectangles are looked for at, at most, each way.
_LINES = 10
# Kinds whose inner rectangles are looked for, the largest first: small ones add nothing.
_MOST_KINDS = 40
# Inner rectangles that are narrower than this share of the sheet both ways add nothing.
_LARGE = 0.25
_NOISE = 1e-9
# By how much a rectangle is shrunk so that it lies properly inside, mm.
_HAIR = 1e-6
# Functions tried: u with k = 1 … this, and f with the thresholds of the sizes at hand.
_MOST_STEPS = 6

Sizes = FloatArray


def least_sheets(problem: Problem, placed: Sequence[int]) -> int:
    """Return a number of sheets below which no nest of so many copies of each kind lies.

    Parameters
    ----------
    problem : Problem
    placed : sequence of int
        Copies of each kind, fillers left out.
    """
    copies = np.array(
        [0 if kind.demand.filler else count for kind, count in zip(problem.kinds, placed, strict=True)]
    )
    if not copies.any() or not problem.sheets:
        return 0
    areas = np.array([kind.least_area for kind in problem.kinds])
    bound = _by_area(problem, float(copies @ areas))
    room = max(sheet.room for sheet in problem.sheets)
    shares = areas / room
    for function in _functions(shares[copies > 0]):
        bound = max(bound, _rounded_up(float(copies @ function(shares))))
    return max(bound, _by_rectangles(problem, copies))


def _by_area(problem: Problem, need: float) -> int:
    """Least number of sheets, largest first, whose room holds an area."""
    rooms = sorted((s.room for s in problem.sheets for _ in range(s.plate.quantity)), reverse=True)
    sheets = 0
    while need > 1e-6 and sheets < len(rooms):
        need -= rooms[sheets]
        sheets += 1
    return sheets


def _rounded_up(total: float) -> int:
    return math.ceil(total - 1e-6)


def _functions(sizes: Sizes) -> list[Callable[[Sizes], Sizes]]:
    """Dual feasible functions that may tell more than the sizes themselves.

    Each maps what fits side by side into 1 to what sums up to 1 at the most.
    """
    functions: list[Callable[[Sizes], Sizes]] = [lambda x: x]
    functions += [lambda x, k=k: _stepped(x, k) for k in range(1, _MOST_STEPS)]  # type: ignore[misc]
    thresholds = sorted({round(float(s), 9) for s in sizes if s <= 0.5}, reverse=True)[:_MOST_STEPS]
    functions += [lambda x, e=e: _raised(x, e) for e in (*thresholds, 0.5)]  # type: ignore[misc]
    return functions


def _stepped(x: Sizes, k: int) -> Sizes:
    """u⁽ᵏ⁾: multiples of 1 / (k + 1) stay, others fall to the next lower multiple of 1 / k."""
    scaled = (k + 1) * x
    whole = np.abs(scaled - np.round(scaled)) < 1e-7
    return np.where(whole, x, np.floor(scaled + _NOISE) / k)


def _raised(x: Sizes, threshold: float) -> Sizes:
    """f₀: what leaves less than the threshold beside it counts 1, what is under the threshold nothing."""
    return np.where(x > 1.0 - threshold + _NOISE, 1.0, np.where(x < threshold - _NOISE, 0.0, x))


def _by_rectangles(problem: Problem, copies: FloatArray) -> int:
    """Bound from rectangles inside the parts, where all turns are quarter turns of the drawing."""
    boxes = np.array([sheet.box for sheet in problem.sheets])
    wide, high = (float((boxes[:, k + 2] - boxes[:, k]).max()) for k in range(2))
    largest = sorted(np.flatnonzero(copies), key=lambda k: -problem.kinds[k].least_area)[:_MOST_KINDS]
    counted, rectangles = [], []
    known: dict[tuple[int, float], Sizes] = {}
    for k in largest:
        turns = sorted({t for mine in problem.kinds[k].turns.values() for t in mine})
        inner = [_inner_rectangles(problem, t, known) / (wide, high) for t in turns]
        if all(len(some) and some.max() >= _LARGE for some in inner):
            counted.append(float(copies[k]))
            rectangles.append(inner)
    if not rectangles:
        return 0
    sizes = np.concatenate([np.concatenate(inner) for inner in rectangles])
    bound = 0
    for across in _functions(sizes[:, 0]):
        for along in _functions(sizes[:, 1]):
            # A part counts what its least telling turn counts, by the rectangle that tells most.
            worth = [
                min(float((across(r[:, 0]) * along(r[:, 1])).max()) for r in inner) for inner in rectangles
            ]
            bound = max(bound, _rounded_up(float(np.dot(counted, worth))))
    return bound


def _inner_rectangles(problem: Problem, turn: int, known: dict[tuple[int, float], Sizes]) -> Sizes:
    """Width and height of rectangles inside an orientation; quarter turns of a form share them."""
    number, angle = problem.orientations[turn]
    quarters, rest = divmod(angle, 90.0)
    if (number, rest) not in known:
        known[number, rest] = _rectangles_in(problem.forms[number], rest)
    return known[number, rest] if quarters % 2.0 == 0.0 else known[number, rest][:, ::-1]


def _rectangles_in(form: Form, angle: float) -> Sizes:
    """The largest, the widest and the highest rectangle found in a form.

    Their sides lie on the lines of its vertices, or on those of the square in its largest circle.
    """
    rings = [turned(ring, angle) for ring in form.rings]
    whole = shapely.Polygon(rings[0], rings[1:])
    shapely.prepare(whole)
    circle = shapely.maximum_inscribed_circle(whole, tolerance=1e-3 * math.sqrt(whole.area))
    middle, half = shapely.get_coordinates(circle)[0], circle.length * math.sqrt(0.5)
    lines = [
        np.append(_lines(rings[0][:, axis]), [middle[axis] - half, middle[axis] + half]) for axis in range(2)
    ]
    x0, x1, y0, y1 = (g.ravel() for g in np.meshgrid(lines[0], lines[0], lines[1], lines[1], indexing="ij"))
    proper = (x1 > x0) & (y1 > y0)
    # Shrunk by a hair, so that sides which lie on the outline count as inside it.
    low_x, high_x = x0[proper] + _HAIR, x1[proper] - _HAIR
    low_y, high_y = y0[proper] + _HAIR, y1[proper] - _HAIR
    inside = shapely.contains_properly(whole, shapely.box(low_x, low_y, high_x, high_y))
    sizes = np.column_stack([high_x - low_x, high_y - low_y])[inside]
    if not len(sizes):
        return np.zeros((0, 2))
    best = {int(np.argmax(values)) for values in (sizes[:, 0] * sizes[:, 1], sizes[:, 0], sizes[:, 1])}
    return np.asarray(sizes[sorted(best)])


def _lines(values: FloatArray) -> FloatArray:
    distinct = np.unique(np.round(values, 6))
    if len(distinct) > _LINES:
        distinct = distinct[np.unique(np.linspace(0, len(distinct) - 1, _LINES).round().astype(int))]
    return distinct
