"""Makes a first nest better: fewer and cheaper sheets, then a large rest on the last one.

Each step asks the same question of the separation search: do these parts go on that sheet?
A part more is laid on a sheet with overlap, and stays there if the overlap can be removed.
All steps are tried in rounds of as many side by side as there are workers; what comes out
depends on the seed and the number of workers, never on their speed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cutplan.geometry import FloatArray
from cutplan.nesting.fill import Sheet, empty_sheet, fill, filling_order
from cutplan.nesting.problem import TOUCH, Problem, turns_on
from cutplan.nesting.separation import Search, new_search, search_for
from cutplan.nesting.shorten import Packing, Separator, Shortener
from cutplan.nesting.stopping import StoppingRule

__all__ = ["Improver", "base_search", "rows_of"]

IntArray = NDArray[np.int64]

# Losses weigh more between large forms: each counts with this power of its area.
_SCALE_POWER = 0.25
# Share of a sheet's room above which no nest is expected to go.
_FULLEST = 0.97
# Rounds of separation without improvement after which a part does not go on a sheet; once all
# have been tried, more is spent on each.
_PATIENCE = (50, 150, 450)
# Candidates that a round of the last sheet's shortening tests for each of its parts.
_ROUND = 3_000
# Rounds of shortening, at most, when the stopping rule does not end it before.
_SHORTENING_ROUNDS = 12


@dataclass(frozen=True)
class Trial:
    """Parts to lay on a sheet of a kind, with where to start from; `kinds` without blockers."""

    number: int
    kinds: tuple[int, ...]
    places: FloatArray
    orientations: IntArray
    stream: int


class Improver:
    """The improvement of one problem's sheets; results are in `sheets` and `left`.

    Parameters
    ----------
    problem : Problem
    sheets : list of Sheet
        A nest to start from.
    left : list of int
        Copies of each kind without a place.
    stock : list of int
        Sheet kinds on offer, one entry for each sheet, used or not.
    seed, workers : int
    stop : callable
        Asked with the cost after each round.
    progress : callable, optional
        Told the cost after each round.
    """

    def __init__(
        self,
        problem: Problem,
        sheets: list[Sheet],
        left: list[int],
        stock: Sequence[int],
        *,
        seed: int,
        workers: int,
        stop: StoppingRule,
        progress: Callable[[float], None] | None = None,
    ) -> None:
        self.problem = problem
        self.sheets = sheets
        self.left = left
        self.stock = list(stock)
        self.seed = seed
        self.workers = workers
        self.stop = stop
        self.progress = progress
        self.trials = 0
        self.candidates = 0
        self.base = base_search(problem)
        self.ended = False

    def run(self) -> None:
        """Improve until the stopping rule ends it or nothing more is to be had."""
        with ThreadPoolExecutor(max_workers=self.workers) as self.pool:
            try:
                self._place_left()
                self._empty_sheets()
                self._take_cheaper_sheets()
                self._shorten_last()
            except KeyboardInterrupt:
                self.ended = True

    def cost(self) -> float:
        """Cost of the sheets in use."""
        return sum(self.problem.sheets[sheet.number].cost for sheet in self.sheets)

    # Steps

    def _place_left(self) -> None:
        """Find room on the sheets in use for copies that were left, the important first."""
        for kind in filling_order(self.problem.kinds):
            if self.problem.kinds[kind].demand.filler:
                continue
            targets = self._by_room(kind, range(len(self.sheets)))
            while self.left[kind] and targets and not self.ended:
                trials = [(t, self._with_one_more(self.sheets[t], kind)) for t in targets[: self.workers]]
                for t, done in zip(targets[: self.workers], self._tried([x for _, x in trials]), strict=True):
                    if done is not None and self.left[kind]:
                        self.sheets[t] = done
                        self.left[kind] -= 1
                    if done is None or not self._has_room(done, kind):
                        targets.remove(t)

    def _empty_sheets(self) -> None:
        """Move parts from the emptiest sheet to the others as long as it can become empty."""
        while len(self.sheets) > 1 and not self.ended:
            victim = min(range(len(self.sheets)), key=lambda s: self._used(self.sheets[s]))
            spare = sum(
                max(0.0, _FULLEST * self._room(sheet) - self._used(sheet))
                for s, sheet in enumerate(self.sheets)
                if s != victim
            )
            if self._used(self.sheets[victim]) > spare or not self._moved_away(victim):
                return

    def _moved_away(self, victim: int) -> bool:
        """Move the parts of a sheet to others, large ones first; True where it became empty."""
        hopeless: set[tuple[int, int]] = set()
        level = 0
        others = [s for s in range(len(self.sheets)) if s != victim]
        while self.sheets[victim].kinds and not self.ended:
            pairs = self._next_pairs(victim, others, hopeless)
            if not pairs:
                if level == len(_PATIENCE) - 1 or not hopeless:
                    return False
                hopeless.clear()
                level += 1
                continue
            trials = [self._with_one_more(self.sheets[target], kind) for kind, target in pairs]
            for (kind, target), done in zip(pairs, self._tried(trials, level), strict=True):
                if done is None:
                    hopeless.add((kind, target))
                elif kind in self.sheets[victim].kinds:
                    self.sheets[target] = done
                    self.sheets[victim] = _without(self.sheets[victim], kind)
        if self.sheets[victim].kinds:
            return False
        del self.sheets[victim]
        return True

    def _next_pairs(
        self, victim: int, others: Sequence[int], hopeless: set[tuple[int, int]]
    ) -> list[tuple[int, int]]:
        """Kinds of a sheet and other sheets to try them on, one for each worker."""
        pairs: list[tuple[int, int]] = []
        kinds = sorted(self.sheets[victim].kinds, key=lambda k: (-self.problem.kinds[k].area, k))
        taken: set[int] = set()
        for kind in kinds:
            for target in self._by_room(kind, others):
                if (kind, target) not in hopeless and target not in taken:
                    pairs.append((kind, target))
                    taken.add(target)
                    break
            if len(pairs) == self.workers:
                break
        return pairs

    def _take_cheaper_sheets(self) -> None:
        """Lay the parts of a sheet on an unused one that costs less, the cheapest that serves."""
        for s in sorted(range(len(self.sheets)), key=lambda s: self._used(self.sheets[s])):
            sheet = self.sheets[s]
            cost = self.problem.sheets[sheet.number].cost
            offers = sorted(set(self._unused()), key=lambda n: (self.problem.sheets[n].cost, n))
            for number in offers:
                kind = self.problem.sheets[number]
                if self.ended or kind.cost >= cost:
                    break
                if _FULLEST * kind.room < self._used(sheet):
                    continue
                trial = self._on_other_sheet(sheet, number)
                done = self._tried([trial], 1)[0] if trial is not None else None
                if done is not None:
                    self.sheets[s] = done
                    break

    def _shorten_last(self) -> None:
        """Push the parts of the emptiest sheet together, so that the rest is one rectangle."""
        if not self.sheets or self.ended:
            return
        last = min(range(len(self.sheets)), key=lambda s: self._used(self.sheets[s]))
        sheet = self.sheets[last]
        search, kinds, areas = rows_of(self.problem, self.base, sheet.number, sheet.kinds)
        count = sheet.count
        rights = sheet.places[:count, 0] + search.reach[sheet.orientations[:count], 2]
        start = Packing(
            sheet.places[:count].copy(),
            sheet.orientations[:count].copy(),
            float(rights[search.fixed :].max()),
        )
        box = np.array(self.problem.sheets[sheet.number].box)
        crew = [Shortener(search, areas, kinds, box, start, self.seed, s) for s in range(self.workers)]
        best = start
        for _ in range(_SHORTENING_ROUNDS):
            if crew[0].done(best) or self.ended:
                break
            list(self.pool.map(lambda worker: worker.run(_ROUND * len(sheet.kinds)), crew))
            best = min((worker.best for worker in crew), key=lambda packing: packing.length)
            for worker in crew:
                worker.shared = best
            self._after_round()
        self.candidates += sum(int(worker.separator.counts[2]) for worker in crew)
        self.sheets[last] = replace(sheet, places=best.places, orientations=best.orientations, corners={})

    # Trials

    def _tried(self, trials: Sequence[Trial], level: int = 0) -> list[Sheet | None]:
        """Sheets that came out of trials, None where overlap stayed; the stopping rule is asked."""
        done = list(self.pool.map(lambda trial: self._separated(trial, _PATIENCE[level]), trials))
        self.candidates += sum(count for _, count in done)
        self._after_round()
        return [sheet for sheet, _ in done]

    def _after_round(self) -> None:
        cost = self.cost()
        if self.progress is not None:
            self.progress(cost)
        self.ended = self.ended or self.stop(cost)

    def _separated(self, trial: Trial, patience: int) -> tuple[Sheet | None, int]:
        search, _, _ = rows_of(self.problem, self.base, trial.number, trial.kinds)
        separator = Separator(search, self.seed, trial.stream)
        box = np.array(self.problem.sheets[trial.number].box)
        places, orientations = trial.places, trial.orientations
        for _ in separator.attempt(places, orientations, box, patience, 1):
            pass
        count = int(separator.counts[2])
        if separator.loss > 0.0:
            return None, count
        return Sheet(trial.number, list(trial.kinds), places, orientations, len(places)), count

    def _with_one_more(self, sheet: Sheet, kind: int) -> Trial:
        """A sheet with one more part in the middle of it, overlapping what lies there."""
        self.trials += 1
        kind_of_sheet = self.problem.sheets[sheet.number]
        turn = turns_on(self.problem, kind, sheet.number)[0]
        x0, y0, x1, y1 = kind_of_sheet.box
        places = np.vstack([sheet.places[: sheet.count], [[0.5 * (x0 + x1), 0.5 * (y0 + y1)]]])
        orientations = np.append(sheet.orientations[: sheet.count], turn)
        return Trial(sheet.number, (*sheet.kinds, kind), places, orientations, self.trials)

    def _on_other_sheet(self, sheet: Sheet, number: int) -> Trial | None:
        """The parts of a sheet on one of another kind: laid down where they fit, else in the middle."""
        self.trials += 1
        if not all(turns_on(self.problem, kind, number) for kind in set(sheet.kinds)):
            return None
        wanted = [sheet.kinds.count(k) for k in range(len(self.problem.kinds))]
        laid, left = fill(self.problem, filling_order(self.problem.kinds), [number], wanted=wanted)
        first = laid[0] if laid else empty_sheet(self.problem, number)
        over = [k for k, count in enumerate(left) for _ in range(count)]
        x0, y0, x1, y1 = self.problem.sheets[number].box
        middle = np.tile([[0.5 * (x0 + x1), 0.5 * (y0 + y1)]], (len(over), 1))
        turns = [turns_on(self.problem, k, number)[0] for k in over]
        places = np.vstack([first.places[: first.count], middle])
        orientations = np.append(first.orientations[: first.count], np.array(turns, dtype=np.int64))
        return Trial(number, (*first.kinds, *over), places, orientations, self.trials)

    # Room

    def _room(self, sheet: Sheet) -> float:
        return self.problem.sheets[sheet.number].room

    def _used(self, sheet: Sheet) -> float:
        return sum(self.problem.kinds[k].area for k in sheet.kinds)

    def _has_room(self, sheet: Sheet, kind: int) -> bool:
        enough = self._used(sheet) + self.problem.kinds[kind].area <= _FULLEST * self._room(sheet)
        return enough and bool(turns_on(self.problem, kind, sheet.number))

    def _by_room(self, kind: int, among: Sequence[int]) -> list[int]:
        """Sheets that may have room for one more of a kind, the roomiest first."""
        able = [s for s in among if self._has_room(self.sheets[s], kind)]
        return sorted(able, key=lambda s: self._used(self.sheets[s]) - self._room(self.sheets[s]))

    def _unused(self) -> list[int]:
        left = list(self.stock)
        for sheet in self.sheets:
            left.remove(sheet.number)
        return left


def base_search(problem: Problem) -> Search:
    """Search data over all orientations of a problem, to be narrowed to a sheet's rows."""
    area = np.array([problem.forms[o.form].area for o in problem.orientations])
    scale = area**_SCALE_POWER
    movable = sorted({t for kind in problem.kinds for turns in kind.turns.values() for t in turns})
    # A blocker counts as much as the largest part, however large it is.
    scale = np.minimum(scale, scale[movable].max()) / scale[movable].mean()
    return new_search(problem.tables, [], scale, tolerance=TOUCH)


def rows_of(
    problem: Problem, base: Search, number: int, kinds: Sequence[int]
) -> tuple[Search, IntArray, FloatArray]:
    """Search data, kind numbers and areas of a sheet's rows, blockers first."""
    sheet = problem.sheets[number]
    turns: list[Sequence[int]] = [(orientation,) for orientation, _, _ in sheet.blockers]
    turns += [turns_on(problem, k, number) for k in kinds]
    numbers = np.array([-1] * len(sheet.blockers) + list(kinds), dtype=np.int64)
    areas = np.array([problem.forms[problem.orientations[options[0]].form].area for options in turns])
    return search_for(base, turns, len(sheet.blockers)), numbers, areas


def _without(sheet: Sheet, kind: int) -> Sheet:
    """A sheet less one part of a kind."""
    at = sheet.kinds.index(kind)
    row = sheet.blockers + at
    return Sheet(
        sheet.number,
        sheet.kinds[:at] + sheet.kinds[at + 1 :],
        np.delete(sheet.places[: sheet.count], row, axis=0),
        np.delete(sheet.orientations[: sheet.count], row),
        sheet.count - 1,
    )
