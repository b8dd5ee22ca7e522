"""A shop's works given out to its tables: a schedule, its bound, and why what is late is late."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, time, timedelta

from cutplan.scheduling.bounds import bounds_of
from cutplan.scheduling.clock import clock_of
from cutplan.scheduling.model import MINUTE, Booked, Schedule, Shop, Work
from cutplan.scheduling.search import MOST_TRIALS, Problem, shared_out

__all__ = ["give_out", "next_start"]


def next_start(shop: Shop, now: datetime) -> datetime:
    """Return when the next shift of any table begins, or now where one is manned.

    Parameters
    ----------
    shop : Shop
    now : datetime

    Returns
    -------
    datetime
    """
    firsts = [clock_of(table, now, shop.days_off, 1.0).shifts[0][0] for table in shop.tables]
    return now + min(firsts) * MINUTE


def give_out(
    works: Sequence[Work], shop: Shop, start: datetime, *, seed: int = 0, trials: int = MOST_TRIALS
) -> Schedule:
    """Return who cuts what when: what is due first is cut first, and the tables are busy.

    Parameters
    ----------
    works : sequence of Work
    shop : Shop
    start : datetime
        From when on.
    seed : int
    trials : int
        Of the search, at most.

    Returns
    -------
    Schedule
        What no table can cut is listed in it with the reasons.

    Raises
    ------
    InputError
        If a table is never manned, or its hours do not hold the work within ten years.
    """
    able: list[Work] = []
    refused: list[tuple[Work, str]] = []
    for work in works:
        reasons = [(table.name, table.refusal(work)) for table in shop.tables]
        if all(reason for _, reason in reasons):
            refused.append((work, "; ".join(f"{name} {reason}" for name, reason in reasons)))
        else:
            able.append(work)
    problem = _problem(able, shop, start)
    orders = shared_out(problem, seed, trials)
    booked, busy, hours = [], {}, 0.0
    for number, (table, order) in enumerate(zip(shop.tables, orders, strict=True)):
        worked, last = 0.0, 0.0
        for n, (begin, end, change) in zip(order, problem.timed(number, order), strict=True):
            booked.append(Booked(able[n], table.name, start + begin * MINUTE, start + end * MINUTE, change))
            worked, last = worked + able[n].minutes + change, end
        manned = problem.clocks[number].manned(last)
        busy[table.name] = worked / manned if manned else 0.0
        hours += table.labour * worked / 60.0
    late, span = bounds_of(problem) if able else (0.0, 0.0)
    reasons_of = {b.work.name: _why_late(b, booked, problem, shop) for b in booked if b.late_min > 0.0}
    return Schedule(tuple(booked), start, late, span, tuple(refused), reasons_of, busy, hours)


def _problem(works: Sequence[Work], shop: Shop, start: datetime) -> Problem:
    changes = max((table.change_min for table in shop.tables), default=0.0)
    whole = sum(work.minutes + changes for work in works)
    return Problem(
        works=works,
        minutes_due=[_due(work, start) for work in works],
        clocks=[clock_of(table, start, shop.days_off, whole) for table in shop.tables],
        change_min=[table.change_min for table in shop.tables],
        allowed=[tuple(t for t, table in enumerate(shop.tables) if table.refusal(w) is None) for w in works],
    )


def _due(work: Work, start: datetime) -> float:
    if work.due is None:
        return math.inf
    return (datetime.combine(work.due + timedelta(days=1), time()) - start) / MINUTE


def _why_late(late: Booked, booked: Sequence[Booked], problem: Problem, shop: Shop) -> str:
    """Return why a work is late, in words."""
    n = list(problem.works).index(late.work)
    tables, due = problem.allowed[n], problem.minutes_due[n]
    alone = min(problem.clocks[t].fit(0.0, late.work.minutes)[1] for t in tables)
    names = " and ".join(shop.tables[t].name for t in tables)
    if due <= 0.0:
        return "it was due before the start"
    if alone > due:
        return f"even alone and at once it would be done {(alone - due) / 60.0:.1f} h too late"
    manned = sum(problem.clocks[t].manned(due) for t in tables)
    before = sum(
        work.minutes
        for work, when, allowed in zip(problem.works, problem.minutes_due, problem.allowed, strict=True)
        if when <= due and set(allowed) <= set(tables)
    )
    if before > manned:
        return (
            f"what is due by then and only {names} can cut takes {before / 60.0:.1f} h, "
            f"manned till then are {manned / 60.0:.1f} h"
        )
    ahead = [b for b in booked if b.table == late.table and b.end <= late.start]
    last = ahead[-1].work.name if ahead else "the table's hours"
    return f"it waits for {last} on {late.table}; a better order is not found"
