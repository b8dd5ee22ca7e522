"""A sheet with what lies on it: what planner and proof both see of a nest."""

from __future__ import annotations

from dataclasses import dataclass

from cutplan.drawing import Part
from cutplan.geometry import Pose
from cutplan.stock.model import Plate

__all__ = ["NestedPlate", "Placement"]


@dataclass(frozen=True)
class Placement:
    """One copy of a part on a plate; `copy` counts from 1 through the whole job."""

    part: Part
    copy: int
    pose: Pose


@dataclass(frozen=True)
class NestedPlate:
    """One sheet with what lies on it; `sheet` counts from 1 for each plate id."""

    plate: Plate
    sheet: int
    placements: tuple[Placement, ...]
