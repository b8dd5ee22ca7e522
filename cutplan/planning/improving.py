"""Nests again what is not pinned, and says how it would lie where that is better."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from cutplan.editing import Bench, LaidSheet, Layout, SheetLaid, State
from cutplan.geometry import bounds, place
from cutplan.nesting import Demand, nest
from cutplan.planning.engine import Desk
from cutplan.planning.job import Job
from cutplan.stock import Keepout, NestedPlate, Placement, Plate

__all__ = ["tighter_layout"]

ROUNDS = 4
"""Nests that are tried, each from a seed of its own."""
_SEPARATOR = "~"


def tighter_layout(state: State, bench: int, job: Job, desk: Desk, rounds: int = ROUNDS) -> Layout | None:
    """Return a better layout of a bench's sheets around what is pinned there; None where none was found.

    Better is, in this order: fewer copies without a place, less plate, a shorter last sheet.

    Parameters
    ----------
    state : State
    bench : int
    job : Job
    desk : Desk
        Told of progress; ends the search with the best so far.
    rounds : int
    """
    sheets = [sheet for sheet in state.sheets if sheet.bench == bench and sheet.torches == 1]
    demands, copies = _free(state, state.benches[bench])
    if not demands or not sheets:
        return None
    plates = _plates(state, sheets, state.benches[bench])
    now = [sheet.nested for sheet in sheets]
    best, best_score = None, _score(now, sum(map(len, _off(state, state.benches[bench]))))
    for number in range(1, rounds + 1):
        stage = f"nesting again around what is pinned, try {number} of {rounds}"
        desk.tell(stage, (number - 1) / rounds)
        found = nest(
            demands, plates, state.benches[bench].gaps, seed=job.seed + number,
            workers=desk.threads, progress=lambda what, done, total, cost: _looked(desk, total),
        )  # fmt: skip
        laid = _joined(sheets, found.plates, state, copies)
        score = _score(laid, sum(item.quantity for item in found.unplaced))
        if score < best_score:
            best, best_score = laid, score
        if found.statistics.get("stopped"):
            break
    return None if best is None else _layout(sheets, best)


def _looked(desk: Desk, total: int) -> None:
    if not total:
        desk.look_up()


def _off(state: State, bench: Bench) -> list[list[int]]:
    off = state.off()
    return [off.get(demand.part.name, []) for demand in bench.demands]


def _free(state: State, bench: Bench) -> tuple[list[Demand], dict[str, list[int]]]:
    """Return what is to be nested, and the numbers of its copies."""
    demands, copies = [], {}
    for demand in bench.demands:
        name = demand.part.name
        held = {copy for part, copy in state.pinned if part == name}
        side_by_side = {p.copy for sheet, _, p in state.placed() if p.part.name == name and sheet.torches > 1}
        free = [c for c in range(1, state.wanted.get(name, 0) + 1) if c not in held | side_by_side]
        if free:
            demands.append(replace(demand, quantity=len(free)))
            copies[name] = free
    return demands, copies


def _pinned_on(state: State, sheet: LaidSheet) -> tuple[Placement, ...]:
    return tuple(p for p in sheet.nested.placements if (p.part.name, p.copy) in state.pinned)


def _plates(state: State, sheets: Sequence[LaidSheet], bench: Bench) -> list[Plate]:
    """Return the sheets in use, each with its pinned parts as places that are taken, and what else is on offer."""
    grade = bench.demands[0].grade
    plates = []
    for sheet in sheets:
        taken = tuple(Keepout(place(p.part.outer, p.pose), 0.0) for p in _pinned_on(state, sheet))
        plate = sheet.nested.plate
        plates.append(
            replace(
                plate,
                id=f"{plate.id}{_SEPARATOR}{sheet.nested.sheet}",
                grade=grade,
                quantity=1,
                keepouts=(*plate.keepouts, *taken),
            )
        )
    for plate in bench.plates:
        used = {s.nested.sheet for s in state.sheets if s.nested.plate.id == plate.id}
        for number in (n for n in range(1, plate.quantity + 1) if n not in used):
            plates.append(replace(plate, id=f"{plate.id}{_SEPARATOR}{number}", grade=grade, quantity=1))
    return plates


def _joined(
    sheets: Sequence[LaidSheet], found: Sequence[NestedPlate], state: State, copies: dict[str, list[int]]
) -> list[NestedPlate]:
    """Return the sheets with pinned and new parts together, under their own names."""
    of_bench = {plate.id: plate for plate in state.benches[sheets[0].bench].plates}
    there = {sheet.name: sheet.nested for sheet in sheets}
    rest = {part: list(numbers) for part, numbers in copies.items()}
    laid = {s.name: replace(s.nested, placements=_pinned_on(state, s)) for s in sheets}
    for nested in found:
        plate, _, number = nested.plate.id.rpartition(_SEPARATOR)
        name = f"{plate}-{number}"
        base = laid.get(name) or there.get(name) or NestedPlate(of_bench[plate], int(number), ())
        fresh = tuple(replace(p, copy=rest[p.part.name].pop(0)) for p in nested.placements)
        laid[name] = replace(base, placements=(*base.placements, *fresh))
    return [nested for nested in laid.values() if nested.placements]


def _score(sheets: Sequence[NestedPlate], missing: int) -> tuple[float, float, float]:
    ends = [max(float(bounds(place(p.part.outer, p.pose))[2]) for p in sheet.placements) for sheet in sheets]
    return (missing, sum(sheet.plate.metal_mm2 for sheet in sheets), round(min(ends, default=math.inf), 3))


def _layout(before: Sequence[LaidSheet], after: Sequence[NestedPlate]) -> Layout:
    gone = {sheet.name for sheet in before} - {nested.name for nested in after}
    rows = [
        SheetLaid(
            plate=nested.plate.id,
            sheet=nested.sheet,
            placements=tuple(
                (p.part.name, p.copy, p.pose.x, p.pose.y, p.pose.rotation_deg, p.pose.mirrored)
                for p in nested.placements
            ),
        )
        for nested in after
    ]
    rows += [
        SheetLaid(plate=sheet.nested.plate.id, sheet=sheet.nested.sheet)
        for sheet in before
        if sheet.name in gone
    ]
    return Layout(sheets=tuple(rows))
