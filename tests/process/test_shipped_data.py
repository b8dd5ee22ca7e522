"""Every row that ships is held against handbook ranges, chemistry and the energy balance."""

from itertools import pairwise

import numpy as np
import pytest

from cutplan.process import (
    CuttingTable,
    Library,
    check_cutting_data,
    implied_efficiency,
    kerf_metal_kg_h,
)

TABLES = Library.load().tables
PLASMA = [table for table in TABLES if table.process == "plasma"]
OXYFUEL = [table for table in TABLES if table.process == "oxyfuel"]

INCH = 25.4
FT3 = 0.02832  # m³
# Machine cutting of clean mild steel after the American Welding Society's Welding Handbook
# (from memory).  Thickness in: speed in/min; cutting oxygen, acetylene, natural gas, propane ft³/h.
HANDBOOK = {
    1 / 4: ((16, 26), (30, 55), (3, 9), (9, 25), (5, 12)),
    3 / 8: ((15, 24), (40, 70), (6, 12), (10, 25), (5, 15)),
    1 / 2: ((12, 23), (55, 85), (6, 12), (15, 30), (5, 15)),
    3 / 4: ((12, 21), (100, 150), (7, 14), (15, 30), (6, 18)),
    1.0: ((9, 18), (110, 160), (7, 14), (18, 35), (6, 18)),
    1.5: ((6, 14), (110, 175), (8, 16), (18, 35), (8, 20)),
    2.0: ((6, 13), (130, 190), (8, 16), (20, 40), (8, 20)),
    3.0: ((4, 11), (190, 300), (9, 20), (20, 40), (9, 22)),
    4.0: ((4, 10), (240, 360), (9, 20), (20, 40), (9, 24)),
    5.0: ((4, 8), (270, 360), (10, 25), (25, 50), (10, 25)),
    6.0: ((3, 7), (260, 500), (10, 25), (25, 50), (10, 30)),
}
SPEED, OXYGEN = 0, 1
FUEL = {"acetylene": 2, "natural gas": 3, "propane": 4}


def handbook_range(quantity: int, thickness: float) -> tuple[float, float]:
    inches = np.array(sorted(HANDBOOK))
    low, high = np.array([HANDBOOK[size][quantity] for size in inches]).T
    at = thickness / INCH
    return float(np.interp(at, inches, low)), float(np.interp(at, inches, high))


def rows(table: CuttingTable) -> list[float]:
    return [float(value) for value in table.columns["thickness"]]


@pytest.mark.parametrize("table", TABLES, ids=lambda t: f"{t.setting}, {t.material}")
def test_every_shipped_table_passes_its_own_check(table: CuttingTable) -> None:
    assert check_cutting_data(table) == ()
    assert "starting values" in table.origin


@pytest.mark.parametrize("table", OXYFUEL, ids=lambda t: t.setting)
def test_every_oxyfuel_row_lies_inside_the_handbook_ranges(table: CuttingTable) -> None:
    for thickness in rows(table):
        data = table.at(thickness)
        low, high = handbook_range(SPEED, thickness)
        assert low * INCH <= data.feed_mm_min <= high * INCH
        low, high = handbook_range(OXYGEN, thickness)
        (cut,) = [gas.flow_m3_h for gas in data.gases if gas.phase == "cut"]
        assert low * FT3 <= cut <= high * FT3
        low, high = handbook_range(FUEL[table.setting], thickness)
        (fuel,) = [gas.flow_m3_h for gas in data.gases if gas.gas == table.setting]
        assert low * FT3 <= fuel <= high * FT3


@pytest.mark.parametrize("table", OXYFUEL, ids=lambda t: t.setting)
def test_cutting_oxygen_lies_within_the_bounds_of_chemistry(table: CuttingTable) -> None:
    """3 Fe + 2 O2 → Fe3O4 takes 0.287 m³ a kilogram at 20 °C (24.06 L/mol).  With 30 to 40
    percent of the kerf unburnt, no cut can do with less than 0.6 of that."""
    stoichiometric = (2 / 3) / 55.845e-3 * 24.06e-3 * (288.15 / 293.15)
    assert stoichiometric == pytest.approx(0.287 * 288.15 / 293.15, rel=2e-3)
    per_kg = []
    for thickness in rows(table):
        data = table.at(thickness)
        metal_kg_h = data.feed_mm_min * 60 * thickness * data.kerf * 7850e-9
        (cut,) = [gas.flow_m3_h for gas in data.gases if gas.phase == "cut"]
        per_kg.append(cut / metal_kg_h / stoichiometric)
    assert min(per_kg) > 0.6 and max(per_kg) < 3.0
    # Practice: more than the stoichiometric oxygen on thin plate, less on thick.
    assert per_kg[0] > 1.0 > per_kg[-1]


