"""Where tasks of a plan are carried out: here, in processes of this machine, or on a cluster.

A task is a function and what it works on, both of which can be sent elsewhere.  Its result
depends on nothing else, so the plan is the same wherever its tasks run and however many run
side by side.  An engine tells of progress and lets the user end searches; what the tasks are
is the business of the flow.
"""

from __future__ import annotations

import multiprocessing
import multiprocessing.connection
import os
import signal
import sys
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from typing import Any, Protocol, TypeVar

__all__ = ["Desk", "Engine", "Here", "Processes", "Progress"]

Progress = Callable[[str, float | None], None]
"""Takes a stage in words and the share of it done, 0 to 1; None where that is not known."""

T = TypeVar("T")
R = TypeVar("R")

# Seconds between two looks at what comes in from the workers, and between two words from one.
_LOOK_S, _WORD_S = 0.05, 0.2
# Workers that may be lost in one call before the rest is done here.
_MOST_LOST = 5


class Desk(Protocol):
    """What a task sees of the engine it runs on."""

    threads: int

    def tell(self, stage: str, share: float | None) -> None:
        """Tell how far the task is."""

    def look_up(self) -> None:
        """Raise KeyboardInterrupt where the user wants searches to end; asked by searches only."""


Work = Callable[[T, Desk], R]


class Engine(Protocol):
    """Carries out tasks."""

    def map(self, work: Work[T, R], tasks: Sequence[T], tell: Progress, *, searches: bool = False) -> list[R]:
        """Return the results of the tasks, in their order.

        With `searches`, a first interrupt by the user ends these with the best found so far;
        without, and at a second one, it ends the call.  Of several errors that of the first
        task is raised.
        """


class Here:
    """Carries out one task after another in this process."""

    threads = 1

    def __init__(self, tell: Progress | None = None) -> None:
        self.tell = tell or (lambda stage, share: None)

    def look_up(self) -> None:
        """Nothing is asked for: the interrupt itself comes here."""

    def map(self, work: Work[T, R], tasks: Sequence[T], tell: Progress, *, searches: bool = False) -> list[R]:
        """Return the results of the tasks, in their order."""
        desk = Here(tell)
        return [work(task, desk) for task in tasks]


class _Place:
    """A worker's desk: sends news to the process that waits, and looks whether that wants an end."""

    def __init__(self, threads: int, news: Any, ending: Any) -> None:
        self.threads = threads
        self._news, self._ending = news, ending
        self._told = 0.0

    def tell(self, stage: str, share: float | None) -> None:
        now = time.monotonic()
        if now - self._told >= _WORD_S or not share:
            self._told = now
            self._news.put((stage, share))

    def look_up(self) -> None:
        if self._ending.is_set():
            raise KeyboardInterrupt


_place: _Place | None = None


def _take_place(threads: int, news: Any, ending: Any) -> None:
    """Begin a worker: interrupts are for the process that waits, which passes them on."""
    global _place
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _place = _Place(threads, news, ending)


def _end_with_parent() -> None:
    """End where the process that waits has died: nobody wants the results, and its locks must go."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        multiprocessing.connection.wait([parent.sentinel])
        os._exit(1)


def _carry_out(work: Work[T, R], task: T) -> R:
    assert _place is not None
    return work(task, _place)


class Processes:
    """Carries out tasks in processes of this machine; one that is lost costs time only.

    Parameters
    ----------
    workers : int
        Processes, and threads of a search.
    """

    def __init__(self, workers: int) -> None:
        self.workers = workers
        # Forked processes have everything loaded already; elsewhere they begin afresh.
        self._context: Any = multiprocessing.get_context("fork" if sys.platform == "linux" else "spawn")
        self._news = self._context.SimpleQueue()
        self._ending = self._context.Event()
        self._pool: ProcessPoolExecutor | None = None

    def map(self, work: Work[T, R], tasks: Sequence[T], tell: Progress, *, searches: bool = False) -> list[R]:
        """Return the results of the tasks, in their order."""
        if len(tasks) < 2 and not searches:
            return Here().map(work, tasks, tell)
        self._ending.clear()
        results: dict[int, R] = {}
        for _ in range(_MOST_LOST):
            try:
                self._collect(work, tasks, results, tell, searches)
            except BrokenProcessPool:
                self._shut(wait_for=False)
                continue
            return [results[n] for n in range(len(tasks))]
        here = Here(tell)
        return [results[n] if n in results else work(task, here) for n, task in enumerate(tasks)]

    def _collect(
        self, work: Work[T, R], tasks: Sequence[T], results: dict[int, R], tell: Progress, searches: bool
    ) -> None:
        pool = self._opened()
        waiting: dict[Future[R], int] = {
            pool.submit(_carry_out, work, task): n for n, task in enumerate(tasks) if n not in results
        }
        failures: dict[int, BaseException] = {}
        while waiting:
            try:
                done, _ = wait(waiting, timeout=_LOOK_S, return_when=FIRST_COMPLETED)
                while not self._news.empty():
                    tell(*self._news.get())
            except KeyboardInterrupt:
                if not searches or self._ending.is_set():
                    self._kill()
                    raise
                self._ending.set()
                continue
            for future in done:
                n = waiting.pop(future)
                problem = future.exception()
                if isinstance(problem, BrokenProcessPool):
                    raise problem
                if problem is None:
                    results[n] = future.result()
                else:
                    failures[n] = problem
        if failures:
            raise failures[min(failures)]

    def _opened(self) -> ProcessPoolExecutor:
        if self._pool is None:
            self._pool = ProcessPoolExecutor(
                self.workers, self._context, _take_place, (self.workers, self._news, self._ending)
            )
        return self._pool

    def _kill(self) -> None:
        if self._pool is not None:
            for process in list(self._pool._processes.values()):
                process.kill()
            self._shut(wait_for=False)

    def _shut(self, *, wait_for: bool) -> None:
        if self._pool is not None:
            self._pool.shutdown(wait=wait_for, cancel_futures=True)
            self._pool = None

    def close(self) -> None:
        """Let the processes go."""
        self._shut(wait_for=True)
