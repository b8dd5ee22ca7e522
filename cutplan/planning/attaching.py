"""Marks for assembly: what the job says is welded on its parts, marked where it will stand."""

from __future__ import annotations

import difflib
from dataclasses import replace

from cutplan.base.errors import CutplanError
from cutplan.base.findings import Finding, FindingKind
from cutplan.drawing import Reading, congruence, read_apart, with_attached
from cutplan.geometry import Path, place
from cutplan.planning.entries import AssemblyEntry
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
    intake.wanted = [_assembled(_marked(each, outlines, intake, job), intake, job) for each in intake.wanted]


def _marked(wanted: Wanted, outlines: dict[str, Path], intake: Intake, job: Job) -> Wanted:
    part, attached = wanted.part, wanted.entry.attached
    if not attached:
        return wanted
    strangers = [each.part for each in attached if each.part is not None and each.part not in outlines]
    for name in strangers:
        near = difflib.get_close_matches(name, outlines, n=1)
        remedy = f"did you mean {near[0]!r}?" if near else "name a part of the job, or give its footprint"
        told = f"{name!r} is to be attached, and no part has that name"
        intake.take(part.name, [Finding("refused", told, None, remedy, "attached")])
    if strangers:
        return wanted
    if not _can_mark(wanted, intake, job):
        return wanted
    return replace(wanted, part=with_attached(part, attached, outlines))


def _can_mark(wanted: Wanted, intake: Intake, job: Job) -> bool:
    if not job.machine.marker:
        told = "the machine has no marker: what is attached is not marked"
        intake.take(wanted.part.name, [Finding("warning", told, topic="attached")])
    return job.machine.marker


def _assembled(wanted: Wanted, intake: Intake, job: Job) -> Wanted:
    """Mark on a part what its assembly's drawing shows on it, wherever the part lies there."""
    entry, part = wanted.entry.assembly, wanted.part
    if entry is None or not _can_mark(wanted, intake, job):
        return wanted
    file, reading = job.folder / entry.drawing, _read(entry, job)
    if isinstance(reading, CutplanError):
        refused = Finding("refused", reading.message, reading.place, reading.remedy or "", "files")
        intake.take(str(file), [refused])
        return wanted
    bare = replace(part, marks=(), texts=(), bends=())
    found = [
        (drawn, pose) for drawn in reading.parts if (pose := congruence(drawn, bare, whole=False)) is not None
    ]
    if len(found) != 1:
        count = "no contour like it" if not found else f"{len(found)} contours like it"
        told = f"{file.name} shows {count} on the layers {', '.join(entry.outline)}"
        remedy = "name the layers of this part alone, drawn as it is cut"
        intake.take(part.name, [Finding("refused", told, None, remedy, "attached")])
        return wanted
    ((drawn, pose),) = found
    lines = [place(mark, pose) for mark in drawn.marks]
    told = f"{len(lines)} lines are marked as {file.name} shows them"
    kind: FindingKind = "taken" if lines else "warning"
    intake.take(part.name, [Finding(kind, told, topic="attached")])
    return replace(wanted, part=replace(part, marks=(*part.marks, *lines)))


def _read(entry: AssemblyEntry, job: Job) -> Reading:
    """Return what an assembly's drawing holds on the layers that are named."""
    usual = job.drawings.options()
    options = replace(
        usual,
        layers={"cut": entry.outline, "mark": entry.marks, "ignore": ("*",)},
        open="leave out",
        frames="leave out",
        units=entry.units or usual.units,
    )
    return read_apart([(job.folder / entry.drawing, options)])[0]