@pytest.mark.parametrize("table", OXYFUEL, ids=lambda t: t.setting)
def test_oxyfuel_covers_3_to_150_mm_with_a_neutral_flame_and_a_known_kerf(table: CuttingTable) -> None:
    assert (table.thinnest, table.thickest) == (3.0, 150.0)
    ratios = {"acetylene": (1.05, 1.15), "propane": (3.75, 4.5), "natural gas": (1.7, 2.0)}  # from memory
    low, high = ratios[table.setting]
    for thickness in rows(table):
        flame = {g.gas: g.flow_m3_h for g in table.at(thickness).gases if g.phase == "preheat"}
        assert low - 0.05 <= flame["oxygen"] / flame[table.setting] <= high + 0.05
    for thickness, kerf in ((10, 1.5), (25, 2.0), (50, 2.75), (100, 4.0)):  # common practice
        assert table.at(thickness).kerf == pytest.approx(kerf, abs=0.26)


@pytest.mark.parametrize("table", PLASMA, ids=lambda t: f"{t.setting}, {t.material}")
def test_every_plasma_row_balances_its_energy(table: CuttingTable) -> None:
    """Arc power × efficiency melts the kerf, efficiency between 0.3 and 0.9: steel 7850 kg/m³
    and about 1.3 MJ/kg; aluminium 2700 and 1.8, of which 0.7 is superheat assumed."""
    density, heat = {
        "mild steel": (7850, 1.3e6),
        "stainless": (7900, 1.3e6),
        "aluminium": (2700, 1.8e6),
    }[table.material]
    for thickness in [*rows(table), *(np.convolve(rows(table), [0.5, 0.5], "valid"))]:
        data = table.at(float(thickness))
        melt_w = data.feed_mm_min / 60e3 * thickness * 1e-3 * data.kerf * 1e-3 * density * heat
        efficiency = melt_w / (data.current_a * data.voltage_v)
        assert 0.3 <= efficiency <= 0.9
        assert implied_efficiency(data) == pytest.approx(efficiency)


def test_mild_steel_plasma_kerfs_are_those_of_common_practice() -> None:
    library = Library.load()
    for thickness, low, high in ((6, 1.5, 2.0), (12, 2.0, 3.0), (30, 3.0, 4.5)):
        assert low <= library.choose("plasma", "mild steel", thickness).kerf <= high


@pytest.mark.parametrize("table", TABLES, ids=lambda t: f"{t.setting}, {t.material}")
def test_feeds_fall_and_heights_and_leads_agree_at_every_thickness(table: CuttingTable) -> None:
    feeds = []
    for thickness in np.linspace(table.thinnest, table.thickest, 40):
        data = table.at(float(thickness))
        feeds.append(data.feed_mm_min)
        assert data.pierce_height > data.cut_height > 0
        rules = data.rules
        # The pierce at the end of the lead-in keeps clear of the edge it leads to.
        assert rules.lead_in - data.kerf / 2 >= rules.pierce_clearance - 1e-9
        assert rules.small_hole >= rules.smallest_hole >= 1.5 * data.kerf - 1e-3
        assert 0 < rules.small_hole_feed <= 1 and 0 < rules.corner_feed <= 1
    assert all(a > b for a, b in pairwise(feeds))


def test_the_metal_out_of_a_kerf_by_hand() -> None:
    """600 mm/min through 25 mm with a kerf of 2 mm: 0.6·60 m/h × 25e-3 × 2e-3 × 7850 = 14.13 kg/h."""
    data = OXYFUEL[0].at(25.0)
    scale = 600.0 / data.feed_mm_min
    assert kerf_metal_kg_h(data) * scale == pytest.approx(14.13, rel=1e-3)
