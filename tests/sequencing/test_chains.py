"""Chains in the order: what pays is linked, within the limits, with its true cost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely.ops import substring

from cutplan.base.machine import Machine
from cutplan.cutting import Chains, CuttingOptions, Techniques, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Pose, chord_points, circle, length, polygon
from cutplan.process import CutData, Rules
from cutplan.sequencing import SequenceOptions, sequence
from cutplan.stock import NestedPlate, Placement, Plate

FLAME = CutData(
    process="oxyfuel", material="mild steel", thickness=40, setting="by hand", source="by hand", kerf=2.4,
    feed_mm_min=260, pierce_height=16, cut_height=8, pierce_s=3, preheat_s=20, gases=(),
    rules=Rules(
        part_gap=20, edge_gap=20, lead_in=18, lead_out=6, pierce_clearance=16, overburn=2.4, smallest_hole=31,
        small_hole=60, small_hole_feed=0.8, corner_feed=0.7, corner_length=12, thinnest_web=40,
        square_side="both",
    ),
)  # fmt: skip
MACHINE = Machine(table=(3000.0, 1500.0))
DISC = Part("disc", circle((0, 0), 60))
RING = Part("ring", circle((0, 0), 70), (circle((0, 0), 36, clockwise=True),))
STEP = 145.0


def nest(part: Part, columns: int, rows: int) -> NestedPlate:
    plate = Plate("P", polygon([(0, 0), (2000, 0), (2000, 1000), (0, 1000)]), 40, "S355", "mild steel")
    step = STEP if part is DISC else STEP + 20
    placed = [
        Placement(part, 1 + i + columns * j, Pose(100 + i * step, 100 + j * step))
        for j in range(rows)
        for i in range(columns)
    ]
    return NestedPlate(plate, 1, tuple(placed))


def ordered(sheet: NestedPlate, data: CutData = FLAME, options=SequenceOptions(), **chains):
    wishes = CuttingOptions(techniques=Techniques(chains=Chains(**chains)))
    made = make_cuts(sheet, data, wishes)
    return sequence(made.cuts, MACHINE, data, sheet.plate, links=made.links, options=options)


def runs(order) -> list[list[int]]:
    return [[made.copy for made in step.cut.makes] for step in order.steps if step.cut.kind == "outside"]


def test_discs_in_reach_of_each_other_share_pierces_and_none_is_cut_twice() -> None:
    order = ordered(nest(DISC, 4, 2), parts=8)
    made = sorted(copy for run in runs(order) for copy in run)
    assert made == list(range(1, 9))
    assert len(runs(order)) <= 2


def test_a_run_holds_no_more_parts_than_asked() -> None:
    assert max(map(len, runs(ordered(nest(DISC, 4, 2), parts=3)))) == 3
    assert max(map(len, runs(ordered(nest(DISC, 4, 2), by="pairs")))) == 2


def test_a_run_is_no_longer_than_asked() -> None:
    order = ordered(nest(DISC, 4, 2), parts=8, longest_mm=900)
    ways = [float(length(step.lead.path)) for step in order.steps]
    assert any(len(run) > 1 for run in runs(order)) and max(ways) <= 900


def test_rows_are_cut_along_the_plate_alone() -> None:
    in_rows = runs(ordered(nest(DISC, 4, 2), by="rows", parts=8))
    assert max(map(len, in_rows)) > 1
    for run in in_rows:
        assert len({(copy - 1) // 4 for copy in run}) == 1


def test_a_chain_ends_before_a_part_that_is_too_hot() -> None:
    free, held = (ordered(nest(DISC, 4, 2), parts=8, hottest_c=limit) for limit in (1000.0, 25.0))
    assert len(runs(held)) > len(runs(free))


def test_what_a_start_costs_less_than_is_not_linked() -> None:
    quick = replace(FLAME, preheat_s=0.0, pierce_s=0.0, feed_mm_min=60.0)
    assert all(len(run) == 1 for run in runs(ordered(nest(DISC, 4, 2), quick, parts=8)))


def test_the_holes_of_all_its_parts_come_before_a_chain_and_the_cap_on_open_parts_holds() -> None:
    order = ordered(nest(RING, 4, 2), options=SequenceOptions(open_parts=3), parts=8)
    holes: set[int] = set()
    for step in order.steps:
        if step.cut.kind == "hole":
            holes |= set(step.cut.placements)
        else:
            assert set(step.cut.placements) <= holes
    assert any(len(run) > 1 for run in runs(order))
    assert max(map(len, runs(order))) <= 3 and order.open_parts <= 3


def test_links_keep_a_kerf_from_every_other_kerf() -> None:
    order = ordered(nest(DISC, 4, 2), parts=8)
    lines = [shapely.LineString(chord_points(step.lead.path, 0.01)) for step in order.steps]
    for k, step in enumerate(order.steps):
        for start, end in step.lead.links:
            link = substring(lines[k], start, end)
            others = [line for j, line in enumerate(lines) if j != k]
            assert all(link.distance(other) >= FLAME.kerf for other in others)


def test_an_order_without_links_is_what_it_was() -> None:
    sheet = nest(RING, 3, 2)
    made = make_cuts(sheet, FLAME)
    assert made.links is None
    plain = sequence(made.cuts, MACHINE, FLAME, sheet.plate)
    far = ordered(sheet, replace(FLAME, preheat_s=0.0, pierce_s=0.0, feed_mm_min=1.0))
    assert [s.cut.makes[0].copy for s in plain.steps] == [s.cut.makes[0].copy for s in far.steps]


@pytest.mark.parametrize("seed", [0, 1])
def test_a_chained_order_takes_less_time_than_the_plain_one(seed: int) -> None:
    sheet = nest(DISC, 4, 3)
    made = make_cuts(sheet, FLAME, CuttingOptions(techniques=Techniques(chains=True)))
    plain = sequence(made.cuts, MACHINE, FLAME, sheet.plate, seed=seed)
    chained = sequence(made.cuts, MACHINE, FLAME, sheet.plate, links=made.links, seed=seed)

    def seconds(order) -> float:
        return order.travel_s + sum(step.start_s + step.run_s for step in order.steps)

    saved = (len(plain.steps) - len(chained.steps)) * (FLAME.preheat_s + FLAME.pierce_s)
    assert saved > 0 and seconds(chained) < seconds(plain) - 0.3 * saved
    assert np.isfinite(chained.bound_s) and chained.bound_s <= chained.travel_s + 1e-6
