"""What is said of plates on offer: those that serve by another name, and why others do not."""

from __future__ import annotations

from collections.abc import Sequence

from cutplan.base.errors import JobError
from cutplan.base.findings import Finding
from cutplan.nesting import Demand
from cutplan.planning.job import Job
from cutplan.stock import Plate, shortfall

__all__ = ["better_than_asked", "no_plate"]

MOST_NEAR = 5
"""Plates named that came near to what a part needs."""


def no_plate(demand: Demand, plates: Sequence[Plate], job: Job) -> JobError:
    """Return what to say where no plate serves a demand: which came near, and why each does not do."""
    near = []
    for plate in plates:
        why = shortfall(plate.grade, demand.grade)
        if plate.thickness == demand.thickness and why:
            near.append(f"{plate.id} ({plate.grade}): {why}")
        elif plate.thickness != demand.thickness and not why:
            near.append(f"{plate.id} ({plate.grade}): {plate.thickness:g} mm thick")
    place = "no [[plate]]" if job.inventory is None else "neither a [[plate]] nor a piece in the rack"
    remedy = "add a plate of that thickness and grade, or mend the part's entry"
    if job.inventory is not None:
        remedy += "; what other plans hold does not count: `cutplan stock list --state reserved`"
    message = f"{place} of {demand.thickness:g} mm {demand.grade} for part {demand.part.name!r}"
    if near:
        more = f"; and {len(near) - MOST_NEAR} more" if len(near) > MOST_NEAR else ""
        message += f"; on offer, but not it: {'; '.join(near[:MOST_NEAR])}{more}"
    return JobError(message, where=str(job.file), remedy=remedy)


def better_than_asked(offered: Sequence[Plate], grade: str) -> list[tuple[str, Finding]]:
    """Tell of plates that serve although their designation is another one."""
    others = sorted({plate.grade for plate in offered if plate.grade != grade})
    if not others:
        return []
    return [("plates", Finding("taken", f"{', '.join(others)} serves where {grade} is asked"))]
