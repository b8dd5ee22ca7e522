"""The same batch by plasma and by oxy-fuel, with one torch and several."""

from collections.abc import Callable

import numpy as np
import pytest

from cutplan.base.errors import DataError
from cutplan.base.machine import Machine
from cutplan.control import DWELL, Motions
from cutplan.estimating import Alternative, Prices, Work, compare, estimate, retimed, shared_between
from cutplan.process import CutData, Library
from cutplan.stock import Plate

Reader = Callable[[str], Motions]
LIBRARY = Library.load()

PLASMA_CUT = "G0 X100 Y0\nM3\nG4 P0.5\nG1 X200 Y0 F1200\nG1 X400 Y0 F2400\nM5\nG0 X0 Y0"
OXYFUEL_CUT = "G0 X100\nG4 P17\nM3\nG4 P3\nG1 X200 F240\nM5\nG0 X-5\nG4 P7\nM3\nG1 X50 F240\nM5"


def test_a_plasma_program_retimed_for_oxyfuel_preheats_and_keeps_its_slow_spans(
    motions_of: Reader, plasma: CutData, oxyfuel: CutData, machine: Machine
) -> None:
    motions = retimed(motions_of(PLASMA_CUT), plasma, oxyfuel)
    time_s = estimate(motions, oxyfuel, machine).time_s
    assert time_s["preheating"] == pytest.approx(17 + 0.5)
    assert time_s["piercing"] == pytest.approx(3.0)
    # 100 mm at half of 4 mm/s, 200 mm at 4 mm/s, and the ramps to 2, to 4 and to rest.
    assert time_s["cutting"] == pytest.approx(100 / 2 + 200 / 4 + 2 / 800 + (4 - 2) ** 2 / 800 / 4 + 4 / 800)
    before = estimate(motions_of(PLASMA_CUT), plasma, machine).time_s
    assert time_s["travel"] == pytest.approx(before["travel"])


def test_an_oxyfuel_program_retimed_for_plasma_does_not_preheat(
    motions_of: Reader, plasma: CutData, oxyfuel: CutData, machine: Machine
) -> None:
    time_s = estimate(retimed(motions_of(OXYFUEL_CUT), oxyfuel, plasma), plasma, machine).time_s
    assert time_s["preheating"] == time_s["handling"] == 0.0
    # One pierce; the other cut starts at the edge and keeps doing so.
    assert time_s["piercing"] == pytest.approx(0.5 + 2 * 0.5)
    assert time_s["cutting"] == pytest.approx(100 / 40 + 55 / 40 + 2 * 40 / 400)


def test_there_and_back_again_keeps_every_dwell_and_feed(
    motions_of: Reader, plasma: CutData, oxyfuel: CutData
) -> None:
    motions = motions_of(PLASMA_CUT)
    back = retimed(retimed(motions, plasma, oxyfuel), oxyfuel, plasma)
    assert np.nansum(back.feed_mm_min[back.torch]) == pytest.approx(
        np.nansum(motions.feed_mm_min[motions.torch])
    )
    assert back.dwell_s.sum() == pytest.approx(motions.dwell_s.sum())
    assert retimed(motions, plasma, plasma) is motions


def test_an_edge_start_keeps_its_shorter_preheat(motions_of: Reader, oxyfuel: CutData) -> None:
    propane = LIBRARY.choose("oxyfuel", "mild steel", 40.0, setting="propane")
    motions = retimed(motions_of(OXYFUEL_CUT), oxyfuel, propane)
    preheats = motions.dwell_s[(motions.kind == DWELL) & ~motions.torch]
    assert preheats[0] == pytest.approx(propane.preheat_s)
    assert preheats[1] / preheats[0] == pytest.approx(7 / 17)
    plasma_edge = motions_of("G0 X0\nM3\nG1 X50 F2400\nM5\nG0 X90\nM3\nG4 P0.5\nG1 X150\nM5")
    slow = LIBRARY.choose("plasma", "mild steel", 10.0)
    flame = retimed(plasma_edge, slow, oxyfuel)
    waits = flame.dwell_s[(flame.kind == DWELL) & ~flame.torch]
    assert list(waits) == [oxyfuel.edge_preheat_s, oxyfuel.preheat_s]


