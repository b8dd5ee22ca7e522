"""What is marked on each part so that its metal can be traced: part, heat number, plate.

EN 1090-2 asks that pieces can be told apart at all stages, and in the higher execution classes
that each can be traced to its inspection document (from memory; the standard goes before this).
"""

from __future__ import annotations

from dataclasses import replace

from cutplan.base.findings import Finding
from cutplan.drawing import Part, trace_to_mark
from cutplan.planning.job import Job
from cutplan.stock import NestedPlate

__all__ = ["trace_findings", "traced"]


def traced(nested: NestedPlate, job: Job) -> NestedPlate:
    """Return a sheet whose parts carry what they are traced by, where the job asks for it.

    Parameters
    ----------
    nested : NestedPlate
    job : Job

    Returns
    -------
    NestedPlate
    """
    if not (job.marking.trace and job.machine.marker):
        return nested
    own: dict[str, Part] = {}
    for part in {placement.part.name: placement.part for placement in nested.placements}.values():
        words = [part.name, *([nested.plate.heat] if nested.plate.heat else []), nested.name]
        own[part.name] = replace(part, trace=trace_to_mark(part, words, job.marking.letters_mm))
    placements = tuple(replace(p, part=own[p.part.name]) for p in nested.placements)
    return replace(nested, placements=placements)


def trace_findings(nested: NestedPlate, job: Job) -> tuple[Finding, ...]:
    """Return what of a sheet's parts cannot be traced by its marks.

    Parameters
    ----------
    nested : NestedPlate
    job : Job

    Returns
    -------
    tuple of Finding
    """
    if not job.marking.trace:
        return ()
    if not job.machine.marker:
        told = "the machine has no marker: mark part, heat number and plate on each part by hand"
        return (Finding("warning", told, topic="trace"),)
    findings = []
    if not nested.plate.heat:
        told = f"plate {nested.plate.id} has no heat number: its parts are marked without one"
        findings.append(Finding("warning", told, None, "give its heat, as stamped", "trace"))
    bare = sorted({p.part.name for p in nested.placements if not p.part.trace})
    if bare:
        told = f"no room for part, heat number and plate on {', '.join(bare)}: mark by hand"
        findings.append(Finding("warning", told, topic="trace"))
    return tuple(findings)
