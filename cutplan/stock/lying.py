"""A plate as it lies on the table: where to touch it, how it is turned and shifted, what that allows.

Terminology
-----------
touched : a corner of the plate that the torch, a laser point or a probe was brought to.
lie : the way from the plate's own coordinates to those of the table's program zero.
skew : the turn of the lie.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely.affinity import rotate

from cutplan.base.errors import InputError
from cutplan.geometry import Path, Pose, bounds, place, place_points, to_polygon
from cutplan.stock.model import Plate
from cutplan.stock.nested import NestedPlate, Placement

__all__ = ["Lie", "as_it_lies", "beyond_plate", "lie_of", "skew_allowed", "touch_points"]

Place = tuple[float, float]

MOST_MISFIT_MM = 3.0
"""Touched corners that fit the plate worse were not its corners, or it is another plate."""
SHORTEST_BASE_MM = 50.0
"""Between the corners touched, or a hair's error of the touch turns the plate."""
WIDEST_SKEW_DEG = 10.0
"""A plate that lies so far turned was not laid for this program."""
SLACK_MM = 0.05
CHORD_MM = 0.01


@dataclass(frozen=True)
class Lie:
    """How a plate lies.

    Attributes
    ----------
    pose : Pose
        From plate coordinates to the table's.
    misfit_mm : float
        How far the corners as touched are from where this lie puts them, at most; of two
        corners, how much their distance differs.
    """

    pose: Pose
    misfit_mm: float

    @property
    def skew_deg(self) -> float:
        """Turn from the nominal lie, counter-clockwise positive."""
        return (self.pose.rotation_deg + 180.0) % 360.0 - 180.0


def touch_points(plate: Plate) -> tuple[Place, ...]:
    """Return the corners to touch: the lower two of a rectangle, three of any other plate.

    Parameters
    ----------
    plate : Plate

    Returns
    -------
    tuple of (x, y)
        Plate coordinates, mm.
    """
    x0, y0, x1, y1 = bounds(plate.outline)
    corners = plate.outline.points[:, :2]
    if _is_rectangle(plate.outline):
        return ((x0, y0), (x1, y0))
    aims = np.array([[x0, y0], [x1, y0], [x0, y1], [x1, y1]])
    found: list[Place] = []
    for aim in aims:
        x, y = corners[int(np.argmin(np.linalg.norm(corners - aim, axis=1)))].tolist()
        if (x, y) not in found:
            found.append((x, y))
    return tuple(found[:3])


def _is_rectangle(outline: Path) -> bool:
    x0, y0, x1, y1 = bounds(outline)
    corners = {(round(float(x), 6), round(float(y), 6)) for x, y in outline.points[:, :2]}
    box = {(round(x, 6), round(y, 6)) for x in (x0, x1) for y in (y0, y1)}
    return corners == box and not outline.vertices[:, 2].any()


def lie_of(corners: Sequence[Place], found: Sequence[Place]) -> Lie:
    """Return how a plate lies whose corners were found at some places.

    Of two corners the first says where the plate lies and the second how it is turned: a plate
    may be a little longer than ordered.  Of three or more the lie fits them best (least squares
    of a rigid motion; W. Kabsch 1976, in two dimensions).

    Parameters
    ----------
    corners : sequence of (x, y)
        Plate coordinates, mm.
    found : sequence of (x, y)
        Where they were touched, mm.

    Returns
    -------
    Lie

    Raises
    ------
    InputError
        If there are not as many found as corners, they lie too close together, or they do not
        fit the plate.
    """
    if len(corners) != len(found) or len(found) < 2:
        told = f"{len(found)} points were found, the plate is touched at {len(corners)}"
        raise InputError(told, remedy=f"touch {_listed(corners)} and give --found in that order")
    own, there = np.array(corners, dtype=np.float64), np.array(found, dtype=np.float64)
    if not np.isfinite(there).all():
        raise InputError("a found point is no number", remedy="give --found X1,Y1 X2,Y2 in mm")
    base = max(float(np.linalg.norm(a - b)) for a in there for b in there)
    if base < SHORTEST_BASE_MM:
        raise InputError(
            f"the points found lie within {base:g} mm of each other", remedy=f"touch {_listed(corners)}"
        )
    lie = _of_two(own, there) if len(found) == 2 else _of_many(own, there)
    if lie.misfit_mm > MOST_MISFIT_MM:
        raise InputError(
            f"the points found do not fit the plate: they are off by {lie.misfit_mm:.1f} mm",
            remedy=f"touch {_listed(corners)} in that order, or plan with the plate that is there",
        )
    if abs(lie.skew_deg) > WIDEST_SKEW_DEG:
        raise InputError(
            f"the plate lies turned by {lie.skew_deg:.1f} degrees",
            remedy=f"see that the points are given in the order {_listed(corners)}, or straighten the plate",
        )
    return lie


