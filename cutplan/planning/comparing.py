"""The same batch by other processes and torch counts."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from cutplan.control import as_read
from cutplan.estimating import Compared, Work, compare
from cutplan.planning.engine import Engine, Progress
from cutplan.planning.flow import plan_job
from cutplan.planning.job import Job
from cutplan.planning.preparation import prices_of
from cutplan.planning.sheets import part_areas
from cutplan.process import Library
from cutplan.record import Plan

__all__ = ["compare_job"]


def compare_job(
    job: Job, progress: Progress | None = None, *, engine: Engine | None = None
) -> tuple[Compared, ...]:
    """Compare a job by plasma and by oxy-fuel with one, two and four torches.

    The cuts stay as they were planned; only the process and the torches differ.

    Parameters
    ----------
    job : Job
    progress : callable, optional
        Told of each stage in words and of the share of it done, 0 to 1.
    engine : Engine, optional
        Where the searches run; here by default.  The result does not depend on it.

    Returns
    -------
    tuple of Compared
    """
    # Torches side by side would share out parts among them: all are compared on the cuts of one.
    job = replace(job, machine=replace(job.machine, torch_spacing_mm=None))
    plan = plan_job(job, progress, own_plans=True, engine=engine)
    library = Library.load([job.folder / place for place in job.cutting.data])
    return compare(_works_of(plan), library, job.machine, prices=prices_of(job), options=job.estimate)


def _works_of(plan: Plan) -> list[Work]:
    """Return what a plan's programs do."""
    return [
        Work(
            as_read([file.text for file in sheet.program.files], sheet.program.dialect).motions,
            sheet.data,
            sheet.nested.plate,
            part_areas(sheet.nested),
            Counter(placement.part.name for placement in sheet.nested.placements),
            sheet.estimate.remnant_kg or 0.0,
        )
        for sheet in plan.sheets
    ]
