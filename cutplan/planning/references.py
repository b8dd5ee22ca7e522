"""Everything that a job refers to, opened and checked before the first search.

Cutting data, prices, post-processors, plates, rack and drawings: all that is wrong with any of
them is told at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from cutplan.base.errors import CutplanError, JobError
from cutplan.base.files import error_of
from cutplan.base.findings import Finding
from cutplan.estimating import Prices
from cutplan.planning.bookings import rack_plates
from cutplan.planning.engine import Progress
from cutplan.planning.job import Job
from cutplan.planning.posts import bevel_post_of, postprocessors_of
from cutplan.planning.preparation import (
    Group,
    groups_of,
    plates_of,
    prices_of,
    within_travel,
)
from cutplan.planning.reopening import still_owed
from cutplan.process import Library
from cutplan.stock import Plate

__all__ = ["Prepared", "prepare"]

T = TypeVar("T")


@dataclass(frozen=True)
class Prepared:
    """A job with all that it refers to.

    Attributes
    ----------
    groups : list of Group
        Its parts by thickness, grade and cutting data, each group with the plates on offer.
    findings : list of (str, Finding)
        What was noticed, of which file or part.
    of_plates : list of (str, Finding)
        What was noticed of plates; it matters only where something lies on them.
    library : Library
        Cutting data, the shop's own before those that ship.
    prices : Prices or None
    wanted : mapping of str to int
        How many of each part the job wants in all, by the part's name.
    """

    groups: list[Group]
    findings: list[tuple[str, Finding]]
    of_plates: list[tuple[str, Finding]]
    library: Library
    prices: Prices | None
    wanted: Mapping[str, int]


def prepare(
    job: Job,
    tell: Progress,
    *,
    to_be_ordered: bool = False,
    replaces: str | None = None,
    own_plans: bool = False,
) -> Prepared:
    """Open and check everything that a job refers to.

    Parameters
    ----------
    job : Job
    tell : callable
        Told of each stage in words and of the share of it done, 0 to 1.
    to_be_ordered : bool
        The plates are yet to be ordered: those of job and rack do not count.
    replaces : str, optional
        Name of a plan whose reserved plates are on offer again.
    own_plans : bool
        The plates of all plans of this job are on offer again: for estimates, not for cutting.

    Returns
    -------
    Prepared

    Raises
    ------
    CutplanError
        Telling all that is missing or wrong.
    """
    problems: list[CutplanError] = []
    library = _opened(lambda: Library.load([job.folder / place for place in job.cutting.data]), problems)
    prices = _opened(lambda: prices_of(job), problems)
    _opened(lambda: (postprocessors_of(job), bevel_post_of(job)), problems)
    plates: tuple[Plate, ...] | None = None
    if not to_be_ordered:
        own = _opened(lambda: plates_of(job), problems)
        rack = _opened(lambda: rack_plates(job, replaces, own_plans=own_plans), problems)
        plates = None if own is None or rack is None else (*own, *rack)
    offered, of_plates = (None, []) if plates is None else within_travel(plates, job)
    # Where one of these is wrong the drawings are read all the same, to tell of them too.
    known = library or Library.load()
    sorted_out = _opened(lambda: groups_of(job, offered, known, tell), problems)
    if sorted_out is None or problems:
        raise _all_of(problems, job)
    groups, findings = sorted_out
    wanted = {demand.part.name: demand.quantity for group in groups for demand in group.demands}
    if job.reopen and not to_be_ordered:
        groups, told = still_owed(groups, job, replaces, own_plans=own_plans)
        findings = [*findings, *told]
    return Prepared(groups, findings, of_plates, known, prices, wanted)


def _opened(what: Callable[[], T], problems: list[CutplanError]) -> T | None:
    try:
        return what()
    except CutplanError as problem:
        problems.append(problem)
        return None


def _all_of(problems: list[CutplanError], job: Job) -> CutplanError:
    if len(problems) == 1:
        return problems[0]
    kinds = {type(problem) for problem in problems}
    lines = [(str(problem).removeprefix(f"{job.file}: "), "") for problem in problems]
    return error_of(lines, str(job.file), kinds.pop() if len(kinds) == 1 else JobError)
