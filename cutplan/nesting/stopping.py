"""Stopping rules of a search: callables that watch its best cost and say when to stop."""

from __future__ import annotations

import time
from collections.abc import Callable

__all__ = ["MaxIterations", "MaxSeconds", "NoImprovement", "Progress", "StoppingRule"]

StoppingRule = Callable[[float], bool]
"""Called once an iteration with the best cost so far; True ends the search."""

Progress = Callable[[str, int, int, float], None]
"""Told the stage, steps done, steps in all and the best cost so far."""


class MaxIterations:
    """Stop after a number of iterations: the same work on every machine."""

    def __init__(self, iterations: int) -> None:
        self._left = iterations

    def __call__(self, best: float) -> bool:
        self._left -= 1
        return self._left < 0


class MaxSeconds:
    """Stop a number of seconds after the rule was made; results then depend on the machine."""

    def __init__(self, seconds: float) -> None:
        self._end = time.monotonic() + seconds

    def __call__(self, best: float) -> bool:
        return time.monotonic() >= self._end


class NoImprovement:
    """Stop once the best cost has not fallen for a number of iterations."""

    def __init__(self, iterations: int) -> None:
        self._iterations = iterations
        self._since = 0
        self._best = float("inf")

    def __call__(self, best: float) -> bool:
        if best < self._best:
            self._best = best
            self._since = 0
        else:
            self._since += 1
        return self._since > self._iterations
