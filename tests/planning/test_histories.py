"""Real plans over a rack, cut, spoilt, taken back and killed half way, lose and invent nothing."""

import signal
from pathlib import Path

import pytest
from plan_history import begun, killed_after, wrongs


def test_a_history_of_plans_killed_half_way_loses_and_invents_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("CUTPLAN_STOCK", "")
    monkeypatch.setenv("CUTPLAN_AUTHOR", "")
    begun(tmp_path)
    after, code = killed_after(tmp_path, 60, 100, 0.4)
    assert code == -signal.SIGKILL
    _, code = killed_after(tmp_path, 4, after, 60.0)
    assert code == 0
    assert wrongs(tmp_path) == []
