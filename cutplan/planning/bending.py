"""The bend tables of a job's parts, for the press brake behind the table."""

from __future__ import annotations

from collections.abc import Iterable

from cutplan.base.findings import Finding
from cutplan.drawing import Part
from cutplan.forming import BendTable, bend_table
from cutplan.planning.job import Job

__all__ = ["bend_tables", "told_of"]


def bend_tables(parts: Iterable[tuple[Part, float, str, str]], job: Job) -> list[BendTable]:
    """Return how each bent part is bent; nothing where the job has no press.

    Parameters
    ----------
    parts : iterable of (Part, float, str, str)
        Each with its thickness, grade and material group.
    job : Job

    Returns
    -------
    list of BendTable
    """
    press = job.press
    if press is None:
        return []
    return [
        bend_table(part, thickness, grade, material, press)
        for part, thickness, grade, material in parts
        if part.bends
    ]


def told_of(tables: Iterable[BendTable]) -> list[tuple[str, Finding]]:
    """Return what the bend tables found, as warnings: the blank can be cut all the same."""
    return [
        (table.part, Finding("warning", each.message, each.place, each.remedy, each.topic))
        for table in tables
        for each in table.findings
    ]
