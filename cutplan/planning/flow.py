"""The flow from job to proved programs; the only module that knows every room.

Each step is one function: drawings to demands, demands to nests, nested sheets to proved
programs (`sheets`), and the whole plan to files.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from cutplan.base.errors import NestingError
from cutplan.base.files import error_of
from cutplan.base.findings import Finding
from cutplan.base.version import __version__
from cutplan.drawing import Part, ready_reader
from cutplan.estimating import Prices, add_estimates
from cutplan.nesting import Demand, Nest, StripNest
from cutplan.planning.bending import bend_tables, told_of
from cutplan.planning.engine import Engine, Here, Progress
from cutplan.planning.group_nests import nests_of, overridden, scattered_kits, strips_of
from cutplan.planning.job import Job
from cutplan.planning.preparation import (
    Group,
)
from cutplan.planning.references import prepare
from cutplan.planning.sheets import plan_sheet, sheet_tasks
from cutplan.planning.warming import compiling_beside, saying_so
from cutplan.record import Plan, PlannedSheet

__all__ = [
    "Progress",
    "nest_job",
    "plan_job",
    "strip_job",
]


def plan_job(
    job: Job,
    progress: Progress | None = None,
    *,
    replaces: str | None = None,
    own_plans: bool = False,
    engine: Engine | None = None,
) -> Plan:
    """Plan a job: nest, cut, order, write and prove, without touching any file.

    Parameters
    ----------
    job : Job
    progress : callable, optional
        Told of each stage.
    replaces : str, optional
        Name of a plan whose reserved plates are on offer again.
    own_plans : bool
        The plates of all plans of this job are on offer again: for estimates, not for cutting.
    engine : Engine, optional
        Where nests and sheets are worked out; one after another here by default.  The plan does
        not depend on it.

    Returns
    -------
    Plan

    Raises
    ------
    CutplanError
        If a drawing, plate, cutting datum or post-processor is missing or wrong, or a part
        is larger than every plate.
    ProofError
        If a program does not cut what the drawings ask for.
    """
    tell = saying_so(progress or (lambda stage, share: None))
    ready_reader()
    with compiling_beside():
        prepared = prepare(job, tell, replaces=replaces, own_plans=own_plans)
        engine = engine or Here()
        answers, told = nests_of(prepared.groups, job, tell, engine)
        _refuse_an_empty_plan(answers, job)
        sheets = _planned_sheets(answers, job, prepared.prices, tell, engine)
    nests = [nested for _, nested in answers]
    own, used = {entry.id for entry in job.plates}, [s.plate.id for n in nests for s in n.plates]
    unplaced = [item for nested in nests for item in nested.unplaced]
    findings = [*prepared.findings, *told, *_of_used(prepared.of_plates, nests), *scattered_kits(answers)]
    findings += [(sheet.name, finding) for sheet in sheets for finding in sheet.findings]
    bending = bend_tables(_placed_parts(answers), job)
    findings += [*_stopped(answers, sheets), *told_of(bending)]
    return Plan(
        job=job.name,
        seed=job.seed,
        version=__version__,
        machine=job.machine,
        sheets=tuple(sheets),
        unplaced=tuple(unplaced),
        total=add_estimates([sheet.estimate for sheet in sheets]),
        findings=tuple(findings),
        tolerance_mm=job.cutting.tolerance_mm,
        bending=tuple(bending),
        **_asked(job, [demand for group, _ in answers for demand in group.demands]),
        lifting=job.lifting,
        wanted=prepared.wanted,
        only_owed=job.reopen,
        from_rack=tuple(dict.fromkeys(name for name in used if name not in own)),
    )


def _placed_parts(answers: Iterable[tuple[Group, Nest]]) -> list[tuple[Part, float, str, str]]:
    """Return every part that found a place, once, with its thickness, grade and material group."""
    placed = {p.part.name for _, nested in answers for sheet in nested.plates for p in sheet.placements}
    return [
        (demand.part, demand.thickness, demand.grade, group.data.material)
        for group, _ in answers
        for demand in group.demands
        if demand.part.name in placed
    ]


def _refuse_an_empty_plan(answers: Iterable[tuple[Group, Nest]], job: Job) -> None:
    """Refuse a batch of which nothing found a place: an earlier plan is worth more."""
    if not any(nested.plates for _, nested in answers):
        unplaced = [item for _, nested in answers for item in nested.unplaced]
        lines = [(f"{item.quantity} × {item.part}: {item.reason}", "") for item in unplaced]
        raise error_of(lines, f"{job.file}: nothing fits on the plates on offer", NestingError)


def _planned_sheets(
    answers: Sequence[tuple[Group, Nest]], job: Job, prices: Prices | None, tell: Progress, engine: Engine
) -> list[PlannedSheet]:
    """Plan every sheet of some nests."""
    nested_sheets = [(sheet, group) for group, nested in answers for sheet in nested.plates]
    tasks = sheet_tasks(nested_sheets, job, prices)
    sheets = engine.map(plan_sheet, tasks, tell, searches=True)
    # What came back from elsewhere speaks of copies of the sheets and data that went there.
    return [replace(s, nested=t.nested, data=t.data) for s, t in zip(sheets, tasks, strict=True)]


def nest_job(
    job: Job, progress: Progress | None = None, *, engine: Engine | None = None
) -> tuple[list[Nest], list[tuple[str, Finding]]]:
    """Nest a job's parts on its plates and go no further; returns the nests and the findings.

    Parameters
    ----------
    job : Job
    progress : callable, optional
        Told of each stage in words and of the share of it done, 0 to 1.
    engine : Engine, optional
        Where the searches run; here by default.  The result does not depend on it.

    Returns
    -------
    list of Nest, and list of (str, Finding)
        The nests, and what was noticed of which file or part.
    """
    tell = saying_so(progress or (lambda stage, share: None))
    prepared = prepare(job, tell, own_plans=True)
    answers, told = nests_of(prepared.groups, job, tell, engine or Here())
    nests = [nested for _, nested in answers]
    return nests, [*prepared.findings, *told, *_of_used(prepared.of_plates, nests)]


def _asked(job: Job, demands: Iterable[Demand]) -> dict[str, Any]:
    """Return kit, due day and tolerance class that are asked of parts, by their names.

    Several parts of one drawing carry its name and a number.
    """
    entries = {entry.label: entry for entry in job.parts}
    kits, due, classes = {}, {}, {}
    for demand in demands:
        name = demand.part.name
        entry = entries.get(name) or entries.get(name.rpartition("-")[0])
        if demand.kit is not None:
            kits[name] = demand.kit
        if entry is not None and entry.due is not None:
            due[name] = entry.due.isoformat()
        if entry is not None and entry.tolerance_class is not None:
            classes[name] = entry.tolerance_class
    return {"kits": kits, "due": due, "classes": classes}


def _of_used(findings: Iterable[tuple[str, Finding]], nests: Iterable[Nest]) -> list[tuple[str, Finding]]:
    """Keep what is told of plates that something lies on."""
    used = {f"plate {sheet.plate.id}" for nested in nests for sheet in nested.plates}
    return [(about, finding) for about, finding in findings if about in used]


def _stopped(
    answers: Iterable[tuple[Group, Nest | StripNest]], sheets: Iterable[PlannedSheet]
) -> list[tuple[str, Finding]]:
    """Tell where the user ended a search: what came of it is right, but may not come again."""
    stopped = [
        (f"{group.data.thickness:g} mm {group.demands[0].grade}", "nest")
        for group, nested in answers
        if nested.statistics.get("stopped")
    ]
    stopped += [(sheet.name, "order") for sheet in sheets if sheet.order.statistics.get("stopped")]
    return [
        (about, Finding("warning", f"the search was stopped: this {what} is the best found by then"))
        for about, what in stopped
    ]


def strip_job(
    job: Job, width: float, progress: Progress | None = None, *, engine: Engine | None = None
) -> tuple[list[tuple[Group, StripNest]], list[tuple[str, Finding]]]:
    """Answer how long plates of a width must be ordered for a job; its own plates do not count.

    Parameters
    ----------
    job : Job
    width : float
        Of the plates, mm.
    progress : callable, optional
        Told of each stage in words and of the share of it done, 0 to 1.
    engine : Engine, optional
        Where the searches run; here by default.  The result does not depend on it.

    Returns
    -------
    list of (Group, StripNest), and list of (str, Finding)
        An answer for each group, and what was noticed.
    """
    tell = progress or (lambda stage, share: None)
    prepared = prepare(job, tell, to_be_ordered=True)
    answers = strips_of(prepared.groups, job, width, tell, engine or Here())
    told = [each for group in prepared.groups for each in overridden(group, job)]
    return answers, [*prepared.findings, *told, *_stopped(answers, ())]