def _of_two(own: Any, there: Any) -> Lie:
    before, after = own[1] - own[0], there[1] - there[0]
    turn = math.degrees(math.atan2(after[1], after[0]) - math.atan2(before[1], before[0]))
    # A plate may be longer than planned, and the more of it is left; not shorter.
    short = float(np.linalg.norm(before) - np.linalg.norm(after))
    return Lie(_pose(turn, own[0], there[0]), max(short, 0.0))


def _of_many(own: Any, there: Any) -> Lie:
    middle, goal = own.mean(axis=0), there.mean(axis=0)
    a, b = own - middle, there - goal
    turn = math.degrees(
        math.atan2(float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum()), float((a * b).sum()))
    )
    pose = _pose(turn, middle, goal)
    misfit = np.linalg.norm(place_points(own, pose) - there, axis=1)
    return Lie(pose, float(misfit.max()))


def _pose(turn_deg: float, at: Any, goal: Any) -> Pose:
    turned = place_points([at], Pose(0.0, 0.0, turn_deg))[0]
    return Pose(float(goal[0] - turned[0]), float(goal[1] - turned[1]), turn_deg)


def _listed(corners: Sequence[Place]) -> str:
    return ", ".join(f"({x:g}, {y:g})" for x, y in corners)


def as_it_lies(nested: NestedPlate, lie: Pose) -> NestedPlate:
    """Return a sheet as it lies: plate, parts and defects move, clamps stay on the table.

    Parameters
    ----------
    nested : NestedPlate
    lie : Pose

    Returns
    -------
    NestedPlate
    """
    plate = nested.plate
    keepouts = tuple(k if k.stands else replace(k, outline=place(k.outline, lie)) for k in plate.keepouts)
    lying = replace(
        plate,
        outline=place(plate.outline, lie),
        voids=tuple(place(void, lie) for void in plate.voids),
        keepouts=keepouts,
    )
    placements = tuple(replace(p, pose=_on_top(p.pose, lie)) for p in nested.placements)
    return NestedPlate(lying, nested.sheet, placements)


def _on_top(pose: Pose, lie: Pose) -> Pose:
    (x, y) = place_points([(pose.x, pose.y)], lie)[0].tolist()
    return Pose(x, y, (pose.rotation_deg + lie.rotation_deg) % 360.0, pose.mirrored)


def beyond_plate(nested: NestedPlate, lie: Pose, kerf: float) -> tuple[Placement, ...]:
    """Return the parts that would not come whole off a plate that lies so, were nothing turned.

    Parameters
    ----------
    nested : NestedPlate
    lie : Pose
    kerf : float
        mm; half of it is lost all round a part.

    Returns
    -------
    tuple of Placement
    """
    plate = to_polygon(place(nested.plate.outline, lie), tolerance=CHORD_MM)
    return tuple(
        p
        for p in nested.placements
        if not shapely.covers(plate, shapely.buffer(_metal(p), 0.5 * kerf - SLACK_MM))
    )


def skew_allowed(nested: NestedPlate, kerf: float) -> float:
    """Return how far a plate may lie turned about its lower left corner, either way, for a program as it is.

    Parameters
    ----------
    nested : NestedPlate
    kerf : float
        mm.

    Returns
    -------
    float
        Degrees, rounded down to a hundredth; at most `WIDEST_SKEW_DEG`.
    """
    plate = to_polygon(nested.plate.outline, tolerance=CHORD_MM)
    used = shapely.union_all([_metal(placement) for placement in nested.placements])
    used = shapely.buffer(used, 0.5 * kerf - SLACK_MM)
    if shapely.equals(plate, shapely.convex_hull(plate)):
        used = shapely.convex_hull(used)
    low, high = 0.0, WIDEST_SKEW_DEG
    while high - low > 0.005:
        skew = 0.5 * (low + high)
        fits = all(shapely.covers(rotate(plate, turn, origin=(0.0, 0.0)), used) for turn in (skew, -skew))
        low, high = (skew, high) if fits else (low, skew)
    return math.floor(100.0 * low) / 100.0


def _metal(placement: Placement) -> Any:
    return to_polygon(place(placement.part.outer, placement.pose), tolerance=CHORD_MM)
