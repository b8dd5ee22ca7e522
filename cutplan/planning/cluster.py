"""Tasks carried out on a cluster of machines, by Dask: `pip install 'cutplan[cluster]'`.

Each machine runs ``dask worker`` with this package installed in the same version.  A worker
that is lost costs time: the scheduler gives its tasks to another.
"""

from __future__ import annotations

import contextlib
import time
import uuid
from collections.abc import Sequence
from typing import Any

from cutplan.base.errors import InputError
from cutplan.base.version import __version__
from cutplan.planning.engine import Progress, R, T, Work

__all__ = ["Cluster"]

# Seconds to wait for a scheduler and its first worker, between two looks, and between two words.
_CONNECT_S, _LOOK_S, _WORD_S = 10.0, 0.1, 0.5
# Workers that a task may lose under it before it is given up.
_MOST_LOST = 5


class _Place:
    """A worker's desk on another machine."""

    def __init__(self, topic: str) -> None:
        from distributed import Event, get_worker

        worker: Any = get_worker()
        self.threads = max(1, int(worker.state.nthreads))
        self._worker, self._topic = worker, topic
        self._ending: Any = Event(topic)  # type: ignore[no-untyped-call]
        self._told = self._looked = 0.0

    def tell(self, stage: str, share: float | None) -> None:
        now = time.monotonic()
        if now - self._told >= _WORD_S or not share:
            self._told = now
            self._worker.log_event(self._topic, (stage, share))

    def look_up(self) -> None:
        now = time.monotonic()
        if now - self._looked < _WORD_S:
            return
        self._looked = now
        if self._ending.is_set():
            raise KeyboardInterrupt


def _carry_out(work: Work[T, R], task: T, topic: str) -> R:
    return work(task, _Place(topic))


class Cluster:
    """Carries out tasks on the workers of a scheduler.

    Parameters
    ----------
    address : str
        ``tcp://…`` of a scheduler, or "local" for one on this machine.
    workers : int
        Workers of a local one.
    """

    def __init__(self, address: str, workers: int) -> None:
        try:
            from distributed import Client, LocalCluster
        except ImportError:
            raise InputError(
                "no cluster can be used: Dask is not installed", remedy="pip install 'cutplan[cluster]'"
            ) from None
        self._own: Any = None
        if address == "local":
            self._own = LocalCluster(n_workers=workers, threads_per_worker=1, dashboard_address=None)  # type: ignore[no-untyped-call]
            address = self._own.scheduler_address
        try:
            self._client: Any = Client(address, timeout=_CONNECT_S)  # type: ignore[no-untyped-call]
            self._client.wait_for_workers(1, timeout=_CONNECT_S)
        except (OSError, TimeoutError, ValueError) as problem:
            raise InputError(
                f"no scheduler with a worker answers at {address}: {problem}",
                remedy="start `dask scheduler` and `dask worker`, or leave --cluster out",
            ) from None
        self._refuse_other_versions()

    def _refuse_other_versions(self) -> None:
        """The same bytes come out only of the same version."""
        theirs = self._client.run(_version)
        others = {worker: version for worker, version in theirs.items() if version != __version__}
        if others:
            self.close()
            worker, version = min(others.items())
            raise InputError(
                f"worker {worker} has cutplan {version or '(none)'}, this machine {__version__}",
                remedy="install the same version on every machine",
            )

    def wait_for(self, workers: int) -> None:
        """Wait until so many workers have come."""
        self._client.wait_for_workers(workers, timeout=_CONNECT_S * 3)

    def map(self, work: Work[T, R], tasks: Sequence[T], tell: Progress, *, searches: bool = False) -> list[R]:
        """Return the results of the tasks, in their order."""
        from distributed import Event

        topic = f"cutplan-{uuid.uuid4()}"
        ending: Any = Event(topic, client=self._client)  # type: ignore[no-untyped-call]
        news: list[tuple[str, float | None]] = []
        self._client.subscribe_topic(topic, lambda event: news.append(event[1]))
        ended = False
        futures = [
            self._client.submit(_carry_out, work, task, topic, pure=False, retries=_MOST_LOST)
            for task in tasks
        ]
        try:
            while not all(future.done() for future in futures):
                try:
                    time.sleep(_LOOK_S)
                    while news:
                        tell(*news.pop(0))
                except KeyboardInterrupt:
                    if not searches or ended:
                        raise
                    ended = True
                    ending.set()
            return [future.result() for future in futures]
        except BaseException:
            self._client.cancel(futures)
            raise
        finally:
            with contextlib.suppress(Exception):
                self._client.unsubscribe_topic(topic)

    def close(self) -> None:
        """Let the cluster go; a local one ends."""
        self._client.close()
        if self._own is not None:
            self._own.close()


def _version() -> str:
    """Version of this package on a worker, or nothing where it is missing."""
    try:
        from cutplan.base.version import __version__ as version
    except ImportError:
        return ""
    return version
