"""Nests the parts of one thickness and grade: search, bound, and reasons for what was left."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from cutplan.geometry import Pose
from cutplan.nesting.fill import Sheet, best_corner, empty_sheet, fill, filling_order
from cutplan.nesting.model import Demand, Nest, NestedPlate, NestRules, Placement, Unplaced
from cutplan.nesting.problem import Problem, build_problem
from cutplan.nesting.shapes import turned
from cutplan.nesting.stopping import Progress, StoppingRule
from cutplan.stock import Plate

__all__ = ["nest_group"]


def nest_group(
    demands: Sequence[Demand],
    plates: Sequence[Plate],
    rules: NestRules,
    seed: int,
    stop: StoppingRule | None,
    progress: Progress | None,
    workers: int,
) -> Nest:
    """Nest demands on plates of the same thickness and grade; copies and sheets not yet numbered."""
    problem = build_problem(demands, plates, rules)
    laid, left = _search(problem, seed, stop, progress, workers)
    unplaced = [
        Unplaced(kind.demand.part.name, count, _why_not(problem, k))
        for k, (kind, count) in enumerate(zip(problem.kinds, left, strict=True))
        if count
    ]
    return Nest(tuple(_finished(problem, laid)), tuple(unplaced), _area_bound(problem, left))


def _search(
    problem: Problem, seed: int, stop: StoppingRule | None, progress: Progress | None, workers: int
) -> tuple[list[Sheet], list[int]]:
    total = sum(kind.demand.quantity for kind in problem.kinds)
    stock = [
        number
        for number in sorted(range(len(problem.sheets)), key=lambda n: _offer_order(problem, n))
        for _ in range(min(problem.sheets[number].plate.quantity, total))
    ]

    def placed(done: int) -> None:
        if progress is not None:
            progress("fit", done, total, math.nan)

    return fill(problem, filling_order(problem.kinds), stock, placed)


def _offer_order(problem: Problem, number: int) -> tuple[bool, float, float, int]:
    """Remnants first, small before large, then plates by what their room costs."""
    sheet = problem.sheets[number]
    remnant = sheet.plate.is_remnant
    return (not remnant, sheet.room if remnant else sheet.cost / max(sheet.room, 1e-9), sheet.cost, number)


def _why_not(problem: Problem, kind: int) -> str:
    """Reason why copies of a kind found no place."""
    turns = problem.kinds[kind].turns
    if not any(turns.values()):
        return "no allowed rotation lays its rolling direction along that of a plate"
    if not problem.sheets:
        return "the edge gap leaves no room on any plate"
    if not any(_fits_alone(problem, kind, number) for number in range(len(problem.sheets))):
        return "too large for every plate on offer in its allowed rotations"
    if problem.kinds[kind].demand.filler:
        return "a filler, and no room was left over"
    return "out of plate: the plates on offer are full"


def _fits_alone(problem: Problem, kind: int, number: int) -> bool:
    return best_corner(problem, empty_sheet(problem, number), kind) is not None


def _area_bound(problem: Problem, left: Sequence[int]) -> int:
    """Least number of sheets, largest first, whose room holds the area of what was placed."""
    need = sum(
        (kind.demand.quantity - count) * kind.least_area
        for kind, count in zip(problem.kinds, left, strict=True)
        if not kind.demand.filler
    )
    rooms = sorted(
        (sheet.room for sheet in problem.sheets for _ in range(sheet.plate.quantity)), reverse=True
    )
    sheets = 0
    while need > 1e-6 and sheets < len(rooms):
        need -= rooms[sheets]
        sheets += 1
    return sheets


def _finished(problem: Problem, laid: Sequence[Sheet]) -> list[NestedPlate]:
    """Search results as placements of drawings; copies and sheets are numbered later."""
    finished = []
    for sheet in laid:
        placements = []
        for row, kind in enumerate(sheet.kinds, start=sheet.blockers):
            form, angle = problem.orientations[sheet.orientations[row]]
            # The form was centred: its drawing's origin lies at the turned shift.
            x, y = sheet.places[row] + turned(np.array([problem.forms[form].shift]), angle)[0]
            pose = Pose(float(x), float(y), angle, problem.mirrored[form])
            placements.append(Placement(problem.kinds[kind].demand.part, 0, pose))
        finished.append(NestedPlate(problem.sheets[sheet.number].plate, 0, tuple(placements)))
    return finished
