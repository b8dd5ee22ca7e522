"""Reading drawings in processes of their own: foreign files cannot take this one down, or hang it.

A reader is a process that reads one file after another.  One that takes longer than the limits
allow is ended, one that crashes is started anew; the file that did it is refused by name.
"""

from __future__ import annotations

import atexit
import math
import multiprocessing
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from multiprocessing.connection import Connection, wait
from pathlib import Path
from typing import Any

from cutplan.base.errors import CutplanError, DrawingError
from cutplan.drawing.measure import PartMeasures
from cutplan.drawing.model import Drawing
from cutplan.drawing.options import Limits, ReadOptions

__all__ = ["Measured", "Reading", "measure_apart", "read_apart", "ready_reader"]

Reading = Drawing | CutplanError
Measured = tuple[Drawing, tuple[PartMeasures, ...]] | CutplanError
Task = tuple[Path, ReadOptions]
# Starting a reader takes a while on a loaded machine, s; it is not counted against a file.
START_S = 300.0
READY = "ready"
# Times its limit that a reader is given in all, where a busy machine lets it run a part of the time.
PATIENCE = 12.0
# Shortest wait before a reader is looked at again, s: systems count core time in hundredths.
LEAST_WAIT_S = 0.02
# Drawings fewer than this are not worth a second reader.
WORTH_ANOTHER = 4


def read_apart(tasks: Sequence[Task], workers: int = 1) -> list[Reading]:
    """Return what each file draws, or the error that refuses it.

    Parameters
    ----------
    tasks : sequence of (Path, ReadOptions)
        The options' limits hold for each file.
    workers : int
        Readers at work side by side, at most.

    Returns
    -------
    list of Drawing or CutplanError
        In the order of the tasks.

    See Also
    --------
    measure_apart : the same, with what the parts measure.
    """
    return [
        each if isinstance(each, CutplanError) else each[0] for each in _shared_out(tasks, workers, False)
    ]


def measure_apart(tasks: Sequence[Task], workers: int = 1) -> list[Measured]:
    """Return what each file draws and what its parts measure, or the error that refuses it.

    Parameters
    ----------
    tasks : sequence of (Path, ReadOptions)
        The options' limits hold for each file.
    workers : int
        Readers at work side by side, at most.

    Returns
    -------
    list of (Drawing, tuple of PartMeasures) or CutplanError
        In the order of the tasks, whatever the number of readers.

    Notes
    -----
    Memory is held to its limit where the system lets a process be limited; elsewhere time and
    size alone are.
    """
    return _shared_out(tasks, workers, True)


