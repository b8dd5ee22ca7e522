"""Shortest strip: packs forms into a strip of fixed width, as short as the search can make it.

The strip is shortened in steps; each time the overlaps that this makes are removed again.
Where that fails, two large forms trade places and the search goes on from there.

Method: the exploring phase of Gardeyn, Vanden Berghe and Wauters 2025, "An open-source
heuristic to reboot 2D nesting research", with the compressing phase woven in: after a failure
the step is made smaller a few times before anything is traded.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.errors import NestingError
from cutplan.geometry import FloatArray
from cutplan.nesting.chance import make_state
from cutplan.nesting.corners import Corners
from cutplan.nesting.nofit import Tables
from cutplan.nesting.separation import Layout, Search, deepest_overlap, new_layout, run_rounds
from cutplan.nesting.stopping import StoppingRule

__all__ = ["Packing", "Separator", "pack_strip", "place_leftmost"]

IntArray = NDArray[np.int64]

# Candidates that one call of the kernel tests at about most, and one iteration of each worker.
_CHUNK, _ITERATION = 150_000, 600_000
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
# A worker this much behind the best takes that one's layout.
_BEHIND = 1.003


@dataclass
class Packing:
    """Places and orientations of all forms, and the length they take."""

    places: FloatArray
    orientations: IntArray
    length: float


Failed = tuple[float, Packing]


class Separator:
    """Runs the separation kernel in chunks, with strikes, for one stream of random numbers."""

    def __init__(self, search: Search, seed: int, stream: int) -> None:
        self.search = search
        self.random = make_state(seed, stream)
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


def clamp(search: Search, layout: Layout, box: FloatArray) -> None:
    """Push every movable form into the box."""
    reach = search.reach[layout.orientations]
    low, high = box[:2] - reach[:, :2], box[2:] - reach[:, 2:]
    moved = np.minimum(np.maximum(layout.places, low), np.maximum(low, high))
    layout.places[search.fixed :] = moved[search.fixed :]


class StripWorker:
    """One stream of the strip search; advanced by `run`, a measured amount of work at a time."""

    def __init__(
        self,
        search: Search,
        areas: FloatArray,
        kinds: IntArray,
        width: float,
        start: Packing,
        seed: int,
        stream: int,
    ) -> None:
        self.separator = Separator(search, seed, stream)
        self.search = search
        self.areas = areas
        self.kinds = kinds
        self.width = width
        self.best = start
        self.shared = start
        self.least = float(areas.sum() / width)
        self.chance = np.random.default_rng([seed, stream])
        self.step = _BOLDEST
        self.steps = self._search()

    def run(self, work: int) -> None:
        """Search until about `work` more candidates are tested, or nothing better can be."""
        goal = self.separator.counts[2] + work
        while self.separator.counts[2] < goal:
            if next(self.steps, self) is self:
                return

    def _search(self) -> Generator[None, None, None]:
        """Shorten the best layout as far as it goes, then trade forms until one gets shorter."""
        while self.best.length > self.least * (1.0 + 1e-9):
            failed = yield from self._shorten()
            yield from self._trade(failed)

    def _shorten(self) -> Generator[None, None, list[Failed]]:
        """Shorten in steps that adapt; returns the failed layout at the usual step."""
        step = self.step
        failed: list[Failed] = []
        while step > _FINEST:
            known = step != _USUAL
            length = max(self.least, self.best.length * (1.0 - step))
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
            if self.shared.length * _BEHIND < self.best.length:
                self.best = self.shared
                return
            failed.sort(key=lambda entry: entry[0])
            del failed[_POOL_MOST:]
            length = max(self.least, self.best.length * (1.0 - _USUAL))
            tried, loss = yield from self._attempt(self._traded(failed), length, False)
            failed.append((loss, tried))

    def _attempt(
        self, start: Packing, length: float, known: bool
    ) -> Generator[None, None, tuple[Packing, float]]:
        """Pack into a length; returns the layout and its loss, and keeps it where it is the best.

        What nearly fits is given the length that it lacks, if that is still shorter than the best.
        """
        places, orientations = start.places.copy(), start.orientations.copy()
        effort = (_FINE_PATIENCE, _FINE_STRIKES) if known else (_PATIENCE, _STRIKES)
        box = np.array([0.0, 0.0, length, self.width])
        yield from self.separator.attempt(places, orientations, box, *effort)
        loss = self.separator.loss
        lacking = 2.0 * self.separator.deepest
        if loss > 0.0 and length + lacking < self.best.length * (1.0 - _FINEST):
            box[2] = length + lacking
            again, turned = places.copy(), orientations.copy()
            yield from self.separator.attempt(again, turned, box, _FINE_PATIENCE, _FINE_STRIKES)
            if self.separator.loss == 0.0:
                places, orientations, loss = again, turned, 0.0
        if loss == 0.0:
            reached = float((places[:, 0] + self.search.reach[orientations, 2]).max())
            self.best = Packing(places, orientations, reached)
        return Packing(places, orientations, length), loss

    def _traded(self, failed: Sequence[Failed]) -> Packing:
        """One of the less bad layouts with two different large forms in each other's place."""
        chosen = min(len(failed) - 1, int(abs(self.chance.normal()) * _POOL_SPREAD * len(failed)))
        layout = failed[chosen][1] if failed else self.best
        places, orientations = layout.places.copy(), layout.orientations.copy()
        large = np.flatnonzero(self.areas >= np.median(self.areas))
        a = int(self.chance.choice(large))
        others = large[self.kinds[large] != self.kinds[a]]
        b = int(self.chance.choice(others if len(others) else large))
        places[[a, b]] = places[[b, a]]
        for k in (a, b):
            options = self.search.turns[self.search.turn_start[k] : self.search.turn_start[k + 1]]
            orientations[k] = self.chance.choice(options)
        return Packing(places, orientations, layout.length)


