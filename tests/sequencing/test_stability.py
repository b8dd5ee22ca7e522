"""Orders that keep the plate stiff."""

from __future__ import annotations

import numpy as np
import pytest
from disc_sheets import disc_cut, plasma_data, sheet_of_discs, steel_plate

from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations
from cutplan.cutting import Cut
from cutplan.sequencing import Order, SequenceOptions, sequence
from cutplan.sequencing.stability import beside_narrow_web


def ordered(cuts: list[Cut], **options) -> Order:
    return sequence(
        cuts, Machine(), plasma_data(), steel_plate(3000, 1500),
        options=SequenceOptions(**options), stop=MaxIterations(500),
    )  # fmt: skip


@pytest.mark.parametrize(("towards", "axis", "sign"), [("x+", 0, 1), ("x-", 0, -1), ("y+", 1, 1)])
def test_the_work_moves_from_one_end_to_the_other(towards: str, axis: int, sign: int) -> None:
    cuts = sheet_of_discs(30, 2, seed=3)
    order = ordered(cuts, towards=towards, band_mm=200.0)
    middles = np.array([np.mean(step.cut.makes[0].contour.points[:, axis]) for step in order.steps]) * sign
    behind = np.maximum.accumulate(middles) - middles
    assert behind.max() < 2.0 * 200.0


def test_a_nested_part_still_comes_before_the_hole_it_lies_in_when_its_band_is_later() -> None:
    cuts = [
        disc_cut((500, 500), 400),
        disc_cut((500, 500), 350, kind="hole", hole=0),
        disc_cut((750, 500), 50, placement=1, inside_of=0),
    ]
    kinds = [
        (step.cut.makes[0].placement, step.cut.kind)
        for step in ordered(cuts, towards="x+", band_mm=50.0).steps
    ]
    assert kinds == [(1, "outside"), (0, "hole"), (0, "outside")]


def test_parts_beside_narrow_webs_are_freed_last() -> None:
    apart = [disc_cut((300.0 + 400.0 * i, 300.0), 100.0, placement=i) for i in range(3)]
    close = [disc_cut((300.0 + 212.0 * i, 900.0), 100.0, placement=3 + i) for i in range(2)]
    placements = [
        step.cut.makes[0].placement for step in ordered([*close, *apart], narrow_webs_last=True).steps
    ]
    assert set(placements[-2:]) == {3, 4}


def test_a_web_to_the_plates_edge_counts_too_and_a_part_in_a_hole_is_no_web() -> None:
    edge = disc_cut((110.0, 500.0), 100.0)
    ring = disc_cut((800.0, 700.0), 300.0, placement=1)
    inner = disc_cut((800.0, 700.0), 100.0, placement=2, inside_of=1)
    outers = {cut.makes[0].placement: cut.makes[0].contour for cut in (edge, ring, inner)}
    found = beside_narrow_web(outers, steel_plate(3000, 1500), SequenceOptions())
    assert found == {0: True, 1: False, 2: False}
