"""A quote worked by hand, and the prices that it needs."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from cutplan.base.errors import DataError
from cutplan.base.machine import Machine
from cutplan.control import Motions
from cutplan.estimating import EstimateOptions, Prices, add_estimates, estimate, load_prices
from cutplan.process import CutData
from cutplan.stock import Plate

Reader = Callable[[str], Motions]

PRICES = """
currency = "EUR"
machine_per_hour = 72
labour_per_hour = "36 EUR"
power_per_kwh = 0.30
scrap_credit_per_kg = 0.20

[plate_per_kg]
default = 1.00
S355 = "1.20 EUR"

[gas_per_m3]
oxygen = 2.0
air = 0.05

[consumable_set]
plasma = 50
"""
# 40 cuts of 400 mm, 10 mm apart.
PROGRAM = "\n".join(f"G0 X0 Y{10 * i}\nM3\nG4 P0.5\nG1 X400 F2400\nM5" for i in range(40))
OPTIONS = EstimateOptions(supply_efficiency=0.75, standby_kw=2.0, handling_s_per_plate=300)
AREAS = {"gusset": 100_000.0, "web": 200_000.0}


@pytest.fixture
def prices(tmp_path: Path) -> Prices:
    file = tmp_path / "prices.toml"
    file.write_text(PRICES)
    return load_prices(file)


def test_a_quote_worked_by_hand(
    motions_of: Reader, plasma: CutData, machine: Machine, plate: Plate, prices: Prices
) -> None:
    result = estimate(
        motions_of(PROGRAM), plasma, machine, plate=plate, prices=prices, part_areas=AREAS, options=OPTIONS
    )
    assert result.cost is not None
    # The sheet of paper.  Cutting: 40 · (400/40 + 40/400) = 404 s; pierces 40 · 1.0 = 40 s (half of
    # it ignition); raising 40 · 3 = 120 s; handling 300 s.  Travel: 39 times back and up, √(400² + 10²)
    # = 400.125 mm at 200 mm/s: 400.125/200 + 0.5 = 2.500625 s, 97.524 s in all.
    seconds = 404.0 + 40.0 + 120.0 + 300.0 + 39 * 2.500625
    assert result.time_s["total"] == pytest.approx(seconds, rel=1e-6)
    # Gas for 444 s: oxygen 1.8 · 444/3600 = 0.222 m³, air 0.666 m³.
    assert result.cost["gas"] == pytest.approx(0.222 * 2.0 + 0.666 * 0.05)
    # Power: 20 kW for 424 s, 2 kW for all but the handling.
    kwh = 20 * 424 / 3600 + 2 * (seconds - 300) / 3600
    assert result.cost["power"] == pytest.approx(0.30 * kwh)
    # Wear: 40 of 500 starts and 424 s of 4 hours.
    assert result.cost["consumables"] == pytest.approx(50 * (0.08 + 424 / 14400))
    assert result.cost["machine"] == pytest.approx(72 * seconds / 3600)
    assert result.cost["labour"] == pytest.approx(36 * seconds / 3600)
    # Plate: 1 · 0.5 m² · 10 mm · 7.85 = 39.25 kg at 1.20; parts 0.3 m² · 78.5 = 23.55 kg, so 15.70 kg
    # of scrap at 0.20.
    assert result.plate_kg == pytest.approx(39.25) and result.parts_kg == pytest.approx(23.55)
    assert result.cost["plate"] == pytest.approx(47.10)
    assert result.cost["scrap credit"] == pytest.approx(-3.14)
    assert result.cost["total"] == pytest.approx(
        0.4773 + 0.30 * kwh + 50 * (0.08 + 424 / 14400) + 108 * seconds / 3600 + 47.10 - 3.14
    )
    assert result.currency == "EUR"


def test_a_plates_waste_is_shared_by_area(
    motions_of: Reader, plasma: CutData, machine: Machine, plate: Plate, prices: Prices
) -> None:
    result = estimate(
        motions_of(PROGRAM), plasma, machine, plate=plate, prices=prices, part_areas=AREAS,
        cut_parts=["gusset"] * 20 + ["web"] * 20, options=OPTIONS,
    )  # fmt: skip
    gusset, web = result.by_part["gusset"].cost, result.by_part["web"].cost
    assert gusset is not None and web is not None and result.cost is not None
    assert (gusset["plate"], web["plate"]) == (pytest.approx(15.70), pytest.approx(31.40))
    for item, amount in result.cost.items():
        assert gusset[item] + web[item] == pytest.approx(amount)


def test_the_plates_own_price_comes_before_the_price_file(
    motions_of: Reader, plasma: CutData, machine: Machine, plate: Plate, prices: Prices
) -> None:
    def plate_cost(plate: Plate) -> float:
        cost = estimate(motions_of(PROGRAM), plasma, machine, plate=plate, prices=prices).cost
        assert cost is not None
        return cost["plate"]

    assert plate_cost(replace(plate, price_per_kg=2.0)) == pytest.approx(78.50)
    assert plate_cost(replace(plate, grade="S235")) == pytest.approx(39.25)


def test_the_sensitivity_line_names_what_moves_the_cost_most(
    motions_of: Reader, plasma: CutData, machine: Machine, plate: Plate, prices: Prices
) -> None:
    with_plate = estimate(motions_of(PROGRAM), plasma, machine, plate=plate, prices=prices)
    assert with_plate.sensitivity.startswith("10 % on the plate price moves the cost by 4.71 EUR")
    without = estimate(motions_of(PROGRAM), plasma, machine, prices=prices)
    # 72 an hour over 661.5 s is 13.23; a tenth more feed saves 36.7 s of nearly everything.
    assert without.sensitivity.startswith("10 % on the feed moves the cost by 1.33 EUR")
    assert "on the machine hour by 5.0%" in without.sensitivity
    total = add_estimates([with_plate, with_plate])
    assert total.sensitivity.startswith("10 % on the plate price moves the cost by 9.42 EUR")


def test_a_faster_feed_saves_what_its_time_costs(
    motions_of: Reader, plasma: CutData, machine: Machine, prices: Prices
) -> None:
    result = estimate(motions_of(PROGRAM), plasma, machine, prices=prices, options=OPTIONS)
    assert result.cost is not None and result.cost_with_faster_feed is not None
    # A tenth more feed: 404 s become 404/1.1, 36.727 s less of machine, labour, gas, arc and wear.
    saved_s = 404 - 404 / 1.1
    by_hour = 72 + 36 + 1.8 * 2.0 + 5.4 * 0.05 + 0.30 * (20 + 2) + 50 / 4
    saved = result.cost["total"] - result.cost_with_faster_feed
    assert saved == pytest.approx(saved_s / 3600 * by_hour)


def test_without_prices_there_is_no_cost(motions_of: Reader, plasma: CutData, machine: Machine) -> None:
    result = estimate(motions_of(PROGRAM), plasma, machine)
    assert result.cost is None and result.currency is None and result.sensitivity == ""


def test_scrap_credit_needs_the_area_of_the_parts(
    motions_of: Reader, plasma: CutData, machine: Machine, plate: Plate, prices: Prices
) -> None:
    result = estimate(motions_of(PROGRAM), plasma, machine, plate=plate, prices=prices)
    assert result.cost is not None and result.cost["scrap credit"] == 0.0
    assert any("no scrap credit" in note for note in result.notes)


def test_a_part_that_is_cut_needs_an_area_too(
    motions_of: Reader, plasma: CutData, machine: Machine, plate: Plate, prices: Prices
) -> None:
    with pytest.raises(DataError, match="part 'flange' has no area"):
        estimate(
            motions_of(PROGRAM), plasma, machine, plate=plate, prices=prices, part_areas=AREAS,
            cut_parts=["flange"] * 40,
        )  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("oxygen = 2.0", "", r"prices.toml, \[gas_per_m3\]: no price for oxygen; add \"oxygen\" = … under"),
        ("plasma = 50", "", r"\[consumable_set\]: no price for plasma"),
        ("default = 1.00\nS355", "S235", r"\[plate_per_kg\]: no price for S355"),
        ("machine_per_hour = 72", "", "machine_per_hour: missing"),
        ("power_per_kwh = 0.30", "power_per_kwh = -0.30", "power_per_kwh: a price must not be negative"),
        ("oxygen = 2.0", 'oxygen = "2.0 USD"', r"\[gas_per_m3\] oxygen: a price in USD in a file .* EUR"),
        ("oxygen = 2.0", 'oxygen = "cheap"', r"\[gas_per_m3\] oxygen: 'cheap' is no price"),
        ("oxygen = 2.0", "helium = 2.0", "gas_per_m3"),
        ("currency =", "curency =", "curency: unknown key|currency: missing"),
        ("air = 0.05", "air = nan", "gas_per_m3"),
    ],
)
def test_a_wrong_or_missing_price_is_one_clear_error(
    motions_of: Reader,
    plasma: CutData,
    machine: Machine,
    plate: Plate,
    tmp_path: Path,
    old: str,
    new: str,
    message: str,
) -> None:
    file = tmp_path / "prices.toml"
    assert old in PRICES
    file.write_text(PRICES.replace(old, new, 1))
    with pytest.raises(DataError, match=message):
        estimate(motions_of(PROGRAM), plasma, machine, plate=plate, prices=load_prices(file))


def test_all_that_is_wrong_with_prices_is_told_at_once(tmp_path: Path) -> None:
    file = tmp_path / "prices.toml"
    file.write_text(
        "extra = 1\n" + PRICES.replace("oxygen = 2.0", 'oxygen = "2.0 USD"').replace("air = 0.05", "air = -1")
    )
    with pytest.raises(DataError, match="3 things are wrong") as told:
        load_prices(file)
    assert all(words in str(told.value) for words in ("extra", "in USD", "must not be negative"))


def test_two_currencies_cannot_be_added(
    motions_of: Reader, plasma: CutData, machine: Machine, prices: Prices
) -> None:
    euro = estimate(motions_of(PROGRAM), plasma, machine, prices=prices)
    pound = estimate(motions_of(PROGRAM), plasma, machine, prices=replace(prices, currency="GBP"))
    with pytest.raises(DataError, match="estimates in EUR and GBP cannot be added"):
        add_estimates([euro, pound])
    with pytest.raises(DataError, match="some estimates have a cost and others none"):
        add_estimates([euro, estimate(motions_of(PROGRAM), plasma, machine)])
