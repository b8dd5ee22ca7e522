"""The heat model against closed solutions, and orders that keep the plate cool."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from disc_sheets import disc_cut, plasma_data, sheet_of_discs, steel_plate

from cutplan.base.machine import Machine
from cutplan.base.stopping import MaxIterations
from cutplan.cutting import cut_time
from cutplan.sequencing import SequenceOptions, sequence
from cutplan.sequencing.heat import PlateHeat, Sources, heat_per_mm, pieces_of, plate_heat, temperature_rise

STEEL = PlateHeat(thickness=10.0, conductivity=0.045, diffusivity=12.0, loss_time_s=math.inf)


def bessel_k0(x: float) -> float:
    """Modified Bessel function K0(x) = ∫ exp(−x·cosh u) du from 0 to ∞ (trapezium rule)."""
    u = np.linspace(0.0, 12.0, 24_001)
    return float(np.trapezoid(np.exp(-x * np.cosh(u)), u))


def long_cut(speed: float, per_mm: float, length: float, piece: float) -> Sources:
    """Return a straight cut along x that ends at the origin at time 0."""
    x = -np.arange(piece / 2.0, length, piece)[::-1]
    return Sources(np.column_stack([x, 0 * x]), x / speed, np.full(len(x), per_mm * piece))


def test_the_integral_for_k0_gives_tabulated_values() -> None:
    """Abramowitz and Stegun, table 9.8: K0(0.1), K0(1), K0(5)."""
    assert bessel_k0(0.1) == pytest.approx(2.4270690, rel=1e-6)
    assert bessel_k0(1.0) == pytest.approx(0.4210244, rel=1e-6)
    assert bessel_k0(5.0) == pytest.approx(0.0036911, rel=1e-4)


@pytest.mark.parametrize("place", [(-20.0, 15.0), (-60.0, 0.0), (-5.0, 6.0), (4.0, 5.0), (-100.0, 40.0)])
@pytest.mark.parametrize("loss_time_s", [math.inf, 120.0])
def test_a_long_cut_gives_rosenthals_moving_source(place: tuple[float, float], loss_time_s: float) -> None:
    """Rosenthal 1941, thin plate: q/(2πkt)·exp(−vξ/2α)·K0(√((v/2α)² + 1/(ατc))·R)."""
    speed, per_mm = 5.0, 100.0
    heat = replace(STEEL, loss_time_s=loss_time_s)
    rise = temperature_rise(heat, long_cut(speed, per_mm, 6000.0, 0.25), np.array([place]), np.array([0.0]))[
        0
    ]
    reach = math.sqrt((speed / 24.0) ** 2 + 1.0 / (12.0 * loss_time_s))
    power = per_mm * speed
    expected = power / (2.0 * math.pi * 0.045 * 10.0) * math.exp(-speed * place[0] / 24.0)
    expected *= bessel_k0(reach * math.hypot(*place))
    assert rise == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(("loss_time_s", "left"), [(math.inf, 1.0), (100.0, math.exp(-0.5))])
def test_the_heat_laid_down_stays_in_the_plate_but_for_the_loss(loss_time_s: float, left: float) -> None:
    """Conservation of energy: ∫ ρ·c·t·ΔT dA = Q·exp(−τ/τc), with ρ·c = k/α."""
    heat = replace(STEEL, loss_time_s=loss_time_s)
    sources = Sources(np.array([[0.0, 0.0], [10.0, 5.0]]), np.zeros(2), np.array([50_000.0, 20_000.0]))
    grid = np.arange(-250.0, 251.0, 5.0)
    places = np.array([(x, y) for x in grid for y in grid])
    rises = temperature_rise(heat, sources, places, np.full(len(places), 50.0))
    energy = rises.sum() * 25.0 * 10.0 * 0.045 / 12.0
    assert energy == pytest.approx(70_000.0 * left, rel=1e-3)


def test_what_is_not_cut_yet_warms_nothing() -> None:
    sources = Sources(np.zeros((1, 2)), np.array([10.0]), np.array([1e5]))
    assert temperature_rise(STEEL, sources, np.array([[5.0, 0.0]]), np.array([9.0]))[0] == 0.0


def test_a_cut_leaves_its_heat_along_its_path_and_a_mark_none() -> None:
    data, cut = plasma_data(), disc_cut((0, 0), 100)
    lead, time = cut.choices[0], cut_time(cut.choices[0], data, Machine(acceleration_mm_s2=1e6))
    _, times, energy = pieces_of(cut, lead, time, data)
    length = 6.0 + 101.0 * 2.0 * math.pi + 2.0
    assert energy.sum() == pytest.approx(heat_per_mm(data) * length)
    # Where speeding up takes next to no time: the ignition, the pierce and the length at the feed.
    starting = Machine.ignition_s + data.pre_flow_s + data.transfer_s + 0.5
    assert time.seconds == pytest.approx(starting + length / 2500.0 * 60.0, rel=1e-3)
    assert (np.diff(times) > 0).all()
    assert times[-1] < time.seconds
    assert pieces_of(replace(cut, kind="mark"), lead, time, data)[2].sum() == 0.0


def test_water_takes_the_heat_away_many_times_faster_than_air() -> None:
    air, water = (plate_heat(steel_plate(), plasma_data(), water_table=wet) for wet in (False, True))
    assert air.loss_time_s > 10.0 * water.loss_time_s


def test_a_plate_for_oxyfuel_lies_above_the_water() -> None:
    data = replace(plasma_data(20.0), process="oxyfuel")
    air, water = (plate_heat(steel_plate(), data, water_table=wet) for wet in (False, True))
    assert air == water


def test_oxyfuel_leaves_the_heat_of_the_burnt_kerf() -> None:
    """One mm of a kerf of 2 × 20 mm weighs 0.314 g; 65 % burns at 6.7 MJ/kg, a quarter stays."""
    data = replace(plasma_data(20.0), process="oxyfuel", kerf=2.0)
    assert heat_per_mm(data) == pytest.approx(0.314e-3 * 0.65 * 6.7e6 * 0.25, rel=0.01)


def hot_sheet() -> list:
    return [disc_cut((40 + 78 * i, 40 + 78 * j), 28, placement=4 * i + j) for i in range(4) for j in range(4)]


def run(**options) -> object:
    return sequence(
        hot_sheet(), Machine(), plasma_data(), steel_plate(320, 320),
        options=SequenceOptions(**options), stop=MaxIterations(2000),
    )  # fmt: skip


def test_a_limit_on_the_hottest_start_is_met_at_the_price_of_travel() -> None:
    free = run()
    limit = free.hottest_start_c - 10.0
    cool = run(hottest_start_c=limit)
    assert cool.hottest_start_c <= limit
    assert cool.statistics["starts_over_limit"] == 0.0
    assert cool.travel_s > free.travel_s


def test_weight_on_heat_spreads_the_cuts_about() -> None:
    assert run(heat_weight_s=500.0).hottest_start_c < run().hottest_start_c


def test_on_water_the_same_order_starts_cooler() -> None:
    cuts = hot_sheet()
    air, water = (
        sequence(cuts, Machine(water_table=wet), plasma_data(), steel_plate(), stop=MaxIterations(500))
        for wet in (False, True)
    )
    assert [id(step.cut) for step in air.steps] == [id(step.cut) for step in water.steps]
    assert water.hottest_start_c < air.hottest_start_c
    assert water.greatest_difference_c > 0.0


def test_without_the_heat_model_no_temperature_is_claimed() -> None:
    order = sequence(
        sheet_of_discs(2), Machine(), plasma_data(), steel_plate(),
        options=SequenceOptions(heat=False), stop=MaxIterations(500),
    )  # fmt: skip
    assert order.hottest_start_c is None
    assert order.greatest_difference_c is None
