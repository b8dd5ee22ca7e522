"""Makes a first nest better: fewer and cheaper sheets, kits kept together, a large rest on the last one.

Each step asks the same question of the separation search: do these parts go on that sheet?
A part more is laid on a sheet with overlap, and stays there if the overlap can be removed.
All steps are tried in rounds of a fixed number side by side; what comes out depends on the
seed, never on the number of workers or their speed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import numpy as np

from cutplan.base.stopping import MaxIterations, StoppingRule
from cutplan.nesting.fill import Sheet, filling_order
from cutplan.nesting.problem import Problem, turns_on
from cutplan.nesting.shorten import Packing, Shortener
from cutplan.nesting.trials import (
    Trial,
    carried_out,
    on_other_sheet,
    rows_of,
    with_more,
    without,
)

__all__ = ["Improver"]

# Share of a sheet's room above which no nest is expected to go.
_FULLEST = 0.97
# Rounds of separation without improvement after which a part does not go on a sheet; once all
# have been tried, more is spent on each.
_PATIENCE = (50, 150, 450)
# Candidates that a round of the last sheet's shortening tests for each of its parts.
_ROUND = 3_000
# Rounds of shortening, at most, when the stopping rule does not end it before.
_SHORTENING_ROUNDS = 12
# Rounds of each other step when no stopping rule is given, and as many more for each sheet.
_ROUNDS_A_STEP = 61
_ROUNDS_A_SHEET = 4
# How full sheets may have to become for more patience to be spent on emptying another.
_FULL_FOR_MORE = (0.95, 0.92)
# Trials of a round, and searches side by side that shorten the last sheet: fixed, so that the
# number of workers decides nothing.
_SIDE_BY_SIDE, _SHORTENERS = 4, 2
# Sheets that a part is tried on, at most, the roomiest first.
_MOST_TARGETS = 8
# Kinds that a part of a kit is offered in exchange, at most, the likest in area first.
_MOST_OFFERS = 4


class Improver:
    """The improvement of one problem's sheets; results are in `sheets` and `left`.

    An interrupt by the user ends it, with what is best by then; `stopped` tells of that.

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
        The result does not depend on the workers.
    stop : callable, optional
        Asked with the cost after each round; without one, every step has its own share of rounds.
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
        stop: StoppingRule | None,
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
        self.rounds = 0
        self.ended = False
        self.stopped = False
        # Where no rule is given, each step has its own, which counts from the step's first round.
        self.share: StoppingRule = MaxIterations(_ROUNDS_A_STEP)
        self.first_round = 0

    def run(self) -> None:
        """Improve until the stopping rule ends it or nothing more is to be had."""
        with ThreadPoolExecutor(max_workers=self.workers) as self.pool:
            try:
                for step in (
                    self._place_left,
                    self._empty_sheets,
                    self._take_cheaper_sheets,
                    self._gather_kits,
                    self._shorten_last,
                ):
                    self.share = MaxIterations(_ROUNDS_A_STEP + _ROUNDS_A_SHEET * len(self.sheets))
                    self.first_round = self.rounds
                    self.ended = self.ended and self.stop is not None
                    step()
            except KeyboardInterrupt:
                self.ended = self.stopped = True
                self._settle()

    def _settle(self) -> None:
        """Make sheets and counts agree again, in the middle of whatever move the user stopped."""
        over = [-kind.demand.quantity for kind in self.problem.kinds]
        for s, sheet in enumerate(self.sheets):
            twice = []
            for k in sheet.kinds:
                over[k] += 1
                if over[k] > 0:
                    twice.append(k)
                    over[k] -= 1
            self.sheets[s] = without(sheet, twice)
        self.sheets = [sheet for sheet in self.sheets if sheet.kinds]
        self.left = [
            0 if kind.demand.filler else -count for kind, count in zip(self.problem.kinds, over, strict=True)
        ]

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
                trials = [
                    (t, with_more(self.problem, self.sheets[t], [kind])) for t in targets[:_SIDE_BY_SIDE]
                ]
                for t, done in zip(targets[:_SIDE_BY_SIDE], self._tried([x for _, x in trials]), strict=True):
                    if done is not None and self.left[kind]:
                        self.sheets[t] = done
                        self.left[kind] -= 1
                    if done is None or not self._has_room(done, kind):
                        targets.remove(t)

    def _empty_sheets(self) -> None:
        """Move parts from the emptiest sheet to the others as long as it can become empty."""
        while len(self.sheets) > 1 and not self.ended:
            victim = min(range(len(self.sheets)), key=lambda s: self._used(self.sheets[s]))
            others = [sheet for s, sheet in enumerate(self.sheets) if s != victim]
            spare = sum(max(0.0, _FULLEST * self._room(sheet) - self._used(sheet)) for sheet in others)
            if self._used(self.sheets[victim]) > spare:
                return
            full = sum(map(self._used, self.sheets)) / sum(map(self._room, others))
            levels = 1 + sum(full <= limit for limit in _FULL_FOR_MORE)
            if not self._moved_away(victim, levels):
                return

    def _moved_away(self, victim: int, levels: int) -> bool:
        """Move the parts of a sheet to others, large ones first; True where it became empty."""
        hopeless: set[tuple[int, int]] = set()
        level = 0
        others = [s for s in range(len(self.sheets)) if s != victim]
        while self.sheets[victim].kinds and not self.ended:
            pairs = self._next_pairs(victim, others, hopeless)
            if not pairs:
                if level == levels - 1 or not hopeless:
                    return False
                hopeless.clear()
                level += 1
                continue
            trials = [with_more(self.problem, self.sheets[target], [kind]) for kind, target in pairs]
            for (kind, target), done in zip(pairs, self._tried(trials, level), strict=True):
                if done is None:
                    hopeless.add((kind, target))
                elif kind in self.sheets[victim].kinds:
                    self.sheets[target] = done
                    self.sheets[victim] = without(self.sheets[victim], [kind])
        if self.sheets[victim].kinds:
            return False
        del self.sheets[victim]
        return True

    def _next_pairs(
        self, victim: int, others: Sequence[int], hopeless: set[tuple[int, int]]
    ) -> list[tuple[int, int]]:
        """Kinds of a sheet and other sheets to try them on, a round of trials."""
        pairs: list[tuple[int, int]] = []
        kinds = sorted(self.sheets[victim].kinds, key=lambda k: (-self.problem.kinds[k].area, k))
        taken: set[int] = set()
        for kind in kinds:
            for target in self._by_room(kind, others)[:_MOST_TARGETS]:
                if (kind, target) not in hopeless and target not in taken:
                    pairs.append((kind, target))
                    taken.add(target)
                    break
            if len(pairs) == _SIDE_BY_SIDE:
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
                trial = on_other_sheet(self.problem, sheet, number)
                done = self._tried([trial], 1)[0] if trial is not None else None
                if done is not None:
                    self.sheets[s] = done
                    break

    def _gather_kits(self) -> None:
        """Bring the parts of each kit onto as few sheets as can be, without taking another."""
        kits: dict[str, set[int]] = {}
        for k, kind in enumerate(self.problem.kinds):
            if kind.demand.kit is not None:
                kits.setdefault(kind.demand.kit, set()).add(k)
        for members in kits.values():
            freed = True
            while freed and not self.ended:
                freed = self._freed_of(members)

    def _freed_of(self, members: set[int]) -> bool:
        """Take the parts of a kit off one of its sheets, that with least of it first; True where done."""
        held = {
            s: sum(self.problem.kinds[k].area for k in sheet.kinds if k in members)
            for s, sheet in enumerate(self.sheets)
        }
        sheets = sorted((s for s in held if held[s]), key=lambda s: (held[s], s))
        if len(sheets) < 2:
            return False
        for source in sheets:
            homes = [s for s in reversed(sheets) if s != source]
            before = list(self.sheets)
            leaving = [k for k in self.sheets[source].kinds if k in members]
            leaving.sort(key=lambda k: (-self.problem.kinds[k].area, k))
            if all(any(self._moved_to(home, kind, source) for home in homes) for kind in leaving):
                self.sheets = [sheet for sheet in self.sheets if sheet.kinds]
                return True
            self.sheets = before
        return False

    def _moved_to(self, home: int, kind: int, source: int) -> bool:
        """Move a part to another sheet: where room is left, else in exchange for others of no kit."""
        if self._has_room(self.sheets[home], kind):
            done = self._tried([with_more(self.problem, self.sheets[home], [kind])], 1)[0]
            if done is not None:
                self.sheets[home] = done
                self.sheets[source] = without(self.sheets[source], [kind])
                return True
        for others in self._offers(home, kind, source):
            if self.ended:
                break
            there = with_more(self.problem, without(self.sheets[home], others), [kind])
            here = with_more(self.problem, without(self.sheets[source], [kind]), others)
            there_done, here_done = self._tried([there, here], 1)
            if there_done is not None and here_done is not None:
                self.sheets[home], self.sheets[source] = there_done, here_done
                return True
        return False

    def _offers(self, home: int, kind: int, source: int) -> list[list[int]]:
        """Parts of no kit on a sheet that may make room for a part from another, the likest first."""
        if not turns_on(self.problem, kind, self.sheets[home].number):
            return []
        area = [k.area for k in self.problem.kinds]
        spare = [_FULLEST * self._room(sheet) - self._used(sheet) for sheet in self.sheets]
        least, most = area[kind] - spare[home], area[kind] + spare[source]
        able = [
            k
            for k in self.sheets[home].kinds
            if self.problem.kinds[k].demand.kit is None
            and turns_on(self.problem, k, self.sheets[source].number)
        ]
        able.sort(key=lambda k: (-area[k], k))
        singles = [[k] for k in dict.fromkeys(able) if least <= area[k] <= most]
        singles.sort(key=lambda single: abs(area[single[0]] - area[kind]))
        offers = singles[:_MOST_OFFERS]
        # A full exchange needs no spare room on the other sheet; half of one may need no more here.
        for target in (area[kind], max(least, 0.5 * area[kind])):
            several: list[int] = []
            for k in able:
                total = sum(area[i] for i in several)
                if total < target and total + area[k] <= most:
                    several.append(k)
            if len(several) > 1 and sum(area[i] for i in several) >= least and several not in offers:
                offers.append(several)
        return offers

    def _shorten_last(self) -> None:
        """Push the parts of the emptiest sheet together, so that the rest is one rectangle."""
        if not self.sheets or self.ended:
            return
        last = min(range(len(self.sheets)), key=lambda s: self._used(self.sheets[s]))
        sheet = self.sheets[last]
        rows = rows_of(self.problem, sheet.number, sheet.kinds)
        search, count = rows.search, sheet.count
        turned = rows.own(sheet.orientations[:count])
        rights = sheet.places[:count, 0] + search.reach[turned, 2]
        start = Packing(
            sheet.places[:count].copy(),
            turned,
            float(rights[search.fixed :].max()),
        )
        box = np.array(self.problem.sheets[sheet.number].box)
        crew = [
            Shortener(search, rows.areas, rows.kinds, box, start, self.seed, s) for s in range(self.workers)
        ]
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
        self.sheets[last] = replace(
            sheet, places=best.places, orientations=rows.ids[best.orientations], corners={}
        )

    # Trials

    def _tried(self, trials: Sequence[Trial], level: int = 0) -> list[Sheet | None]:
        """Sheets that came out of trials, None where overlap stayed; the stopping rule is asked."""
        patience, first = _PATIENCE[level], self.trials + 1
        self.trials += len(trials)

        def carry_out(trial: Trial, stream: int) -> tuple[Sheet | None, int]:
            return carried_out(self.problem, trial, patience, self.seed, stream)

        done = list(self.pool.map(carry_out, trials, range(first, self.trials + 1)))
        self.candidates += sum(count for _, count in done)
        self._after_round()
        return [sheet for sheet, _ in done]

    def _after_round(self) -> None:
        cost = self.cost()
        if self.progress is not None:
            self.progress(cost)
        self.rounds += 1
        if self.stop is not None:
            share = self.stop(self.rounds, cost)
        else:
            share = self.share(self.rounds - self.first_round, cost)
        self.ended = self.ended or share >= 1.0

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
