"""The engine that a number of workers, or the address of a cluster, asks for."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
from collections.abc import Iterator
from contextlib import contextmanager

from cutplan.base.errors import InputError
from cutplan.planning.cluster import Cluster
from cutplan.planning.engine import Engine, Here, Processes

__all__ = ["opened"]


@contextmanager
def opened(workers: int | None = None, cluster: str | None = None) -> Iterator[Engine]:
    """Yield the engine that is asked for.

    Parameters
    ----------
    workers : int, optional
        Processes side by side; by default as many as the machine has cores.
    cluster : str, optional
        Address of a scheduler, ``tcp://…``, or "local" for a cluster on this machine.

    Yields
    ------
    Engine

    Raises
    ------
    InputError
        If there are fewer than one worker, or the cluster cannot be reached.
    """
    if workers is not None and workers < 1:
        raise InputError(f"a plan cannot be made by {workers} workers", remedy="ask for one or more")
    count = workers or _cores()
    if cluster is not None:
        with contextlib.closing(Cluster(cluster, count)) as engine:
            yield engine
    elif count == 1 or multiprocessing.current_process().daemon:
        yield Here()
    else:
        with contextlib.closing(Processes(count)) as engine:
            yield engine


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1
