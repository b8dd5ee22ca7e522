"""What a program takes, held against sums a foreman can do by hand."""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest
from pydantic import ValidationError

from cutplan.base.errors import DataError, ProgramError
from cutplan.base.machine import Machine
from cutplan.control import Dialect, Motions, joined, read_program
from cutplan.estimating import (
    ACTIVITIES,
    Calibration,
    EstimateOptions,
    acetylene_manifold,
    add_estimates,
    estimate,
    shared_between,
)
from cutplan.geometry import polygon
from cutplan.process import CutData
from cutplan.stock import Plate

Reader = Callable[[str], Motions]

# Two straight cuts of 100 and 200 mm at 40 mm/s, 400 mm/s²: each takes L/40 + 0.1 s.
TWO_CUTS = """
G0 X100 Y0
M3
G4 P0.5
G1 X200 Y0 F2400
M5
G0 X200 Y300
M3
G4 P0.5
G1 X400 Y300
M5
"""
CUT_S = 100 / 40 + 0.1 + 200 / 40 + 0.1
# Rapids at 200 mm/s: 100 mm and 300 mm, both long enough (v²/a = 100 mm).
TRAVEL_S = 100 / 200 + 0.5 + 300 / 200 + 0.5

OXYFUEL_CUT = """
G0 X100 Y0
G4 P17
M3
G4 P3
G1 X200 Y0 F240
M5
"""


