"""What no schedule can beat: how late at least, and how long at least.

Tables that share a work, at once or over others, are taken as one table that may cut several
works at a time and part of a work at once; changing over costs nothing.  The k-th work that is
finished is then finished no sooner than the k shortest together take, and works are least late
where the order of finishing is that of the due dates.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence

from cutplan.scheduling.clock import minutes_by
from cutplan.scheduling.search import Problem

__all__ = ["bounds_of"]


def bounds_of(problem: Problem) -> tuple[float, float]:
    """Return the least lateness of all works together, and the least time until the last is done, min.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    tuple of float
    """
    late = span = 0.0
    for works, tables in _apart(problem):
        earliest = {n: _alone(problem, n) for n in works}
        due = [n for n in works if math.isfinite(problem.minutes_due[n])]
        alone = sum(max(0.0, earliest[n] - problem.minutes_due[n]) for n in due)
        late += max(alone, _together(problem, due, tables, earliest))
        whole = _when(problem, tables, sum(problem.works[n].minutes for n in works))
        span = max(span, whole, *earliest.values())
    return late, span


def _alone(problem: Problem, n: int) -> float:
    """Return the end of a work that is the first on its best table."""
    return min(problem.clocks[table].fit(0.0, problem.works[n].minutes)[1] for table in problem.allowed[n])


def _together(
    problem: Problem, due: Sequence[int], tables: Sequence[int], earliest: dict[int, float]
) -> float:
    shortest, finishes, taken = sorted(problem.works[n].minutes for n in due), [], 0.0
    alone = sorted(earliest[n] for n in due)
    for minutes, first in zip(shortest, alone, strict=True):
        taken += minutes
        finishes.append(max(first, _when(problem, tables, taken)))
    dates = sorted(problem.minutes_due[n] for n in due)
    return sum(max(0.0, end - date) for end, date in zip(finishes, dates, strict=True))


def _when(problem: Problem, tables: Sequence[int], minutes: float) -> float:
    """Return when some tables together have been manned for so many minutes."""
    corners = minutes_by([problem.clocks[table] for table in tables])
    k = bisect_left(corners, (minutes, -math.inf))
    if k == 0:
        return 0.0
    if k == len(corners):
        return corners[-1][1]
    (held, at), (more, then) = corners[k - 1], corners[k]
    return then if more <= held else at + (then - at) * (minutes - held) / (more - held)


def _apart(problem: Problem) -> list[tuple[list[int], list[int]]]:
    """Return works and tables in groups that share no table."""
    group = list(range(len(problem.clocks)))

    def top(table: int) -> int:
        while group[table] != table:
            table = group[table]
        return table

    for tables in problem.allowed:
        for table in tables[1:]:
            group[top(table)] = top(tables[0])
    found: dict[int, tuple[list[int], list[int]]] = {}
    for n, tables in enumerate(problem.allowed):
        found.setdefault(top(tables[0]), ([], []))[0].append(n)
    for table in range(len(group)):
        if top(table) in found:
            found[top(table)][1].append(table)
    return list(found.values())
