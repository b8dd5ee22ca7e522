"""Nests the parts of one thickness and grade: search, bound, and reasons for what was left."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np

from cutplan.base.stopping import MaxIterations, StoppingRule
from cutplan.geometry import Pose
from cutplan.nesting.bounds import least_sheets
from cutplan.nesting.fill import Sheet, best_corner, empty_sheet, fill, filling_order
from cutplan.nesting.improve import Improver
from cutplan.nesting.model import Demand, Nest, NestGaps, NestProgress, Unplaced
from cutplan.nesting.problem import Problem, SheetKind, build_problem
from cutplan.nesting.repeats import repeat_sheets
from cutplan.nesting.shapes import turned
from cutplan.stock import NestedPlate, Placement, Plate

__all__ = ["finished", "nest_group"]


def nest_group(
    demands: Sequence[Demand],
    plates: Sequence[Plate],
    gaps: NestGaps,
    seed: int,
    stop: StoppingRule | None,
    progress: NestProgress | None,
    workers: int,
) -> Nest:
    """Nest demands on plates of the same thickness and grade; copies and sheets not yet numbered.

    A large batch is laid out as sets of sheets that are repeated, and the rest by itself.
    """
    problem = build_problem(demands, plates, gaps)
    counts: Counter[str] = Counter()

    def lay(
        wanted: Sequence[Demand], offered: Sequence[Plate], rule: StoppingRule | None
    ) -> tuple[list[NestedPlate], list[int], bool]:
        laid, left, statistics = _laid(wanted, offered, gaps, seed, rule, progress, workers)
        counts.update(statistics)
        return laid, left, bool(statistics["stopped"])

    repeated, rest, offered, stopped = repeat_sheets(problem, lambda d, p: lay(d, p, stop))
    left = [0] * len(problem.kinds)
    if rest:
        laid, over, ended = lay(rest, offered, MaxIterations(0) if stopped else stop)
        repeated, stopped = [*repeated, *laid], stopped or ended
        for demand, count in zip(rest, over, strict=True):
            left[
                next(
                    k
                    for k, kind in enumerate(problem.kinds)
                    if kind.demand.part is demand.part and not left[k]
                )
            ] = count
    placed = [kind.demand.quantity - count for kind, count in zip(problem.kinds, left, strict=True)]
    unplaced = [
        Unplaced(kind.demand.part.name, count, _why_not(problem, k))
        for k, (kind, count) in enumerate(zip(problem.kinds, left, strict=True))
        if count
    ]
    statistics = {**counts, "stopped": float(stopped)}
    return Nest(tuple(repeated), tuple(unplaced), least_sheets(problem, placed), statistics)


def _laid(
    demands: Sequence[Demand],
    plates: Sequence[Plate],
    gaps: NestGaps,
    seed: int,
    stop: StoppingRule | None,
    progress: NestProgress | None,
    workers: int,
) -> tuple[list[NestedPlate], list[int], dict[str, float]]:
    """Search for one nest: its sheets, copies of each demand left, and counts of the search."""
    problem = build_problem(demands, plates, gaps)
    total = sum(kind.demand.quantity for kind in problem.kinds)

    def placed(done: int) -> None:
        if progress is not None:
            progress("fit", done, total, math.nan)

    first = _first_nest(problem, placed)
    rounds = [0]

    def improved(cost: float) -> None:
        rounds[0] += 1
        if progress is not None:
            progress("improve", rounds[0], 0, cost)

    improver = Improver(problem, *first, seed=seed, workers=workers, stop=stop, progress=improved)
    improver.run()
    laid, left = _with_fillers(problem, improver.sheets, improver.left)
    statistics = {
        "rounds": float(rounds[0]),
        "candidates": float(improver.candidates),
        "cost": improver.cost(),
        "stopped": float(improver.stopped),
    }
    return finished(problem, laid), left, statistics


def _first_nest(problem: Problem, placed: Callable[[int], None]) -> tuple[list[Sheet], list[int], list[int]]:
    """The cheapest of a few constructive fits, without fillers: sheets, copies left, stock.

    They differ in the order in which sheets are opened.
    """
    kinds = problem.kinds
    wanted = [0 if kind.demand.filler else kind.demand.quantity for kind in kinds]
    most = sum(wanted)
    order = [k for k in filling_order(kinds) if wanted[k]]
    best: tuple[tuple[tuple[int, ...], float], list[Sheet], list[int], list[int]] | None = None
    stocks: list[list[int]] = []
    for key in (_remnants_first, _by_price_of_room, _by_price):
        numbers = sorted(range(len(problem.sheets)), key=lambda n: key(problem.sheets[n], n))
        stock = [n for n in numbers for _ in range(min(problem.sheets[n].plate.quantity, most))]
        if stock in stocks:
            continue
        stocks.append(stock)
        sheets, left = fill(problem, order, stock, placed, wanted=wanted)
        cost = sum(problem.sheets[sheet.number].cost for sheet in sheets)
        # What matters more is never left out for the sake of what matters less.
        score = (tuple(left[k] for k in order), cost)
        if best is None or score < best[0]:
            best = (score, sheets, left, stock)
    if best is None:
        return [], wanted, []
    return best[1], best[2], best[3]


def _remnants_first(sheet: SheetKind, number: int) -> tuple[float, ...]:
    remnant = sheet.plate.is_remnant
    return (not remnant, sheet.room if remnant else sheet.cost / max(sheet.room, 1e-9), number)


def _by_price_of_room(sheet: SheetKind, number: int) -> tuple[float, ...]:
    return (sheet.cost / max(sheet.room, 1e-9), -sheet.room, number)


def _by_price(sheet: SheetKind, number: int) -> tuple[float, ...]:
    return (sheet.cost, number)


def _with_fillers(
    problem: Problem, sheets: list[Sheet], left: Sequence[int]
) -> tuple[list[Sheet], list[int]]:
    """Fill up room that is left over."""
    kinds = problem.kinds
    fillers = [kind.demand.quantity if kind.demand.filler else 0 for kind in kinds]
    order = [k for k in filling_order(kinds) if fillers[k]]
    filled, over = fill(problem, order, [], wanted=fillers, onto=sheets)
    return filled, [a + b for a, b in zip(left, over, strict=True)]


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


def finished(problem: Problem, laid: Sequence[Sheet]) -> list[NestedPlate]:
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
