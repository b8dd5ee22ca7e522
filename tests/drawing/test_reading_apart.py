"""Foreign files are read in a process of their own: a crash, a hang or a bomb costs that file alone."""

import multiprocessing
import os
import time
from collections.abc import Callable
from pathlib import Path as FilePath
from typing import Any

import pytest
from pydantic import ValidationError

from cutplan.base.errors import CutplanError, DrawingError
from cutplan.drawing import (
    Drawing,
    Limits,
    ReadOptions,
    apart,
    inspect_drawing,
    measure_apart,
    read,
    read_apart,
    ready_reader,
)
from cutplan.geometry import area


def tags(*pairs: object) -> str:
    return "".join(f"{value}\n" for value in pairs)


def file_of(folder: FilePath, entities: str, blocks: str = "") -> FilePath:
    file = folder / "bomb.dxf"
    section = tags(0, "SECTION", 2, "BLOCKS") + blocks + tags(0, "ENDSEC")
    file.write_text(section + tags(0, "SECTION", 2, "ENTITIES") + entities + tags(0, "ENDSEC", 0, "EOF"))
    return file


def circle(x: float, radius: float) -> str:
    return tags(0, "CIRCLE", 8, 0, 10, x, 20, 0, 40, radius)


def block(name: str, entities: str) -> str:
    return tags(0, "BLOCK", 8, 0, 2, name, 70, 0, 10, 0, 20, 0) + entities + tags(0, "ENDBLK", 8, 0)


def insert(name: str) -> str:
    return tags(0, "INSERT", 8, 0, 2, name, 10, 0, 20, 0)


def refused(file: FilePath, limits: Limits = Limits()) -> str:
    (reading,) = read_apart([(file, ReadOptions(limits=limits))])
    if isinstance(reading, CutplanError):
        assert file.name in str(reading)
        return str(reading)
    return "; ".join(str(f) for f in reading.findings if f.kind == "refused")


def test_readers_give_what_reading_here_gives_in_the_order_asked_for(draw: Callable[..., FilePath]) -> None:
    files = [draw(lambda doc, m, k=k: m.add_circle((0, 0), 20 + k), name=f"disc-{k}") for k in range(6)]
    files.insert(3, files[0].with_name("missing.dxf"))
    readings = read_apart([(file, ReadOptions()) for file in files], workers=2)
    assert isinstance(readings.pop(3), DrawingError)
    for file, reading in zip(files[:3] + files[4:], readings, strict=True):
        assert isinstance(reading, Drawing)
        assert reading.parts[0].outer == inspect_drawing(file).parts[0].outer
    ((_, measures),) = measure_apart([(files[0], ReadOptions())])  # type: ignore[misc]
    assert measures[0].area == pytest.approx(area(inspect_drawing(files[0]).parts[0].outer))


def test_a_file_that_takes_too_long_is_refused_and_the_next_one_read(draw: Callable[..., FilePath]) -> None:
    file = draw(lambda doc, m: m.add_circle((0, 0), 20), name="slow")
    hurried = ReadOptions(limits=Limits(seconds=1e-6))
    first, second = read_apart([(file, hurried), (file, ReadOptions())])
    assert "limits.seconds" in str(first) and file.name in str(first)
    assert isinstance(second, Drawing) and len(second.parts) == 1


