"""Physics of a cutting-data table: is the heat there, and does the oxygen suffice?

Reading already refuses rows that contradict each other; what is checked here is whether
they agree with the energy balance of the arc and the chemistry of burning iron.  Formulas
are those of any textbook; the bounds are stated beside them.  What only practice would not
expect is left to `practice`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cutplan.process.gases import IRON_OXYGEN_M3_KG
from cutplan.process.model import CutData
from cutplan.process.practice import practice_remarks
from cutplan.process.table import CuttingTable
from cutplan.stock import DENSITY_KG_M3

__all__ = [
    "RowFinding",
    "check_cutting_data",
    "implied_efficiency",
    "kerf_metal_kg_h",
    "oxygen_per_kg",
]

# Specific heat × (melting − ambient) + latent heat + superheat, MJ/kg.  Steel: 1.05 + 0.25, the
# melt hardly superheated (common practice).  Aluminium: 0.69 + 0.40, and 0.7 of superheat, an
# assumption: its melt leaves near 1250 °C.
MELTING_HEAT_MJ_KG = {"mild steel": 1.3, "stainless": 1.3, "aluminium": 1.8}

LEAST_EFFICIENCY, MOST_EFFICIENCY = 0.3, 0.9
"""Share of the arc's power that may be found in the molten kerf (common practice)."""
# Burning a tenth of the kerf's iron to FeO (4.87 MJ/kg) adds 0.49 MJ/kg to the 1.3 it takes.
OXIDATION_GAIN = 0.1 * 4.87 / 1.3

LEAST_OXYGEN, MOST_OXYGEN = 0.6, 3.0
"""Cutting oxygen over the stoichiometric for the kerf.  30 to 40 percent of the kerf may leave
unburnt (handbooks, from memory); on thin plate much of the jet blows through unused."""

# Oxygen to fuel by volume of a neutral flame (from memory), a tenth let through on both sides.
FLAME_RATIO = {"acetylene": (1.0, 1.2), "propane": (3.4, 5.0), "natural gas": (1.5, 2.2)}
LEAST_PIERCE_HEIGHT = 1.3
"""Pierce height over cutting height; about 2 is common practice, below 1.3 spatter bites."""


@dataclass(frozen=True)
class RowFinding:
    """Something wrong with a row of a cutting-data table.

    Attributes
    ----------
    row : int
        Counted from 1.
    thickness : float
        mm.
    kind : {"refused", "warning"}
        Against physics, or only unusual.
    message : str
    """

    row: int
    thickness: float
    kind: Literal["refused", "warning"]
    message: str


def kerf_metal_kg_h(data: CutData) -> float:
    """Return the metal that leaves the kerf at full feed, kg/h.

    Parameters
    ----------
    data : CutData

    Returns
    -------
    float
        kg/h.
    """
    volume_mm3_h = data.feed_mm_min * 60.0 * data.thickness * data.kerf
    return volume_mm3_h * 1e-9 * DENSITY_KG_M3[data.material]


def implied_efficiency(data: CutData) -> float:
    """Return the share of the arc's power that melts the kerf at the data's feed.

    Energy balance: power × efficiency = feed × thickness × kerf × density × melting heat.

    Parameters
    ----------
    data : CutData

    Returns
    -------
    float
        0 to 1.
    """
    heat_w = kerf_metal_kg_h(data) / 3600.0 * MELTING_HEAT_MJ_KG[data.material] * 1e6
    return heat_w / (data.current_a * data.voltage_v)


def oxygen_per_kg(data: CutData) -> float:
    """Return the cutting oxygen spent on a kilogram of kerf, m³/kg at 15 °C and 1.013 bar.

    Parameters
    ----------
    data : CutData

    Returns
    -------
    float
        m³/kg.
    """
    flow = sum(g.flow_m3_h for g in data.gases if g.phase == "cut" and g.gas == "oxygen")
    return flow / kerf_metal_kg_h(data)


