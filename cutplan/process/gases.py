"""The gases of the trade: molar mass, density, and how much oxygen iron takes up."""

from __future__ import annotations

from collections.abc import Mapping

__all__ = [
    "FUELS",
    "IRON_OXYGEN_M3_KG",
    "MOLAR_VOLUME_L",
    "gas_density_kg_m3",
]

MOLAR_VOLUME_L = 23.645
"""Litres a mole of ideal gas at 15 °C and 1.013 bar (8.314463 J/mol K, 288.15 K, 101325 Pa)."""

# g/mol from atomic weights; natural gas as a usual mixture of methane with some ethane, and
# argon-hydrogen as 65/35 and nitrogen-hydrogen as 95/5 by volume (common practice).
MOLAR_MASS: Mapping[str, float] = {
    "oxygen": 31.998,
    "air": 28.965,
    "nitrogen": 28.014,
    "argon-hydrogen": 0.65 * 39.948 + 0.35 * 2.016,
    "nitrogen-hydrogen": 0.95 * 28.014 + 0.05 * 2.016,
    "acetylene": 26.038,
    "propane": 44.097,
    "natural gas": 17.5,
}

FUELS = ("acetylene", "propane", "natural gas")

# Molar volumes measured lie below the ideal one for the heavy gases: propane is 1.87 and
# acetylene 1.11 kg/m³ at 15 °C (from memory).
_REAL_GAS = {"propane": 1.87 / (44.097 / MOLAR_VOLUME_L), "acetylene": 1.11 / (26.038 / MOLAR_VOLUME_L)}

IRON_G_MOL = 55.845
IRON_OXYGEN_M3_KG = (2.0 / 3.0) * (1000.0 / IRON_G_MOL) * MOLAR_VOLUME_L / 1000.0
"""Oxygen that burns a kilogram of iron, 3 Fe + 2 O2 → Fe3O4, m³ at 15 °C and 1.013 bar."""


def gas_density_kg_m3(gas: str) -> float:
    """Return the density of a gas at 15 °C and 1.013 bar, kg/m³.

    Parameters
    ----------
    gas : str
        "oxygen", "propane", …

    Returns
    -------
    float
        kg/m³.
    """
    return MOLAR_MASS[gas] / MOLAR_VOLUME_L * _REAL_GAS.get(gas, 1.0)
