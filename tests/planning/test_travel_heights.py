"""Low travel where it is safe: a small batch of gussets with slots, replayed by code of its own."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest
from gusset_jobs import write_gusset_job
from replay_ways import begun_at_once, faults_of_sheet, moves

from cutplan.planning import load_job, plan_job
from cutplan.record import Plan, plan_json


@pytest.fixture(scope="module")
def planned(tmp_path_factory) -> tuple[Plan, Plan]:
    """Twelve gussets on one plate: travelling low where it is safe, and always raised."""
    folder = tmp_path_factory.mktemp("gussets")
    job = load_job(write_gusset_job(folder, 12, 1, (900.0, 600.0)))
    high = replace(job, order=replace(job.order, low_travel=False))
    return plan_job(job), plan_job(high)


def test_travel_is_a_small_share_and_low_travel_saves(planned) -> None:
    low, high = (plan.total.time_s for plan in planned)
    shares = [
        (times["travel"] + times["raising"]) / (times["total"] - times["handling"]) for times in (low, high)
    ]
    assert shares[0] < 0.25
    assert shares[0] < shares[1]


def test_few_parts_are_open_and_no_pierce_lies_on_another(planned) -> None:
    for plan in planned:
        record = json.loads(plan_json(plan))
        (sheet,), text = record["plates"], plan.sheets[0].program.text
        assert begun_at_once(text, sheet, record) == sheet["order"]["open_parts"] <= 5
        assert faults_of_sheet(text, sheet, record) == []


def test_travel_runs_at_its_own_two_heights(planned) -> None:
    """As the replay reads the program: 10 mm by the machine's default, 30 mm by the post-processor's."""
    heights = [
        {height for _, lit, height in moves(plan.sheets[0].program.text, (0.0, 0.0)) if not lit and height}
        for plan in planned
    ]
    assert heights[0] == {10.0, 30.0}
    assert heights[1] == {30.0}


def test_the_order_reckons_with_what_the_estimate_takes_to_raise_and_lower(planned) -> None:
    for plan in planned:
        (sheet,) = plan.sheets
        times = plan.total.time_s
        assert sheet.order.travel_s == pytest.approx(times["travel"] + times["raising"], rel=0.1)


def test_low_travel_asked_of_a_program_without_heights_is_left_out_with_a_warning(tmp_path: Path) -> None:
    job = load_job(write_gusset_job(tmp_path, 2, 1, (900.0, 600.0)))
    asked = replace(
        job,
        machine=replace(job.machine, postprocessor="rs274-metric"),
        order=replace(job.order, low_travel=True),
    )
    (sheet,) = plan_job(asked).sheets
    assert all(step.travel.raised for step in sheet.order.steps)
    assert any("low_travel is left out" in finding.message for finding in sheet.findings)
