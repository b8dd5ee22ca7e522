"""Breaking tabs is labour: reckoned by their number where the shop says how long, told where it does not."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cutplan.planning.flow import plan_job
from cutplan.planning.job import parse_job

TIE = {"name": "tie", "quantity": 3, "thickness": 10, "grade": "S355", "tabs": {"count": 2},
       "shape": {"kind": "rectangle", "length": 200, "width": 80}}  # fmt: skip


def planned(folder: Path, **estimate: float):
    data = {
        "job": {"name": "ties"},
        "cutting": {"process": "plasma"},
        "estimate": estimate,
        "plate": [{"id": "P", "length": 900, "width": 500, "thickness": 10, "grade": "S355"}],
        "part": [TIE],
    }
    (sheet,) = plan_job(parse_job(json.loads(json.dumps(data)), folder / "job.toml")).sheets
    return sheet


def test_each_tab_counts_with_the_sorting_of_its_part(tmp_path: Path) -> None:
    plain = planned(tmp_path, sorting_s_per_piece=10.0)
    broken = planned(tmp_path, sorting_s_per_piece=10.0, breaking_s_per_tab=7.0)
    assert plain.estimate.sorting_s == pytest.approx(3 * 10.0)
    assert broken.estimate.sorting_s == pytest.approx(3 * 10.0 + 6 * 7.0)
    assert any("breaking the tabs" in note for note in plain.estimate.notes)
    assert not any("breaking the tabs" in note for note in broken.estimate.notes)
