"""What a job still owes by the inventory: cut and planned elsewhere left out, what was spoilt open again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from cutplan.base.errors import StockError
from cutplan.base.findings import Finding
from cutplan.planning.job import Job
from cutplan.planning.preparation import Group
from cutplan.stock import Inventory

__all__ = ["still_owed"]


def still_owed(
    groups: Sequence[Group], job: Job, replaces: str | None = None, *, own_plans: bool = False
) -> tuple[list[Group], list[tuple[str, Finding]]]:
    """Leave out of the groups what their job has cut, or planned elsewhere.

    Parameters
    ----------
    groups : sequence of Group
    job : Job
    replaces : str, optional
        Name of a plan that is made anew: what it planned counts for nothing.
    own_plans : bool
        What any plan of this job planned counts for nothing, where nothing will be reserved.

    Returns
    -------
    list of Group, list of (str, Finding)
        What is left to make, and what is told of it.

    Raises
    ------
    StockError
        If nothing is left to make.
    """
    assert job.inventory is not None
    done: Counter[str] = Counter()
    spoilt: Counter[str] = Counter()
    with Inventory(job.inventory, make=False) as stock:
        for mark in stock.marks(job=job.name):
            elsewhere = mark.state == "planned" and mark.plan != replaces and not own_plans
            done[mark.part] += mark.state == "cut" or elsewhere
            spoilt[mark.part] += mark.state == "spoilt"
    left, told = [], []
    for group in groups:
        demands = []
        for demand in group.demands:
            name, open_ = demand.part.name, max(0, demand.quantity - done[demand.part.name])
            if done[name] or spoilt[name]:
                told.append((name, _told(demand.quantity, open_, done[name], spoilt[name])))
            if open_:
                demands.append(replace(demand, quantity=open_))
        if demands:
            left.append(replace(group, demands=tuple(demands)))
    if not left:
        raise StockError(
            f"job {job.name!r} owes nothing: all that it wants is cut or planned",
            where=str(job.inventory),
            remedy=f"see `cutplan stock job {job.name!r}`, or leave reopen out to plan the whole job again",
        )
    return left, told


def _told(wanted: int, left: int, done: int, spoilt: int) -> Finding:
    words = f"of {wanted} wanted {done} are cut or planned elsewhere: {left} are planned"
    return Finding("taken", words + (f" ({spoilt} spoilt so far)" if spoilt else ""))
