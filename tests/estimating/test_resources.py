"""Gas before, during and after the cut, electricity by phase, and how gas comes into the shop."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from cutplan.base.errors import DataError
from cutplan.base.machine import Machine
from cutplan.control import Dialect, Motions
from cutplan.estimating import EstimateOptions, acetylene_manifold, add_estimates, estimate, manifold_lines
from cutplan.process import CutData
from cutplan.stock import Plate

Reader = Callable[[str], Motions]

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
TRAVEL_S = 100 / 200 + 0.5 + 300 / 200 + 0.5
OXYFUEL_CUT = "G0 X100 Y0\nG4 P17\nM3\nG4 P3\nG1 X200 Y0 F240\nM5"


def test_gas_flows_before_the_arc_and_after_it(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    data = replace(plasma, pre_flow_s=0.4, transfer_s=0.3, post_flow_s=5.0)
    result = estimate(motions_of(TWO_CUTS), data, machine)
    # Each start waits 0.4 s of gas, 0.5 s of ignition and 0.3 s of transfer before its 0.5 s pierce.
    assert result.time_s["piercing"] == pytest.approx(2 * (0.4 + 0.5 + 0.3 + 0.5))
    seconds = 2 * 1.7 + CUT_S + 2 * 5.0
    assert result.gas_m3["oxygen"] == pytest.approx(1.8 * seconds / 3600)
    # Gas after the cut takes no time: the torch rises and travels meanwhile.
    assert result.time_s["total"] == pytest.approx(CUT_S + TRAVEL_S + 2 * 1.7 + 6.0)
    # The arc stands only while piercing and cutting.
    assert result.consumable_sets == pytest.approx(2 / 500 + (CUT_S + 1.0) / 3600 / 4)
    assert result.sets_by_starts == pytest.approx(2 / 500)
    assert not any("gas before and after" in note for note in result.notes)


def test_waits_that_stand_in_the_program_are_not_counted_twice(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    """One control makes the waits itself, for another the program dwells: the same time, gas and wear."""
    data = replace(plasma, pre_flow_s=0.4, transfer_s=0.3, post_flow_s=5.0)
    text = TWO_CUTS.replace("M3\nG4 P0.5", "G4 P0.4\nM3\nG4 P0.8")
    own = Dialect(torch_word_waits=False, flows_by_control=False)
    by_control = estimate(motions_of(TWO_CUTS), data, machine)
    by_program = estimate(motions_of(text), data, machine, dialect=own)
    assert by_program.time_s == pytest.approx(by_control.time_s)
    assert by_program.gas_m3 == pytest.approx(by_control.gas_m3)
    assert by_program.consumable_sets == pytest.approx(by_control.consumable_sets)
    # Where the program waits for the gas after the cut too, that takes the table's time.
    after = estimate(motions_of(text.replace("M5", "M5\nG4 P5")), data, machine, dialect=own)
    assert after.time_s["travel"] == pytest.approx(by_control.time_s["travel"] + 10.0)
    assert after.gas_m3 == pytest.approx(by_control.gas_m3)


def test_flames_burn_higher_while_they_preheat_and_hoses_are_bled(
    motions_of: Reader, oxyfuel: CutData, machine: Machine
) -> None:
    data = replace(oxyfuel, high_preheat=1.75, bleed_s=10.0)
    plain = estimate(motions_of(OXYFUEL_CUT), oxyfuel, machine)
    result = estimate(motions_of(OXYFUEL_CUT), data, machine)
    assert result.time_s == plain.time_s
    extra = 0.36 * (0.75 * 17.5 + 1.75 * 10.0) / 3600
    assert result.gas_m3["acetylene"] - plain.gas_m3["acetylene"] == pytest.approx(extra)
    oxygen = 0.396 * (0.75 * 17.5 + 1.75 * 10.0) / 3600 + 4.0 * 10.0 / 3600
    assert result.gas_m3["oxygen"] - plain.gas_m3["oxygen"] == pytest.approx(oxygen)
    # What is drawn at once is that of the high flame.
    assert result.peak_flow_m3_h["acetylene"] == pytest.approx(1.75 * 0.36)
    # Cutting takes 4.0 with the steady flame's 0.396: more than the high flame alone.
    assert result.peak_flow_m3_h["oxygen"] == pytest.approx(4.396)


def test_electricity_is_told_by_phase(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    options = EstimateOptions(supply_efficiency=0.75, standby_kw=2.0, source_idle_kw=0.6, extraction_kw=4.0)
    result = estimate(motions_of(TWO_CUTS), plasma, machine, options=options)
    total_s = CUT_S + TRAVEL_S + 8.0
    assert result.power_by_phase_kwh == pytest.approx(
        {
            "piercing": 20.0 * 1.0 / 3600,
            "cutting": 20.0 * CUT_S / 3600,
            "source idle": 0.6 * (total_s - CUT_S - 1.0) / 3600,
            "extraction": 4.0 * (CUT_S + 1.0) / 3600,
            "drives and control": 2.0 * total_s / 3600,
        }
    )
    assert result.power_kwh == pytest.approx(sum(result.power_by_phase_kwh.values()))
    assert not any("dust extraction" in note for note in result.notes)


def test_cold_and_part_full_acetylene_cylinders_give_less(
    motions_of: Reader, oxyfuel: CutData, machine: Machine
) -> None:
    """A fifteenth of the contents an hour (Compressed Gas Association, from memory), less when cold."""
    # 7.2 m³ give 0.48 m³/h full and warm; at 0 °C 0.625 of that, 0.3; half-full half as much.
    assert acetylene_manifold(0.48) == 1
    assert acetylene_manifold(0.49) == 2
    assert acetylene_manifold(0.48, contents_m3=3.6) == 2
    assert acetylene_manifold(0.60, temperature_c=0.0) == 2
    assert acetylene_manifold(0.61, temperature_c=0.0) == 3
    assert acetylene_manifold(0.48, temperature_c=-40.0) == 4
    (line,) = manifold_lines(0.96)
    assert "2 full at 15 °C or warmer, 4 half-full at 15 °C, 4 full at 0 °C, 7 half-full at 0 °C" in line
    assert manifold_lines(0.0) == ()
    # The estimate takes the high flame and the shop's own cylinders.
    high = replace(oxyfuel, high_preheat=1.5)
    assert estimate(motions_of(OXYFUEL_CUT), oxyfuel, machine).acetylene_manifold == 1
    assert estimate(motions_of(OXYFUEL_CUT), high, machine).acetylene_manifold == 2
    cold = EstimateOptions(acetylene_c=0.0, acetylene_full=0.5)
    assert estimate(motions_of(OXYFUEL_CUT), high, machine, options=cold).acetylene_manifold == 4


def test_gas_comes_in_cylinders_as_a_liquid_in_bulk_or_by_pipe(
    motions_of: Reader, plasma: CutData, machine: Machine
) -> None:
    def taken(**supplies: str) -> dict[str, float]:
        options = EstimateOptions(supplies=supplies, liquid_loss=0.2)  # type: ignore[arg-type]
        return dict(estimate(motions_of(TWO_CUTS), plasma, machine, options=options).supplies)

    hours = (CUT_S + 2.0) / 3600
    assert taken() == pytest.approx(
        {"air, m³ by pipe": 5.4 * hours, "oxygen, cylinders of 10.0 m³": 0.18 * hours}
    )
    # Liquid oxygen: 1.141 kg/L against 1.353 kg/m³ of gas, a fifth lost.
    litres = 1.8 * hours * (31.998 / 23.645) / 1.141 / 0.8
    assert taken(oxygen="liquid")["oxygen, L of liquid, 20% of it boiling off"] == pytest.approx(litres)
    assert taken(oxygen="bulk")["oxygen, m³ from the tank"] == pytest.approx(1.8 * hours)
    with pytest.raises(DataError, match=r"air does not come as liquid.*bulk"):
        taken(air="liquid")
    bulk = EstimateOptions(supplies={"oxygen": "bulk"})
    assert estimate(motions_of(TWO_CUTS), plasma, machine, options=bulk).cylinders == {}


def test_carbon_dioxide_is_told_by_source_and_part(
    motions_of: Reader, plasma: CutData, machine: Machine, plate: Plate
) -> None:
    options = EstimateOptions(
        co2_kg_per_kwh=0.35, co2_kg_per_kg_plate={"default": 1.9}, co2_kg_per_m3={"oxygen": 0.4}
    )
    result = estimate(
        motions_of(TWO_CUTS), plasma, machine, plate=plate, options=options, remnant_mm2=100_000.0,
        part_areas={"gusset": 100_000.0, "web": 200_000.0}, cut_parts=["gusset", "web"],
    )  # fmt: skip
    assert result.co2_kg is not None
    assert result.co2_kg["electricity"] == pytest.approx(0.35 * result.power_kwh)
    assert result.co2_kg["gas"] == pytest.approx(0.4 * result.gas_m3["oxygen"])
    # 39.25 kg of plate less the 7.85 kg that are kept.
    assert result.co2_kg["plate"] == pytest.approx(1.9 * 31.40)
    parts = [result.by_part[name].co2_kg for name in ("gusset", "web")]
    assert parts[0] is not None and parts[1] is not None
    assert parts[1]["plate"] == pytest.approx(2 * parts[0]["plate"])
    assert parts[0]["total"] + parts[1]["total"] == pytest.approx(result.co2_kg["total"])
    assert estimate(motions_of(TWO_CUTS), plasma, machine).co2_kg is None


def test_every_figure_of_a_sum_is_that_of_its_estimates(
    motions_of: Reader, plasma: CutData, oxyfuel: CutData, machine: Machine, plate: Plate
) -> None:
    one = estimate(motions_of(TWO_CUTS), plasma, machine, plate=plate, remnant_mm2=50_000.0)
    other = estimate(motions_of(OXYFUEL_CUT), oxyfuel, machine, plate=plate)
    total = add_estimates([one, other])
    assert total.remnant_kg == pytest.approx(3.925)
    assert total.sets_by_starts == pytest.approx(one.sets_by_starts + other.sets_by_starts)
    assert total.power_by_phase_kwh["cutting"] == pytest.approx(one.power_by_phase_kwh["cutting"])
    oxygen = "oxygen, cylinders of 10.0 m³"
    assert total.supplies[oxygen] == pytest.approx(one.supplies[oxygen] + other.supplies[oxygen])
    assert set(total.peak_flow_m3_h) == {"oxygen", "air", "acetylene"}
    assert total.peak_flow_m3_h["oxygen"] == max(one.peak_flow_m3_h["oxygen"], other.peak_flow_m3_h["oxygen"])
