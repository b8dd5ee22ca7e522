"""Shortens a packing: everything towards low x, as short as the search can make it.

The room is shortened in steps; each time the overlaps that this makes are removed again.
Where that fails, two large forms trade places and the search goes on from there.

Method: the exploring phase of Gardeyn, Vanden Berghe and Wauters 2025, "An open-source
heuristic to reboot 2D nesting research", with the compressing phase woven in: after a failure
the step is made smaller a few times before anything is traded.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.base.randomness import new_stream
from cutplan.geometry import FloatArray
from cutplan.nesting.layout import Layout, Search, deepest_overlap, new_layout
from cutplan.nesting.separation import run_rounds

__all__ = ["Packing", "Separator", "Shortener"]

IntArray = NDArray[np.int64]

# Candidates that one call of the kernel tests at about most.
_CHUNK = 150_000
# What a step counts for at least, so that steps without any candidate end, too.
_LEAST_WORK = 1_000
# Steps by which the strip is shortened, as shares of its length: the boldest, the usual one,
# and the finest before forms are traded.
_BOLDEST, _USUAL, _FINEST = 0.01, 0.001, 0.00002
# What a step below the usual is multiplied by after a failure.
_FINER = 0.2
# A step that took fewer rounds than this was too timid.
_EASY_ROUNDS = 30
# Rounds without improvement that end a strike, and strikes that end an attempt: for new
# layouts, and for finer steps from a known one.
_PATIENCE, _STRIKES = 200, 3
_FINE_PATIENCE, _FINE_STRIKES = 100, 1
# Spread of the choice among failed layouts, best first, as a share of their number.
_POOL_SPREAD, _POOL_MOST = 0.25, 40
# A worker behind the best by this share takes that one's layout.
_BEHIND = 0.003


@dataclass
class Packing:
    """Places and orientations of all forms, and the greatest x they reach."""

    places: FloatArray
    orientations: IntArray
    length: float


Failed = tuple[float, Packing]


class Separator:
    """Runs the separation kernel in chunks, with strikes, for one stream of random numbers."""

    def __init__(self, search: Search, seed: int, stream: int) -> None:
        self.search = search
        self.random = new_stream(seed, stream)
        self.counts = np.zeros(3, dtype=np.int64)
        self.loss = np.inf
        self.deepest = np.inf
        self.rounds = 0

    def attempt(
        self, places: FloatArray, orientations: IntArray, box: FloatArray, patience: int, strikes: int
    ) -> Generator[None, None, None]:
        """Remove all overlap in place, as far as it goes; the least loss is left in `loss`.

        Yields after each chunk of work.
        """
        layout = new_layout(places.copy(), orientations.copy(), self.random)
        clamp(self.search, layout, box)
        self.loss = np.inf
        struck = 0
        state = np.array([np.inf, np.inf, 0.0])
        while struck < strikes:
            before = state[0]
            state[1:] = before, 0.0
            over = False
            while not over:
                per_round = max(1, (layout.counts[2] // layout.counts[0]) if layout.counts[0] else 5000)
                most = max(1, _CHUNK // per_round) if layout.counts[0] else 2
                earlier = layout.counts.copy()
                over = run_rounds(self.search, layout, box, places, orientations, state, patience, most)
                self.counts += layout.counts - earlier
                yield
            self.loss = float(state[0])
            if self.loss == 0.0:
                break
            struck = struck + 1 if self.loss > 0.98 * before else 0
            layout.places[:], layout.orientations[:] = places, orientations
        self.rounds = int(layout.counts[0])
        self.deepest = deepest_overlap(self.search, layout) if self.loss > 0.0 else 0.0


def _widest(search: Search) -> float:
    """Width of the widest movable form, each in its narrowest turn."""
    width = search.reach[search.turns, 2] - search.reach[search.turns, 0]
    return float(max(np.minimum.reduceat(width, search.turn_start[:-1])[search.fixed :], default=0.0))


def clamp(search: Search, layout: Layout, box: FloatArray) -> None:
    """Push every movable form into the box."""
    reach = search.reach[layout.orientations]
    low, high = box[:2] - reach[:, :2], box[2:] - reach[:, 2:]
    moved = np.minimum(np.maximum(layout.places, low), np.maximum(low, high))
    layout.places[search.fixed :] = moved[search.fixed :]


class Shortener:
    """One stream of the search; advanced by `run`, a measured amount of work at a time.

    Parameters
    ----------
    search : Search
    areas, kinds : ndarray, shape (n,)
        Area of each form in mm², and a number that like forms share.
    box : ndarray, shape (4,)
        Room of the packing; its greatest x is what gets smaller.
    start : Packing
        A packing without overlap.
    seed, stream : int
    """

    def __init__(
        self,
        search: Search,
        areas: FloatArray,
        kinds: IntArray,
        box: FloatArray,
        start: Packing,
        seed: int,
        stream: int,
    ) -> None:
        self.separator = Separator(search, seed, stream)
        self.search = search
        self.areas = areas
        self.kinds = kinds
        self.box = box
        self.best = start
        self.shared = start
        self.least = float(box[0] + max(areas[search.fixed :].sum() / (box[3] - box[1]), _widest(search)))
        self.chance = np.random.default_rng([seed, stream])
        self.step = _BOLDEST
        self.steps = self._search()

    def run(self, work: int, over: Callable[[], bool] | None = None) -> None:
        """Search until about `work` more candidates are tested, it is over, or nothing better can be."""
        spent = 0
        while spent < work and not (over is not None and over()):
            before = int(self.separator.counts[2])
            if next(self.steps, self) is self:
                return
            spent += max(_LEAST_WORK, int(self.separator.counts[2]) - before)

    def done(self, best: Packing) -> bool:
        """Whether a packing is as short as its area allows."""
        return bool(best.length - self.least <= 1e-9 * (self.least - self.box[0]))

    def _search(self) -> Generator[None, None, None]:
        """Shorten the best layout as far as it goes, then trade forms until one gets shorter."""
        while not self.done(self.best):
            failed = yield from self._shorten()
            yield from self._trade(failed)

    def _shorten(self) -> Generator[None, None, list[Failed]]:
        """Shorten in steps that adapt; returns the failed layout at the usual step."""
        step = self.step
        failed: list[Failed] = []
        while step > _FINEST:
            known = step != _USUAL
            length = self._shorter(step)
            tried, loss = yield from self._attempt(self.best, length, known)
            if loss == 0.0:
                easy = self.separator.rounds < _EASY_ROUNDS
                if step >= _USUAL:
                    step = min(_BOLDEST, 1.5 * step) if easy else max(_USUAL, 0.5 * step)
                    self.step = step
                failed = []
            elif step > _USUAL:
                step = self.step = max(_USUAL, 0.25 * step)
            else:
                failed.append((loss, tried))
                step *= _FINER
        return failed[:1]

    def _trade(self, failed: list[Failed]) -> Generator[None, None, None]:
        """Trade large forms in failed layouts until a shorter layout comes out."""
        start = self.best.length
        while self.best.length >= start:
            if self.shared.length < self._shorter(_BEHIND):
                self.best = self.shared
                return
            failed.sort(key=lambda entry: entry[0])
            del failed[_POOL_MOST:]
            length = self._shorter(_USUAL)
            tried, loss = yield from self._attempt(self._traded(failed), length, False)
            failed.append((loss, tried))

    def _shorter(self, share: float) -> float:
        """Greatest x of the best packing, shortened by a share of its length."""
        start = float(self.box[0])
        return max(self.least, self.best.length - share * (self.best.length - start))

    def _attempt(
        self, start: Packing, length: float, known: bool
    ) -> Generator[None, None, tuple[Packing, float]]:
        """Pack into a length; returns the layout and its loss, and keeps it where it is the best.

        What nearly fits is given the length that it lacks, if that is still shorter than the best.
        """
        places, orientations = start.places.copy(), start.orientations.copy()
        effort = (_FINE_PATIENCE, _FINE_STRIKES) if known else (_PATIENCE, _STRIKES)
        box = self.box.copy()
        box[2] = length
        yield from self.separator.attempt(places, orientations, box, *effort)
        loss = self.separator.loss
        lacking = 2.0 * self.separator.deepest
        if loss > 0.0 and length + lacking < self._shorter(_FINEST):
            box[2] = length + lacking
            again, turned = places.copy(), orientations.copy()
            yield from self.separator.attempt(again, turned, box, _FINE_PATIENCE, _FINE_STRIKES)
            if self.separator.loss == 0.0:
                places, orientations, loss = again, turned, 0.0
        if loss == 0.0:
            rights = places[:, 0] + self.search.reach[orientations, 2]
            reached = float(rights[self.search.fixed :].max())
            if reached < self.best.length:
                self.best = Packing(places, orientations, reached)
            else:
                # A form that is wider than the room sticks out of it.
                loss = np.inf
        return Packing(places, orientations, length), loss

    def _traded(self, failed: Sequence[Failed]) -> Packing:
        """One of the less bad layouts with two different large forms in each other's place."""
        chosen = min(len(failed) - 1, int(abs(self.chance.normal()) * _POOL_SPREAD * len(failed)))
        layout = failed[chosen][1] if failed else self.best
        places, orientations = layout.places.copy(), layout.orientations.copy()
        movable = np.arange(self.search.fixed, len(self.areas))
        large = movable[self.areas[movable] >= np.median(self.areas[movable])]
        a = int(self.chance.choice(large))
        others = large[self.kinds[large] != self.kinds[a]]
        b = int(self.chance.choice(others if len(others) else large))
        places[[a, b]] = places[[b, a]]
        for k in (a, b):
            options = self.search.turns[self.search.turn_start[k] : self.search.turn_start[k + 1]]
            orientations[k] = self.chance.choice(options)
        return Packing(places, orientations, layout.length)