def test_a_reader_that_crashes_costs_its_own_file_alone(
    draw: Callable[..., FilePath], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = draw(lambda doc, m: m.add_circle((0, 0), 20), name="deadly")
    monkeypatch.setattr(apart, "_idle", [])
    # Other tests may have left threads, with which readers are begun afresh.
    monkeypatch.setattr(apart.threading, "active_count", lambda: 1)
    plain = read.inspect_drawing

    def deadly(path: Any, options: Any) -> Any:
        return os._exit(9) if options.gap == 0.3 else plain(path, options)

    # Copies of this process take the change along.
    monkeypatch.setattr(read, "inspect_drawing", deadly)
    first, second = read_apart([(file, ReadOptions(gap=0.3)), (file, ReadOptions())])
    assert "crashed" in str(first) and file.name in str(first)
    assert isinstance(second, Drawing)


def test_small_files_that_unfold_to_much_are_refused_by_the_limits(folder: FilePath) -> None:
    nested = "".join(block(f"B{k}", insert(f"B{k + 1}")) for k in range(1000)) + block("B1000", circle(0, 9))
    assert "nested too deep" in refused(file_of(folder, insert("B0"), nested))
    doubling = "".join(block(f"B{k}", insert(f"B{k + 1}") * 2) for k in range(17)) + block(
        "B17", circle(0, 9)
    )
    assert "limits.entities" in refused(file_of(folder, insert("B0"), doubling))
    rings = "".join(circle(0, 10 + 0.5 * k) for k in range(300))
    assert "limits.depth" in refused(file_of(folder, rings))
    assert refused(file_of(folder, rings), Limits(depth=400)) == ""
    assert "limits.file_mb" in refused(file_of(folder, rings), Limits(file_mb=0.001))
    assert "limits.entities" in refused(file_of(folder, rings), Limits(entities=100))


def test_a_contour_drawn_five_hundred_times_costs_little_more_than_once(folder: FilePath) -> None:
    corners = "".join(tags(0, "VERTEX", 8, 0, 10, x, 20, y) for x, y in [(0, 0), (90, 0), (90, 50), (0, 50)])
    outline = tags(0, "POLYLINE", 8, 0, 66, 1, 70, 1) + corners + tags(0, "SEQEND", 8, 0)
    times = []
    for copies in (100, 400):
        file = file_of(folder, outline * copies)
        start = time.process_time()
        drawing = inspect_drawing(file)
        times.append(time.process_time() - start)
        assert len(drawing.parts) == 1 and drawing.parts[0].drawn == 1
        assert sum("on top of each other" in f.message for f in drawing.findings) == 1
    # Near-linear: four times the copies take about four times as long, never sixteen times.
    assert times[1] < 9.0 * times[0] + 0.2


@pytest.mark.parametrize("wrong", [{"seconds": 0}, {"depth": -1}, {"memory_mb": float("nan")}])
def test_a_limit_of_nothing_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValidationError, match=next(iter(wrong))):
        Limits(**wrong)  # type: ignore[arg-type]


def _read_in_copy(file: FilePath, pipe: Any) -> None:
    (reading,) = read_apart([(file, ReadOptions())])
    pipe.send(len(reading.parts) if isinstance(reading, Drawing) else str(reading))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="copies of processes")
def test_a_copy_of_the_process_hires_readers_of_its_own(
    draw: Callable[..., FilePath], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = draw(lambda doc, m: m.add_circle((0, 0), 20))
    monkeypatch.setattr(apart, "_idle", [])
    ready_reader()
    (hired,) = apart._idle
    context = multiprocessing.get_context("fork")
    near, far = context.Pipe()
    copy = context.Process(target=_read_in_copy, args=(file, far))
    copy.start()
    assert near.poll(300) and near.recv() == 1
    copy.join()
    assert copy.exitcode == 0
    # The reader hired before is still there, and still this process's.
    assert apart._idle == [hired] and hired.alive
    (reading,) = read_apart([(file, ReadOptions())])
    assert isinstance(reading, Drawing)


@pytest.mark.parametrize(("busy", "words"), [(False, ""), (True, "limits.seconds")])
def test_the_limit_counts_time_on_a_core_not_time_waited_for_one(
    draw: Callable[..., FilePath], monkeypatch: pytest.MonkeyPatch, busy: bool, words: str
) -> None:
    file, plain = draw(lambda doc, m: m.add_circle((0, 0), 20)), read.inspect_drawing
    begun = time.process_time()

    def slow(path: Any, options: Any) -> Any:
        # A reader that another process keeps from its core looks just like one that sleeps.
        time.sleep(0.0 if busy else 1.5)
        while busy and time.process_time() < 5.0 + begun:
            sum(range(10_000))
        return plain(path, options)

    monkeypatch.setattr(apart, "_idle", [])
    monkeypatch.setattr(apart.threading, "active_count", lambda: 1)
    monkeypatch.setattr(read, "inspect_drawing", slow)
    # The limit is passed early in the wait; a sleeper is waited for up to twelve times as long.
    (reading,) = read_apart([(file, ReadOptions(limits=Limits(seconds=0.4)))])
    if busy:
        assert words in str(reading)
    else:
        assert isinstance(reading, Drawing)


def test_a_reader_that_is_up_late_is_not_taken_for_an_answer(
    draw: Callable[..., FilePath], monkeypatch: pytest.MonkeyPatch
) -> None:
    file = draw(lambda doc, m: m.add_circle((0, 0), 20))
    monkeypatch.setattr(apart, "_idle", [])
    monkeypatch.setattr(apart, "START_S", 0.0)
    (reading,) = read_apart([(file, ReadOptions())])
    assert isinstance(reading, Drawing)
