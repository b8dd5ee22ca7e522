"""Problem and result of nesting: demands on one side, placements on plates on the other."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from cutplan.base.pictures import Pictured
from cutplan.drawing import Part
from cutplan.geometry import Path
from cutplan.stock import NestedPlate, Placement

__all__ = ["Demand", "Nest", "NestGaps", "NestProgress", "StripNest", "Unplaced"]

NestProgress = Callable[[str, int, int, float], None]
"""Told the stage, steps done, steps in all and the best cost so far."""


@dataclass(frozen=True)
class Demand:
    """How many copies of a part are wanted, and how they may lie.

    Attributes
    ----------
    part : Part
    quantity : int
    thickness : float
        mm.
    grade : str
    rotations_deg : tuple of float or None
        Rotations allowed; None for free rotation.
    mirror : bool
        Whether the part may be turned over.
    priority : int
        Higher is placed first.
    filler : bool
        Placed only where room is left over.
    kit : str or None
        Parts of one kit are kept on as few plates as can be, where that takes no other plate.
    rolling_direction : float or None
        Direction in the drawing, degrees, that must lie along the plate's rolling direction
        (either way); None where it does not matter.
    foot : tuple of Path
        What else of the plate it takes beside its own outline, drawing coordinates: contours
        that no other part may come nearer to than the gap.
    """

    part: Part
    quantity: int
    thickness: float
    grade: str
    rotations_deg: tuple[float, ...] | None = (0.0, 90.0, 180.0, 270.0)
    mirror: bool = False
    priority: int = 0
    filler: bool = False
    kit: str | None = None
    rolling_direction: float | None = None
    foot: tuple[Path, ...] = ()


@dataclass(frozen=True)
class NestGaps:
    """Least metal between parts (`gap`), and from a part to the plate's edge (`edge`), mm.

    `hole_gap` is the gap that a part keeps from the rim of the hole it lies in; the default
    takes `gap`; `clamp_gap`, where it is wider than `gap`, that from what stands on the plate.
    """

    gap: float
    edge: float
    hole_gap: float | None = None
    clamp_gap: float = 0.0


@dataclass(frozen=True)
class Unplaced:
    """Copies that found no place, and why."""

    part: str
    quantity: int
    reason: str


@dataclass(frozen=True, repr=False)
class Nest(Pictured):
    """A proved nest.

    Attributes
    ----------
    plates : tuple of NestedPlate
    unplaced : tuple of Unplaced
    least_plates : int
        Area bound: no nest needs fewer plates.
    statistics : mapping
        Counts of the search (iterations, candidates, seconds, …), for reports and benchmarks.
    """

    plates: tuple[NestedPlate, ...]
    unplaced: tuple[Unplaced, ...] = ()
    least_plates: int = 0
    statistics: Mapping[str, float] = field(default_factory=dict)

    def __repr__(self) -> str:
        missing = sum(item.quantity for item in self.unplaced)
        rest = f", {missing} parts not placed" if missing else ""
        return (
            f"<Nest on {len(self.plates)} plates of at least {self.least_plates}: {list(self.plates)}{rest}>"
        )


@dataclass(frozen=True)
class StripNest:
    """How long a plate of one width must be for these parts, and how they lie on it.

    Attributes
    ----------
    length, width : float
        mm, edges included; the strip runs along x.
    placements : tuple of Placement
    unplaced : tuple of Unplaced
        Parts wider than the strip.
    least_length : float
        Area bound: no nest is shorter.
    statistics : mapping
        Counts of the search.
    """

    length: float
    width: float
    placements: tuple[Placement, ...]
    unplaced: tuple[Unplaced, ...] = ()
    least_length: float = 0.0
    statistics: Mapping[str, float] = field(default_factory=dict)
