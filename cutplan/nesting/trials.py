"""One trial of the search: some parts laid on a sheet, with overlap at first.

What to try is the business of `improve`; here a trial is set up, and carried out.
"""

from __future__ import annotations

import collections
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import FloatArray
from cutplan.nesting.fill import Sheet, empty_sheet, fill, filling_order
from cutplan.nesting.layout import Search, new_search
from cutplan.nesting.problem import TOUCH, Problem, turns_on
from cutplan.nesting.shorten import Separator

__all__ = [
    "Rows",
    "Trial",
    "carried_out",
    "on_other_sheet",
    "rows_of",
    "with_more",
    "without",
]

IntArray = NDArray[np.int64]

# Up to so many orientations one set of tables serves every sheet of a problem.
_FEW_ORIENTATIONS = 64


@dataclass(frozen=True)
class Trial:
    """Parts to lay on a sheet of a kind, with where to start from; `kinds` without blockers."""

    number: int
    kinds: tuple[int, ...]
    places: FloatArray
    orientations: IntArray


def carried_out(
    problem: Problem, trial: Trial, patience: int, seed: int, stream: int
) -> tuple[Sheet | None, int]:
    """Return the sheet that comes out of a trial, None where overlap stays, and the candidates tested."""
    rows = rows_of(problem, trial.number, trial.kinds)
    separator = Separator(rows.search, seed, stream)
    box = np.array(problem.sheets[trial.number].box)
    places, orientations = trial.places, rows.own(trial.orientations)
    # The attempt hands over after each chunk of work; here nothing is to be done between them.
    collections.deque(separator.attempt(places, orientations, box, patience, 1), maxlen=0)
    count = int(separator.counts[2])
    if separator.loss > 0.0:
        return None, count
    return Sheet(trial.number, list(trial.kinds), places, rows.ids[orientations], len(places)), count


def with_more(problem: Problem, sheet: Sheet, kinds: Sequence[int]) -> Trial:
    """A sheet with more parts in the middle of it, overlapping what lies there."""
    turns = [turns_on(problem, kind, sheet.number)[0] for kind in kinds]
    x0, y0, x1, y1 = problem.sheets[sheet.number].box
    middle = np.tile([[0.5 * (x0 + x1), 0.5 * (y0 + y1)]], (len(kinds), 1))
    places = np.vstack([sheet.places[: sheet.count], middle])
    orientations = np.append(sheet.orientations[: sheet.count], np.array(turns, dtype=np.int64))
    return Trial(sheet.number, (*sheet.kinds, *kinds), places, orientations)


def without(sheet: Sheet, kinds: Sequence[int]) -> Sheet:
    """A sheet less one part for each kind named."""
    staying = list(sheet.kinds)
    rows = list(range(sheet.count))
    for kind in kinds:
        at = staying.index(kind)
        del staying[at], rows[sheet.blockers + at]
    return Sheet(sheet.number, staying, sheet.places[rows], sheet.orientations[rows], len(rows))


def on_other_sheet(problem: Problem, sheet: Sheet, number: int) -> Trial | None:
    """The parts of a sheet on one of another kind: laid down where they fit, else in the middle."""
    if not all(turns_on(problem, kind, number) for kind in set(sheet.kinds)):
        return None
    wanted = [sheet.kinds.count(k) for k in range(len(problem.kinds))]
    laid, left = fill(problem, filling_order(problem.kinds), [number], wanted=wanted)
    first = laid[0] if laid else empty_sheet(problem, number)
    return with_more(problem, first, [k for k, count in enumerate(left) for _ in range(count)])


@dataclass(frozen=True)
class Rows:
    """Search data of what lies on a sheet, blockers first.

    `ids` are the problem's numbers of the orientations that the search counts from 0; `kinds`
    and `areas` go by row.
    """

    search: Search
    ids: IntArray
    kinds: IntArray
    areas: FloatArray

    def own(self, orientations: IntArray) -> IntArray:
        """The search's numbers of the problem's orientations."""
        return np.searchsorted(self.ids, orientations)


def rows_of(problem: Problem, number: int, kinds: Sequence[int]) -> Rows:
    """Return the search data of a sheet of a kind with parts of these kinds."""
    sheet = problem.sheets[number]
    turns: list[Sequence[int]] = [(orientation,) for orientation, _, _ in sheet.blockers]
    turns_of = {k: turns_on(problem, k, number) for k in set(kinds)}
    turns += [turns_of[k] for k in kinds]
    if len(problem.orientations) <= _FEW_ORIENTATIONS:
        ids = np.arange(len(problem.orientations))
    else:
        blocking = [orientation for orientation, _, _ in sheet.blockers]
        ids = np.array(
            sorted({t for mine in turns_of.values() for t in mine} | set(blocking)), dtype=np.int64
        )
    place = {turn: k for k, turn in enumerate(ids.tolist())}
    own = [[place[t] for t in mine] for mine in turns]
    search = new_search(problem.store.tables(ids.tolist()), own, fixed=len(sheet.blockers), tolerance=TOUCH)
    numbers = np.array([-1] * len(sheet.blockers) + list(kinds), dtype=np.int64)
    areas = np.array([problem.forms[problem.orientations[options[0]].form].area for options in turns])
    return Rows(search, ids, numbers, areas)
