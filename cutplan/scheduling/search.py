"""Works shared out over tables: the earliest due first, then moved and exchanged while that helps.

The first schedule gives each work, in order of its due date, to the table that is done with it
first (J. R. Jackson 1955; R. L. Graham 1969).  Then works are put elsewhere and exchanged, one
change at a time, each kept where all together are less late, or as late and sooner done; from the
best found the search begins again with some works moved at random (H. R. Lourenço, O. C. Martin
and T. Stützle 2003).
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, field

from cutplan.scheduling.clock import Clock
from cutplan.scheduling.model import Work

__all__ = ["MOST_TRIALS", "Problem", "shared_out"]

MOST_TRIALS = 30_000
"""Sequences of a table that are timed, at most: by work done, so that the same shop gives the same days."""
MOST_ROUNDS = 40
NEAR = 12
"""Places in the order of a table, round where its due date would have it, that a work is tried at."""
SAME_MIN = 1e-6

Sequence_ = list[int]
Cost = tuple[float, float, float]
"""Minutes late in all, minutes until the last is done, and the sum of all finishes."""


@dataclass(frozen=True)
class Problem:
    """Works by number, and what each table makes of them.

    Attributes
    ----------
    works : sequence of Work
    minutes_due : sequence of float
        When each is due, minutes from the start; infinity where it is not.
    clocks : sequence of Clock
    change_min : sequence of float
    allowed : sequence of tuple of int
        Tables that each may go to.
    """

    works: Sequence[Work]
    minutes_due: Sequence[float]
    clocks: Sequence[Clock]
    change_min: Sequence[float]
    allowed: Sequence[tuple[int, ...]]
    _settings: list[tuple[str, float]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._settings.extend(work.setting for work in self.works)

    def timed(self, table: int, order: Sequence[int]) -> list[tuple[float, float, float]]:
        """Return start, end and minutes of changing over of each work in the order of a table."""
        clock, at, shift, before = self.clocks[table], 0.0, 0, None
        found = []
        for n in order:
            setting = self._settings[n]
            change = self.change_min[table] if before not in (None, setting) else 0.0
            begin, at, shift = clock.fit(at, self.works[n].minutes + change, shift)
            before = setting
            found.append((begin, at, change))
        return found

    def cost(self, table: int, order: Sequence[int]) -> Cost:
        """Return what an order of a table costs."""
        late = total = last = 0.0
        for n, (_, end, _) in zip(order, self.timed(table, order), strict=True):
            late += max(0.0, end - self.minutes_due[n])
            total += end
            last = end
        return late, last, total


@dataclass
class _State:
    """Orders of the tables with their costs."""

    orders: list[Sequence_]
    costs: list[Cost]

    def total(self) -> Cost:
        return _summed(self.costs)

    def copy(self) -> _State:
        return _State([list(order) for order in self.orders], list(self.costs))


def _summed(costs: Sequence[Cost]) -> Cost:
    return sum(c[0] for c in costs), max((c[1] for c in costs), default=0.0), sum(c[2] for c in costs)


def _less(one: Cost, two: Cost) -> bool:
    for a, b in zip(one, two, strict=True):
        if abs(a - b) > SAME_MIN:
            return a < b
    return False


def shared_out(problem: Problem, seed: int = 0, trials: int = MOST_TRIALS) -> list[Sequence_]:
    """Return an order of works for each table.

    Parameters
    ----------
    problem : Problem
    seed : int
    trials : int
        Sequences of a table that are timed, at most.

    Returns
    -------
    list of list of int
    """
    dice = random.Random(seed)
    state = _first(problem)
    left = _improved(problem, state, trials)
    best = state.copy()
    for _ in range(MOST_ROUNDS):
        if left <= 0 or len(problem.works) < 2:
            break
        state = best.copy()
        _shaken(problem, state, dice)
        left = _improved(problem, state, left)
        if _less(state.total(), best.total()):
            best = state.copy()
    return best.orders


def _first(problem: Problem) -> _State:
    """Give each work, the earliest due first, to the table that is done with it first."""
    orders: list[Sequence_] = [[] for _ in problem.clocks]
    ends, shifts = [0.0] * len(orders), [0] * len(orders)
    for n in sorted(range(len(problem.works)), key=lambda n: _rank(problem, n)):
        options = []
        for table in problem.allowed[n]:
            order = orders[table]
            changed = bool(order) and problem.works[order[-1]].setting != problem.works[n].setting
            minutes = problem.works[n].minutes + (problem.change_min[table] if changed else 0.0)
            _, end, shift = problem.clocks[table].fit(ends[table], minutes, shifts[table])
            options.append((end, table, shift))
        end, table, shift = min(options)
        orders[table].append(n)
        ends[table], shifts[table] = end, shift
    return _State(orders, [problem.cost(table, order) for table, order in enumerate(orders)])


def _rank(problem: Problem, n: int) -> tuple[float, str, float, float, str]:
    work = problem.works[n]
    return problem.minutes_due[n], work.process, work.thickness, -work.minutes, work.name


def _improved(problem: Problem, state: _State, trials: int) -> int:
    """Move and exchange works while that helps; returns how many trials are left."""
    again = True
    while again and trials > 0:
        again = False
        for n in _worth_moving(problem, state):
            if trials <= 0:
                break
            better, used = _placed_better(problem, state, n)
            again, trials = again or better, trials - used
    return trials


def _worth_moving(problem: Problem, state: _State) -> list[int]:
    """Return the works, the late ones and those of the last table to be done first."""
    keys: dict[int, tuple[float, float]] = {}
    for table, order in enumerate(state.orders):
        for n, (_, end, _) in zip(order, problem.timed(table, order), strict=True):
            keys[n] = (-max(0.0, end - problem.minutes_due[n]), -state.costs[table][1])
    return sorted(keys, key=lambda n: (keys[n], n))


def _placed_better(problem: Problem, state: _State, n: int) -> tuple[bool, int]:
    """Put a work where it costs least, or exchange it; whether that helped, and the trials used."""
    home = next(table for table, order in enumerate(state.orders) if n in order)
    best, change, used = state.total(), None, 0
    without = [each for each in state.orders[home] if each != n]
    bare = problem.cost(home, without)
    for table in problem.allowed[n]:
        order = without if table == home else state.orders[table]
        for k in _places(problem, order, n):
            tried = [*order[:k], n, *order[k:]]
            costs = list(state.costs)
            costs[home] = bare
            costs[table] = problem.cost(table, tried)
            used += 1
            if _less(_summed(costs), best):
                best, change = _summed(costs), {home: (without, bare), table: (tried, costs[table])}
        if table != home:
            for k in _places(problem, order, n):
                if k < len(order) and home in problem.allowed[order[k]]:
                    pair = _exchanged(problem, state, (home, state.orders[home].index(n)), (table, k))
                    used += 2
                    costs = [pair[t][1] if t in pair else cost for t, cost in enumerate(state.costs)]
                    if _less(_summed(costs), best):
                        best, change = _summed(costs), pair
    if change is None:
        return False, used + 1
    for table, (order, cost) in change.items():
        state.orders[table], state.costs[table] = list(order), cost
    return True, used + 1


def _exchanged(
    problem: Problem, state: _State, one: tuple[int, int], two: tuple[int, int]
) -> dict[int, tuple[Sequence_, Cost]]:
    orders = {one[0]: list(state.orders[one[0]]), two[0]: list(state.orders[two[0]])}
    a, b = orders[one[0]][one[1]], orders[two[0]][two[1]]
    orders[one[0]][one[1]], orders[two[0]][two[1]] = b, a
    return {table: (order, problem.cost(table, order)) for table, order in orders.items()}


def _places(problem: Problem, order: Sequence[int], n: int) -> list[int]:
    """Return the places to try: all in a short order, else those near where the due date has it."""
    if len(order) <= 2 * NEAR:
        return list(range(len(order) + 1))
    rank = _rank(problem, n)
    due = sum(_rank(problem, each) < rank for each in order)
    return list(range(max(0, due - NEAR), min(len(order), due + NEAR) + 1))


def _shaken(problem: Problem, state: _State, dice: random.Random) -> None:
    """Move a few works to other places at random."""
    for _ in range(max(2, int(math.sqrt(len(problem.works)) / 2))):
        n = dice.randrange(len(problem.works))
        home = next(table for table, order in enumerate(state.orders) if n in order)
        table = dice.choice(problem.allowed[n])
        state.orders[home].remove(n)
        state.orders[table].insert(dice.randrange(len(state.orders[table]) + 1), n)
    state.costs[:] = [problem.cost(table, order) for table, order in enumerate(state.orders)]
