"""Nests and sheets worked out side by side, here and on a cluster: the same plan, whatever is lost."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from cutplan.base.errors import InputError, JobError
from cutplan.planning import Job, load_job, plan_job
from cutplan.planning.engine import Desk, Engine, Here, Processes
from cutplan.planning.workers import opened
from cutplan.record import Plan

ROOT = Path(__file__).parents[2]
JOB = """
[job]
name = "two thicknesses"
[cutting]
process = "plasma"
[order]
effort = 0.2
[[plate]]
id = "PL10"
length = 700
width = 500
thickness = 10
grade = "S355"
quantity = 3
[[plate]]
id = "PL6"
length = 700
width = 500
thickness = 6
grade = "S355"
quantity = 2
[[part]]
name = "base"
quantity = 5
thickness = 10
grade = "S355"
shape = { kind = "rectangle", length = 300, width = 210 }
[[part]]
name = "cover"
quantity = 2
thickness = 6
grade = "S355"
shape = { kind = "rectangle", length = 260, width = 220 }
"""


@pytest.fixture
def job(tmp_path: Path) -> Job:
    (tmp_path / "job.toml").write_text(JOB)
    return load_job(tmp_path / "job.toml")


def texts(plan: Plan) -> list[str]:
    return [file.text for sheet in plan.sheets for file in sheet.program.files]


def quiet(stage: str, share: float | None) -> None: ...


def square(task: int, desk: Desk) -> int:
    return task * task


def lost_once(task: tuple[int, Path], desk: Desk) -> int:
    """The second task ends its process the first time."""
    number, mark = task
    if number == 1 and not mark.exists():
        mark.touch()
        os._exit(9)
    return number


def lost_always(task: int, desk: Desk) -> int:
    if task == 1 and desk.threads > 1:
        os._exit(9)
    return task


def refuse(task: int, desk: Desk) -> int:
    time.sleep(0.2 if task == 1 else 0.0)
    if task:
        raise JobError(f"task {task} is wrong", where="job.toml", remedy="mend it")
    return task


def search(task: int, desk: Desk) -> str:
    """Search for ever, until the user wants the best so far."""
    try:
        while True:
            time.sleep(0.01)
            desk.look_up()
    except KeyboardInterrupt:
        return f"best of {task}"


@pytest.fixture
def two() -> Iterator[Engine]:
    with opened(2) as engine:
        yield engine


def test_results_come_in_the_order_of_the_tasks(two: Engine) -> None:
    assert (
        two.map(square, range(7), quiet) == [k * k for k in range(7)] == Here().map(square, range(7), quiet)
    )


def test_a_lost_worker_costs_time_only(two: Engine, tmp_path: Path) -> None:
    tasks = [(k, tmp_path / "mark") for k in range(4)]
    assert two.map(lost_once, tasks, quiet) == [0, 1, 2, 3]
    assert (tmp_path / "mark").exists()


def test_where_workers_are_lost_again_and_again_the_rest_is_done_here(two: Engine) -> None:
    assert two.map(lost_always, [0, 1, 2], quiet) == [0, 1, 2]


def test_of_several_errors_that_of_the_first_task_is_told_in_full(two: Engine) -> None:
    with pytest.raises(JobError, match=r"job\.toml: task 1 is wrong; mend it"):
        two.map(refuse, [0, 1, 2, 3], quiet)


def test_an_interrupt_ends_searches_with_the_best_so_far(two: Engine) -> None:
    threading.Timer(1.0, lambda: os.kill(os.getpid(), signal.SIGINT)).start()
    assert two.map(search, [1, 2], quiet, searches=True) == ["best of 1", "best of 2"]


def test_an_interrupt_of_what_is_no_search_ends_all(two: Engine) -> None:
    threading.Timer(1.0, lambda: os.kill(os.getpid(), signal.SIGINT)).start()
    with pytest.raises(KeyboardInterrupt):
        two.map(search, [1, 2], quiet)


def test_no_workers_at_all_are_refused() -> None:
    with pytest.raises(InputError, match="0 workers"), opened(0):
        raise AssertionError("no engine may be opened")


def test_the_plan_does_not_depend_on_the_number_of_workers(job: Job) -> None:
    alone = plan_job(job)
    with opened(2) as engine:
        assert isinstance(engine, Processes)
        shared = plan_job(job, engine=engine)
    assert texts(shared) == texts(alone) != []
    assert [sheet.nested for sheet in shared.sheets] == [sheet.nested for sheet in alone.sheets]
    assert shared.total == alone.total


def started(*words: str) -> subprocess.Popen[bytes]:
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.Popen([sys.executable, "-m", "distributed.cli.dask_" + words[0], *words[1:]], env=env)


def test_a_cluster_that_loses_a_worker_makes_the_same_plan(job: Job, tmp_path: Path) -> None:
    """A scheduler and two workers, one of which is killed at its first sheet."""
    pytest.importorskip("distributed")
    from cutplan.planning.cluster import Cluster

    file = tmp_path / "scheduler.json"
    running = [started("scheduler", "--port", "0", "--no-dashboard", "--scheduler-file", str(file))]
    try:
        common = ("worker", "--scheduler-file", str(file), "--nthreads", "1", "--no-nanny", "--no-dashboard")
        running += [started(*common), started(*common)]
        while not file.exists():
            time.sleep(0.1)
        engine = Cluster(json.loads(file.read_text())["address"], 2)
        engine.wait_for(2)
        killed: list[str] = []

        def tell(stage: str, share: float | None) -> None:
            if "ordering" in stage and not killed:
                killed.append(stage)
                running[1].kill()

        plan = plan_job(job, tell, engine=engine)
        engine.close()
    finally:
        for process in running:
            process.kill()
            process.wait()
    assert killed
    assert texts(plan) == texts(plan_job(job))


def test_a_cluster_that_is_not_there_is_told() -> None:
    pytest.importorskip("distributed")
    with pytest.raises(InputError, match="no scheduler"), opened(2, "tcp://127.0.0.1:9"):
        raise AssertionError("no engine may be opened")
