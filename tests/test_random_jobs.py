"""Random jobs from their files to programs, replayed by code that shares nothing with the package.

No pierce comes nearer than its clearance to a part, an edge or anything cut before, and no move
meets a clamp.  `benchmarks/replays.py` does the same for 300 of them.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from random_jobs import write_random_job
from replay_ways import begun_at_once, faults_of_sheet

from cutplan.base.errors import CutplanError
from cutplan.planning import load_job, plan_job
from cutplan.record import plan_json

OPEN_PARTS = 5
"""What may be begun and not finished at once unless a job says otherwise."""


@pytest.mark.parametrize("seed", [3, 11, 24, 30, 47])
def test_pierces_and_ways_of_a_random_job_are_clear(seed: int, tmp_path: Path) -> None:
    plan = plan_job(load_job(write_random_job(tmp_path, seed)))
    record = json.loads(plan_json(plan))
    assert record["plates"]
    for sheet, planned in zip(record["plates"], plan.sheets, strict=True):
        assert faults_of_sheet(planned.program.text, sheet, record) == []
        begun = begun_at_once(planned.program.text, sheet, record)
        assert begun == sheet["order"]["open_parts"] <= OPEN_PARTS


def test_the_replay_finds_a_pierce_moved_and_a_clamp_put_in_the_way(tmp_path: Path) -> None:
    """The same check fails where the plan is not what the program was made for."""
    plan = plan_job(load_job(write_random_job(tmp_path, 3)))
    record = json.loads(plan_json(plan))
    sheet, text = record["plates"][0], plan.sheets[0].program.text
    sheet["cut_data"]["rules"]["pierce_clearance"] *= 3.0
    assert any("pierce" in fault for fault in faults_of_sheet(text, sheet, record))
    x, y = sheet["cuts"][-1]["pierce_mm"]
    box = [[x - 5, y - 5, 0], [x + 5, y - 5, 0], [x + 5, y + 5, 0], [x - 5, y + 5, 0]]
    sheet["plate"]["keepouts"].append({"outline": box, "height_mm": None})
    assert any("clamp" in fault for fault in faults_of_sheet(text, sheet, record))


def test_an_impossible_random_job_ends_in_one_clear_error(tmp_path: Path) -> None:
    job = write_random_job(tmp_path, 5)
    text = job.read_text(encoding="utf-8")
    job.write_text(text.replace('drawing = "P1.dxf"', 'drawing = "P9.dxf"'), encoding="utf-8")
    with pytest.raises(CutplanError, match=r"P9\.dxf"):
        plan_job(load_job(job))
