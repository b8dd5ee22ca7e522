"""The loops compiled in the first run beside its work are those that the flow needs."""

import subprocess
import sys
from pathlib import Path

import pytest

from cutplan.planning import warming


@pytest.fixture
def cold(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Have nothing compiled, as far as can be seen, on a machine of two cores."""
    monkeypatch.setattr(warming, "COMPILED", True)
    monkeypatch.setattr(warming.os, "cpu_count", lambda: 2)
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(warming, "KEPT", tmp_path)
    return tmp_path


def test_a_few_rings_are_nested_and_ordered() -> None:
    assert warming.nest_few_rings() == 7
    assert warming.order_few_rings() > 0.0


def test_processes_run_only_where_nothing_is_compiled_yet(
    cold: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started, told = [], []
    monkeypatch.setattr(
        warming.subprocess, "Popen", lambda words, **_: started.append(words[-1]) or _finished()
    )
    with warming.compiled_beside(lambda stage, share: told.append(stage)):
        assert started == ["nest", "order"] and not told
    assert told == ["waiting for the searches"]
    (cold / "search.improve-260.py311.1.nbi").write_bytes(b"")
    with warming.compiled_beside(lambda stage, share: told.append(stage)):
        assert len(started) == 2
    assert len(told) == 1


def _finished() -> "subprocess.Popen[bytes]":
    return REAL([sys.executable, "-c", ""])


REAL = subprocess.Popen


def test_no_process_outlives_a_job_that_is_refused(cold: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    processes = []

    def slow(words: list[str], **_: object) -> "subprocess.Popen[bytes]":
        processes.append(REAL([sys.executable, "-c", "import time; time.sleep(60)"]))
        return processes[-1]

    monkeypatch.setattr(warming.subprocess, "Popen", slow)
    with pytest.raises(ValueError, match="refused"), warming.compiled_beside(lambda stage, share: None):
        raise ValueError("refused")
    assert len(processes) == 2 and all(process.poll() is not None for process in processes)


def test_the_first_run_says_that_it_compiles_until_all_is_there(cold: Path) -> None:
    told = []
    tell = warming.saying_so(lambda stage, share: told.append(stage))
    tell("reading drawings", 0.5)
    (cold / "search.improve-260.py311.1.nbi").write_bytes(b"")
    tell("nesting", 0.5)
    assert "compiling" in told[0] and told[1] == "nesting"
