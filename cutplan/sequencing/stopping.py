"""When a search has done enough: a share of the effort spent, by work or by the clock."""

from __future__ import annotations

import time
from collections.abc import Callable

__all__ = ["MaxSeconds", "MaxWork", "StoppingRule"]

StoppingRule = Callable[[int], float]
"""Takes the units of work done so far and returns the share of the effort spent; the search
cools along that share and ends at 1."""


class MaxWork:
    """Stop after a number of units of work; the same on every machine.

    Parameters
    ----------
    work : int
        Iterations of the search.
    """

    def __init__(self, work: int) -> None:
        self.work = max(1, work)

    def __call__(self, work: int) -> float:
        """Return the share of the work done."""
        return work / self.work


class MaxSeconds:
    """Stop after a time on the clock, counted from the first question.

    Parameters
    ----------
    seconds : float
    clock : callable, optional
        Gives the time in seconds; tests let it stand still.
    """

    def __init__(self, seconds: float, clock: Callable[[], float] = time.perf_counter) -> None:
        self.seconds = seconds
        self.clock = clock
        self.began: float | None = None

    def __call__(self, work: int) -> float:
        """Return the share of the time gone by."""
        now = self.clock()
        if self.began is None:
            self.began = now
        return (now - self.began) / self.seconds if self.seconds > 0.0 else 1.0