def check_cutting_data(table: CuttingTable) -> tuple[RowFinding, ...]:
    """Hold every row of a table against physics and common practice.

    Parameters
    ----------
    table : CuttingTable

    Returns
    -------
    tuple of RowFinding
        In the order of the rows; empty when all is well.
    """
    findings: list[RowFinding] = []
    rows = [table.at(float(thickness)) for thickness in table.columns["thickness"]]
    for number, data in enumerate(rows, 1):
        problems = _plasma_row(data) if data.process == "plasma" else _oxyfuel_row(data)
        problems += _usual(data, rows[number - 2] if number > 1 else None)
        problems += [("warning", remark) for remark in practice_remarks(table, data)]
        findings += [RowFinding(number, data.thickness, kind, message) for kind, message in problems]
    return tuple(findings)


_Problems = list[tuple[Literal["refused", "warning"], str]]


def _plasma_row(data: CutData) -> _Problems:
    efficiency = implied_efficiency(data)
    burns = any(gas.gas == "oxygen" and gas.phase == "cut" for gas in data.gases)
    most = MOST_EFFICIENCY + (OXIDATION_GAIN if burns and data.material == "mild steel" else 0.0)
    power_kw = data.current_a * data.voltage_v / 1000.0
    text = (
        f"{data.feed_mm_min:g} mm/min would put {efficiency:.0%} of {power_kw:.1f} kW into a kerf of "
        f"{data.kerf:g} mm; believable is {LEAST_EFFICIENCY:.0%} to {most:.0%}"
    )
    if efficiency > most:
        return [("refused", f"{text}: too fast, or the kerf is too wide")]
    if efficiency < LEAST_EFFICIENCY:
        return [("refused", f"{text}: too slow, or the kerf is too narrow")]
    if efficiency > MOST_EFFICIENCY:
        return [("warning", f"{text}, the part above {MOST_EFFICIENCY:.0%} from burning iron")]
    return []


def _oxyfuel_row(data: CutData) -> _Problems:
    problems: _Problems = []
    spent = oxygen_per_kg(data)
    ratio = spent / IRON_OXYGEN_M3_KG
    if not LEAST_OXYGEN <= ratio <= MOST_OXYGEN:
        problems.append(
            (
                "refused",
                f"{spent:.2f} m³ of cutting oxygen a kilogram of kerf is {ratio:.2f} times what burns "
                f"it ({IRON_OXYGEN_M3_KG:.2f}); believable is {LEAST_OXYGEN:g} to {MOST_OXYGEN:g} times",
            )
        )
    flame = {gas.gas: gas.flow_m3_h for gas in data.gases if gas.phase == "preheat"}
    for fuel, (least, most) in FLAME_RATIO.items():
        if fuel in flame and not least <= flame["oxygen"] / flame[fuel] <= most:
            problems.append(
                (
                    "refused",
                    f"{flame['oxygen'] / flame[fuel]:.2f} of preheat oxygen to 1 of {fuel} is no neutral "
                    f"flame ({least:g} to {most:g})",
                )
            )
    return problems


def _usual(data: CutData, before: CutData | None) -> _Problems:
    """Return what physics allows but the trade would not expect."""
    problems: _Problems = []
    if data.pierce_height < LEAST_PIERCE_HEIGHT * data.cut_height:
        problems.append(
            (
                "warning",
                f"pierce height {data.pierce_height:g} mm over a cutting height of {data.cut_height:g} mm; "
                "about twice is usual, and spares the nozzle",
            )
        )
    if before is None:
        return problems
    if data.feed_mm_min == before.feed_mm_min:
        problems.append(("warning", "the same feed as on the thinner plate of the row before"))
    rising: tuple[tuple[str, float, float], ...] = (
        ("kerf", before.kerf, data.kerf),
        ("pierce time", before.pierce_s, data.pierce_s),
        ("preheat time", before.preheat_s, data.preheat_s),
    )
    for name, thin, thick in rising:
        if thick < thin:
            problems.append(("warning", f"the {name} falls from {thin:g} to {thick:g} on thicker plate"))
    return problems
