"""Lanes: strips of a plate that torches set side by side cut in step, all of them alike.

What lies in the lane of the first torch is nested, cut and ordered; the other torches do the
same, each a spacing further across the plate.

Terminology
-----------
lane : strip along a plate, as wide as the torches stand apart; the first begins at y = 0.
spacing : distance from torch to torch, across the plate, mm.
band : the lanes that lie under all torches at once; where the plate is wide enough, the torches go
    across it in several bands, one after the other, and the lane of each has a strip in each.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutplan.base.machine import Machine
from cutplan.geometry import Path, bounds, polygon, reverse
from cutplan.stock.model import Plate
from cutplan.stock.nested import NestedPlate, Placement

__all__ = ["ONE_TORCH", "Lanes", "first_lane", "in_bands", "lane_plates", "repeated", "strip_width"]

# Rounding of a rectangle's corners, and of places that a saved plan gives back, mm.
_ROUNDING = 1e-6


@dataclass(frozen=True)
class Lanes:
    """How many torches burn together, how far apart they stand, mm, and in how many bands they cut."""

    torches: int
    spacing: float
    bands: int = 1

    @property
    def shifts(self) -> tuple[float, ...]:
        """How far each torch stands from the first, mm across the plate."""
        return tuple(k * self.spacing for k in range(self.torches))

    @property
    def band_mm(self) -> float:
        """Width of a band, mm."""
        return self.torches * self.spacing

    def machine_of_first(self, machine: Machine) -> Machine:
        """Return the machine as the first torch has it: the last one must stay on the table too."""
        length, width = machine.table
        return replace(machine, table=(length, max(width - (self.torches - 1) * self.spacing, _ROUNDING)))


ONE_TORCH = Lanes(1, 0.0)
"""One torch alone: its lane is the whole plate, whatever its outline."""


def lane_plates(plates: Sequence[Plate], lanes: Lanes) -> tuple[Plate, ...]:
    """Return a strip of the first lane of the plates that have room for all lanes, one for each band.

    Only whole rectangles without keep-outs serve: what one torch meets all must meet.

    Parameters
    ----------
    plates : sequence of Plate
    lanes : Lanes
        How torches side by side share the plate.

    Returns
    -------
    tuple of Plate
    """
    found = []
    for plate in plates:
        width = strip_width(plate, lanes)
        if width > 0.0:
            found.append(replace(plate, outline=_strip(plate, width), quantity=plate.quantity * lanes.bands))
    return tuple(found)


def strip_width(plate: Plate, lanes: Lanes) -> float:
    """Return how wide the strips of a plate's lanes are, mm; 0 where it has no room for all.

    Parameters
    ----------
    plate : Plate
    lanes : Lanes
        Several torches.

    Returns
    -------
    float
    """
    x0, y0, x1, y1 = bounds(plate.outline)
    rectangle = len(plate.outline.segments.length) == 4 and math.isclose(
        plate.metal_mm2, (x1 - x0) * (y1 - y0), rel_tol=_ROUNDING
    )
    if not rectangle or plate.barred:
        return 0.0
    return max(0.0, min(lanes.spacing, y1 - y0 - (lanes.bands * lanes.torches - 1) * lanes.spacing))


def _strip(plate: Plate, width: float, *, low: float = 0.0) -> Path:
    x0, y0, x1, _ = bounds(plate.outline)
    return polygon([(x0, y0 + low), (x1, y0 + low), (x1, y0 + width), (x0, y0 + width)])


def _lane(plate: Plate, lanes: Lanes) -> Plate | None:
    """Return the first torch's lane as a plate; between its strips there is no metal for it."""
    if lanes.torches == 1:
        return plate
    width = strip_width(plate, lanes)
    if width == 0.0:
        return None
    last = (lanes.bands - 1) * lanes.band_mm
    between = [
        reverse(_strip(plate, (k + 1) * lanes.band_mm, low=k * lanes.band_mm + width))
        for k in range(lanes.bands - 1)
    ]
    return replace(plate, outline=_strip(plate, last + width), voids=tuple(between))


def in_bands(strips: Sequence[NestedPlate], lanes: Lanes) -> list[NestedPlate]:
    """Return the first lanes of plates, each made of the nested strips of its bands.

    Parameters
    ----------
    strips : sequence of NestedPlate
        Strips as `lane_plates` gives them.
    lanes : Lanes
        How torches side by side share the plates.

    Returns
    -------
    list of NestedPlate
        Their outline is that of one strip still.
    """
    by_plate: dict[str, list[NestedPlate]] = {}
    for strip in strips:
        by_plate.setdefault(strip.plate.id, []).append(strip)
    made = []
    for own in by_plate.values():
        for number, first in enumerate(range(0, len(own), lanes.bands), start=1):
            placements = [
                replace(placement, pose=replace(placement.pose, y=placement.pose.y + k * lanes.band_mm))
                for k, strip in enumerate(own[first : first + lanes.bands])
                for placement in strip.placements
            ]
            made.append(NestedPlate(own[0].plate, number, tuple(placements)))
    return made


def repeated(lane: NestedPlate, plate: Plate, lanes: Lanes) -> NestedPlate:
    """Return a whole plate with what lies in its first lane in every one, lane after lane.

    Parameters
    ----------
    lane : NestedPlate
        What lies in the first lane.
    plate : Plate
        The whole plate.
    lanes : Lanes
        How torches side by side share the plate.

    Returns
    -------
    NestedPlate
    """
    placements = [
        replace(placement, pose=replace(placement.pose, y=placement.pose.y + k * lanes.spacing))
        for k in range(lanes.torches)
        for placement in lane.placements
    ]
    return NestedPlate(plate, lane.sheet, tuple(placements))


def first_lane(nested: NestedPlate, lanes: Lanes) -> NestedPlate | None:
    """Return the first lane of a plate, None where the other lanes are not just like it.

    Parameters
    ----------
    nested : NestedPlate
    lanes : Lanes
        How torches side by side share the plate.

    Returns
    -------
    NestedPlate or None
    """
    count, rest = divmod(len(nested.placements), lanes.torches)
    lane = _lane(nested.plate, lanes)
    if lane is None or rest:
        return None
    first = NestedPlate(lane, nested.sheet, nested.placements[:count])
    wanted = repeated(first, nested.plate, lanes).placements
    alike = all(_same_place(a, b) for a, b in zip(nested.placements, wanted, strict=True))
    return first if alike else None


def _same_place(a: Placement, b: Placement) -> bool:
    return (
        a.part.name == b.part.name
        and a.pose.mirrored == b.pose.mirrored
        and math.isclose(a.pose.rotation_deg, b.pose.rotation_deg, abs_tol=_ROUNDING)
        and math.isclose(a.pose.x, b.pose.x, abs_tol=_ROUNDING)
        and math.isclose(a.pose.y, b.pose.y, abs_tol=_ROUNDING)
    )