def place_leftmost(
    tables: Tables, turns: Sequence[Sequence[int]], order: Sequence[int], width: float, tolerance: float
) -> Packing:
    """Lay forms down in an order, each where its right side comes to lie leftmost."""
    count = len(turns)
    reach = tables.reach
    endless = float((reach[:, 2:] - reach[:, :2]).max() * (count + 1))
    laid, turned = np.zeros((count, 2)), np.zeros(count, dtype=np.int64)
    corners: dict[int, Corners] = {}
    for at, k in enumerate(order):
        best: tuple[float, float] | None = None
        for turn in turns[k]:
            if turn not in corners:
                corners[turn] = Corners(tables, turn, (0.0, 0.0, endless, width), tolerance)
            spots = corners[turn].update(laid, turned, at)
            if not len(spots):
                continue
            right = np.round((spots[:, 0] + reach[turn, 2]) / tolerance) * tolerance
            m = int(np.lexsort((spots[:, 1], right))[0])
            key = (float(right[m]), float(spots[m, 1]))
            if best is None or key < best:
                best, laid[at], turned[at] = key, spots[m], turn
        if best is None:
            raise NestingError("a part is wider than the strip in every allowed rotation")
    places, orientations = np.zeros_like(laid), np.zeros_like(turned)
    places[list(order)], orientations[list(order)] = laid, turned
    return Packing(places, orientations, float((places[:, 0] + reach[orientations, 2]).max()))


def pack_strip(
    search: Search,
    areas: FloatArray,
    kinds: IntArray,
    width: float,
    start: Packing,
    *,
    seed: int,
    stop: StoppingRule,
    workers: int = 1,
    progress: Callable[[float], None] | None = None,
) -> tuple[Packing, dict[str, float]]:
    """Shorten a packing until the stopping rule ends the search.

    Parameters
    ----------
    search : Search
    areas, kinds : ndarray, shape (n,)
        Area of each form in mm², and a number that like forms share.
    width : float
        Of the strip, mm.
    start : Packing
        A packing without overlap.
    seed : int
    stop : callable
        Asked with the least length after each iteration of all workers.
    workers : int
        Threads; the result depends on their number, not on their speed.
    progress : callable, optional
        Told the least length.

    Returns
    -------
    packing : Packing
    statistics : dict
    """
    crew = [StripWorker(search, areas, kinds, width, start, seed, stream) for stream in range(workers)]
    best = start
    iterations = 0
    with ThreadPoolExecutor(max_workers=workers) as pool:
        try:
            while best.length > crew[0].least * (1.0 + 1e-9) and not stop(best.length):
                list(pool.map(lambda worker: worker.run(_ITERATION), crew))
                best = min((worker.best for worker in crew), key=lambda packing: packing.length)
                for worker in crew:
                    worker.shared = best
                iterations += 1
                if progress is not None:
                    progress(best.length)
        except KeyboardInterrupt:
            best = min((worker.best for worker in crew), key=lambda packing: packing.length)
    counts = np.sum([worker.separator.counts for worker in crew], axis=0)
    names = ("rounds", "moves", "candidates")
    statistics = {name: float(count) for name, count in zip(names, counts, strict=True)}
    return best, statistics | {"iterations": float(iterations)}
