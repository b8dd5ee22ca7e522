"""A batch quoted line by line, held against the same quote worked on paper."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from cutplan.base.errors import DataError
from cutplan.base.machine import Machine
from cutplan.control import Motions
from cutplan.estimating import (
    EstimateOptions,
    Prices,
    Quote,
    QuotedSheet,
    cents,
    estimate,
    load_prices,
    make_quote,
)
from cutplan.geometry import polygon
from cutplan.process import CutData
from cutplan.stock import Plate

Reader = Callable[[str], Motions]

PRICES = """
currency = "EUR"
machine_per_hour = 72
labour_per_hour = 36
programming_per_hour = 54
power_per_kwh = 0.30
scrap_credit_per_kg = 0.20

[plate_per_kg]
S355 = 1.20

[gas_per_m3]
oxygen = 2.0
air = 0.05
acetylene = 12.0

[consumable_set]
plasma = 50
oxyfuel = 20
"""
OPTIONS = EstimateOptions(
    supply_efficiency=0.75,
    standby_kw=2.0,
    source_idle_kw=0.5,
    extraction_kw=3.0,
    handling_s_per_plate=240,
    handling_s_per_tonne=600,
    set_up_s_per_plate=120,
    set_up_s_per_thickness=300,
    sorting_s_per_piece=15,
    sorting_s_per_kg=0.5,
    programming_s_per_drawing=300,
    programming_s_per_plate=120,
    overhead=0.10,
    margin=0.15,
    batches=(1, 10),
    remnant_value=0.9,
)
# Ten cuts of 400 mm by plasma, 10 mm apart, and four of 300 mm by oxy-fuel.
PLASMA = "\n".join(f"G0 X0 Y{10 * i}\nM3\nG4 P0.5\nG1 X400 F2400\nM5" for i in range(10))
OXYFUEL = "\n".join(f"G0 X0 Y{50 * i}\nG4 P17\nM3\nG4 P3\nG1 X300 F240\nM5" for i in range(4))


@pytest.fixture
def prices(tmp_path: Path) -> Prices:
    file = tmp_path / "prices.toml"
    file.write_text(PRICES)
    return replace(load_prices(file), source="prices.toml")


@pytest.fixture
def quoted(
    motions_of: Reader, plasma: CutData, oxyfuel: CutData, machine: Machine, plate: Plate, prices: Prices
) -> Quote:
    thin = estimate(
        motions_of(PLASMA), replace(plasma, pre_flow_s=0.3, transfer_s=0.2, post_flow_s=4.0), machine,
        plate=plate, prices=prices, options=OPTIONS, cut_parts=["gusset"] * 6 + ["web"] * 4,
        part_areas={"gusset": 60_000.0, "web": 120_000.0}, part_copies={"gusset": 6, "web": 4},
        remnant_mm2=200_000.0,
    )  # fmt: skip
    thick_plate = Plate("PL40", polygon([(0, 0), (500, 0), (500, 400), (0, 400)]), 40, "S355", "mild steel")
    thick = estimate(
        motions_of(OXYFUEL), replace(oxyfuel, high_preheat=1.5, bleed_s=10.0), machine,
        plate=thick_plate, prices=prices, options=OPTIONS, cut_parts=["eye"] * 4,
        part_areas={"eye": 100_000.0}, part_copies={"eye": 4},
    )  # fmt: skip
    sheets = [
        QuotedSheet("PL10-1", thin, "plasma 100 A oxygen, 10 mm"),
        QuotedSheet("PL40-1", thick, "oxy-fuel acetylene, 40 mm"),
    ]
    return make_quote("trailer batch", sheets, prices, OPTIONS)


# The sheet of paper.
#
# PL10-1, plasma.  Cutting: 10 · (400/40 + 40/400) = 101 s.  Each start: 0.3 s of gas, 0.5 s of
# ignition, 0.2 s of transfer, 0.5 s of pierce, 1.5 s; 15 s in all, the arc standing for 5 of them.
# Raising and lowering 10 · 3 = 30 s.  Travel 9 · (√(400² + 10²)/200 + 0.5) = 22.506 s.  The table's
# time is 168.506 s.  Plate 1 · 0.5 m² · 78.5 = 39.25 kg; handling 240 + 600 · 0.03925 = 263.55 s and
# set-up 120 s: 383.55 s.  Parts 0.18 m², 14.13 kg; kept 0.2 m², 15.70 kg; scrap 39.25 − 29.83 = 9.42 kg.
# Sorting 10 · 15 + 14.13 · 0.5 = 157.065 s.  Gas for 116 s and 10 · 4 s after: 156 s.
#
# PL40-1, oxy-fuel.  Cutting: 4 · (300/4 + 4/400) = 300.04 s.  Preheating 4 · 17 and 0.5 s to light:
# 68.5 s; pierces 12 s; raising 12 s; travel 3 · (√(300² + 50²)/200 + 0.5) = 6.062 s (304.138 mm).
# In use 398.602 s.  Flames from the first preheat to the last raise: all of it, 398.602 s, of
# which 68.5 s at one and a half times, and 10 s of bleeding at that too.  Plate 0.2 m² · 314 = 62.80 kg; handling
# 240 + 37.68 s and set-up 120 s: 397.68 s.  Parts 31.40 kg, scrap 31.40 kg.
# Sorting 4 · 15 + 31.4 · 0.5 = 75.7 s.
#
# Quantity, rate, amount:
WORKED = {
    ("PL10-1", "gas", "oxygen"): (1.8 * 156 / 3600, 2.0, "0.16"),  # 0.078 m³
    ("PL10-1", "gas", "air"): (5.4 * 156 / 3600, 0.05, "0.01"),  # 0.234 m³
    ("PL10-1", "power", "piercing"): (20 * 5 / 3600, 0.30, "0.01"),  # 0.0278 kWh
    ("PL10-1", "power", "cutting"): (20 * 101 / 3600, 0.30, "0.17"),  # 0.5611 kWh
    ("PL10-1", "power", "source idle"): (0.5 * 62.505625 / 3600, 0.30, "0.00"),
    ("PL10-1", "power", "extraction"): (3 * 106 / 3600, 0.30, "0.03"),  # 0.0883 kWh
    ("PL10-1", "power", "drives and control"): (2 * 168.505625 / 3600, 0.30, "0.03"),  # 0.0936 kWh
    ("PL10-1", "consumables", "worn by starts"): (10 / 500, 50, "1.00"),
    ("PL10-1", "consumables", "worn by arc hours"): (106 / 14400, 50, "0.37"),  # 0.00736 sets
    ("PL10-1", "machine", "cutting"): (168.505625 / 3600, 72, "3.37"),  # 0.04681 h
    ("PL10-1", "machine", "loading, set-up and taking off"): (383.55 / 3600, 72, "7.67"),
    ("PL10-1", "labour", "cutting"): (168.505625 / 3600, 36, "1.69"),
    ("PL10-1", "labour", "loading, set-up and taking off"): (383.55 / 3600, 36, "3.84"),  # 3.8355
    ("PL10-1", "labour", "sorting"): (157.065 / 3600, 36, "1.57"),
    ("PL10-1", "plate", "PL10, 10 mm S355"): (39.25, 1.20, "47.10"),
    ("PL10-1", "remnant credit", "kept of PL10"): (-15.70, 1.08, "-16.96"),  # -16.956
    ("PL10-1", "scrap credit", "skeleton and kerf of PL10"): (-9.42, 0.20, "-1.88"),
    # Acetylene 0.36 · (398.602 − 68.5 + 1.5 · 78.5)/3600; its oxygen 0.396 as long, 2.4 for the pierces
    # and 4.0 for 310.04 s of cutting and bleeding.
    ("PL40-1", "gas", "acetylene"): (0.36 * 447.85207 / 3600, 12.0, "0.54"),  # 0.0448 m³
    ("PL40-1", "gas", "oxygen"): (
        (0.396 * 447.85207 + 2.4 * 12 + 4.0 * 310.04) / 3600,
        2.0,
        "0.80",
    ),  # 0.4018
    ("PL40-1", "power", "extraction"): (3 * 312.04 / 3600, 0.30, "0.08"),
    ("PL40-1", "power", "drives and control"): (2 * 398.60207 / 3600, 0.30, "0.07"),
    ("PL40-1", "consumables", "worn by starts"): (4 / 1000, 20, "0.08"),
    ("PL40-1", "consumables", "worn by arc hours"): (312.04 / 144000, 20, "0.04"),
    ("PL40-1", "machine", "cutting"): (398.60207 / 3600, 72, "7.97"),
    ("PL40-1", "machine", "loading, set-up and taking off"): (397.68 / 3600, 72, "7.95"),
    ("PL40-1", "labour", "cutting"): (398.60207 / 3600, 36, "3.99"),
    ("PL40-1", "labour", "loading, set-up and taking off"): (397.68 / 3600, 36, "3.98"),
    ("PL40-1", "labour", "sorting"): (75.7 / 3600, 36, "0.76"),
    ("PL40-1", "plate", "PL40, 40 mm S355"): (62.80, 1.20, "75.36"),
    ("PL40-1", "scrap credit", "skeleton and kerf of PL40"): (-31.40, 0.20, "-6.28"),
    ("batch", "programming", "3 drawings"): (900 / 3600, 54, "13.50"),
    ("batch", "programming", "2 plates"): (240 / 3600, 54, "3.60"),
    ("batch", "set-up", "2 thicknesses and processes, machine"): (600 / 3600, 72, "12.00"),
    ("batch", "set-up", "2 thicknesses and processes, labour"): (600 / 3600, 36, "6.00"),
}


def test_a_quote_worked_by_hand_line_by_line(quoted: Quote) -> None:
    """Two thicknesses, two processes, a kept remnant: every line, and the sums to the cent."""
    lines = {(line.about, line.item, line.detail): line for line in quoted.lines}
    added = [line for line in quoted.lines if line.item in ("overhead", "margin", "rounding")]
    assert set(lines) - {(line.about, line.item, line.detail) for line in added} == set(WORKED)
    for key, (quantity, rate, amount) in WORKED.items():
        assert lines[key].quantity == pytest.approx(quantity, rel=1e-6), key
        assert lines[key].rate == pytest.approx(rate), key
        assert lines[key].amount == Decimal(amount), key
    # 178.62 of cost: a tenth of it is 17.86; fifteen hundredths of 196.48 are 29.47.
    cost = sum((Decimal(amount) for _, _, amount in WORKED.values()), Decimal(0))
    assert (quoted.cost, cost) == (Decimal("178.62"), Decimal("178.62"))
    assert [(line.item, line.amount) for line in added[:2]] == [
        ("overhead", Decimal("17.86")),
        ("margin", Decimal("29.47")),
    ]
    assert quoted.price == sum((line.amount for line in quoted.lines), Decimal(0))
    # The customer pays whole cents a piece: what that adds is a line of its own.
    assert quoted.price == sum((p.price_each[1] * p.copies for p in quoted.parts), Decimal(0))
    assert abs(quoted.price - Decimal("225.95")) <= Decimal("0.10")
    assert sum(quoted.by_item.values()) == quoted.price
    assert quoted.low < quoted.price < quoted.high


def test_every_line_names_its_source(quoted: Quote) -> None:
    for line in quoted.lines:
        assert line.source
        if line.item in ("gas", "power", "machine", "labour", "programming", "consumables"):
            assert "prices.toml, " in line.source


def test_the_remnant_makes_the_quote_cheaper_by_its_plate_price(quoted: Quote) -> None:
    """Without it 15.70 kg would fall to the scrap price: 16.96 less 3.14."""
    credit = next(line for line in quoted.lines if line.item == "remnant credit")
    assert credit.amount == cents(-15.70 * 1.20 * 0.9)


def test_more_batches_share_programming_and_set_up(quoted: Quote) -> None:
    # 35.10 are spent once: at ten batches 3.51 fall on each, so 31.59 less before overhead and margin.
    saved = 31.59 * 1.10 * 1.15
    assert float(quoted.batch_prices[1] - quoted.batch_prices[10]) == pytest.approx(saved, abs=0.011)
    assert quoted.batch_prices[1] == cents(178.62 * 1.10 * 1.15)
    for part in quoted.parts:
        assert part.price_each[10] < part.price_each[1]


def test_a_part_bears_its_own_metal_and_its_share_of_the_rest(quoted: Quote) -> None:
    each = {part.name: part for part in quoted.parts}
    assert {name: part.copies for name, part in each.items()} == {"gusset": 6, "web": 4, "eye": 4}
    assert each["eye"].price_each[1] > each["web"].price_each[1] > each["gusset"].price_each[1]


def test_a_quote_without_prices_is_refused(
    motions_of: Reader, plasma: CutData, machine: Machine, prices: Prices
) -> None:
    sheet = QuotedSheet("A", estimate(motions_of(PLASMA), plasma, machine), "plasma, 10 mm")
    with pytest.raises(DataError, match="a quote needs the cost of every plate"):
        make_quote("job", [sheet], prices, OPTIONS)
    with pytest.raises(DataError, match="a quote needs the cost"):
        make_quote("job", [], prices, OPTIONS)


def test_cents_round_halves_away_from_zero() -> None:
    assert (cents(0.125), cents(-0.125), cents(2.675)) == (Decimal("0.13"), Decimal("-0.13"), Decimal("2.68"))
