"""The cutting table as the planner sees it: travel, speeds, torches, lifting times."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field
from pydantic.dataclasses import dataclass

from cutplan.base.files import FILE_RULES

__all__ = ["Machine"]


Speed = Annotated[float, Field(gt=0, le=1e6)]
Seconds = Annotated[float, Field(ge=0, le=3_600)]
Distance = Annotated[float, Field(gt=0, le=100_000)]
DistanceOrNone = Annotated[float, Field(ge=0, le=100_000)]


def _has_size(table: tuple[float, float]) -> tuple[float, float]:
    if min(table) <= 0:
        raise ValueError("the table's travel must be above zero in x and y")
    return table


@dataclass(frozen=True, config=FILE_RULES)
class Machine:
    """A cutting table: the [machine] section of a job, or a file of its own.

    Attributes
    ----------
    table : tuple of float
        Travel in x and y, mm.
    rapid_mm_min : float
        Rapid speed.
    acceleration_mm_s2 : float
        Acceleration of the gantry along the path.
    water_table : bool
        The plate lies in or on water.
    marker : bool
        The machine carries a marker or scriber.
    processes : tuple of {"plasma", "oxyfuel"}
        What it cuts by; no other is chosen.
    max_current_a : float or None
        Arc current that its power source supplies at most; None takes every setting of the data
        as within reach, and says so.
    postprocessor : str
        Name of the post-processor for this control.
    postprocessor_oxyfuel : str or None
        Another one for oxy-fuel programs, where the shop uses two.
    postprocessor_bevels : str or None
        The one for programs that bevel edges, with how its torch leans; without it the machine
        bevels nothing.
    torches : int
        Torches on the gantry that can cut side by side.
    torch_spacing_mm : float or None
        Distance between neighbouring torches on the gantry.
    raise_s, lower_s : float
        Time to lift the torch to travel height after a cut, and to bring it down (with the
        search for the plate's surface) before a pierce.  Common practice, to be overridden.
    probe_s : float
        Time to find the plate's surface before each start where the program gives the heights
        itself; 0 takes the plate as flat.  Otherwise the search is part of `lower_s`.
    corner_deviation_mm : float
        Deviation from the path that the control allows itself at corners.
    start : tuple of float
        Where the torch stands at the start and the end of a program, plate coordinates.
    torch_clearance_mm : float
        Radius around the torch centre that a tipped part must not reach.
    torch_radius_mm : float
        Radius of the torch's body with all that hangs on it: clamps stay outside of it.
    travel_height_mm : float
        Height of the torch's tip over the plate while it travels raised, where the control
        owns the heights; a post-processor that writes heights has its own.
    low_travel_height_mm : float
        The same while it travels low.
    plate_margin_mm : float
        How far the torch may travel beyond the plate.
    ignition_s : float
        Time from the torch-on command until the arc or the flame stands.
    """

    table: Annotated[tuple[float, float], AfterValidator(_has_size)] = (6000.0, 2000.0)
    rapid_mm_min: Speed = 20000.0
    acceleration_mm_s2: Speed = 500.0
    water_table: bool = False
    marker: bool = False
    processes: Annotated[tuple[Literal["plasma", "oxyfuel"], ...], Field(min_length=1)] = (
        "plasma",
        "oxyfuel",
    )
    max_current_a: Annotated[float, Field(gt=0)] | None = None
    postprocessor: Annotated[str, Field(min_length=1)] = "rs274-metric"
    postprocessor_oxyfuel: str | None = None
    postprocessor_bevels: str | None = None
    torches: Annotated[int, Field(ge=1, le=16)] = 1
    torch_spacing_mm: Distance | None = None
    raise_s: Seconds = 1.0
    lower_s: Seconds = 2.0
    probe_s: Seconds = 0.0
    corner_deviation_mm: Distance = 0.05
    start: tuple[float, float] = (0.0, 0.0)
    torch_clearance_mm: Distance = 40.0
    torch_radius_mm: DistanceOrNone = 25.0
    travel_height_mm: Distance = 30.0
    low_travel_height_mm: Distance = 10.0
    plate_margin_mm: DistanceOrNone = 100.0
    ignition_s: Seconds = 0.5
