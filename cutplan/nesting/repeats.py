"""Large batches: one good set of full sheets laid out, and repeated as often as the batch holds it.

The time a batch takes then grows with its kinds and hardly with its copies, more of it is left
for each sheet, and the sheets come out equal, so that one program serves several.  The idea is
the pattern of one-dimensional cutting (Gilmore and Gomory 1961, "A linear programming approach
to the cutting-stock problem").
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from cutplan.nesting.model import Demand
from cutplan.nesting.problem import Problem, SheetKind
from cutplan.stock import NestedPlate, Plate

__all__ = ["repeat_sheets"]

# Sheets that a set to be repeated takes, about, and the least number of repeats worth it.
_SET, _LEAST_REPEATS = 6, 2
# Share of the room that a first guess of the number of sheets takes for filled.
_GUESS = 0.85
# An emptiest sheet under this share of the others' mean is laid out anew with the rest.
_FULL = 0.97

Lay = Callable[[Sequence[Demand], Sequence[Plate]], tuple[list[NestedPlate], list[int], bool]]
"""Nests demands on plates: the sheets, copies left of each demand, and whether the user stopped it."""


def repeat_sheets(problem: Problem, lay: Lay) -> tuple[list[NestedPlate], list[Demand], list[Plate], bool]:
    """Lay out sets of sheets and repeat them.

    Returns
    -------
    sheets : list of NestedPlate
        Not yet numbered; repeats are the same object.
    rest : list of Demand
        What is still to be laid out.
    plates : list of Plate
        What is still on offer.
    stopped : bool
        Whether the user stopped the search.
    """
    areas = {id(kind.demand.part): kind.least_area for kind in problem.kinds}
    left = [kind.demand for kind in problem.kinds]
    offered = {sheet.plate.id: sheet.plate for sheet in problem.sheets}
    sheets: list[NestedPlate] = []
    stopped = False
    chosen = _sheet_to_repeat(problem)
    while not stopped and chosen is not None:
        plate = offered[chosen.plate.id]
        need = sum(demand.quantity * areas[id(demand.part)] for demand in left)
        repeats = int(min(need / (_GUESS * chosen.room), plate.quantity) / _SET)
        share = [replace(d, quantity=d.quantity // repeats) for d in left] if repeats else []
        share = [demand for demand in share if demand.quantity]
        if repeats < _LEAST_REPEATS or not share:
            break
        laid, _, stopped = lay(share, [replace(plate, quantity=plate.quantity // repeats)])
        full = _full_ones(laid, areas)
        if not full:
            break
        sheets += [sheet for sheet in full for _ in range(repeats)]
        taken = Counter(id(p.part) for sheet in full for p in sheet.placements)
        left = [replace(d, quantity=d.quantity - repeats * taken[id(d.part)]) for d in left]
        left = [demand for demand in left if demand.quantity]
        offered[plate.id] = replace(plate, quantity=plate.quantity - repeats * len(full))
    return sheets, left, [plate for plate in offered.values() if plate.quantity], stopped


def _sheet_to_repeat(problem: Problem) -> SheetKind | None:
    """The plate of which most are on offer, where the batch may be laid out in equal sheets at all.

    Kits, priorities and fillers ask for sheets that differ.
    """
    demands = [kind.demand for kind in problem.kinds]
    if any(d.kit or d.filler or d.priority != demands[0].priority for d in demands):
        return None
    if len({id(d.part) for d in demands}) < len(demands):
        return None
    able = [sheet for sheet in problem.sheets if not sheet.plate.is_remnant and sheet.room > 0.0]
    return max(able, key=lambda sheet: (sheet.plate.quantity, sheet.room), default=None)


def _full_ones(laid: Sequence[NestedPlate], areas: Mapping[int, float]) -> list[NestedPlate]:
    """The sheets of a set but the emptiest, which is kept only where it is nearly as full as the others."""
    if len(laid) < 2:
        return []
    used = [sum(areas[id(p.part)] for p in sheet.placements) for sheet in laid]
    emptiest = min(range(len(laid)), key=lambda n: (used[n], -n))
    others = (sum(used) - used[emptiest]) / (len(used) - 1)
    return [sheet for n, sheet in enumerate(laid) if n != emptiest or used[n] >= _FULL * others]
