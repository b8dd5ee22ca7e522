"""Make the plasma tables that ship: feeds from the energy balance, the rest by common practice.

    python cutplan/process/data/make_tables.py

writes every `plasma-*.toml` of this folder anew.  Arc power times efficiency melts the kerf:

    current × voltage × efficiency = feed × thickness × kerf × density × heat a kilogram

Currents are round steps, each about half as strong again as the one before, so that every
thickness has one that suits it.  Kerf, voltage, heights and pierce times between the places
given here are straight lines; feeds are rounded down to a shop's figures.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

Places = Sequence[tuple[float, float]]

DENSITY_KG_M3 = {"mild steel": 7850.0, "stainless": 7900.0, "aluminium": 2700.0}
# MJ/kg: melting from the cold with a little superheat; aluminium leaves far hotter (assumption).
HEAT_MJ_KG = {"mild steel": 1.3, "stainless": 1.3, "aluminium": 1.8}


class Gas(NamedTuple):
    """Kinds of gas, and gauge pressures in bar."""

    cut: str
    shield: str
    cut_bar: float
    shield_bar: float


@dataclass(frozen=True)
class Setting:
    """What is chosen by common practice; pairs are (thickness, value), mm."""

    current_a: int
    material: str
    gas: Gas
    thicknesses: Sequence[float]
    efficiency: Places
    kerf: Places
    voltage: Places
    cut_height: Places
    pierce_height: Places
    pierce_s: Places
    iso_range: Places
    cut_m3_h: float
    shield_m3_h: float
    recommended: tuple[float, float]
    pierce_limit: float
    starts_per_set: int
    hours_per_set: float
    moving_pierce: Places = ()

    @property
    def name(self) -> str:
        return f"{self.current_a} A {self.gas.cut}"

    @property
    def file(self) -> str:
        return f"plasma-{self.material.replace(' ', '-')}-{self.current_a:03d}a-{self.gas.cut}.toml"


AIR = Gas("air", "air", 5.0, 5.0)
OXYGEN = Gas("oxygen", "air", 5.5, 3.0)
NITROGEN = Gas("nitrogen", "nitrogen", 5.5, 4.0)
STEEL, STAINLESS, ALUMINIUM = "mild steel", "stainless", "aluminium"

SETTINGS = (
    Setting(
        40, STEEL, AIR, thicknesses=(1, 1.5, 2, 3, 4, 5, 6, 8),
        efficiency=((1, 0.36), (3, 0.42), (8, 0.35)), kerf=((1, 1.05), (3, 1.3), (8, 1.65)),
        voltage=((1, 108), (8, 128)), cut_height=((1, 1.5), (8, 1.9)), pierce_height=((1, 3), (8, 4)),
        pierce_s=((1, 0.1), (3, 0.2), (6, 0.5)), iso_range=((1, 3), (6, 4)), cut_m3_h=0.9, shield_m3_h=4.2,
        recommended=(1, 3), pierce_limit=6, starts_per_set=500, hours_per_set=3,
    ),
    Setting(
        60, STEEL, AIR, thicknesses=(2, 3, 4, 5, 6, 8, 10, 12),
        efficiency=((2, 0.36), (6, 0.47), (12, 0.40)), kerf=((2, 1.37), (6, 1.67), (12, 1.96)),
        voltage=((2, 115), (12, 136)), cut_height=((2, 1.5), (12, 2.2)), pierce_height=((2, 3), (12, 4.8)),
        pierce_s=((2, 0.1), (6, 0.32), (10, 0.75)), iso_range=((2, 3), (8, 4), (12, 5)),
        cut_m3_h=1.2, shield_m3_h=4.8,
        recommended=(3, 6), pierce_limit=10, starts_per_set=500, hours_per_set=3,
    ),
    Setting(
        80, STEEL, AIR, thicknesses=(3, 4, 5, 6, 8, 10, 12, 15, 20),
        efficiency=((3, 0.38), (8, 0.52), (20, 0.40)), kerf=((3, 1.57), (6, 1.77), (10, 1.97), (20, 2.37)),
        voltage=((3, 118), (20, 150)), cut_height=((3, 1.5), (20, 3.0)), pierce_height=((3, 3), (20, 7)),
        pierce_s=((3, 0.1), (10, 0.55), (15, 1.1)), iso_range=((3, 3), (8, 4), (20, 5)),
        cut_m3_h=1.45, shield_m3_h=5.4,
        recommended=(5, 10), pierce_limit=15, starts_per_set=500, hours_per_set=3,
    ),
    Setting(
        120, STEEL, OXYGEN, thicknesses=(3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30),
        efficiency=((3, 0.38), (10, 0.62), (30, 0.43)),
        kerf=((3, 1.68), (6, 1.88), (12, 2.27), (20, 2.57), (30, 3.05)),
        voltage=((3, 120), (30, 155)), cut_height=((3, 2), (30, 3.8)), pierce_height=((3, 4), (20, 8), (30, 9)),
        pierce_s=((3, 0.1), (12, 0.45), (20, 1.0)), iso_range=((3, 3), (20, 4)), cut_m3_h=1.9, shield_m3_h=5.8,
        recommended=(8, 16), pierce_limit=20, starts_per_set=700, hours_per_set=4,
    ),
    Setting(
        200, STEEL, OXYGEN, thicknesses=(6, 8, 10, 12, 15, 20, 25, 30, 40),
        efficiency=((6, 0.45), (12, 0.63), (40, 0.42)), kerf=((6, 2.1), (12, 2.6), (20, 3.0), (40, 3.9)),
        voltage=((6, 124), (40, 170)), cut_height=((6, 2.5), (40, 5)),
        pierce_height=((6, 5), (25, 9.5), (40, 12)),
        pierce_s=((6, 0.3), (12, 0.45), (20, 0.85), (25, 1.4)), iso_range=((6, 3), (25, 4)),
        cut_m3_h=2.8, shield_m3_h=7,
        recommended=(12, 25), pierce_limit=25, starts_per_set=600, hours_per_set=4,
    ),
    Setting(
        300, STEEL, OXYGEN._replace(cut_bar=6.0), thicknesses=(8, 10, 12, 15, 20, 25, 30, 38, 50),
        efficiency=((8, 0.45), (20, 0.63), (50, 0.42)), kerf=((8, 2.75), (12, 3.05), (20, 3.45), (50, 4.75)),
        voltage=((8, 133), (50, 180)), cut_height=((8, 3), (50, 6)),
        pierce_height=((8, 6), (20, 9), (38, 14), (50, 16)),
        pierce_s=((8, 0.3), (20, 0.7), (30, 1.5), (38, 2.8)), iso_range=((8, 3), (38, 4)),
        cut_m3_h=3.9, shield_m3_h=8.5,
        recommended=(20, 38), pierce_limit=38, starts_per_set=480, hours_per_set=4,
    ),
    Setting(
        400, STEEL, OXYGEN._replace(cut_bar=6.0), thicknesses=(12, 15, 20, 25, 30, 40, 50, 60, 80),
        efficiency=((12, 0.45), (25, 0.62), (80, 0.38)), kerf=((12, 3.4), (20, 3.9), (80, 6.2)),
        voltage=((12, 138), (80, 200)), cut_height=((12, 3.5), (80, 8)),
        pierce_height=((12, 7), (25, 11), (40, 16), (50, 18), (80, 24)),
        pierce_s=((12, 0.4), (25, 1.1), (30, 1.8), (40, 3.4), (50, 4.4)), iso_range=((12, 3), (50, 4)),
        cut_m3_h=5, shield_m3_h=9, moving_pierce=((40, 0), (50, 16), (80, 30)),
        recommended=(30, 50), pierce_limit=50, starts_per_set=400, hours_per_set=3,
    ),
    Setting(
        60, STAINLESS, NITROGEN, thicknesses=(2, 3, 4, 5, 6, 8, 10, 12),
        efficiency=((2, 0.34), (5, 0.40), (12, 0.33)), kerf=((2, 1.47), (6, 1.77), (12, 2.06)),
        voltage=((2, 125), (12, 155)), cut_height=((2, 2), (12, 3)), pierce_height=((2, 4), (12, 6)),
        pierce_s=((2, 0.1), (6, 0.35), (8, 0.6)), iso_range=((2, 3), (8, 4), (12, 5)),
        cut_m3_h=1.4, shield_m3_h=4.8,
        recommended=(2, 6), pierce_limit=8, starts_per_set=500, hours_per_set=3,
    ),
    Setting(
        120, STAINLESS, NITROGEN, thicknesses=(5, 6, 8, 10, 12, 15, 20, 25),
        efficiency=((5, 0.38), (10, 0.45), (25, 0.35)), kerf=((5, 2.07), (12, 2.56), (25, 3.25)),
        voltage=((5, 135), (25, 165)), cut_height=((5, 2.5), (25, 4.5)), pierce_height=((5, 5), (25, 10)),
        pierce_s=((5, 0.3), (12, 0.55), (20, 1.1)), iso_range=((5, 3), (20, 4), (25, 5)),
        cut_m3_h=2.1, shield_m3_h=5.8,
        recommended=(6, 15), pierce_limit=20, starts_per_set=600, hours_per_set=4,
    ),
    Setting(
        300, STAINLESS, NITROGEN._replace(cut_bar=6.0), thicknesses=(10, 12, 15, 20, 25, 30, 40, 50),
        efficiency=((10, 0.40), (20, 0.48), (50, 0.35)), kerf=((10, 3.2), (20, 3.75), (30, 4.25), (50, 5.35)),
        voltage=((10, 146), (50, 195)), cut_height=((10, 3.5), (50, 7)),
        pierce_height=((10, 7), (30, 12), (50, 16)),
        pierce_s=((10, 0.4), (20, 0.9), (30, 1.7)), iso_range=((10, 3), (30, 4), (50, 5)),
        cut_m3_h=4.4, shield_m3_h=8.5,
        recommended=(15, 32), pierce_limit=32, starts_per_set=430, hours_per_set=3.5,
    ),
    Setting(
        60, ALUMINIUM, AIR, thicknesses=(3, 4, 5, 6, 8, 10, 12),
        efficiency=((3, 0.31), (6, 0.34), (12, 0.31)), kerf=((3, 1.65), (6, 1.87), (12, 2.26)),
        voltage=((3, 124), (12, 155)), cut_height=((3, 2.1), (12, 3)), pierce_height=((3, 4.2), (12, 6)),
        pierce_s=((3, 0.15), (6, 0.3), (8, 0.5)), iso_range=((3, 4), (12, 5)), cut_m3_h=1.2, shield_m3_h=4.8,
        recommended=(3, 6), pierce_limit=8, starts_per_set=400, hours_per_set=2.5,
    ),
    Setting(
        120, ALUMINIUM, NITROGEN, thicknesses=(5, 6, 8, 10, 12, 15, 20, 25),
        efficiency=((5, 0.31), (10, 0.34), (25, 0.31)), kerf=((5, 2.27), (12, 2.76), (25, 3.55)),
        voltage=((5, 138), (25, 170)), cut_height=((5, 2.5), (25, 5)), pierce_height=((5, 5), (25, 10.5)),
        pierce_s=((5, 0.2), (12, 0.45), (20, 1.0)), iso_range=((5, 4), (25, 5)), cut_m3_h=2.1, shield_m3_h=5.8,
        recommended=(6, 15), pierce_limit=20, starts_per_set=600, hours_per_set=4,
    ),
    Setting(
        300, ALUMINIUM, NITROGEN._replace(cut_bar=6.0), thicknesses=(10, 12, 15, 20, 25, 30, 40, 50),
        efficiency=((10, 0.31), (20, 0.35), (50, 0.31)), kerf=((10, 3.4), (20, 4.05), (50, 5.8)),
        voltage=((10, 151), (50, 200)), cut_height=((10, 4), (50, 8)),
        pierce_height=((10, 8), (30, 12.5), (50, 17)),
        pierce_s=((10, 0.3), (20, 0.8), (30, 1.6)), iso_range=((10, 4), (50, 5)), cut_m3_h=4.4, shield_m3_h=8.5,
        recommended=(15, 32), pierce_limit=32, starts_per_set=430, hours_per_set=3.5,
    ),
)  # fmt: skip


def at(places: Places, thickness: float) -> float:
    """Return a quantity at a thickness: straight lines between the places, level beyond them."""
    (before, value), *rest = places
    if thickness <= before:
        return value
    for place, following in rest:
        if thickness <= place:
            return value + (following - value) * (thickness - before) / (place - before)
        before, value = place, following
    return value


def step_at(places: Places, thickness: float) -> float:
    """Return the value of the last place at or before a thickness."""
    return [value for place, value in places if place <= thickness][-1]


def feed_mm_min(setting: Setting, thickness: float) -> float:
    """Return the feed that the energy balance gives, rounded down to a shop's figure."""
    volts, kerf = round(at(setting.voltage, thickness)), round(at(setting.kerf, thickness), 2)
    power_w = setting.current_a * volts * at(setting.efficiency, thickness)
    heat_j_mm3 = HEAT_MJ_KG[setting.material] * 1e6 * DENSITY_KG_M3[setting.material] * 1e-9
    feed = 60.0 * power_w / (thickness * kerf * heat_j_mm3)
    step = 50.0 if feed >= 2000.0 else 10.0
    return math.floor(feed / step) * step


