"""The room's front door: demands and plates in, a proved nest out."""

from __future__ import annotations

import math
import time
from collections.abc import Sequence
from dataclasses import replace

from cutplan.base.errors import NestingError
from cutplan.base.stopping import StoppingRule
from cutplan.geometry import polygon
from cutplan.nesting.last_look import check_sheet
from cutplan.nesting.model import Demand, Nest, NestGaps, NestProgress, StripNest, Unplaced
from cutplan.stock import NestedPlate, Placement, Plate

__all__ = ["nest", "nest_strip"]


def nest(
    demands: Sequence[Demand],
    plates: Sequence[Plate],
    gaps: NestGaps,
    *,
    seed: int = 0,
    stop: StoppingRule | None = None,
    progress: NestProgress | None = None,
    workers: int = 1,
) -> Nest:
    """Lay parts out on plates.

    The goals, in this order: everything placed; the least cost of plates; kits on as few plates
    as can be; the unused rest as one large rectangle.  Every sheet is measured on the drawn contours before it is handed out.

    Parameters
    ----------
    demands : sequence of Demand
    plates : sequence of Plate
        Plates and remnants on offer.
    gaps : NestGaps
    seed : int
    stop : callable, optional
        Stopping rule of the improvement; the default counts work done.
    progress : callable, optional
    workers : int
        Threads; the result depends neither on their number nor on their speed.

    Returns
    -------
    Nest
        An interrupt by the user ends the improvement, not the nest: `statistics` says "stopped".

    Raises
    ------
    NestingError
        If a demand, a plate or the gaps make no sense.
    """
    # The search brings the compiler in, which a program that only asks for help need not wait for.
    from cutplan.nesting.group import nest_group

    started = time.perf_counter()
    _check_input(demands, gaps)
    sheets: list[NestedPlate] = []
    unplaced: list[Unplaced] = []
    least = 0
    stopped = 0.0
    for thickness, grade in dict.fromkeys((d.thickness, d.grade) for d in demands):
        wanted = [d for d in demands if (d.thickness, d.grade) == (thickness, grade)]
        offered = [p for p in plates if (p.thickness, p.grade) == (thickness, grade) and p.quantity > 0]
        if not offered:
            unplaced += [Unplaced(d.part.name, d.quantity, _no_plate(d, plates)) for d in wanted]
            continue
        answer = nest_group(wanted, offered, gaps, seed, stop, progress, workers)
        least += answer.least_plates
        stopped = max(stopped, answer.statistics["stopped"])
        sheets += answer.plates
        unplaced += answer.unplaced
    sheets = _numbered(sheets)
    for sheet in sheets:
        check_sheet(sheet, gaps)
    statistics = {"seconds": time.perf_counter() - started, "stopped": stopped}
    return Nest(tuple(sheets), tuple(unplaced), least, statistics)


def nest_strip(
    demands: Sequence[Demand],
    width: float,
    gaps: NestGaps,
    *,
    seed: int = 0,
    stop: StoppingRule | None = None,
    progress: NestProgress | None = None,
    workers: int = 1,
) -> StripNest:
    """Answer how long a plate of a given width must be ordered for these parts.

    Parameters
    ----------
    demands : sequence of Demand
        All of one thickness and grade; rolling directions count along the strip.
    width : float
        mm.
    gaps, seed, stop, progress, workers
        As for `nest`; the stopping rule is asked with the length so far.

    Returns
    -------
    StripNest

    Raises
    ------
    NestingError
        If the demands or the gaps make no sense, or mix thicknesses or grades.
    """
    from cutplan.nesting.order_strip import shortest_strip

    _check_input(demands, gaps)
    if len({(d.thickness, d.grade) for d in demands}) != 1:
        raise NestingError(
            "a strip needs parts of one thickness and one grade", remedy="ask for each one by itself"
        )
    if not (math.isfinite(width) and width > 0.0):
        raise NestingError(f"a strip cannot be {width} mm wide", remedy="give a width above zero")
    answer = shortest_strip(demands, width, gaps, seed, stop, progress, workers)
    if not answer.placements:
        return answer
    outline = polygon([(0.0, 0.0), (answer.length, 0.0), (answer.length, width), (0.0, width)])
    plate = Plate("strip", outline, demands[0].thickness, demands[0].grade, "")
    sheet = _numbered([NestedPlate(plate, 1, answer.placements)])[0]
    check_sheet(sheet, gaps)
    return replace(answer, placements=sheet.placements)


def _check_input(demands: Sequence[Demand], gaps: NestGaps) -> None:
    for name, value in (("gap", gaps.gap), ("edge", gaps.edge), ("hole_gap", gaps.hole_gap)):
        if value is not None and not (math.isfinite(value) and value >= 0.0):
            raise NestingError(f"the {name} must be zero or more mm, got {value}", remedy="correct the gaps")
    for demand in demands:
        if demand.quantity < 1:
            raise NestingError(
                f"part {demand.part.name!r} is wanted {demand.quantity} times",
                remedy="ask for one copy or more, or leave the part out",
            )
        if demand.rotations_deg is not None and not demand.rotations_deg:
            raise NestingError(
                f"part {demand.part.name!r} allows no rotation at all",
                remedy="list at least one rotation in degrees, or none for free rotation",
            )
        if demand.rotations_deg and not all(map(math.isfinite, demand.rotations_deg)):
            raise NestingError(
                f"part {demand.part.name!r} has a rotation that is not a number",
                remedy="list rotations in degrees",
            )


def _no_plate(demand: Demand, plates: Sequence[Plate]) -> str:
    same_grade = sorted({p.thickness for p in plates if p.grade == demand.grade and p.quantity > 0})
    if any(p.thickness == demand.thickness and p.quantity > 0 for p in plates):
        return f"no plate of grade {demand.grade} in {demand.thickness:g} mm"
    if same_grade:
        on_offer = ", ".join(f"{t:g}" for t in same_grade)
        return f"no plate {demand.thickness:g} mm thick; on offer in {demand.grade}: {on_offer} mm"
    return f"no plate {demand.thickness:g} mm thick of grade {demand.grade}"


def _numbered(sheets: Sequence[NestedPlate]) -> list[NestedPlate]:
    copies: dict[str, int] = {}
    numbers: dict[str, int] = {}
    result = []
    for sheet in sheets:
        placements = []
        for placement in sheet.placements:
            copies[placement.part.name] = copies.get(placement.part.name, 0) + 1
            placements.append(Placement(placement.part, copies[placement.part.name], placement.pose))
        numbers[sheet.plate.id] = numbers.get(sheet.plate.id, 0) + 1
        result.append(NestedPlate(sheet.plate, numbers[sheet.plate.id], tuple(placements)))
    return result
