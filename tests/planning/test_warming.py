"""The loops compiled in the first run beside its work are those that the flow needs."""

from pathlib import Path

import pytest

from cutplan.planning import warming


def test_a_few_rings_are_nested_and_ordered() -> None:
    assert warming.plan_few_rings() > 0.0


def test_a_second_process_runs_only_where_nothing_is_compiled_yet(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    started = []
    monkeypatch.setattr(warming, "COMPILED", True)
    monkeypatch.setattr(warming.os, "cpu_count", lambda: 2)
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    monkeypatch.setattr(warming, "_started", lambda: started.append(1))
    monkeypatch.setattr(warming, "KEPT", tmp_path)
    with warming.compiling_beside():
        assert started == [1]
    (tmp_path / "search.improve-260.py311.1.nbi").write_bytes(b"")
    with warming.compiling_beside():
        assert started == [1]


def test_the_second_process_ends_with_the_block(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(warming, "_is_cold", lambda: True)
    real, kept = warming._started, []
    monkeypatch.setattr(warming, "_started", lambda: kept.append(real()) or kept[-1])
    with warming.compiling_beside():
        assert kept[0] is None or kept[0].poll() is None
    assert kept[0] is None or kept[0].poll() is not None
