"""Stopping rules of a search: callables that watch its work and its best cost, and say when it is enough."""

from __future__ import annotations

import time
from collections.abc import Callable

__all__ = ["MaxIterations", "MaxSeconds", "StoppingRule"]

StoppingRule = Callable[[int, float], float]
"""Takes the iterations that the search has done and its best cost so far, and returns the share
of the effort spent; the search may cool along that share, and ends at 1."""


class MaxIterations:
    """Stop after a number of iterations: the same work on every machine.

    Parameters
    ----------
    iterations : int
        Of each search that asks; 0 leaves a first solution as it is.
    """

    def __init__(self, iterations: int) -> None:
        self.iterations = iterations

    def __call__(self, iterations: int, best: float) -> float:
        """Return the share of the iterations done."""
        return iterations / self.iterations if self.iterations > 0 else 1.0


class MaxSeconds:
    """Stop a number of seconds after the rule was made; results then depend on the machine.

    Parameters
    ----------
    seconds : float
    clock : callable, optional
        Gives the time in seconds; tests let it stand still.
    """

    def __init__(self, seconds: float, clock: Callable[[], float] = time.perf_counter) -> None:
        self.seconds = seconds
        self.clock = clock
        self.began = clock()

    def __call__(self, iterations: int, best: float) -> float:
        """Return the share of the time gone by."""
        return (self.clock() - self.began) / self.seconds if self.seconds > 0.0 else 1.0