COLUMNS = (
    "thickness", "feed_mm_min", "kerf", "voltage_v", "pierce_height", "cut_height", "pierce_s",
    "cut_m3_h", "shield_m3_h", "iso9013_range",
)  # fmt: skip


def rows(setting: Setting) -> list[list[float]]:
    """Return the rows of a table."""
    result = []
    for t in setting.thicknesses:
        row = [
            t, feed_mm_min(setting, t), round(at(setting.kerf, t), 2), round(at(setting.voltage, t)),
            round(at(setting.pierce_height, t), 1), round(at(setting.cut_height, t), 1),
            round(at(setting.pierce_s, t), 2), setting.cut_m3_h, setting.shield_m3_h,
            step_at(setting.iso_range, t),
        ]  # fmt: skip
        result.append([*row, round(at(setting.moving_pierce, t), 1)] if setting.moving_pierce else row)
    return result


TEMPLATE = """\
# Plasma {s.current_a} A, {s.gas.cut}, {s.material}
#
# Starting values, not measurements and not any maker's chart.  The current is a round step;
# kerf, voltage, heights and pierce times follow common practice; the feed follows from the
# energy balance
#   current x voltage x efficiency = feed x thickness x kerf x density x heat a kilogram
# ({density:g} kg/m3, {heat:g} MJ/kg) with an efficiency of {first:g} at {thin:g} mm,
# {best:g} at {mid:g} mm and {last:g} at {thick:g} mm, rounded down to a shop's figures.  make_tables.py,
# beside this file, made it.  Pierce limit, pierce times and heights on thick plate, and the
# range of ISO 9013 lie inside the bands that `cutplan data check` holds (common practice).
# Replace the rows with the data of your own machine.
# Units: mm, mm/min, V, s, m3/h at 15 C and 1.013 bar, bar gauge.

schema = "cutplan.cutting-data/1"
process = "plasma"
material = "{s.material}"
setting = "{s.name}"
origin = "starting values by common practice and the energy balance; replace with your own"
current_a = {s.current_a}
recommended = [{s.recommended[0]:g}, {s.recommended[1]:g}]
pierce_limit = {s.pierce_limit:g}
square_side = "right"
water_feed = 0.9
pre_flow_s = 0.3
post_flow_s = 3.0
transfer_s = 0.2
{creep}starts_per_set = {s.starts_per_set}
hours_per_set = {s.hours_per_set:g}
iso9013_tolerance_class = 2

[gases]
cut = "{s.gas.cut}"
shield = "{s.gas.shield}"

[pressures_bar]
cut = {cut_bar}
shield = {shield_bar}

[table]
columns = [
    {columns},
]
rows = [
{table}
]
"""


