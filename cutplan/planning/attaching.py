"""Marks for assembly: what the job says is welded on its parts, marked where it will stand."""

from __future__ import annotations

import difflib
from dataclasses import replace

from cutplan.base.findings import Finding
from cutplan.drawing import with_attached
from cutplan.geometry import Path
from cutplan.planning.intake import Intake, Wanted
from cutplan.planning.job import Job

__all__ = ["mark_attached"]


def mark_attached(intake: Intake, job: Job) -> None:
    """Put the marks of what is welded on them on the parts wanted; what cannot be is noted.

    Parameters
    ----------
    intake : Intake
        Its parts wanted are changed.
    job : Job
    """
    outlines = {each.part.name: each.part.outer for each in intake.wanted}
    intake.wanted = [
        each if not each.entry.attached else _marked(each, outlines, intake, job) for each in intake.wanted
    ]


def _marked(wanted: Wanted, outlines: dict[str, Path], intake: Intake, job: Job) -> Wanted:
    part, attached = wanted.part, wanted.entry.attached
    strangers = [each.part for each in attached if each.part is not None and each.part not in outlines]
    for name in strangers:
        near = difflib.get_close_matches(name, outlines, n=1)
        remedy = f"did you mean {near[0]!r}?" if near else "name a part of the job, or give its footprint"
        told = f"{name!r} is to be attached, and no part has that name"
        intake.take(part.name, [Finding("refused", told, None, remedy, "attached")])
    if strangers:
        return wanted
    if not job.machine.marker:
        told = "the machine has no marker: what is attached is not marked"
        intake.take(part.name, [Finding("warning", told, topic="attached")])
        return wanted
    return replace(wanted, part=with_attached(part, attached, outlines))
