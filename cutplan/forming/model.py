"""A press brake with its tools, and what a bend asks of it; the records that this room hands on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from pydantic import Field
from pydantic.dataclasses import dataclass as checked_dataclass

from cutplan.base.files import FILE_RULES
from cutplan.base.findings import Finding
from cutplan.drawing import BendLine, Part

__all__ = ["BendCheck", "Blank", "DevelopedBend", "Press"]


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
    k_factor : float or None
        Of the shop's own tools: share of the thickness, from the inside, at which a bend leaves
        the length as it was; developed lengths go by DIN 6935 where it is not given.
    """

    capacity_kn: Size
    bed_mm: Size
    dies_mm: tuple[Size, ...] = ()
    k_factor: Annotated[float, Field(gt=0, le=0.6)] | None = None


@dataclass(frozen=True)
class DevelopedBend:
    """One bend of a blank that was developed from its flanges.

    Attributes
    ----------
    at_mm : float
        Where its middle lies along the blank.
    angle_deg : float
        Bend angle.
    radius_mm : float
        Inside radius reckoned with.
    direction : {"up", "down"}
    allowance_mm : float
        Flat plate between the straight stretches beside it.
    compensation_mm : float
        v of DIN 6935: what it adds to the outside lengths.
    """

    at_mm: float
    angle_deg: float
    radius_mm: float
    direction: Literal["up", "down"]
    allowance_mm: float
    compensation_mm: float


@dataclass(frozen=True)
class Blank:
    """A blank developed from its flanges.

    Attributes
    ----------
    part : Part
        Contour, holes and bend lines; x runs along the developed length.
    length_mm : float
        Developed length.
    bends : tuple of DevelopedBend
    findings : tuple of Finding
        What to mind when it is bent.
    """

    part: Part
    length_mm: float
    bends: tuple[DevelopedBend, ...]
    findings: tuple[Finding, ...] = field(default=())


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