def text_of(setting: Setting) -> str:
    """Return a cutting-data file."""
    (thin, first), (mid, best), (thick, last) = setting.efficiency
    names = [*COLUMNS, *(["moving_pierce_mm"] if setting.moving_pierce else [])]
    cells = [[f"{value:g}" for value in row] for row in rows(setting)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(names))]
    table = "\n".join(
        "    [" + ", ".join(cell.rjust(w) for cell, w in zip(row, widths, strict=True)) + "],"
        for row in cells
    )
    columns = (
        ", ".join(f'"{name}"' for name in names[:7]) + ",\n    " + ", ".join(f'"{n}"' for n in names[7:])
    )
    return TEMPLATE.format(
        s=setting, density=DENSITY_KG_M3[setting.material], heat=HEAT_MJ_KG[setting.material],
        thin=thin, first=first, mid=mid, best=best, thick=thick, last=last,
        columns=columns, table=table, cut_bar=setting.gas.cut_bar, shield_bar=setting.gas.shield_bar,
        creep="moving_pierce_feed = 0.3\n" if setting.moving_pierce else "",
    )  # fmt: skip


def main() -> None:
    """Write every plasma table into the folder of this script."""
    folder = Path(__file__).parent
    for setting in SETTINGS:
        (folder / setting.file).write_text(text_of(setting), encoding="utf-8")


if __name__ == "__main__":
    main()
