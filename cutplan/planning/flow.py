"""The flow from job to proved programs; the only module that knows every room.

Each step is one function: drawings to demands, demands to nests, nested sheets to proved
programs (`sheets`), and the whole plan to files.
"""

from __future__ import annotations

from dataclasses import replace

from cutplan.base.findings import Finding
from cutplan.drawing import ready_reader
from cutplan.editing import Edits
from cutplan.nesting import Nest, StripNest
from cutplan.planning.engine import Engine, Here, Progress
from cutplan.planning.group_nests import nests_of, overridden, strips_of
from cutplan.planning.job import Job
from cutplan.planning.laid_job import LaidJob, assembled, lay_job, of_used, stopped_searches, tasks_of
from cutplan.planning.preparation import Group
from cutplan.planning.references import prepare
from cutplan.planning.sheets import plan_sheet
from cutplan.planning.warming import saying_so
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
    edits: Edits | None = None,
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
    edits : Edits, optional
        What was changed by hand.

    Returns
    -------
    Plan

    Raises
    ------
    CutplanError
        If a drawing, plate, cutting datum or post-processor is missing or wrong, or a part
        is larger than every plate.
    EditError
        If an edit cannot be made.
    ProofError
        If a program does not cut what the drawings ask for.
    """
    tell = saying_so(progress or (lambda stage, share: None))
    ready_reader()
    engine = engine or Here()
    laid = lay_job(job, tell, engine, edits=edits, replaces=replaces, own_plans=own_plans)
    return assembled(laid, _planned_sheets(laid, tell, engine))


def _planned_sheets(laid: LaidJob, tell: Progress, engine: Engine) -> list[PlannedSheet]:
    """Plan every sheet of some nests."""
    tasks = tasks_of(laid)
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
    return nests, [*prepared.findings, *told, *of_used(prepared.of_plates, nests)]


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
    return answers, [*prepared.findings, *told, *stopped_searches(answers, ())]
