"""Edits that change where parts lie: each is measured on the drawn contours before it holds."""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from cutplan.base.errors import EditError
from cutplan.drawing import Part
from cutplan.editing.model import KeepOff, Layout, Mirror, Move, PlacementRow, Quantity, Swap, TakeOff, Turn
from cutplan.editing.state import LaidSheet, State, called
from cutplan.geometry import Pose, bounds, place, polygon
from cutplan.nesting import Conflict, Demand, along_rolling, conflicts_on
from cutplan.stock import Keepout, NestedPlate, Placement

__all__ = [
    "conflict_words",
    "keep_off",
    "laid_out",
    "mirrored",
    "moved",
    "quantity_set",
    "refuse_conflicts",
    "swapped",
    "taken_off",
    "turned",
]

# Rotations this near to one allowed are it, degrees.
SAME_TURN_DEG = 1e-6
# Places worked out here are told to so many figures after the point, mm.
DIGITS = 6
LEAST_AREA_MM2 = 1.0
_shapes: dict[Part, Any] = {}
"""Views of parts that were measured before."""
MOST_SHAPES = 2_000


def moved(state: State, edit: Move) -> State:
    """Lay a copy at a place."""
    found = state.find(edit.part, edit.copy_)
    if found is None:
        state.copy_wanted(edit.part, edit.copy_)
        if edit.sheet is None:
            raise EditError(
                f"{called(edit.part, edit.copy_)} lies on no sheet", remedy="name the sheet it goes to"
            )
        before = Pose()
    else:
        before = found[2].pose
    pose = Pose(
        *edit.at,
        before.rotation_deg if edit.rotation_deg is None else edit.rotation_deg % 360.0,
        before.mirrored if edit.mirrored is None else edit.mirrored,
    )
    name = edit.sheet or (found[0].name if found else "")
    return _laid(state, Placement(state.part(edit.part), edit.copy_, pose), name)


def turned(state: State, edit: Turn) -> State:
    """Turn a copy about the middle of its box."""
    sheet, _, placement = state.lying(edit.part, edit.copy_)
    turn = (placement.pose.rotation_deg + edit.by_deg) % 360.0
    return _laid(state, _about_middle(placement, turn, placement.pose.mirrored), sheet.name)


def mirrored(state: State, edit: Mirror) -> State:
    """Mirror a copy left to right about the middle of its box."""
    sheet, _, placement = state.lying(edit.part, edit.copy_)
    turn = (-placement.pose.rotation_deg) % 360.0
    return _laid(state, _about_middle(placement, turn, not placement.pose.mirrored), sheet.name)


def swapped(state: State, edit: Swap) -> State:
    """Exchange the middles of two copies."""
    one_sheet, one_row, one = state.lying(edit.part, edit.copy_)
    other_sheet, other_row, other = state.lying(edit.with_part, edit.with_copy)
    if (one_sheet.name, one_row) == (other_sheet.name, other_row):
        raise EditError("a copy cannot change places with itself")
    there, here = _middle(other), _middle(one)
    fresh = {
        (one_sheet.name, one_row): _with_middle(other, here),
        (other_sheet.name, other_row): _with_middle(one, there),
    }
    for sheet, placement in ((one_sheet, other), (other_sheet, one)):
        _refuse_unmovable(state, one_sheet if placement is one else other_sheet, placement)
        _refuse_stranger(state, sheet, placement.part.name)
    for name in dict.fromkeys((one_sheet.name, other_sheet.name)):
        sheet = state.sheet(name)
        rows = [row for of, row in fresh if of == name]
        placements = list(sheet.nested.placements)
        for row in rows:
            placements[row] = fresh[name, row]
            _refuse_turn(state, sheet, placements[row])
        state = _checked(state, _with_placements(sheet, placements), rows)
    return state


def taken_off(state: State, edit: TakeOff) -> State:
    """Take a copy off its sheet."""
    sheet, row, placement = state.lying(edit.part, edit.copy_)
    _refuse_unmovable(state, sheet, placement)
    placements = [p for k, p in enumerate(sheet.nested.placements) if k != row]
    return state.with_sheet(_with_placements(sheet, placements))


def keep_off(state: State, edit: KeepOff) -> State:
    """Add a keep-out to a sheet's plate."""
    sheet = state.sheet(edit.sheet)
    _refuse_lanes(sheet)
    outline = shapely.Polygon(edit.corners)
    if not outline.is_valid or outline.area < LEAST_AREA_MM2:
        raise EditError("the keep-out crosses itself or has no area", remedy="draw it anew")
    corners = list(edit.corners) if outline.exterior.is_ccw else list(reversed(edit.corners))
    keepout = Keepout(polygon(corners), edit.height_mm)
    plate = replace(sheet.nested.plate, keepouts=(*sheet.nested.plate.keepouts, keepout))
    changed = replace(sheet, nested=replace(sheet.nested, plate=plate))
    return _checked(state, changed, range(len(changed.nested.placements)))