def _shared_out(tasks: Sequence[Task], workers: int, measured: bool) -> list[Measured]:
    results: list[Measured | None] = [None] * len(tasks)
    count = max(1, min(workers, -(-len(tasks) // WORTH_ANOTHER)))
    waiting = list(reversed(range(len(tasks))))
    at_work: dict[Connection, tuple[_Reader, int]] = {}
    free = [_hired() for _ in range(count)]
    try:
        while waiting or at_work:
            while waiting and free:
                k, reader = waiting.pop(), free.pop()
                reader.ask(tasks[k], measured)
                at_work[reader.pipe] = (reader, k)
            soonest = min(reader.deadline for reader, _ in at_work.values())
            ready = set(wait(list(at_work), max(0.0, soonest - time.monotonic())))
            for pipe, (reader, k) in list(at_work.items()):
                if pipe in ready:
                    answer = reader.answer(tasks[k])
                    if answer is None:
                        continue
                    results[k] = answer
                elif time.monotonic() < reader.deadline or reader.has_time_left():
                    continue
                else:
                    reader.end()
                    results[k] = _too_long(tasks[k])
                del at_work[pipe]
                free.append(reader if reader.alive else _Reader())
    finally:
        for reader, _ in at_work.values():
            reader.end()
        _idle.extend(reader for reader in free if reader.alive)
    return [result for result in results if result is not None]


def ready_reader() -> None:
    """Start a reader ahead of need, before threads make that slower."""
    if not _idle:
        _idle.append(_Reader())


def _too_long(task: Task) -> DrawingError:
    file, options = task
    return DrawingError(
        f"reading it takes more than {options.limits.seconds:g} s",
        where=str(file),
        remedy="save the part alone in a file, or raise limits.seconds in the job",
    )


class _Reader:
    """A process that reads drawings, started when it is made."""

    def __init__(self) -> None:
        # A copy of this process is there at once, but one of a process with threads may hang.
        copies = sys.platform == "linux" and threading.active_count() == 1
        context: Any = multiprocessing.get_context("fork" if copies else "spawn")
        self.pipe, far = context.Pipe()
        with _plain_main():
            self._process = context.Process(target=_serve, args=(far, copies), daemon=True)
            self._process.start()
        far.close()
        self._ready = False
        self._began = self._end = self._limit = 0.0
        self.deadline = 0.0

    @property
    def alive(self) -> bool:
        return bool(self._process.is_alive())

    def has_time_left(self) -> bool:
        """Return whether the process had less than its time on a core, and set when to look again.

        On a busy machine it is not the file's fault that nothing came of it yet; one that waits
        for something has no time on a core at all, and is not waited for without end.
        """
        left = self._limit - (_core_seconds(self._process.pid) - self._began)
        now = time.monotonic()
        self.deadline = min(now + max(left, LEAST_WAIT_S), self._end)
        return left > 0.0 and now < self._end

    def ask(self, task: Task, measured: bool) -> None:
        """Hand over a file, once the reader is up."""
        if not self._ready:
            self._ready = self.pipe.poll(START_S) and self.pipe.recv() == READY
        self._limit = task[1].limits.seconds
        self._start_clock()
        self.pipe.send((*task, measured))

    def _start_clock(self) -> None:
        self._began = _core_seconds(self._process.pid)
        self.deadline = time.monotonic() + self._limit
        self._end = self.deadline + (PATIENCE - 1.0) * self._limit

    def answer(self, task: Task) -> Measured | None:
        """Return what came of it, None where the reader is only just up; one that is gone has crashed on it."""
        try:
            answer: Measured | str = self.pipe.recv()
            if isinstance(answer, str):
                self._ready = True
                self._start_clock()
                return None
        except (EOFError, OSError):
            self.end()
            return DrawingError(
                f"reading it crashed the reader, or took more memory than {task[1].limits.memory_mb:g} MiB",
                where=str(task[0]),
                remedy="save the drawing as DXF again, or raise limits.memory_mb in the job",
            )
        return answer

    def end(self) -> None:
        self._process.kill()
        self._process.join()
        self.pipe.close()


def _core_seconds(process: int | None) -> float:
    """Return how long a process has run on a core, s; infinite where the system does not tell."""
    try:
        fields = Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    except (OSError, ValueError, IndexError, AttributeError):
        return math.inf


_idle: list[_Reader] = []


def _hired() -> _Reader:
    while _idle:
        reader = _idle.pop()
        if reader.alive:
            return reader
    return _Reader()


@atexit.register
def _dismiss() -> None:
    while _idle:
        _idle.pop().end()


def _forget_in_copy() -> None:
    """Leave the readers to the process that hired them: a copy of it hires its own."""
    while _idle:
        _idle.pop().pipe.close()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_forget_in_copy)


@contextmanager
def _plain_main() -> Iterator[None]:
    """Keep a fresh process from running the main script again, as it would where that has no guard."""
    main: Any = sys.modules["__main__"]
    hidden = {name: main.__dict__.pop(name) for name in ("__file__", "__spec__") if name in main.__dict__}
    main.__spec__ = None
    try:
        yield
    finally:
        main.__dict__.update(hidden)


def _serve(pipe: Connection, copied: bool) -> None:
    """Read files until the other end is closed."""
    from cutplan.drawing.measure import measure_part
    from cutplan.drawing.read import inspect_drawing

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if copied:
        _let_go(pipe.fileno())
    _warm_up()
    pipe.send(READY)
    while True:
        try:
            file, options, measured = pipe.recv()
        except (EOFError, OSError):
            return
        _hold_memory(options.limits)
        try:
            drawing = inspect_drawing(file, options)
            result: Measured = (drawing, tuple(map(measure_part, drawing.parts)) if measured else ())
        except CutplanError as error:
            result = error
        except MemoryError:
            result = DrawingError(
                f"reading it takes more memory than {options.limits.memory_mb:g} MiB",
                where=str(file),
                remedy="save the part alone in a file, or raise limits.memory_mb in the job",
            )
        except Exception as error:
            # Whatever a foreign file brings about in a library: one clean error, and the next file.
            result = DrawingError(
                f"it is damaged in a way that cannot be read ({type(error).__name__})",
                where=str(file),
                remedy="save the drawing as DXF again",
            )
        try:
            pipe.send(result)
        except OSError:
            return


def _warm_up() -> None:
    """Load and compile what reading needs on a drawing of its own, so that no file is charged for it."""
    import ezdxf

    from cutplan.drawing.read import inspect_document

    document = ezdxf.new(units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (90, 0), (60, 30), (90, 60), (0, 60)], close=True)
    space.add_circle((30, 30), 9)
    space.add_open_spline([(200, 0), (240, 30), (280, 0), (300, 40)])
    inspect_document(document, Path("warm-up.dxf"), ReadOptions())


def _let_go(kept: int) -> None:
    """Close the files that a copied process took along: locks among them would stay held."""
    import resource

    most = min(resource.getrlimit(resource.RLIMIT_NOFILE)[0], 4096)
    os.closerange(3, kept)
    os.closerange(kept + 1, most)


def _hold_memory(limits: Limits) -> None:
    """Hold this process to a limit of memory, where the system has one for data (Linux does)."""
    if os.name != "posix":
        return
    import resource

    most = int(limits.memory_mb * 2**20)
    _, hard = resource.getrlimit(resource.RLIMIT_DATA)
    resource.setrlimit(resource.RLIMIT_DATA, (most if hard < 0 else min(most, hard), hard))
