"""How gas comes into the shop: cylinders, liquid, bulk or pipe, and how fast acetylene may be drawn."""

from __future__ import annotations

import math
from collections.abc import Mapping

from cutplan.base.errors import DataError
from cutplan.estimating.model import EstimateOptions, Supply
from cutplan.process import gas_density_kg_m3

__all__ = [
    "ACETYLENE_CYLINDER_M3",
    "CYLINDER_M3",
    "acetylene_manifold",
    "acetylene_share",
    "cylinders_for",
    "manifold_lines",
    "supplies_of",
    "usual_supply",
]

ACETYLENE_CYLINDER_M3 = 7.2
"""8 kg of acetylene dissolved in a 50 L cylinder (common practice)."""
CYLINDER_M3: Mapping[str, float] = {
    "oxygen": 10.0,  # 50 L at 200 bar
    "nitrogen": 9.5,  # 50 L at 200 bar, less ideal than oxygen (common practice)
    "argon-hydrogen": 10.0,
    "nitrogen-hydrogen": 9.5,
    "acetylene": ACETYLENE_CYLINDER_M3,
    "propane": 33.0 / 1.87,  # 33 kg (common practice)
}
"""Usual content of a cylinder at 15 °C and 1.013 bar; air and natural gas come by pipe."""
LIQUID_KG_L: Mapping[str, float] = {"oxygen": 1.141, "nitrogen": 0.808}
"""Density of the liquid at its boiling point (handbook values, from memory)."""

# A cylinder of dissolved acetylene gives at most this share of its contents an hour (Compressed
# Gas Association practice, from memory); drawn faster, it gives acetone too and can fail.
CONTINUOUS_WITHDRAWAL = 1.0 / 15.0
INTERMITTENT_WITHDRAWAL = 1.0 / 10.0
# The gas comes out of solution more slowly in the cold: full rate from 15 °C up, half at
# freezing point, a quarter at -15 °C (common practice; the supplier's table goes first).
WARM_C, COLD_C, LEAST_SHARE = 15.0, -15.0, 0.25


def usual_supply(gas: str, options: EstimateOptions) -> Supply:
    """Return how a gas comes: as the options say, else in cylinders where it is sold so."""
    return options.supplies.get(gas, "cylinder" if gas in CYLINDER_M3 else "pipe")


def cylinders_for(gas_m3: Mapping[str, float], options: EstimateOptions | None = None) -> dict[str, float]:
    """Return how many cylinders' contents are used, by gas that comes in cylinders."""
    options = options or EstimateOptions()
    return {
        gas: volume / CYLINDER_M3[gas]
        for gas, volume in gas_m3.items()
        if gas in CYLINDER_M3 and usual_supply(gas, options) == "cylinder"
    }


def supplies_of(gas_m3: Mapping[str, float], options: EstimateOptions) -> dict[str, float]:
    """Return how much of its supply each gas takes, by gas and unit in words.

    Raises
    ------
    DataError
        If a gas is said to come as a liquid, or in cylinders, that does not.
    """
    taken = {}
    for gas, volume in sorted(gas_m3.items()):
        supply = usual_supply(gas, options)
        if supply == "cylinder":
            if gas not in CYLINDER_M3:
                raise _wrong_supply(gas, supply)
            taken[f"{gas}, cylinders of {CYLINDER_M3[gas]:.1f} m³"] = volume / CYLINDER_M3[gas]
        elif supply == "liquid":
            if gas not in LIQUID_KG_L:
                raise _wrong_supply(gas, supply)
            litres = volume * gas_density_kg_m3(gas) / LIQUID_KG_L[gas] / (1.0 - options.liquid_loss)
            taken[f"{gas}, L of liquid, {options.liquid_loss:.0%} of it boiling off"] = litres
        else:
            taken[f"{gas}, m³ {'from the tank' if supply == 'bulk' else 'by pipe'}"] = volume
    return taken


def _wrong_supply(gas: str, supply: str) -> DataError:
    return DataError(
        f"{gas} does not come as {supply}",
        where="[estimate.supplies]",
        remedy='use "bulk" or "pipe", or leave it out',
    )


def acetylene_share(temperature_c: float, *, continuous: bool = True) -> float:
    """Return the share of its contents that an acetylene cylinder may give in an hour."""
    usual = CONTINUOUS_WITHDRAWAL if continuous else INTERMITTENT_WITHDRAWAL
    warmth = (min(temperature_c, WARM_C) - COLD_C) / (WARM_C - COLD_C)
    return usual * max(LEAST_SHARE + (1.0 - LEAST_SHARE) * warmth, LEAST_SHARE)


def acetylene_manifold(
    flow_m3_h: float,
    *,
    continuous: bool = True,
    contents_m3: float = ACETYLENE_CYLINDER_M3,
    temperature_c: float = WARM_C,
) -> int:
    """Return how many acetylene cylinders must stand on the manifold for a flow.

    Parameters
    ----------
    flow_m3_h : float
        All torches together, flames up.
    continuous : bool
        Whether it is drawn for hours; short draws with pauses may take a tenth of the
        contents an hour instead of a fifteenth.
    contents_m3 : float
        What is in each cylinder.
    temperature_c : float
        Of the cylinders, °C; cold ones give less.

    Returns
    -------
    int

    Raises
    ------
    DataError
        If the flow is negative or the cylinder empty.
    """
    if not flow_m3_h >= 0.0:
        raise DataError(f"an acetylene flow must not be negative, got {flow_m3_h:g} m³/h")
    if not contents_m3 > 0.0:
        raise DataError(f"a cylinder needs contents above 0 m³, got {contents_m3:g}")
    share = acetylene_share(temperature_c, continuous=continuous)
    # The tiny allowance keeps a flow of exactly one cylinder's limit from asking for two.
    return math.ceil(flow_m3_h / (contents_m3 * share) - 1e-9)


def manifold_lines(flow_m3_h: float) -> tuple[str, ...]:
    """Return how many acetylene cylinders a flow takes: full, half-full, cold.

    Parameters
    ----------
    flow_m3_h : float
        Of acetylene, m³/h at 15 °C and 1.013 bar.

    Returns
    -------
    tuple of str
    """
    if flow_m3_h <= 0.0:
        return ()
    full, half = ACETYLENE_CYLINDER_M3, ACETYLENE_CYLINDER_M3 / 2.0
    cases = (
        ("full at 15 °C or warmer", full, WARM_C),
        ("half-full at 15 °C", half, WARM_C),
        ("full at 0 °C", full, 0.0),
        ("half-full at 0 °C", half, 0.0),
    )
    counts = ", ".join(
        f"{acetylene_manifold(flow_m3_h, contents_m3=contents, temperature_c=warm)} {name}"
        for name, contents, warm in cases
    )
    return (
        f"acetylene, flames up: {flow_m3_h:.2f} m³/h; cylinders on the manifold at once: {counts}. "
        "Drawn faster they give acetone with the gas and may fail; the supplier's table goes first.",
    )