def quantity_set(state: State, edit: Quantity) -> State:
    """Want another number of a part; copies with higher numbers come off."""
    state.copy_wanted(edit.part, 1 if state.wanted.get(edit.part) else 0)
    for sheet in state.sheets:
        over = [p for p in sheet.nested.placements if p.part.name == edit.part and p.copy > edit.quantity]
        for placement in over:
            _refuse_unmovable(state, sheet, placement)
        if over:
            left = [p for p in sheet.nested.placements if p not in over]
            state = state.with_sheet(_with_placements(sheet, left))
    return replace(state, wanted={**state.wanted, edit.part: edit.quantity})


def laid_out(state: State, edit: Layout) -> State:
    """Lay whole sheets anew."""
    names = {sheet.name for sheet in edit.sheets}
    elsewhere = {(p.part.name, p.copy) for sheet, _, p in state.placed() if sheet.name not in names}
    coming: set[tuple[str, int]] = set()
    fresh = []
    for laid in edit.sheets:
        sheet = _sheet_for(state, laid.name, laid.placements[0][0] if laid.placements else "")
        _refuse_lanes(sheet)
        placements = [_placement(state, sheet, row) for row in laid.placements]
        for placement in placements:
            copy = (placement.part.name, placement.copy)
            if copy in elsewhere or copy in coming:
                raise EditError(f"{called(*copy)} would lie in two places")
            coming.add(copy)
        fresh.append(replace(_with_placements(sheet, placements), order=laid.order or sheet.order))
    _refuse_pins_moved(state, names, fresh)
    for sheet in fresh:
        state = _checked(state, sheet, range(len(sheet.nested.placements)))
    return state


def _placement(state: State, sheet: LaidSheet, row: PlacementRow) -> Placement:
    part, copy, x, y, rotation, flipped = row
    state.copy_wanted(part, copy)
    _refuse_stranger(state, sheet, part)
    placement = Placement(state.part(part), copy, Pose(x, y, rotation, flipped))
    _refuse_turn(state, sheet, placement)
    return placement


def _refuse_pins_moved(state: State, names: Collection[str], fresh: Collection[LaidSheet]) -> None:
    poses = {(p.part.name, p.copy): (s.name, p.pose) for s in fresh for p in s.nested.placements}
    for sheet, _, placement in state.placed():
        copy = (placement.part.name, placement.copy)
        if sheet.name in names and copy in state.pinned and poses.get(copy) != (sheet.name, placement.pose):
            raise EditError(f"{called(*copy)} is pinned where it lies", remedy="let it go first")


def _laid(state: State, placement: Placement, name: str) -> State:
    """Lay a copy on a sheet, and take it off where it lay."""
    found = state.find(placement.part.name, placement.copy)
    target = _sheet_for(state, name, placement.part.name)
    if found is not None:
        _refuse_unmovable(state, found[0], found[2])
    _refuse_lanes(target)
    _refuse_stranger(state, target, placement.part.name)
    _refuse_turn(state, target, placement)
    placements = list(target.nested.placements)
    if found is not None and found[0].name == name:
        row = found[1]
        placements[row] = placement
    else:
        row = len(placements)
        placements.append(placement)
    after = _checked(state, _with_placements(target, placements), [row])
    if found is not None and found[0].name != name:
        left = [p for k, p in enumerate(found[0].nested.placements) if k != found[1]]
        after = after.with_sheet(_with_placements(found[0], left))
    return after


def _sheet_for(state: State, name: str, part: str) -> LaidSheet:
    """Return a sheet by its name: one of the plan, or a plate on offer that is not used yet."""
    found = next((sheet for sheet in state.sheets if sheet.name == name), None)
    if found is not None:
        return found
    meant = re.fullmatch(r"(.+)-([1-9][0-9]{0,5})", name)
    if meant is not None and part in state.wanted:
        bench = state.bench_of(part)
        for plate in state.benches[bench].plates:
            if plate.id == meant[1] and int(meant[2]) <= plate.quantity:
                return LaidSheet(NestedPlate(plate, int(meant[2]), ()), bench)
    return state.sheet(name)


def _with_placements(sheet: LaidSheet, placements: Collection[Placement]) -> LaidSheet:
    return replace(sheet, nested=replace(sheet.nested, placements=tuple(placements)))


def _checked(state: State, sheet: LaidSheet, rows: Collection[int]) -> State:
    refuse_conflicts(state, sheet, rows)
    return state.with_sheet(sheet)


