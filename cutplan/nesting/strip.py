"""Shortest strip: forms laid down leftmost, then several workers that shorten the packing.

Lengths of plates to be ordered and plain outlines both come through here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import NestingError
from cutplan.base.stopping import StoppingRule
from cutplan.geometry import FloatArray
from cutplan.nesting.corners import Corners
from cutplan.nesting.layout import Search
from cutplan.nesting.shorten import Packing, Shortener
from cutplan.nesting.tables import TableStore

__all__ = ["SEARCHES", "pack_strip", "place_leftmost"]

IntArray = NDArray[np.int64]

SEARCHES = 2
"""Searches of one strip side by side: fixed, because the result depends on their number."""
# Candidates that an iteration of each search tests.
_ITERATION = 600_000


def place_leftmost(
    store: TableStore, turns: Sequence[Sequence[int]], order: Sequence[int], width: float, tolerance: float
) -> Packing:
    """Lay forms down in an order, each where its right side comes to lie leftmost."""
    count = len(turns)
    reach = store.reach
    endless = float((reach[:, 2:] - reach[:, :2]).max() * (count + 1))
    laid, turned = np.zeros((count, 2)), np.zeros(count, dtype=np.int64)
    corners: dict[int, Corners] = {}
    for at, k in enumerate(order):
        best: tuple[float, float] | None = None
        for turn in turns[k]:
            if turn not in corners:
                corners[turn] = Corners(store, turn, (0.0, 0.0, endless, width), tolerance)
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
    box: FloatArray,
    start: Packing,
    *,
    seed: int,
    stop: StoppingRule,
    workers: int = 1,
    searches: int = SEARCHES,
    progress: Callable[[float], None] | None = None,
) -> tuple[Packing, dict[str, float]]:
    """Shorten a packing until the stopping rule ends the search.

    Parameters
    ----------
    search : Search
    areas, kinds : ndarray, shape (n,)
        Area of each form in mm², and a number that like forms share.
    box : ndarray, shape (4,)
        Room of the packing; its greatest x is what gets smaller.
    start : Packing
        A packing without overlap.
    seed : int
    stop : callable
        Asked with the least length after each iteration of all workers.
    workers : int
        Threads; the result does not depend on them.
    searches : int
        Searches that take turns on the threads and share what is best after each iteration.
    progress : callable, optional
        Told the least length.

    Returns
    -------
    packing : Packing
    statistics : dict
    """
    crew = [Shortener(search, areas, kinds, box, start, seed, stream) for stream in range(searches)]
    best = start
    iterations = 0
    stopped = False

    def over() -> bool:
        return stop(iterations, best.length) >= 1.0

    with ThreadPoolExecutor(max_workers=workers) as pool:
        try:
            while not crew[0].done(best) and not over():
                # A limit on the clock is looked at within an iteration, too.
                list(pool.map(lambda worker: worker.run(_ITERATION, over), crew))
                best = min((worker.best for worker in crew), key=lambda packing: packing.length)
                for worker in crew:
                    worker.shared = best
                iterations += 1
                if progress is not None:
                    progress(best.length)
        except KeyboardInterrupt:
            stopped = True
            best = min((worker.best for worker in crew), key=lambda packing: packing.length)
    counts = np.sum([worker.separator.counts for worker in crew], axis=0)
    names = ("rounds", "moves", "candidates")
    statistics = {name: float(count) for name, count in zip(names, counts, strict=True)}
    return best, statistics | {"iterations": float(iterations), "stopped": float(stopped)}
