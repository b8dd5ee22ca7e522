"""A sheet with what lies on it: what planner and proof both see of a nest."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.base.pictures import Pictured
from cutplan.drawing import Part, metal_area
from cutplan.geometry import Pose
from cutplan.stock.model import Plate

__all__ = ["NestedPlate", "Placement"]


@dataclass(frozen=True)
class Placement:
    """One copy of a part on a plate; `copy` counts from 1 through the whole job."""

    part: Part
    copy: int
    pose: Pose


@dataclass(frozen=True, repr=False)
class NestedPlate(Pictured):
    """One sheet with what lies on it; `sheet` counts from 1 for each plate id."""

    plate: Plate
    sheet: int
    placements: tuple[Placement, ...]

    @property
    def name(self) -> str:
        """Plate id and sheet number."""
        return f"{self.plate.id}-{self.sheet}"

    @property
    def part_area(self) -> float:
        """True area of the parts, holes taken out, mm²."""
        return sum(metal_area(placement.part) for placement in self.placements)

    @property
    def utilisation(self) -> float:
        """True part area over plate area."""
        return self.part_area / self.plate.metal_mm2

    @property
    def parts_kg(self) -> float:
        """Mass of the parts."""
        return self.plate.mass_kg(self.part_area)

    def __repr__(self) -> str:
        return f"<NestedPlate {self.name}: {len(self.placements)} parts, {100 * self.utilisation:.1f} % used>"