def refuse_conflicts(state: State, sheet: LaidSheet, rows: Collection[int] | None = None) -> None:
    """Refuse a sheet on which parts lie too near to something.

    Parameters
    ----------
    state : State
    sheet : LaidSheet
    rows : collection of int, optional
        Placements that are looked at, all without it.

    Raises
    ------
    EditError
        Naming what is nearest, and its place.
    """
    if len(_shapes) > MOST_SHAPES:
        _shapes.clear()
    found = conflicts_on(sheet.nested, state.benches[sheet.bench].gaps, rows, shapes=_shapes)
    if found:
        words = conflict_words(found[0], sheet.nested)
        raise EditError(words, where=f"sheet {sheet.name}", place=found[0].place)


def conflict_words(conflict: Conflict, nested: NestedPlate) -> str:
    """Return what a part lies too near to, in words."""
    mine = nested.placements[conflict.row]
    about = called(mine.part.name, mine.copy)
    needed = f"{conflict.needed_mm:.2f} mm are needed"
    if conflict.other is not None:
        other = nested.placements[conflict.other]
        theirs = called(other.part.name, other.copy)
        if conflict.apart_mm <= 0.0:
            return f"{about} would overlap {theirs}"
        return f"{about} would lie {conflict.apart_mm:.2f} mm from {theirs}: {needed}"
    what = "the plate's edge" if conflict.what == "edge" else "a keep-out"
    if conflict.apart_mm <= 0.0:
        return f"{about} would reach {'beyond' if conflict.what == 'edge' else 'into'} {what}"
    return f"{about} would lie {conflict.apart_mm:.2f} mm from {what}: {needed}"


def _refuse_unmovable(state: State, sheet: LaidSheet, placement: Placement) -> None:
    _refuse_lanes(sheet)
    if (placement.part.name, placement.copy) in state.pinned:
        raise EditError(f"{called(placement.part.name, placement.copy)} is pinned", remedy="let it go first")


def _refuse_lanes(sheet: LaidSheet) -> None:
    if sheet.torches > 1:
        raise EditError(
            f"{sheet.name} is cut by {sheet.torches} torches side by side: its lanes must stay alike",
            remedy="plan the job for one torch to lay its parts by hand",
        )


def _refuse_stranger(state: State, sheet: LaidSheet, part: str) -> None:
    bench = state.bench_of(part)
    if bench != sheet.bench:
        own, theirs = state.benches[bench].words, state.benches[sheet.bench].words
        raise EditError(f"{part!r} is cut from {own}, {sheet.name} is {theirs}")


def _refuse_turn(state: State, sheet: LaidSheet, placement: Placement) -> None:
    """Refuse a lie that the part's rotations, mirroring or rolling direction do not allow."""
    demand = state.benches[sheet.bench].demand(placement.part.name)
    assert demand is not None
    about, pose = called(placement.part.name, placement.copy), placement.pose
    if pose.mirrored and not demand.mirror:
        raise EditError(f"{about} may not be mirrored", remedy="mirror = true under [[part]] allows it")
    if pose.mirrored and sheet.nested.plate.face:
        raise EditError(
            f"{about} may not be mirrored: {sheet.name} has a good face ({sheet.nested.plate.face})"
        )
    if not along_rolling(demand, pose.rotation_deg, pose.mirrored, sheet.nested.plate.lying):
        raise EditError(f"{about} would not lie along the rolling of the plate, as the job asks")
    if not _may_turn(demand, pose.rotation_deg):
        allowed = ", ".join(f"{turn:g}" for turn in demand.rotations_deg or ())
        raise EditError(
            f"{about} may not be turned to {pose.rotation_deg:g}°: {allowed}° are allowed",
            remedy="rotations under [[part]] allow others",
        )


def _may_turn(demand: Demand, turn: float) -> bool:
    if demand.rotations_deg is None:
        return True
    off = [abs((turn - each + 180.0) % 360.0 - 180.0) for each in demand.rotations_deg]
    return min(off) <= SAME_TURN_DEG


def _middle(placement: Placement) -> np.ndarray[Any, Any]:
    x0, y0, x1, y1 = bounds(place(placement.part.outer, placement.pose))
    return np.array([0.5 * (x0 + x1), 0.5 * (y0 + y1)])


def _with_middle(placement: Placement, middle: np.ndarray[Any, Any]) -> Placement:
    dx, dy = (middle - _middle(placement)).tolist()
    pose = placement.pose
    return replace(placement, pose=replace(pose, x=round(pose.x + dx, DIGITS), y=round(pose.y + dy, DIGITS)))


def _about_middle(placement: Placement, turn: float, flipped: bool) -> Placement:
    fresh = replace(placement, pose=Pose(0.0, 0.0, round(turn, 9) % 360.0, flipped))
    return _with_middle(fresh, _middle(placement))
