"""How the torch gets to the next cut: low only where nothing loose lies in the way."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from disc_sheets import disc_cut, plasma_data, sheet_of_discs, steel_plate

from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations
from cutplan.cutting import Cut
from cutplan.sequencing import Order, SequenceOptions, sequence
from cutplan.sequencing.ground import survey

MACHINE = Machine(torch_clearance_mm=40.0)


def ordered(cuts: list[Cut], machine: Machine = MACHINE, **options) -> Order:
    return sequence(
        cuts, machine, plasma_data(), steel_plate(6000, 2000),
        options=SequenceOptions(**options), stop=MaxIterations(1500),
    )  # fmt: skip


def loose_before(order: Order, number: int) -> list[shapely.Polygon]:
    """Return what lies loose before a step, as discs slightly smaller than they are."""
    loose = []
    for step in order.steps[:number]:
        low, high = step.cut.makes[0].contour.points.min(axis=0), step.cut.makes[0].contour.points.max(axis=0)
        radius = float((high - low).max()) / 2.0
        wide = step.cut.kind == "hole" and 2.0 * radius > MACHINE.torch_clearance_mm
        if step.cut.kind == "outside" or wide:
            loose.append(shapely.Point(*(low + high) / 2.0).buffer(radius - 0.2, quad_segs=64))
    return loose


@pytest.mark.parametrize("seed", range(4))
def test_low_travel_never_passes_over_a_freed_part_or_a_wide_hole(seed: int) -> None:
    order = ordered(sheet_of_discs(14, 3, seed=seed, choices=6), low_travel=True)
    low = [number for number, step in enumerate(order.steps) if not step.travel.raised]
    assert len(low) > len(order.steps) // 2
    for number in low:
        way = shapely.LineString(order.steps[number].travel.points)
        assert not any(way.intersects(shape) for shape in loose_before(order, number))
    assert order.crossings == 0


def test_every_travel_is_raised_unless_asked_otherwise() -> None:
    order = ordered(sheet_of_discs(8))
    assert all(step.travel.raised and len(step.travel.points) == 2 for step in order.steps)


@pytest.mark.parametrize("low", [False, True])
def test_what_raising_and_lowering_take_is_told_apart_from_the_ways(low: bool) -> None:
    """Ways from rest to rest: at full speed on the long ones, a triangle of speed on the short."""
    order = ordered(sheet_of_discs(8), low_travel=low)
    ways = [step.travel.points for step in order.steps]
    ways.append(np.array([order.steps[-1].lead.end, MACHINE.start]))
    fast, push = MACHINE.rapid_mm_min / 60.0, MACHINE.acceleration_mm_s2
    hops = np.concatenate([np.hypot(*np.diff(way, axis=0).T) for way in ways])
    moving = np.where(hops > fast**2 / push, hops / fast + fast / push, 2.0 * np.sqrt(hops / push)).sum()
    assert order.statistics["lifting_s"] == pytest.approx(order.travel_s - moving)
    lifts = len(order.steps) * (MACHINE.raise_s + MACHINE.lower_s)
    assert order.statistics["lifting_s"] == pytest.approx(lifts) or low
    assert order.statistics["lifting_s"] < lifts or not low


def test_each_travel_leads_from_the_end_of_one_cut_to_the_pierce_of_the_next() -> None:
    order = ordered(sheet_of_discs(10, 2, seed=2), low_travel=True)
    at = MACHINE.start
    for step in order.steps:
        assert tuple(step.travel.points[0]) == pytest.approx(at)
        assert tuple(step.travel.points[-1]) == pytest.approx(step.lead.pierce)
        at = step.lead.end


def test_staying_low_saves_the_lifts() -> None:
    cuts = sheet_of_discs(12, 0, seed=1)
    low, raised = ordered(cuts, low_travel=True), ordered(cuts)
    assert low.travel_s < raised.travel_s - 2.0 * len(cuts)
    assert low.bound_s <= low.travel_s


def three_in_a_row() -> tuple[Cut, Cut, Cut]:
    """Return three discs with one lead each, the middle one between the leads of the others."""
    left, middle, right = (
        disc_cut((300.0 + 300.0 * i, 300.0), 100.0, placement=i, choices=1) for i in range(3)
    )
    return left, middle, right


def way_past_the_middle(lift_s: float) -> Order:
    from cutplan.sequencing import Pin, Which

    cuts = three_in_a_row()
    machine = Machine(raise_s=lift_s / 2.0, lower_s=lift_s / 2.0)
    pins = (Pin(Which(copy=2), Which(copy=1)), Pin(Which(copy=1), Which(copy=3)))
    return ordered(list(cuts), machine, low_travel=True, pin=pins)


def test_the_torch_goes_round_a_freed_part_where_lifting_takes_longer() -> None:
    travel = way_past_the_middle(20.0).steps[-1].travel
    assert not travel.raised
    assert len(travel.points) > 2
    part = shapely.Point(600.0, 300.0).buffer(100.0)
    assert shapely.LineString(travel.points).distance(part) > 0.0


def test_the_torch_is_raised_over_a_freed_part_where_going_round_takes_longer() -> None:
    travel = way_past_the_middle(0.1).steps[-1].travel
    assert travel.raised
    assert len(travel.points) == 2


def test_the_way_round_is_little_longer_than_the_taut_string() -> None:
    """Tangents and arc around a circle of radius r seen from two points at distance d each side."""
    order = way_past_the_middle(20.0)
    points = order.steps[-1].travel.points
    r, (a, b) = 100.0, (points[0] - (600.0, 300.0), points[-1] - (600.0, 300.0))
    turn = abs(math.acos(a @ b / np.linalg.norm(a) / np.linalg.norm(b)))
    arc = turn - math.acos(r / np.linalg.norm(a)) - math.acos(r / np.linalg.norm(b))
    taut = sum(math.sqrt(v @ v - r * r) for v in (a, b)) + r * arc
    length = np.hypot(*np.diff(points, axis=0).T).sum()
    assert taut < length < 1.03 * taut


def test_the_torch_leaves_a_wide_hole_raised_and_a_narrow_one_low() -> None:
    for radius, raised in ((60.0, True), (15.0, False)):
        hole = disc_cut((400, 400), radius, kind="hole", hole=0, choices=1)
        order = ordered([disc_cut((400, 400), 200, choices=1), hole], low_travel=True)
        assert [step.cut.kind for step in order.steps] == ["hole", "outside"]
        assert order.steps[1].travel.raised == raised


def test_raised_travel_over_freed_parts_is_shunned_by_choice_of_lead() -> None:
    cuts = sheet_of_discs(25, 2, seed=4, choices=8)
    careless, careful = (ordered(cuts, crossing_weight_s=weight) for weight in (0.0, 5.0))
    assert careful.statistics["raised_over_freed"] < careless.statistics["raised_over_freed"]
    assert careful.travel_s < 1.05 * careless.travel_s


def test_a_hole_counts_as_wide_by_its_narrow_side() -> None:
    holes = [disc_cut((100, 100), r, kind="hole", hole=0) for r in (19.0, 21.0)]
    assert survey(holes, 2.0, 40.0).wide_hole.tolist() == [False, True]
