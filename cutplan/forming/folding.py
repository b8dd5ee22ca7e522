"""The order of strokes that bends a part and never hits: a search over orders and ways to lay it.

Problem: a section and the tools.  State: which bends are done.  A step bends one more, the blank
laid either way round; "down" is bent turned over.  Steps are tried at angles a few degrees apart
against punch, ram, die, table and the part itself.  Dijkstra's method (1959) finds the order with
the least handling; steps are simulated only where the search comes to them.

Springback, the bow of long parts and what the hands do between the strokes are left to the
operator.
"""

from __future__ import annotations

import heapq
import itertools
import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import shapely

from cutplan.forming.model import Press, ToolPicture
from cutplan.forming.section import Section, body
from cutplan.forming.tooling import hits, passes, tools_of
from cutplan.geometry import FloatArray

__all__ = ["Fold", "Folding", "fold_order"]

STEP_DEG = 5.0
# What handling costs against each other: turned over, turned round, an edge already bent at the
# gauge, no gauge at all, out over the end of the press.
TURN_OVER, TURN_ROUND, BENT_AT_GAUGE, NO_GAUGE, SLIDE_OUT = 2.0, 1.0, 0.5, 8.0, 3.0
MOST_BENDS = 14

GaugeOn = Literal["edge", "bent flange", "scribed line"]


@dataclass(frozen=True)
class Fold:
    """One stroke of an order.

    Attributes
    ----------
    bend : int
        Of the section, counted from 0.
    turned_over, reversed : bool
        Face down; edge A at the back gauge in place of B.
    gauge_mm : float
    gauge_on : {"edge", "bent flange", "scribed line"}
    slide_out : bool
    picture : ToolPicture
    """

    bend: int
    turned_over: bool
    reversed: bool
    gauge_mm: float
    gauge_on: GaugeOn
    slide_out: bool
    picture: ToolPicture


@dataclass(frozen=True)
class Folding:
    """What the search found.

    Attributes
    ----------
    folds : tuple of Fold
        Empty where no order bends the part.
    most_bent : int
        The most bends that any order came to.
    met : tuple of str
        What stood in the way there, most often first: "bend 3 would hit the punch".
    tried : int
        Steps simulated.
    """

    folds: tuple[Fold, ...]
    most_bent: int
    met: tuple[str, ...]
    tried: int


def fold_order(section: Section, dies: Sequence[float], press: Press) -> Folding:
    """Search an order of strokes that hits nothing, with the least handling.

    Parameters
    ----------
    section : Section
    dies : sequence of float
        Die opening for each of its bends, mm.
    press : Press

    Returns
    -------
    Folding
    """
    return _Search(section, tuple(dies), press).run()


class _Search:
    def __init__(self, section: Section, dies: tuple[float, ...], press: Press) -> None:
        self.section, self.dies, self.press = section, dies, press
        self.steps: dict[tuple[frozenset[int], int, bool], Fold | str] = {}

    def run(self) -> Folding:
        count = len(self.section.bends)
        if count > MOST_BENDS:
            return Folding((), 0, (f"{count} bends are more than the search takes: {MOST_BENDS}",), 0)
        nothing: frozenset[int] = frozenset()
        ticket = itertools.count()
        queue: list[tuple[float, int, frozenset[int], tuple[Fold, ...]]] = [(0.0, next(ticket), nothing, ())]
        settled: set[tuple[frozenset[int], bool | None, bool | None]] = set()
        while queue:
            cost, _, done, folds = heapq.heappop(queue)
            last = folds[-1] if folds else None
            state = (done, last.turned_over if last else None, last.reversed if last else None)
            if state in settled:
                continue
            settled.add(state)
            if len(done) == count:
                return Folding(folds, count, (), len(self.steps))
            for bend, reversed_ in itertools.product(sorted(set(range(count)) - done), (False, True)):
                fold = self._step(done, bend, reversed_)
                if isinstance(fold, Fold):
                    more = cost + _handling(last, fold)
                    heapq.heappush(queue, (more, next(ticket), done | {bend}, (*folds, fold)))
        return self._stuck()

    def _stuck(self) -> Folding:
        """Return how far the search came, and what it met there."""
        most = max(len(done) for done, _, _ in self.steps)
        met = Counter(
            f"bend {bend + 1} would hit {found}"
            for (done, bend, _), found in self.steps.items()
            if isinstance(found, str) and len(done) == most
        )
        return Folding((), most, tuple(words for words, _ in met.most_common()), len(self.steps))

    def _step(self, done: frozenset[int], bend: int, reversed_: bool) -> Fold | str:
        key = (done, bend, reversed_)
        if key not in self.steps:
            self.steps[key] = self._simulated(done, bend, reversed_)
        return self.steps[key]

    def _simulated(self, done: frozenset[int], bend: int, reversed_: bool) -> Fold | str:
        """Bend one more and return the stroke, or what it would hit."""
        turned = self.section.bends[bend].angle < 0.0
        laid = self.section.laid(turned_over=turned, reversed_=reversed_)
        count = len(laid.bends)
        shares = [1.0 if k in done else 0.0 for k in range(count)]
        own = bend
        if reversed_:
            shares, own = shares[::-1], count - 1 - bend
        opening, thickness = self.dies[bend], laid.thickness
        tools = tools_of(self.press, opening)
        steps = max(2, math.ceil(math.degrees(laid.bends[own].angle) / STEP_DEG))
        flat: list[FloatArray] = []
        free = True
        for k in range(steps + 1):
            shares[own] = k / steps
            lines = laid.on_press(own, shares, opening)
            edge = float(lines[2 * own + 1][:, 1].min()) + thickness / 2.0
            found = hits(tools, lines, edge, thickness)
            if found:
                return found
            if k in (0, steps):
                free = free and passes(tools, lines, edge, thickness)
            flat = flat or lines
        gauge, on = self._gauge(flat, own, shares, thickness)
        picture = ToolPicture(
            _outline(body(lines, thickness)),
            _outline(shapely.affinity.translate(tools.punch, 0.0, edge)),
            _outline(tools.die),
        )
        return Fold(bend, turned, reversed_, gauge, on, not free, picture)

    def _gauge(
        self, flat: Sequence[FloatArray], own: int, shares: Sequence[float], thickness: float
    ) -> tuple[float, GaugeOn]:
        """Return where the back gauge stands, and what touches it."""
        shape = body(flat, thickness)
        _, _, right, _ = shape.bounds
        band = shapely.box(0.0, -thickness, right + 1.0, self.press.gauge_finger_mm)
        distance = float(shape.intersection(band).bounds[2])
        bent = any(share > 0.0 for share in shares[own + 1 :])
        nearest, farthest = self.press.gauge_mm
        if not nearest <= distance <= farthest:
            return distance, "scribed line"
        return distance, "bent flange" if bent else "edge"


def _handling(last: Fold | None, fold: Fold) -> float:
    cost = SLIDE_OUT * fold.slide_out
    cost += {"edge": 0.0, "bent flange": BENT_AT_GAUGE, "scribed line": NO_GAUGE}[fold.gauge_on]
    if last is None:
        return cost + TURN_OVER * fold.turned_over
    cost += TURN_OVER * (last.turned_over != fold.turned_over)
    return cost + TURN_ROUND * (last.reversed != fold.reversed)


def _outline(shape: shapely.Polygon) -> tuple[tuple[float, float], ...]:
    return tuple((round(float(x), 3), round(float(y), 3)) for x, y in shape.exterior.coords)
