"""One nesting problem for the search: parts and plates of one thickness and grade, in numbers.

Terminology
-----------
kind : the copies of one demand.
sheet kind : the plates of one id.
blocker : what no part may touch on a sheet: keep-outs, and all that lies round an outline
    that is not a rectangle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from cutplan.geometry import FloatArray
from cutplan.nesting.model import Demand, NestGaps
from cutplan.nesting.outlines import keepout_area, least_areas, part_outline, usable_area, with_useful_holes
from cutplan.nesting.rolling import along_rolling
from cutplan.nesting.shapes import Form, make_form, picture, smallest_box_angle
from cutplan.nesting.tables import Orientation, TableStore
from cutplan.stock import Plate

__all__ = ["SCALE_POWER", "TOUCH", "Kind", "Problem", "SheetKind", "build_problem", "turns_on"]

Box = tuple[float, float, float, float]

# Depth of overlap taken as touching, mm: half the clearance that every outline carries.
TOUCH = 1e-6
# Losses weigh more between large forms: each counts with this power of its area (after Gardeyn
# and others 2025).
SCALE_POWER = 0.25
# Steps for parts that may turn freely, from the angle at which their box is smallest.
_FREE_STEP_DEG, _FREE_STEP_FEW_PARTS_DEG, _FEW_PARTS = 45.0, 15.0, 4


@dataclass(frozen=True)
class Kind:
    """The copies of one demand.

    Attributes
    ----------
    demand : Demand
    turns : mapping of str to tuple of int
        Orientations allowed on plates by their `lying`: rolled along "x" or "y", with a good face or not.
    area, least_area : float
        mm² of the outline with its share of the gap, as searched and as bounded from below.
    size : float
        Diagonal of the outline's box, mm.
    """

    demand: Demand
    turns: dict[str, tuple[int, ...]]
    area: float
    least_area: float
    size: float


@dataclass(frozen=True)
class SheetKind:
    """The plates of one id, with the box in which outlines may lie and what blocks parts of it.

    `blockers` holds (orientation, x, y); `room` is the free area in mm², `cost` what one sheet
    costs in the currency of its price, or its area in m² without prices.
    """

    plate: Plate
    box: Box
    blockers: tuple[tuple[int, float, float], ...]
    room: float
    cost: float


@dataclass(frozen=True)
class Problem:
    """Kinds, sheet kinds, the orientations they share and the store of their collision tables."""

    kinds: tuple[Kind, ...]
    sheets: tuple[SheetKind, ...]
    forms: tuple[Form, ...]
    mirrored: tuple[bool, ...]
    orientations: tuple[Orientation, ...]
    store: TableStore


def turns_on(problem: Problem, kind: int, number: int) -> tuple[int, ...]:
    """Orientations of a kind that its rolling direction allows on a sheet kind and its box holds."""
    sheet = problem.sheets[number]
    reach = problem.store.reach
    x0, y0, x1, y1 = sheet.box
    return tuple(
        turn
        for turn in problem.kinds[kind].turns[sheet.plate.lying]
        if reach[turn, 2] - reach[turn, 0] <= x1 - x0 + TOUCH
        and reach[turn, 3] - reach[turn, 1] <= y1 - y0 + TOUCH
    )


def build_problem(demands: Sequence[Demand], plates: Sequence[Plate], gaps: NestGaps) -> Problem:
    """Return the problem of demands and plates of one thickness and grade."""
    forms: list[Form] = []
    mirrored: list[bool] = []
    orientations: list[Orientation] = []
    axes = sorted({plate.lying for plate in plates})
    kinds: list[Kind] = []
    outlines = with_useful_holes([part_outline(demand.part, gaps, demand.foot) for demand in demands])
    leasts = least_areas([demand.part for demand in demands], gaps)
    for demand, outline, least in zip(demands, outlines, leasts, strict=True):
        turns: dict[str, list[int]] = {axis: [] for axis in axes}
        for flip in (False, True) if demand.mirror else (False,):
            form = make_form(outline, mirrored=flip)
            seen: set[bytes] = set()
            for angle in _angles(demand, outline, flip, axes, len(demands)):
                allowed = [axis for axis in axes if along_rolling(demand, angle, flip, axis)]
                look = picture(form, angle)
                if not allowed or look in seen:
                    continue
                seen.add(look)
                for axis in allowed:
                    turns[axis].append(len(orientations))
                orientations.append(Orientation(len(forms), angle))
            forms.append(form)
            mirrored.append(flip)
        kinds.append(
            Kind(demand, {a: tuple(t) for a, t in turns.items()}, forms[-1].area, least, forms[-1].size)
        )
    movable = len(orientations)
    # A price of one plate and none of another cannot be weighed: area then stands for both.
    by_price = all(plate.price_per_kg is not None for plate in plates)
    sheets = [_sheet_kind(plate, gaps, forms, orientations, by_price) for plate in plates]
    store = TableStore(forms, orientations, movable, _scales(forms, orientations, movable))
    return Problem(
        tuple(kinds),
        tuple(sheet for sheet in sheets if sheet is not None),
        tuple(forms),
        tuple(mirrored),
        tuple(orientations),
        store,
    )


def _scales(forms: Sequence[Form], orientations: Sequence[Orientation], movable: int) -> FloatArray:
    """Factor of each orientation; a blocker counts as much as the largest part, however large it is."""
    scale = np.array([forms[o.form].area for o in orientations]) ** SCALE_POWER
    return np.asarray(
        np.minimum(scale, scale[:movable].max(initial=1.0)) / scale[:movable].mean() if movable else scale
    )


def _angles(
    demand: Demand, outline: Polygon, flip: bool, axes: Sequence[str], parts: int
) -> tuple[float, ...]:
    """Rotations to try for a demand, the freely turning ones in steps."""
    if demand.rotations_deg is not None:
        return tuple(sorted({angle % 360.0 for angle in demand.rotations_deg}))
    if demand.rolling_direction is not None:
        direction = 180.0 - demand.rolling_direction if flip else demand.rolling_direction
        along = {"x": 0.0, "y": 90.0}
        ways = sorted({axis[0] for axis in axes})
        return tuple((along[axis] - direction + half) % 360.0 for axis in ways for half in (0.0, 180.0))
    step = _FREE_STEP_FEW_PARTS_DEG if parts <= _FEW_PARTS else _FREE_STEP_DEG
    base = smallest_box_angle(outline) * (-1.0 if flip else 1.0)
    return tuple((base + k * step) % 360.0 for k in range(round(360.0 / step)))


def _sheet_kind(
    plate: Plate, gaps: NestGaps, forms: list[Form], orientations: list[Orientation], by_price: bool
) -> SheetKind | None:
    """Sheet kind of a plate, its blockers appended to the forms; None where the edge leaves nothing."""
    usable = usable_area(plate, gaps)
    if usable is None:
        return None
    box: Box = usable.bounds
    blocked = [keepout_area(k.outline, gaps, stands=k.stands) for k in plate.keepouts]
    blocked += [keepout_area(void, gaps) for void in plate.voids]
    frame = shapely.box(*box)
    if frame.area - usable.area > 1e-9 * frame.area:
        # The frame reaches far outwards, so that the shortest way out of it leads inwards.
        far = 0.5 * max(box[2] - box[0], box[3] - box[1])
        blocked.append(shapely.difference(frame.buffer(far, join_style="mitre"), usable))
    blockers = []
    for polygon in blocked:
        form = make_form(polygon)
        blockers.append((len(orientations), -form.shift[0], -form.shift[1]))
        orientations.append(Orientation(len(forms), 0.0))
        forms.append(form)
    room = shapely.difference(usable, shapely.union_all(blocked)).area if blocked else usable.area
    return SheetKind(plate, box, tuple(blockers), float(room), _sheet_cost(plate, by_price))


def _sheet_cost(plate: Plate, by_price: bool) -> float:
    """Price of a sheet, or its area in m²."""
    area_m2 = plate.metal_mm2 * 1e-6
    if not by_price or plate.price_per_kg is None:
        return area_m2
    return area_m2 * plate.thickness * 1e-3 * plate.density_kg_m3 * plate.price_per_kg