def test_torches_share_the_copies_and_not_the_gas(
    motions_of: Reader, oxyfuel: CutData, machine: Machine
) -> None:
    motions = motions_of(OXYFUEL_CUT)
    one = shared_between(motions, oxyfuel, machine, 1)
    two = shared_between(motions, oxyfuel, machine, 2, part_copies={"web": 4, "foot": 2})
    uneven = shared_between(motions, oxyfuel, machine, 2, part_copies={"web": 3, "foot": 3})
    assert two.time_s["total"] == pytest.approx(one.time_s["total"] / 2)
    # Three copies need two runs of two torches: 4 of 6.
    assert uneven.time_s["total"] == pytest.approx(one.time_s["total"] * 4 / 6)
    assert two.gas_m3 == one.gas_m3 and two.pierces == one.pierces
    assert two.peak_flow_m3_h["acetylene"] == pytest.approx(2 * one.peak_flow_m3_h["acetylene"])
    assert any("divide evenly" in note for note in shared_between(motions, oxyfuel, machine, 3).notes)
    assert not any("divide evenly" in note for note in two.notes)


def test_the_comparison_shows_time_gas_and_cost_side_by_side(
    motions_of: Reader, machine: Machine, plate: Plate
) -> None:
    data = LIBRARY.choose("plasma", "mild steel", 10.0)
    prices = Prices(
        currency="EUR", machine_per_hour=70, labour_per_hour=40, power_per_kwh=0.3,
        plate_per_kg={"default": 1.1}, gas_per_m3={"oxygen": 2, "air": 0.05, "acetylene": 12, "propane": 4},
        consumable_set={"plasma": 50, "oxyfuel": 20},
    )  # fmt: skip
    work = Work(motions_of(PLASMA_CUT), data, plate, part_copies={"web": 4})
    alternatives = [
        Alternative("plasma"),
        Alternative("oxyfuel"),
        Alternative("oxyfuel", 2),
        Alternative("oxyfuel", 4, "propane"),
    ]
    rows = compare([work, work], LIBRARY, machine, alternatives, prices=prices)
    assert [row.alternative.name for row in rows] == [
        "plasma, 1 torch",
        "oxy-fuel, 1 torch",
        "oxy-fuel, 2 torches",
        "oxy-fuel, propane, 4 torches",
    ]
    plasma, one, two, four = (row.estimate for row in rows)
    assert plasma and one and two and four
    single = estimate(motions_of(PLASMA_CUT), data, machine, plate=plate, prices=prices)
    assert plasma.time_s["total"] == pytest.approx(2 * single.time_s["total"])
    assert plasma.cost and single.cost and plasma.cost["total"] == pytest.approx(2 * single.cost["total"])
    # On thin plate plasma is far faster; torches make up for it without using more gas.
    assert plasma.time_s["total"] < two.time_s["total"] < one.time_s["total"]
    assert two.time_s["total"] == pytest.approx(one.time_s["total"] / 2)
    assert two.gas_m3 == pytest.approx(one.gas_m3)
    assert one.cost and two.cost and two.cost["labour"] == pytest.approx(one.cost["labour"] / 2)
    assert "propane" in four.gas_m3 and four.torches == 4
    assert rows[0].reason == "120 A oxygen on 10 mm"
    assert any("planned for another process" in note for note in one.notes)
    assert not any("planned for another process" in note for note in plasma.notes)


def test_what_cannot_be_cut_says_why(motions_of: Reader, machine: Machine) -> None:
    data = LIBRARY.choose("plasma", "stainless", 10.0)
    plasma, oxyfuel = compare(
        [Work(motions_of(PLASMA_CUT), data)],
        LIBRARY,
        machine,
        [Alternative("plasma"), Alternative("oxyfuel")],
    )
    assert plasma.estimate is not None
    assert oxyfuel.estimate is None and "oxy-fuel cuts carbon steel only" in oxyfuel.reason


def test_a_process_that_cannot_pierce_the_plate_is_told_of(motions_of: Reader, machine: Machine) -> None:
    data = LIBRARY.choose("oxyfuel", "mild steel", 60.0)
    (plasma,) = compare([Work(motions_of(OXYFUEL_CUT), data)], LIBRARY, machine, [Alternative("plasma")])
    assert plasma.reason == "400 A oxygen on 60 mm (no pierce: every cut from an edge)"


def test_no_torch_at_all_cuts_nothing(motions_of: Reader, oxyfuel: CutData, machine: Machine) -> None:
    with pytest.raises(DataError, match="0 torches asked for"):
        shared_between(motions_of(OXYFUEL_CUT), oxyfuel, machine, 0)
