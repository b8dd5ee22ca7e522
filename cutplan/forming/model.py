"""A press brake with its tools, and what a bend asks of it; the records that this room hands on."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic.dataclasses import dataclass as checked_dataclass

from cutplan.base.files import FILE_RULES
from cutplan.base.findings import Finding
from cutplan.drawing import BendLine, Part
from cutplan.geometry import is_simple, polygon

__all__ = ["BendCheck", "BendStroke", "BendTable", "Blank", "DevelopedBend", "Press", "ToolPicture"]


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
    die_angle_deg : float
        Of the V in the dies.
    die_height_mm : float
        From the table to the shoulders of the V.
    die_shoulder_mm : float
        Of metal beside the V at its top, on either side.
    table_width_mm : float
        Of the beam that the die stands on.
    punch_angle_deg : float
        Of the punch's edge.
    punch_width_mm : float
        Of the punch's body.
    punch_height_mm : float
        From the punch's edge to the ram.
    punch_outline : list of (x, y)
        Section of the shop's own punch, its edge at (0, 0), y up and x away from the operator:
        instead of angle and width.
    ram_width_mm : float
        Of the beam that holds the punch.
    gauge_mm : tuple of float
        Nearest and farthest that the back gauge stands from the middle of the die.
    gauge_finger_mm : float
        Height of the gauge's fingers above the die's shoulders.
    """

    capacity_kn: Size
    bed_mm: Size
    dies_mm: tuple[Size, ...] = ()
    k_factor: Annotated[float, Field(gt=0, le=0.6)] | None = None
    # Tools of a plain straight set (common practice); the shop's own go before them.
    die_angle_deg: Annotated[float, Field(ge=20, le=120)] = 80.0
    die_height_mm: Size = 120.0
    die_shoulder_mm: Size = 15.0
    table_width_mm: Size = 180.0
    punch_angle_deg: Annotated[float, Field(ge=20, le=120)] = 80.0
    punch_width_mm: Size = 26.0
    punch_height_mm: Size = 160.0
    punch_outline: tuple[tuple[float, float], ...] = ()
    ram_width_mm: Size = 200.0
    gauge_mm: tuple[Size, Size] = (8.0, 1000.0)
    gauge_finger_mm: Size = 15.0

    @model_validator(mode="after")
    def _tools_are_sound(self) -> Press:
        if self.gauge_mm[0] >= self.gauge_mm[1]:
            raise ValueError("gauge_mm must be [nearest, farthest]")
        if self.punch_outline:
            # The edge must be on it and lowest, or the punch would press beside the die's middle.
            if len(self.punch_outline) < 3 or (0.0, 0.0) not in self.punch_outline:
                raise ValueError("punch_outline needs three points or more, one of them [0, 0], its edge")
            if any(y <= 0.0 for point in self.punch_outline if point != (0.0, 0.0) for y in point[1:]):
                raise ValueError("punch_outline must lie above its edge at [0, 0]")
            if not is_simple(polygon(self.punch_outline)):
                raise ValueError("punch_outline crosses itself")
        return self


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


Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class ToolPicture:
    """The section of a stroke at its end: the part between punch and die, mm, die's shoulders at y = 0.

    Attributes
    ----------
    part, punch, die : tuple of (x, y)
        Outlines; x away from the operator.
    """

    part: Outline
    punch: Outline
    die: Outline


@dataclass(frozen=True)
class BendStroke:
    """One stroke of the press brake.

    Attributes
    ----------
    bend : int
        Which bend line of the part, counted from 1 as they lie across the blank.
    angle_deg : float
    direction : {"up", "down"}
        As the drawing shows it; "down" is bent with the blank turned over.
    turned_over : bool
        The drawing's face lies down.
    gauge_edge : {"A", "B"}
        The side of the blank at the back gauge: A lies before the first bend line, B behind
        the last.
    gauge_mm : float
        From the middle of the die to the back gauge.
    gauge_on : {"edge", "bent flange", "scribed line"}
        What touches the gauge; the line is set by eye where the gauge does not reach.
    radius_mm : float
        Inside radius reckoned with.
    die_mm : float
        Die opening.
    force_kn : float
    length_mm : float
        Metal along the line.
    slide_out : bool
        The punch cannot be raised past the part: it leaves over the end of the press.
    picture : ToolPicture or None
    """

    bend: int
    angle_deg: float
    direction: Literal["up", "down"]
    turned_over: bool
    gauge_edge: Literal["A", "B"]
    gauge_mm: float
    gauge_on: Literal["edge", "bent flange", "scribed line"]
    radius_mm: float
    die_mm: float
    force_kn: float
    length_mm: float
    slide_out: bool = False
    picture: ToolPicture | None = None


@dataclass(frozen=True)
class BendTable:
    """How a part is bent: stroke by stroke, in an order that hits nothing.

    Attributes
    ----------
    part : str
        Name of the part.
    thickness : float
        mm.
    grade : str
    strokes : tuple of BendStroke
        In their order; empty where none was found.
    findings : tuple of Finding
        Why there is no order ("refused"), and what was not checked ("warning").
    edges : tuple of ((x, y), (x, y)), optional
        Where the edges A and B lie on the drawing.
    """

    part: str
    thickness: float
    grade: str
    strokes: tuple[BendStroke, ...]
    findings: tuple[Finding, ...] = ()
    edges: tuple[tuple[float, float], tuple[float, float]] | None = None
