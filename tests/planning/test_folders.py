"""Results are put in place all or nothing, even where the process is killed."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from holding import held_by_another

from cutplan.base.errors import OutputError
from cutplan.planning.folders import locked, mended, replaced_files


def nothing_stale(target: Path) -> list[str]:
    return []


def test_results_replace_the_stale_and_leave_other_files_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    for name in ("PL10-1.nc", "PL10-2.nc", "notes.txt"):
        (out / name).write_text("old")
    with replaced_files(out, lambda _: ["PL10-1.nc", "PL10-2.nc"]) as fresh:
        (fresh / "PL10-1.nc").write_text("new")
    assert sorted(p.name for p in out.iterdir()) == ["PL10-1.nc", "notes.txt"]
    assert (out / "PL10-1.nc").read_text() == "new"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_failed_run_leaves_the_old_folder_as_it_was(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "plan.json").write_text("old")
    with pytest.raises(RuntimeError), replaced_files(out, lambda _: ["plan.json"]) as fresh:
        (fresh / "plan.json").write_text("half")
        raise RuntimeError("stopped")
    assert (out / "plan.json").read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_name_that_cannot_be_replaced_rolls_back_the_others(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "a.nc").write_text("old")
    with pytest.raises(OutputError), replaced_files(out, lambda _: ["a.nc", "b"]) as fresh:
        (fresh / "a.nc").write_text("new")
        (fresh / "b").write_text("new")
        (out / "b").mkdir()
        (out / "b" / "kept.txt").write_text("kept")
        # The folder b moves out; a file of the same name as an old file's backup cannot follow.
        (fresh.parent / "old" / "b").mkdir()
        (fresh.parent / "old" / "b" / "blocker").write_text("x")
    assert (out / "a.nc").read_text() == "old"
    assert (out / "b" / "kept.txt").read_text() == "kept"


def test_an_output_that_is_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("a file")
    with pytest.raises(OutputError, match="not a folder"), replaced_files(tmp_path / "out", nothing_stale):
        raise AssertionError("the block must not run")


KILLED = """
import os, signal, sys
from pathlib import Path
from cutplan.planning.folders import replaced_files
out, count, move = Path(sys.argv[1]), int(sys.argv[2]), os.replace
def counted(source, target):
    global count
    if not str(source).endswith(".part"):
        count -= 1
        if count < 0:
            os.kill(os.getpid(), signal.SIGKILL)
    move(source, target)
os.replace = counted
with replaced_files(out, lambda _: ["old only", "both"]) as fresh:
    for name in ("both", "new only"):
        (fresh / name).write_text("new")
"""


@pytest.mark.parametrize("moves", range(5))
def test_a_process_killed_between_any_two_moves_leaves_the_old_or_the_new(tmp_path: Path, moves: int) -> None:
    """Four moves there are: two files out, two in; after the fourth the process lives."""
    out = tmp_path / "out"
    out.mkdir()
    for name in ("old only", "both"):
        (out / name).write_text("old")
    run = subprocess.run([sys.executable, "-c", KILLED, str(out), str(moves)], timeout=60)
    assert run.returncode == (0 if moves == 4 else -signal.SIGKILL)
    with locked(out):
        assert mended(out) == (moves < 4)
    content = {p.name: p.read_text() for p in out.iterdir()}
    assert content == (
        {"both": "new", "new only": "new"} if moves == 4 else {"old only": "old", "both": "old"}
    )
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_what_a_dead_process_never_moved_in_is_removed(tmp_path: Path) -> None:
    beside = tmp_path / ".out.cutplan~abcd1234"
    (beside / "new").mkdir(parents=True)
    with locked(tmp_path / "out"):
        assert not mended(tmp_path / "out")
    assert not beside.exists()


def test_a_killed_move_into_a_folder_of_a_longer_name_is_not_taken_for_ones_own(tmp_path: Path) -> None:
    for name in ("out", "out-2", "out.cutplan~x"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "both").write_text(f"{name} old")
    for name in ("out-2", "out.cutplan~x"):
        subprocess.run([sys.executable, "-c", KILLED, str(tmp_path / name), "1"], timeout=60)
        assert not (tmp_path / name / "both").exists()
    with locked(tmp_path / "out"):
        assert not mended(tmp_path / "out")
    assert (tmp_path / "out" / "both").read_text() == "out old"
    for name in ("out-2", "out.cutplan~x"):
        with locked(tmp_path / name):
            assert mended(tmp_path / name)
        assert (tmp_path / name / "both").read_text() == f"{name} old"


def test_an_interrupt_between_two_moves_loses_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    out.mkdir()
    for name in ("a", "b"):
        (out / name).write_text("old")
    move, calls = os.replace, []

    def interrupted(source: str, target: str) -> None:
        calls.append(source)
        if len(calls) == 4:
            raise KeyboardInterrupt
        move(source, target)

    monkeypatch.setattr("cutplan.planning.folders.os.replace", interrupted)
    with pytest.raises(KeyboardInterrupt), replaced_files(out, lambda _: ["a", "b"]) as fresh:
        for name in ("a", "b"):
            (fresh / name).write_text("new")
    assert {p.name: p.read_text() for p in out.iterdir()} == {"a": "old", "b": "old"}
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_a_folder_is_held_by_one_process_until_that_ends_or_is_killed(tmp_path: Path) -> None:
    out = tmp_path / "out"
    (tmp_path / "other").symlink_to(tmp_path)
    with held_by_another(out):
        for spelled in (out, tmp_path / "other" / "x" / ".." / "out"):
            with (
                pytest.raises(OutputError, match="another process"),
                replaced_files(spelled, nothing_stale) as fresh,
            ):
                (fresh / "a").write_text("never seen")
    with replaced_files(out, nothing_stale) as fresh, locked(out):
        (fresh / "a").write_text("new")
    assert (out / "a").read_text() == "new"
    assert not list(tmp_path.glob(".out*"))
