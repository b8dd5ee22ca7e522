"""Constructive fit: lays parts down one after another, each at the leftmost free corner.

Fast and complete but not dense; `improve` takes it from here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import FloatArray
from cutplan.nesting.corners import Corners
from cutplan.nesting.problem import TOUCH, Kind, Problem

# Above so many kinds a sheet that had no room for one is not asked again before one of at most
# this share of its area comes: nearly alike parts fail alike, and each question costs tables.
_MANY_KINDS, _MUCH_SMALLER = 24, 0.7

__all__ = ["Sheet", "best_corner", "empty_sheet", "fill", "filling_order"]


@dataclass
class Sheet:
    """One sheet being filled: blockers first, then what was laid down.

    Attributes
    ----------
    number : int
        Of the sheet kind in the problem.
    kinds : list of int
        Kind of each part laid down, in order.
    places : ndarray, shape (n, 2)
        Places of blockers and parts; rows past `count` are spare.
    orientations : ndarray of int64, shape (n,)
    count : int
        Blockers and parts on the sheet.
    """

    number: int
    kinds: list[int]
    places: FloatArray
    orientations: NDArray[np.int64]
    count: int
    corners: dict[int, Corners] = field(default_factory=dict)

    @property
    def blockers(self) -> int:
        """How many of the first rows are blockers."""
        return self.count - len(self.kinds)

    def lay(self, kind: int, orientation: int, x: float, y: float) -> None:
        """Put one more part on the sheet."""
        if self.count == len(self.places):
            self.places = np.vstack([self.places, np.zeros_like(self.places)])
            self.orientations = np.concatenate([self.orientations, np.zeros_like(self.orientations)])
        self.places[self.count] = x, y
        self.orientations[self.count] = orientation
        self.count += 1
        self.kinds.append(kind)


def empty_sheet(problem: Problem, number: int) -> Sheet:
    """Return a sheet of a kind with nothing on it but its blockers."""
    blockers = problem.sheets[number].blockers
    places = np.zeros((max(16, 2 * len(blockers)), 2))
    orientations = np.zeros(len(places), dtype=np.int64)
    for k, (orientation, x, y) in enumerate(blockers):
        places[k] = x, y
        orientations[k] = orientation
    return Sheet(number, [], places, orientations, len(blockers))


def filling_order(kinds: Sequence[Kind]) -> list[int]:
    """Kinds by priority, fillers last, larger before smaller."""
    return sorted(
        range(len(kinds)),
        key=lambda k: (kinds[k].demand.filler, -kinds[k].demand.priority, -kinds[k].size, k),
    )


def best_corner(problem: Problem, sheet: Sheet, kind: int) -> tuple[int, float, float] | None:
    """Return the orientation and place with the leftmost right side, then the lowest top."""
    kind_of_sheet = problem.sheets[sheet.number]
    best: tuple[float, float] | None = None
    choice: tuple[int, float, float] | None = None
    for turn in problem.kinds[kind].turns[kind_of_sheet.plate.lying]:
        corners = sheet.corners.get(turn)
        if corners is None:
            corners = sheet.corners[turn] = Corners(problem.store, turn, kind_of_sheet.box, TOUCH)
        places = corners.update(sheet.places, sheet.orientations, sheet.count)
        if not len(places):
            continue
        reach = problem.store.reach[turn]
        right = np.round(places[:, 0] + reach[2], 4)
        top = places[:, 1] + reach[3]
        k = int(np.lexsort((top, right))[0])
        key = (float(right[k]), float(top[k]))
        if best is None or key < best:
            best, choice = key, (turn, float(places[k, 0]), float(places[k, 1]))
    return choice


def fill(
    problem: Problem,
    order: Sequence[int],
    stock: Sequence[int],
    placed: Callable[[int], None] | None = None,
    *,
    wanted: Sequence[int] | None = None,
    onto: Sequence[Sheet] = (),
) -> tuple[list[Sheet], list[int]]:
    """Lay all copies down, on the first sheet with room, opening sheets in the order of `stock`.

    Parameters
    ----------
    problem : Problem
    order : sequence of int
        Kinds in the order in which they are laid down.
    stock : sequence of int
        Sheet kinds, one entry for each sheet on offer.
    placed : callable, optional
        Told how many copies are done.
    wanted : sequence of int, optional
        Copies of each kind; all that are in demand by default.
    onto : sequence of Sheet
        Sheets already begun, which are filled up first.

    Returns
    -------
    sheets : list of Sheet
        Those with something on them.
    left : list of int
        Copies of each kind that found no place.
    """
    sheets = [*onto, *(empty_sheet(problem, number) for number in stock)]
    refused = [np.inf] * len(sheets)
    many = len(order) > _MANY_KINDS
    left = list(wanted) if wanted is not None else [kind.demand.quantity for kind in problem.kinds]
    done = 0
    for kind in order:
        filler, area = problem.kinds[kind].demand.filler, problem.kinds[kind].area
        at = 0
        while left[kind] and at < len(sheets):
            sheet = sheets[at]
            if many and area > _MUCH_SMALLER * refused[at]:
                at += 1
                continue
            # A filler opens no sheet of its own.
            choice = None if filler and not sheet.kinds else best_corner(problem, sheet, kind)
            if choice is None:
                # What has no corner left here will have none later.
                if sheet.kinds:
                    refused[at] = min(refused[at], area)
                at += 1
                continue
            sheet.lay(kind, *choice)
            left[kind] -= 1
            done += 1
            if placed is not None:
                placed(done)
        if many:
            for sheet in sheets[: at + 1]:
                sheet.corners.clear()
    return [sheet for sheet in sheets if sheet.kinds], left