def test_every_second_has_its_activity(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    time_s = estimate(motions_of(TWO_CUTS), plasma, machine).time_s
    assert time_s["cutting"] == pytest.approx(CUT_S)
    assert time_s["travel"] == pytest.approx(TRAVEL_S)
    # Two pierces of 0.5 s, each after 0.5 s of ignition; raise 1 s and lower 2 s a cut.
    assert time_s["piercing"] == pytest.approx(2.0)
    assert time_s["raising"] == pytest.approx(6.0)
    assert time_s["preheating"] == time_s["marking"] == time_s["handling"] == 0.0
    assert time_s["total"] == pytest.approx(CUT_S + TRAVEL_S + 8.0)
    assert set(time_s) == {"total", *ACTIVITIES}


def test_starts_and_length_are_counted(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    result = estimate(motions_of(TWO_CUTS), plasma, machine)
    assert (result.pierces, result.cut_length_mm) == (2, pytest.approx(300.0))


def test_gas_flows_while_piercing_and_cutting(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    result = estimate(motions_of(TWO_CUTS), plasma, machine)
    hours = (CUT_S + 2.0) / 3600
    assert result.gas_m3 == pytest.approx({"oxygen": 1.8 * hours, "air": 5.4 * hours})
    # 32.0 and 28.97 g/mol over 23.645 L/mol at 15 °C and 1.013 bar.
    assert result.gas_kg["oxygen"] == pytest.approx(1.8 * hours * 31.998 / 23.645)
    assert result.gas_kg["air"] == pytest.approx(5.4 * hours * 28.965 / 23.645)
    # 50 L at 200 bar hold about 10 m³ of oxygen; compressed air comes by pipe.
    assert result.cylinders == pytest.approx({"oxygen": 0.18 * hours})


def test_power_is_the_arc_over_the_supplys_efficiency_and_the_standby(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    options = EstimateOptions(supply_efficiency=0.75, standby_kw=2.0)
    result = estimate(motions_of(TWO_CUTS), plasma, machine, options=options)
    arc_h, total_h = (CUT_S + 1.0) / 3600, (CUT_S + TRAVEL_S + 8.0) / 3600
    assert result.power_kwh == pytest.approx(15.0 / 0.75 * arc_h + 2.0 * total_h)


def test_starts_and_arc_hours_wear_the_same_set(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    result = estimate(motions_of(TWO_CUTS), plasma, machine)
    assert result.consumable_sets == pytest.approx(2 / 500 + (CUT_S + 1.0) / 3600 / 4)


def test_an_oxyfuel_cut_preheats_and_its_flames_burn_throughout(
    motions_of: Reader, oxyfuel: CutData, machine: Machine
) -> None:
    result = estimate(motions_of(OXYFUEL_CUT), oxyfuel, machine)
    cut_s = 100 / 4 + 4 / 400
    assert result.time_s["cutting"] == pytest.approx(cut_s)
    assert result.time_s["piercing"] == pytest.approx(3.0)
    # The torch is lit once, 0.5 s, and preheats for 17 s.
    assert result.time_s["preheating"] == pytest.approx(17.5)
    # Flames: preheat, lowering, pierce, cut, raising.
    flame_h = (17.5 + 2 + 3 + cut_s + 1) / 3600
    assert result.gas_m3["acetylene"] == pytest.approx(0.36 * flame_h)
    oxygen = 0.396 * flame_h + 2.4 * 3 / 3600 + 4.0 * cut_s / 3600
    assert result.gas_m3["oxygen"] == pytest.approx(oxygen)
    assert result.peak_flow_m3_h == pytest.approx({"acetylene": 0.36, "oxygen": 0.396 + 4.0})
    assert any("burn on between the cuts" in note for note in result.notes)


def test_flames_that_the_program_switches_burn_as_it_says(oxyfuel: CutData, machine: Machine) -> None:
    dialect = Dialect(flame_on=("M20",), flame_off=("M21",))
    text = "G21 G90 G17 G40 G80 G94\nG0 X100\nM20\nG4 P17\nM3\nG4 P3\nG1 X200 F240\nM5\nM21\nG0 X0\nM30\n"
    result = estimate(read_program(text, dialect), oxyfuel, machine)
    flame_h = (17 + 2 + 0.5 + 3 + 100 / 4 + 4 / 400 + 1) / 3600
    assert result.gas_m3["acetylene"] == pytest.approx(0.36 * flame_h)
    assert result.notes == estimate(read_program(text, dialect), oxyfuel, machine).notes
    assert not any("between the cuts" in note for note in result.notes)


def test_marking_takes_its_own_time(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    result = estimate(motions_of("G0 X100\nM7\nG1 X300 F6000\nM9"), plasma, machine)
    assert result.time_s["marking"] == pytest.approx(200 / 100 + 100 / 400 + 2 * 0.5)
    assert (result.pierces, result.time_s["cutting"], result.time_s["raising"]) == (0, 0.0, 0.0)


def test_heights_in_the_program_replace_the_machines_times(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    text = "G0 Z30\nG0 X100 Y0\nG0 Z5\nM3\nG4 P0.5\nG1 X200 F2400\nM5\nG0 Z30"
    # With no deviation allowed the control stops between upright and level moves.
    result = estimate(motions_of(text), plasma, replace(machine, corner_deviation_mm=1e-12))
    # 30, 25 and 25 mm at 400 mm/s², too short to reach the rapid: 2·√(L/a).
    expected = 2 * (math.sqrt(30 / 400) + 2 * math.sqrt(25 / 400))
    assert result.time_s["raising"] == pytest.approx(expected)
    assert any("the plate taken as flat" in note for note in result.notes)


def test_what_the_program_leaves_to_the_control_comes_from_the_data(
    motions_of: Reader, plasma: CutData, oxyfuel: CutData, machine: Machine
) -> None:
    bare = "G0 X100\nM3\nG1 X200 F2400\nM5"
    result = estimate(motions_of(bare), plasma, machine)
    assert result.time_s["piercing"] == pytest.approx(0.5 + plasma.pierce_s)
    assert any("leaves piercing to the control" in note for note in result.notes)
    flame = estimate(motions_of(bare), oxyfuel, machine)
    assert flame.time_s["preheating"] == pytest.approx(0.5 + oxyfuel.preheat_s)
    assert any("leaves preheating to the control" in note for note in flame.notes)


def test_plate_too_thick_to_pierce_starts_at_the_edge_without_a_pierce(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    thick = replace(plasma, rules=replace(plasma.rules, edge_start_above=8.0))
    result = estimate(motions_of("G0 X-5\nM3\nG1 X200 F2400\nM5"), thick, machine)
    assert result.time_s["piercing"] == pytest.approx(machine.ignition_s)


@pytest.mark.parametrize(
    "wrong", [{"supply_efficiency": 0.0}, {"supply_efficiency": 1.2}, {"standby_kw": -1.0},
              {"handling_s_per_plate": math.nan}, {"marker_feed_mm_min": 0.0}],
)  # fmt: skip
def test_options_that_cannot_be_are_refused(
    motions_of: Reader, plasma: CutData, machine: Machine, wrong: dict[str, float]
) -> None:
    with pytest.raises((DataError, ValidationError), match=next(iter(wrong))):
        estimate(motions_of(TWO_CUTS), plasma, machine, options=EstimateOptions(**wrong))


def test_a_feed_left_to_the_control_is_that_of_the_data(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    motions = motions_of(TWO_CUTS)
    bare = replace(motions, feed_mm_min=motions.feed_mm_min * math.nan)
    assert estimate(bare, plasma, machine).time_s["cutting"] == pytest.approx(CUT_S)


def test_several_torches_take_the_time_of_one_and_the_gas_of_all(
    motions_of: Reader, oxyfuel: CutData, machine: Machine
) -> None:
    one = estimate(motions_of(OXYFUEL_CUT), oxyfuel, machine)
    three = estimate(motions_of(OXYFUEL_CUT), oxyfuel, replace(machine, torches=4), torches=3)
    assert three.time_s == one.time_s
    assert three.gas_m3 == pytest.approx({gas: 3 * volume for gas, volume in one.gas_m3.items()})
    assert (three.pierces, three.cut_length_mm) == (3, pytest.approx(300.0))
    assert three.consumable_sets == pytest.approx(3 * one.consumable_sets)
    # 3 · 0.36 m³/h against 1/15 of 7.2 m³ an hour: 2.25 cylinders, so 3 on the manifold.
    assert (one.acetylene_manifold, three.acetylene_manifold) == (1, 3)


def test_more_torches_than_the_machine_has_are_refused(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    with pytest.raises(DataError, match="2 torches asked for, the machine has 1"):
        estimate(motions_of(TWO_CUTS), plasma, machine, torches=2)


@pytest.mark.parametrize(
    ("flow", "continuous", "cylinders"),
    # Compressed Gas Association practice (from memory): 1/15 of the contents an hour, or 1/10.
    [(0.0, True, 0), (0.4, True, 1), (0.48, True, 1), (0.49, True, 2), (0.72, False, 1), (0.73, False, 2)],
)
def test_acetylene_is_drawn_no_faster_than_its_cylinders_allow(
    flow: float, continuous: bool, cylinders: int
) -> None:
    assert acetylene_manifold(flow, continuous=continuous, contents_m3=7.2) == cylinders


def test_a_negative_acetylene_flow_is_refused() -> None:
    with pytest.raises(DataError, match="must not be negative"):
        acetylene_manifold(-1.0)
    with pytest.raises(DataError, match="contents above 0"):
        acetylene_manifold(1.0, contents_m3=0.0)


@pytest.mark.parametrize("field", ["rapid_mm_min", "acceleration_mm_s2"])
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan])
def test_a_machine_that_cannot_move_is_refused(
    motions_of: Reader, plasma: CutData, machine: Machine, field: str, value: float
) -> None:
    with pytest.raises(ValidationError, match=field):
        estimate(motions_of(TWO_CUTS), plasma, replace(machine, **{field: value}))


def test_the_parts_shares_add_up_to_the_whole(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    result = estimate(
        motions_of(TWO_CUTS + "G0 X0 Y0"),
        plasma,
        machine,
        cut_parts=["gusset", "web"],
        part_copies={"gusset": 1, "web": 1},
    )
    gusset, web = result.by_part["gusset"], result.by_part["web"]
    for activity in ("total", *ACTIVITIES):
        both = gusset.time_s[activity] + web.time_s[activity]
        assert both == pytest.approx(result.time_s[activity])
    assert gusset.gas_m3["oxygen"] + web.gas_m3["oxygen"] == pytest.approx(result.gas_m3["oxygen"])
    assert gusset.power_kwh + web.power_kwh == pytest.approx(result.power_kwh)
    assert gusset.time_s["cutting"] == pytest.approx(100 / 40 + 0.1)
    # A cut owns the way to it, its pierce, its lowering and its raising.
    assert gusset.time_s["raising"] == pytest.approx(3.0)
    assert gusset.time_s["piercing"] == pytest.approx(1.0)
    assert gusset.copies == 1 and gusset.cost is None


def test_parts_by_program_line_give_the_same_as_parts_by_cut(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    motions = motions_of(TWO_CUTS)
    starts = {3 + 1: "gusset", 8 + 1: "web"}  # the usual first line, a blank one, then the blocks
    by_line = estimate(motions, plasma, machine, line_parts=starts).by_part
    by_cut = estimate(motions, plasma, machine, cut_parts=["gusset", "web"]).by_part
    assert by_line == by_cut


def test_cuts_that_a_subprogram_repeats_belong_to_the_part_of_each_call(
    plasma: CutData, machine: Machine
) -> None:
    text = """G21 G90 G17 G40 G80 G94
G0 X100 Y0
M98 P1
G0 X500 Y0
M98 P1
M30
O1
M3
G4 P0.5
G91 G1 X100 F2400
M5
G90
M99
"""
    motions = read_program(text, Dialect(subprograms=True))
    shares = estimate(motions, plasma, machine, cut_parts=["gusset", "web"]).by_part
    assert shares["gusset"].time_s["cutting"] == pytest.approx(100 / 40 + 0.1)
    assert shares["web"].time_s["cutting"] == pytest.approx(100 / 40 + 0.1)


def test_a_plate_whose_program_was_split_is_estimated_as_one(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    first, second = TWO_CUTS.split("G0 X200 Y300")
    files = joined([motions_of(first), motions_of("F2400\nG0 X200 Y300" + second)])
    result = estimate(files, plasma, machine, cut_parts=["gusset", "web"])
    assert result.time_s["cutting"] == pytest.approx(CUT_S)
    assert result.by_part["web"].time_s["cutting"] == pytest.approx(200 / 40 + 0.1)
    with pytest.raises(ProgramError, match="no programs"):
        joined([])


def test_one_height_at_the_start_leaves_the_rest_to_the_control(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    result = estimate(motions_of("G0 Z40" + TWO_CUTS), plasma, machine)
    assert result.time_s["raising"] == pytest.approx(6.0 + 2 * math.sqrt(40 / 400), abs=0.05)


def test_as_many_parts_must_be_named_as_cuts(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    with pytest.raises(DataError, match="starts 2 times, but 1 parts are named"):
        estimate(motions_of(TWO_CUTS), plasma, machine, cut_parts=["gusset"])


def test_each_figure_lies_within_its_range_and_the_inputs_are_said(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    result = estimate(motions_of(TWO_CUTS), plasma, machine)
    figures = {f"time_s.{name}": value for name, value in result.time_s.items()}
    figures |= {f"gas_m3.{gas}": volume for gas, volume in result.gas_m3.items()}
    figures |= {"power_kwh": result.power_kwh, "consumable_sets": result.consumable_sets}
    assert set(result.ranges) == set(figures)
    for name, figure in figures.items():
        low, high = result.ranges[name]
        assert low <= figure <= high and (low < high or figure == 0.0)
    assert any("100 A oxygen" in line and "2400 mm/min" in line for line in result.inputs)
    assert any("acceleration 400" in line for line in result.inputs)
    assert any("dust" in note and "water" in note for note in result.notes)


def test_handling_counts_once_a_plate(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    options = EstimateOptions(handling_s_per_plate=600)
    result = estimate(motions_of(TWO_CUTS), plasma, machine, options=options)
    without = estimate(motions_of(TWO_CUTS), plasma, machine)
    assert result.time_s["handling"] == 600
    assert result.time_s["total"] == pytest.approx(without.time_s["total"] + 600)
    assert any("loading" in note for note in without.notes)
    assert not any("loading" in note for note in result.notes)


def test_a_batch_is_the_sum_of_its_plates(
    motions_of: Reader, plasma: CutData, oxyfuel: CutData, machine: Machine
) -> None:
    thin = estimate(motions_of(TWO_CUTS), plasma, machine, cut_parts=["gusset", "web"])
    thick = estimate(motions_of(OXYFUEL_CUT), oxyfuel, machine, cut_parts=["web"])
    total = add_estimates([thin, thick, thick])
    assert total.time_s["total"] == pytest.approx(thin.time_s["total"] + 2 * thick.time_s["total"])
    assert total.gas_m3["oxygen"] == pytest.approx(thin.gas_m3["oxygen"] + 2 * thick.gas_m3["oxygen"])
    assert total.pierces == 4
    assert total.peak_flow_m3_h["oxygen"] == pytest.approx(4.396)
    low, high = total.ranges["time_s.total"]
    assert low < total.time_s["total"] < high
    assert total.by_part["web"].time_s["cutting"] == pytest.approx(
        thin.by_part["web"].time_s["cutting"] + 2 * thick.by_part["web"].time_s["cutting"]
    )
    # What holds for every plate is said once.
    assert len(total.notes) == len(set(total.notes)) and len(total.inputs) == 3


def test_no_plates_sum_to_nothing() -> None:
    nothing = add_estimates([])
    assert nothing.time_s["total"] == 0.0 and nothing.gas_m3 == {} and nothing.cost is None


def test_an_empty_program_takes_no_time(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    result = estimate(motions_of(""), plasma, machine)
    assert result.time_s["total"] == 0.0 and result.pierces == 0


def test_calibration_stretches_the_activities_it_was_fitted_to(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    fitted = Calibration(
        {"cutting": 1.1, "moving": 1.5}, {"cutting": 0.01, "moving": 0.05}, 9, 0.02, 0.2, 0.99
    )
    result = estimate(motions_of(TWO_CUTS), plasma, machine, calibration=fitted)
    assert result.time_s["cutting"] == pytest.approx(1.1 * CUT_S)
    assert result.time_s["travel"] == pytest.approx(1.5 * TRAVEL_S)
    assert result.time_s["piercing"] == pytest.approx(2.0)
    for activity, share in (("cutting", (0.96, 1.04)), ("travel", (0.96, 1.04)), ("piercing", (0.85, 1.25))):
        ends = result.ranges[f"time_s.{activity}"]
        assert ends == pytest.approx(tuple(end * result.time_s[activity] for end in share)), activity
    assert any("calibrated" in line and "2.0%" in line for line in result.inputs)


STATED = {"cutting": (1.1, 1.04, 1.16), "moving": (1.5, 1.2, 1.8)}


def test_the_range_of_a_time_holds_the_factors_interval_and_the_scatter(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    """By hand: √((2 · 0.02)² + (0.06/1.1)²) = 0.0676; √(0.04² + 0.2²) = 0.2040; handling keeps its share."""
    options = EstimateOptions(time_factors=STATED, time_scatter=0.02, handling_s_per_plate=100.0)
    plate = Plate("A", polygon([(0, 0), (100, 0), (100, 100), (0, 100)]), 10, "S355", "mild steel")
    result = estimate(motions_of(TWO_CUTS), plasma, machine, plate=plate, options=options)
    assert result.time_s["cutting"] == pytest.approx(1.1 * CUT_S)
    for activity, below, above in (
        ("cutting", 0.0676, 0.0676), ("travel", 0.2040, 0.2040), ("handling", 0.30, 0.50),
    ):  # fmt: skip
        low, high = result.ranges[f"time_s.{activity}"]
        stated = result.time_s[activity]
        assert (1.0 - low / stated, high / stated - 1.0) == pytest.approx((below, above), abs=5e-4), activity
    assert any("calibrated: cutting × 1.100 (1.040 to 1.160)" in line for line in result.inputs)
    several = shared_between(motions_of(TWO_CUTS), plasma, machine, 1, plate=plate, options=options)
    assert several.time_s == pytest.approx(result.time_s)
    assert several.ranges["time_s.total"] == pytest.approx(result.ranges["time_s.total"])


@pytest.mark.parametrize(
    ("factors", "message"),
    [
        ({"luck": (1.0, 0.9, 1.1)}, "no such group of activities"),
        ({"cutting": (1.2, 0.9, 1.1)}, "1.2 is no factor between 0.9 and 1.1"),
        ({"cutting": (0.0, 0.0, 1.1)}, "0 is no factor between"),
        ({"cutting": (-1.0, -2.0, 1.1)}, "time_factors, cutting must be 0 or more"),
        ({"cutting": (1.0, 0.9, 1.1), "all": (1.0, 0.9, 1.1)}, "each activity must stand under one"),
    ],
)
def test_factors_that_cannot_be_are_refused_by_their_name(
    motions_of: Reader, plasma: CutData, machine: Machine, factors: dict[str, tuple[float, float, float]],
    message: str,
) -> None:  # fmt: skip
    with pytest.raises(DataError, match=message):
        estimate(motions_of(TWO_CUTS), plasma, machine, options=EstimateOptions(time_factors=factors))
