"""Moves held against clamps, loose parts and the ends of the table, each moved by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from sheets import DATA, DISC, LINK, MACHINE, Planned, planned, sheet_of

from cutplan.base.machine import Machine
from cutplan.geometry import Pose, polygon
from cutplan.stock import Keepout
from cutplan.verification import Verdict, verify
from cutplan.verification.strokes import Strokes, tight_boxes

SIZE = (400.0, 300.0)


@cache
def plan(post: str = "rs274-metric") -> Planned:
    """A disc at the left and a link at the right, with room for clamps between."""
    return planned(sheet_of((DISC, Pose(60, 150)), (LINK, Pose(300, 140)), size=SIZE), post=post)


def judged(
    *keepouts: Keepout, post: str = "rs274-metric", text: str | None = None, machine: Machine = MACHINE
) -> Verdict:
    p = plan(post)
    sheet = replace(p.sheet, plate=replace(p.sheet.plate, keepouts=keepouts))
    return verify(p.text if text is None else text, sheet, DATA, machine, dialect=p.dialect)


def codes(verdict: Verdict) -> set[str]:
    return {fault.code for fault in verdict.faults}


def box(x0: float, y0: float, x1: float, y1: float, height: float | None = None) -> Keepout:
    return Keepout(polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]), height)


BETWEEN = (170.0, 130.0, 190.0, 170.0)


@pytest.mark.parametrize(
    ("height", "sound"), [(None, False), (26.0, False), (25.0, True), (0.0, True), (300.0, False)]
)
def test_a_travel_over_a_clamp_needs_a_known_height_with_room_above(
    height: float | None, sound: bool
) -> None:
    verdict = judged(box(*BETWEEN, height))
    assert verdict.passed == sound
    if not sound:
        assert codes(verdict) == {"keep-out"}
        assert "the torch travels 0.00 mm from a clamp" in verdict.faults[0].message


def test_the_height_that_a_program_states_counts() -> None:
    """The post-processor raises to 30 mm, the machine would travel at 60."""
    machine = replace(MACHINE, travel_height_mm=60.0)
    assert judged(box(*BETWEEN, 40.0), machine=machine).passed
    assert codes(judged(box(*BETWEEN, 40.0), post="rs274-heights", machine=machine)) == {"keep-out"}
    assert judged(box(*BETWEEN, 20.0), post="rs274-heights").passed


@pytest.mark.parametrize(("apart", "sound"), [(24.0, False), (26.0, True)])
def test_the_torch_itself_is_as_wide_as_the_machine_says(apart: float, sound: bool) -> None:
    """The disc of radius 22 at (60, 150) is cut on a circle of radius 23."""
    below = 150.0 - 23.0 - apart
    clamp = box(55.0, below - 5.0, 65.0, below, 20.0)
    assert judged(clamp).passed == sound
    assert judged(clamp, machine=replace(MACHINE, torch_radius_mm=10.0)).passed


def test_arcs_count_as_arcs() -> None:
    """An unlit half circle from (100, 280) to (200, 280) reaches down to y = 230."""
    text = plan().text.replace("M30", "G0 X100 Y280\nG3 X200 Y280 I50 J0 F3000\nM30")
    assert judged(box(145.0, 200.0, 155.0, 204.0), text=text).passed
    assert "keep-out" in codes(judged(box(145.0, 202.0, 155.0, 206.0), text=text))


def test_a_flaw_may_be_passed_over_but_not_burnt() -> None:
    on_the_kerf = box(82.0, 148.0, 84.0, 152.0, 0.0)
    verdict = judged(on_the_kerf)
    assert codes(verdict) == {"keep-out"}
    assert "burns in a keep-out" in verdict.faults[0].message


def test_travel_stays_within_the_margin_of_the_plate() -> None:
    below = plan().text.replace("M30", "G0 X-90 Y-90\nM30")
    assert judged(text=below).passed
    assert not judged(text=below, machine=replace(MACHINE, plate_margin_mm=80.0)).passed
    far = plan().text.replace("M30", "G0 X0 Y-400\nM30")
    assert "off-margin" in codes(judged(text=far))


def test_the_table_is_measured_along_arcs_too() -> None:
    """The ends of the arc lie at x = 400, its middle at 450."""
    text = plan().text.replace("M30", "G0 X400 Y100\nG3 X400 Y200 I0 J50 F3000\nM30")
    assert judged(text=text, machine=replace(MACHINE, table=(450.0, 300.0))).passed
    assert "off-table" in codes(judged(text=text, machine=replace(MACHINE, table=(449.0, 300.0))))


def test_a_low_travel_over_a_loose_part_is_found_where_heights_are_stated() -> None:
    p = plan("rs274-heights")
    assert judged(post="rs274-heights").passed
    low = p.text.replace("M30", "G0 Z8\nG0 X20 Y150\nG0 X100 Y150\nG0 Z30\nM30")
    verdict = judged(post="rs274-heights", text=low)
    assert "low-over-loose" in codes(verdict)
    high = p.text.replace("M30", "G0 Z30\nG0 X20 Y150\nG0 X100 Y150\nM30")
    assert judged(post="rs274-heights", text=high).passed


@pytest.mark.parametrize("seed", range(20))
def test_boxes_of_arcs_are_those_of_many_points_on_them(seed: int) -> None:
    rng = np.random.default_rng(seed)
    centre, radius = rng.uniform(-50, 50, (1, 2)), rng.uniform(1, 40, 1)
    first, sweep = rng.uniform(-math.pi, math.pi), rng.uniform(-2 * math.pi, 2 * math.pi)
    ends = [centre + radius * np.array([[math.cos(a), math.sin(a)]]) for a in (first, first + sweep)]
    arc = Strokes(ends[0], ends[1], centre, radius, np.array([sweep]))
    angles = first + sweep * np.linspace(0, 1, 20001)
    points = centre + radius * np.column_stack([np.cos(angles), np.sin(angles)])
    expected = [*points.min(axis=0), *points.max(axis=0)]
    assert tight_boxes(arc)[0] == pytest.approx(expected, abs=1e-5 * 40)


def test_a_program_begins_where_the_machine_stands() -> None:
    """From (0, 0) the first rapid would meet the clamp; from the machine's start it does not."""
    clamp = box(10.0, 60.0, 20.0, 70.0)
    assert codes(judged(clamp)) == {"keep-out"}
    machine = replace(MACHINE, start=(390.0, 10.0))
    text = plan().text.replace("G0 X0 Y0\n", "").replace("X0 Y0", "X390 Y10")
    assert judged(
        clamp,
        text=text,
        machine=machine,
    ).passed
