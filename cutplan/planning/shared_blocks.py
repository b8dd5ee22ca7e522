"""Parts laid kerf to kerf before they are nested: pairs, rows and grids, each nested as one part.

A block keeps the full gap to everything else, and a kerf between its own parts.  Those with one
pair of parallel sides (trapezoids) lie turned about by half a turn, one beside the other, so that
slanted sides meet; rectangles also in two rows.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutplan.cutting import SharedCuts, block_outline, may_share
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Pose, bounds
from cutplan.nesting import Demand, Nest, Unplaced
from cutplan.stock import Placement, Plate

__all__ = ["Blocks", "lay_blocks"]

FLAT = 1e-6


@dataclass(frozen=True, eq=False)
class Blocks:
    """Demands of which some are for blocks.

    Attributes
    ----------
    demands : tuple of Demand
    members : mapping of str to (Part, tuple of Pose)
        By a block's name, its part and how each copy lies in it.
    """

    demands: tuple[Demand, ...]
    members: Mapping[str, tuple[Part, tuple[Pose, ...]]]

    def taken_apart(self, nested: Nest) -> Nest:
        """Return a nest with the copies of the parts in the place of blocks."""
        copies: Counter[str] = Counter()
        sheets = []
        for sheet in nested.plates:
            placements = []
            for placement in sheet.placements:
                part, poses = self.members.get(placement.part.name, (placement.part, (Pose(),)))
                for pose in poses:
                    copies[part.name] += 1
                    placements.append(Placement(part, copies[part.name], _within(placement.pose, pose)))
            sheets.append(replace(sheet, placements=tuple(placements)))
        missing: dict[tuple[str, str], int] = {}
        for item in nested.unplaced:
            part_name, size = item.part, 1
            if item.part in self.members:
                part, poses = self.members[item.part]
                part_name, size = part.name, len(poses)
            key = part_name, item.reason
            missing[key] = missing.get(key, 0) + size * item.quantity
        unplaced = tuple(Unplaced(name, count, reason) for (name, reason), count in missing.items())
        return replace(nested, plates=tuple(sheets), unplaced=unplaced)


def _within(outer: Pose, inner: Pose) -> Pose:
    """Return how a part lies on the plate that lies so in a block, which lies there."""
    if inner == Pose():
        return outer
    x, y = outer.matrix @ np.array([inner.x, inner.y]) + (outer.x, outer.y)
    return Pose(float(x), float(y), (outer.rotation_deg + inner.rotation_deg) % 360.0)


def lay_blocks(
    demands: Sequence[Demand], asked: Mapping[str, SharedCuts], plates: Sequence[Plate], kerf: float
) -> Blocks:
    """Return demands with as many copies in blocks as can be.

    Parameters
    ----------
    demands : sequence of Demand
    asked : mapping of str to SharedCuts
        By part, where shared cuts are asked for.
    plates : sequence of Plate
        A block fits at least one.
    kerf : float
        mm.
    """
    found: list[Demand] = []
    members: dict[str, tuple[Part, tuple[Pose, ...]]] = {}
    for demand in demands:
        wish = asked.get(demand.part.name)
        left = demand.quantity
        while wish is not None and left >= 2 and not demand.foot and may_share(demand.part):
            laid = _largest(demand, wish, min(left, wish.parts), plates, kerf)
            if laid is None:
                break
            block, poses, rotations = laid
            members[block.name] = demand.part, poses
            found.append(_for_block(demand, block, poses[0], left // len(poses), rotations))
            left %= len(poses)
        if left:
            found.append(replace(demand, quantity=left))
    return Blocks(tuple(found), members)


def _for_block(
    demand: Demand, block: Part, first: Pose, quantity: int, rotations: tuple[float, ...] | None
) -> Demand:
    rolling = demand.rolling_direction
    return replace(
        demand,
        part=block,
        quantity=quantity,
        rotations_deg=rotations,
        mirror=False,
        rolling_direction=None if rolling is None else rolling + first.rotation_deg,
    )


def _largest(
    demand: Demand, wish: SharedCuts, most: int, plates: Sequence[Plate], kerf: float
) -> tuple[Part, tuple[Pose, ...], tuple[float, ...] | None] | None:
    """Return the block of the most copies that saves most cutting, fits a plate and may lie so."""
    most = min(most, 2) if wish.by == "pairs" else most
    for count in range(most, 1, -1):
        layouts = sorted(_layouts(demand.part, count, wish.by, kerf), key=lambda each: -each[0])
        for _, poses in layouts:
            rotations = _rotations(demand, poses)
            outline = block_outline(demand.part, poses, kerf)
            if rotations == () or outline is None:
                continue
            block = Part(f"{count} of {demand.part.name}", outline)
            if any(_fits(block, plate, free=rotations is None) for plate in plates):
                return block, poses, rotations
    return None


def _fits(block: Part, plate: Plate, *, free: bool) -> bool:
    x0, y0, x1, y1 = bounds(block.outer)
    a0, b0, a1, b1 = bounds(plate.outline)
    size, room = sorted((x1 - x0, y1 - y0)), sorted((a1 - a0, b1 - b0))
    return free or (size[0] < room[0] and size[1] < room[1])


def _rotations(demand: Demand, poses: Sequence[Pose]) -> tuple[float, ...] | None:
    """Return the rotations of a block that leave each of its parts as it may lie; None for any."""
    if demand.rotations_deg is None:
        return None
    allowed = [r % 360.0 for r in demand.rotations_deg]

    def may(turn: float) -> bool:
        return all(
            any(abs((turn + p.rotation_deg - r + 180.0) % 360.0 - 180.0) < FLAT for r in allowed)
            for p in poses
        )

    turns = sorted({round((r - poses[0].rotation_deg) % 360.0, 9) for r in allowed})
    return tuple(turn for turn in turns if may(turn))


def _layouts(part: Part, count: int, by: str, kerf: float) -> list[tuple[float, tuple[Pose, ...]]]:
    """Return the ways to lay so many copies, each with the length of cut that it saves, mm."""
    corners = part.outer.points
    if len(corners) != 4:
        return []
    found = []
    for k in range(4):
        turned = np.roll(corners, -k, axis=0)
        base, right, top, left = np.roll(turned, -1, axis=0) - turned
        if abs(_cross(base, top)) > FLAT * _size(base) * _size(top):
            continue
        row = _row(turned, count, kerf)
        if by != "grids" or count == 2:
            found.append(((count - 1) * min(_size(right), _size(left)), row))
        square = abs(float(base @ right)) < FLAT * _size(base) * _size(right)
        whole = square and abs(_cross(right, left)) < FLAT * _size(right) * _size(left)
        if by in ("best", "grids") and whole and count >= 4 and count % 2 == 0:
            half = count // 2
            single = _row(turned, half, kerf)
            up = _size(right) + kerf
            rows = (*single, *(replace(pose, y=pose.y + up) for pose in single))
            found.append((2 * (half - 1) * _size(right) + half * _size(base), rows))
    return found


def _cross(one: FloatArray, other: FloatArray) -> float:
    return float(one[0] * other[1] - one[1] * other[0])


def _size(vector: FloatArray) -> float:
    return float(np.hypot(*vector))


def _row(corners: FloatArray, count: int, kerf: float) -> tuple[Pose, ...]:
    """Return copies side by side on their first side, every other one turned about where sides slant apart."""
    base = corners[1] - corners[0]
    angle = math.degrees(math.atan2(base[1], base[0]))
    poses: list[Pose] = []
    flat = _turned(corners, -angle)
    height = float(flat[2, 1] - flat[0, 1])
    leans = abs(_cross(flat[2] - flat[1], flat[3] - flat[0])) > FLAT * _size(flat[2] - flat[1]) * height
    reach = 0.0
    for k in range(count):
        about = leans and k % 2 == 1
        laid = _turned(flat, 180.0) if about else flat
        # Bottom left and right, and the slant of the left side.
        low_left, low_right = (laid[2], laid[3]) if about else (laid[0], laid[1])
        up_left = laid[1] if about else laid[3]
        slant = abs(float(up_left[1] - low_left[1])) / _size(up_left - low_left)
        x = (reach + kerf / slant if k else 0.0) - float(low_left[0])
        poses.append(Pose(x, -float(low_left[1]), (-angle + (180.0 if about else 0.0)) % 360.0))
        reach = x + float(low_right[0])
    return tuple(poses)


def _turned(points: FloatArray, degrees: float) -> FloatArray:
    return np.asarray(points @ Pose(0.0, 0.0, degrees % 360.0).matrix.T)
