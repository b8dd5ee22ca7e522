"""A job from its file to sheets laid and asked for, and from planned sheets to the whole plan.

Between the two stands the work on each sheet (`sheets`), which knows nothing of the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from cutplan.base.errors import NestingError
from cutplan.base.files import error_of
from cutplan.base.findings import Finding
from cutplan.base.version import __version__
from cutplan.drawing import Part
from cutplan.editing import Edits, SheetWishes, State
from cutplan.estimating import add_estimates
from cutplan.nesting import Demand, Nest, StripNest
from cutplan.planning.bending import bend_tables, told_of
from cutplan.planning.edited import (
    Answers,
    edited_nests,
    nests_after,
    refuse_foreign_edits,
    started_nests,
    told_of_edits,
    with_data,
)
from cutplan.planning.engine import Engine, Progress
from cutplan.planning.group_nests import nests_of, scattered_kits
from cutplan.planning.job import Job
from cutplan.planning.preparation import Group
from cutplan.planning.references import Prepared, prepare
from cutplan.planning.sheets import SheetTask, sheet_tasks
from cutplan.planning.warming import compiled_beside
from cutplan.record import Plan, PlannedSheet

__all__ = ["LaidJob", "assembled", "lay_job", "of_used", "stopped_searches", "tasks_of"]


@dataclass(frozen=True)
class LaidJob:
    """A job whose parts lie on sheets.

    Attributes
    ----------
    job : Job
    prepared : Prepared
    answers : list of (Group, Nest)
        As they are to be cut.
    begun : list of (Group, Nest)
        As they were before any edit.
    told : list of (str, Finding)
        What the nest told.
    wishes : mapping of str to SheetWishes
        What is asked by hand of each sheet.
    wanted : mapping of str to int
        How many of each part, by the edits.
    edits : Edits or None
    """

    job: Job
    prepared: Prepared
    answers: Answers
    begun: Answers
    told: list[tuple[str, Finding]]
    wishes: Mapping[str, SheetWishes] = field(default_factory=dict)
    wanted: Mapping[str, int] = field(default_factory=dict)
    edits: Edits | None = None

    def after(self, state: State, edits: Edits) -> LaidJob:
        """Return the job as a state of its edits has it."""
        nests = nests_after(state, self.begun, self.prepared.groups)
        return replace(self, answers=nests.answers, wishes=nests.wishes, wanted=nests.wanted, edits=edits)


def lay_job(
    job: Job,
    tell: Progress,
    engine: Engine,
    *,
    edits: Edits | None = None,
    replaces: str | None = None,
    own_plans: bool = False,
) -> LaidJob:
    """Open all that a job refers to, nest it or take the nest that edits begin from, and make the edits."""
    if edits is not None:
        refuse_foreign_edits(edits, job)
    whole = job if edits is None else with_data(job, edits.edits)
    with compiled_beside(tell):
        prepared = prepare(whole, tell, replaces=replaces, own_plans=own_plans)
    if edits is not None and edits.start is not None:
        begun, told = started_nests(edits.start, prepared.groups)
    else:
        # Other cutting data come after the nest, as every edit does.
        own = (
            prepared
            if whole.settings == job.settings
            else prepare(job, tell, replaces=replaces, own_plans=own_plans)
        )
        begun, told = nests_of(own.groups, job, tell, engine)
    laid = LaidJob(whole, prepared, begun, begun, told, edits=edits)
    if edits is not None and edits.edits:
        nests = edited_nests(begun, prepared.groups, whole, edits)
        laid = replace(laid, answers=nests.answers, wishes=nests.wishes, wanted=nests.wanted)
    _refuse_an_empty_plan(laid.answers, job)
    return laid


def tasks_of(laid: LaidJob) -> list[SheetTask]:
    """Return a task for each sheet of a job that is laid."""
    sheets = [(sheet, group) for group, nested in laid.answers for sheet in nested.plates]
    return sheet_tasks(sheets, laid.job, laid.prepared.prices, laid.wishes)


def assembled(laid: LaidJob, sheets: Sequence[PlannedSheet]) -> Plan:
    """Return the plan of a job whose sheets are planned.

    Parameters
    ----------
    laid : LaidJob
    sheets : sequence of PlannedSheet
        In the order of its tasks.
    """
    job, prepared, answers = laid.job, laid.prepared, laid.answers
    nests = [nested for _, nested in answers]
    own, used = {entry.id for entry in job.plates}, [s.plate.id for n in nests for s in n.plates]
    findings = [*prepared.findings, *laid.told, *of_used(prepared.of_plates, nests), *scattered_kits(answers)]
    findings += [(sheet.name, finding) for sheet in sheets for finding in sheet.findings]
    bending = bend_tables(_placed_parts(answers), job)
    findings += [*stopped_searches(answers, sheets), *told_of(bending)]
    findings += [] if laid.edits is None else told_of_edits(laid.edits)
    return Plan(
        job=job.name,
        seed=job.seed,
        version=__version__,
        machine=job.machine,
        sheets=tuple(sheets),
        unplaced=tuple(item for nested in nests for item in nested.unplaced),
        total=add_estimates([sheet.estimate for sheet in sheets]),
        findings=tuple(findings),
        tolerance_mm=job.cutting.tolerance_mm,
        bending=tuple(bending),
        **_asked(job, [demand for group, _ in answers for demand in group.demands]),
        lifting=job.lifting,
        wanted=_wanted(laid),
        only_owed=job.reopen,
        from_rack=tuple(dict.fromkeys(name for name in used if name not in own)),
    )


def _wanted(laid: LaidJob) -> dict[str, int]:
    """Return how many of each part the job wants in all; edits change what it was to plan."""
    whole = dict(laid.prepared.wanted)
    if laid.edits is None or not laid.edits.edits:
        return whole
    planned = {d.part.name: d.quantity for group in laid.prepared.groups for d in group.demands}
    for part, count in planned.items():
        whole[part] += laid.wanted.get(part, 0) - count
    return {part: count for part, count in whole.items() if count}


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


def _asked(job: Job, demands: Iterable[Demand]) -> dict[str, Any]:
    """Return kit, due day and tolerance class that are asked of parts, by their names.

    Several parts of one drawing carry its name and a number.
    """
    entries = {entry.label: entry for entry in job.parts}
    kits, due, classes = {}, {}, {}
    for demand in demands:
        name = demand.part.name
        whole = demand.part.piece.split.of if demand.part.piece is not None else name
        entry = entries.get(whole) or entries.get(whole.rpartition("-")[0])
        if demand.kit is not None:
            kits[name] = demand.kit
        if entry is not None and entry.due is not None:
            due[name] = entry.due.isoformat()
        if entry is not None and entry.tolerance_class is not None:
            classes[name] = entry.tolerance_class
    return {"kits": kits, "due": due, "classes": classes}


def of_used(findings: Iterable[tuple[str, Finding]], nests: Iterable[Nest]) -> list[tuple[str, Finding]]:
    """Keep what is told of plates that something lies on."""
    used = {f"plate {sheet.plate.id}" for nested in nests for sheet in nested.plates}
    return [(about, finding) for about, finding in findings if about in used]


def stopped_searches(
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
