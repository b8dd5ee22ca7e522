"""A press brake, and what a bend asks of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from pydantic import Field
from pydantic.dataclasses import dataclass as checked_dataclass

from cutplan.base.files import FILE_RULES
from cutplan.base.findings import Finding
from cutplan.drawing import BendLine

__all__ = ["BendCheck", "Press"]


Size = Annotated[float, Field(gt=0)]


@checked_dataclass(frozen=True, config=FILE_RULES)
class Press:
    """A press brake: the [press] section of a job.

    Attributes
    ----------
    capacity_kn : float
        Greatest force.
    bed_mm : float
        Longest bend.
    dies_mm : tuple of float
        Openings of the V dies on hand; empty for any.
    """

    capacity_kn: Size
    bed_mm: Size
    dies_mm: tuple[Size, ...] = ()


@dataclass(frozen=True)
class BendCheck:
    """One bend, as the press brake will meet it.

    Attributes
    ----------
    bend : BendLine
    length_mm : float
        Metal along the line, holes taken out.
    die_mm : float
        Die opening chosen.
    force_kn : float
        Air-bending force.
    inside_radius_mm : float
        Inside radius that air bending over this die gives.
    shortest_flange_mm : float
        Shortest flange the die can carry.
    flange_mm : float
        Shortest flange the blank has beside this line.
    along_rolling : bool or None
        Whether the line runs within 30° of the rolling direction; None where that is not known.
    findings : tuple of Finding
        What cannot be bent ("refused"), and what to mind ("warning").
    """

    bend: BendLine
    length_mm: float
    die_mm: float
    force_kn: float
    inside_radius_mm: float
    shortest_flange_mm: float
    flange_mm: float
    along_rolling: bool | None
    findings: tuple[Finding, ...] = ()
