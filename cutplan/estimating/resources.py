"""Gas, power and wear from what the torches do, and the cylinders to have ready.

Everything here is linear in the torches' seconds and starts, so shares by part add up to
the whole.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from cutplan.base.errors import DataError
from cutplan.estimating.activities import CUTTING, PIERCING, Usage
from cutplan.estimating.model import EstimateOptions
from cutplan.process import CutData, gas_density_kg_m3

__all__ = [
    "ACETYLENE_CYLINDER_M3",
    "CYLINDER_M3",
    "Resources",
    "acetylene_manifold",
    "cylinders_for",
    "gas_kg",
    "peak_flows",
    "resources_of",
]

HOUR_S = 3600.0

ACETYLENE_CYLINDER_M3 = 7.2
"""8 kg of acetylene dissolved in a 50 L cylinder (common practice)."""
CYLINDER_M3: Mapping[str, float] = {
    "oxygen": 10.0,  # 50 L at 200 bar
    "nitrogen": 9.5,  # 50 L at 200 bar, less ideal than oxygen (common practice)
    "argon-hydrogen": 10.0,
    "acetylene": ACETYLENE_CYLINDER_M3,
    "propane": 33.0 / 1.87,  # 33 kg (common practice)
}
"""Usual content of a cylinder at 15 °C and 1.013 bar; air and natural gas come by pipe."""

# A cylinder of dissolved acetylene gives at most this share of its contents an hour (Compressed
# Gas Association practice, from memory); drawn faster, it gives acetone too and can fail.
CONTINUOUS_WITHDRAWAL = 1.0 / 15.0
INTERMITTENT_WITHDRAWAL = 1.0 / 10.0


@dataclass(frozen=True)
class Resources:
    """What is used up.

    Attributes
    ----------
    gas_m3 : mapping
    arc_kwh : float
        Drawn by the power source; the standby power of the table is not in it.
    consumable_sets : float
    """

    gas_m3: Mapping[str, float]
    arc_kwh: float
    consumable_sets: float


def resources_of(usage: Usage, data: CutData, options: EstimateOptions, torches: int = 1) -> Resources:
    """Return what `torches` torches use up that all do the same.

    Gas in the pierce phase flows from ignition on; power and wear begin with the arc.
    """
    hours = {
        "preheat": usage.flame_s / HOUR_S,
        "pierce": usage.seconds[PIERCING] / HOUR_S,
        "cut": usage.seconds[CUTTING] / HOUR_S,
    }
    gas: dict[str, float] = {}
    for flow in data.gases:
        gas[flow.gas] = gas.get(flow.gas, 0.0) + flow.flow_m3_h * float(hours[flow.phase]) * torches
    unlit = usage.ignition_s / HOUR_S if data.process == "plasma" else 0.0
    burning_h = float(hours["pierce"] + hours["cut"]) - unlit
    arc_kw = data.current_a * data.voltage_v / 1000.0 / options.supply_efficiency
    # Starts and hours wear the same electrode: their shares of its life add up.
    sets = 0.0
    if data.starts_per_set > 0.0:
        sets += usage.starts / data.starts_per_set
    if data.hours_per_set > 0.0:
        sets += burning_h / data.hours_per_set
    return Resources(gas_m3=gas, arc_kwh=arc_kw * burning_h * torches, consumable_sets=sets * torches)


def peak_flows(data: CutData, torches: int = 1) -> dict[str, float]:
    """Return the greatest flow by gas at any one time, m³/h; the flames burn in every phase."""
    flows: dict[str, dict[str, float]] = {}
    for flow in data.gases:
        phases = flows.setdefault(flow.gas, {"preheat": 0.0, "pierce": 0.0, "cut": 0.0})
        phases[flow.phase] += flow.flow_m3_h
    return {
        gas: (phases["preheat"] + max(phases["pierce"], phases["cut"])) * torches
        for gas, phases in flows.items()
    }


def gas_kg(gas_m3: Mapping[str, float]) -> dict[str, float]:
    """Return masses by gas, kg."""
    return {gas: volume * gas_density_kg_m3(gas) for gas, volume in gas_m3.items()}


def cylinders_for(gas_m3: Mapping[str, float]) -> dict[str, float]:
    """Return how many cylinders' contents are used, by gas that comes in cylinders."""
    return {gas: volume / CYLINDER_M3[gas] for gas, volume in gas_m3.items() if gas in CYLINDER_M3}


def acetylene_manifold(
    flow_m3_h: float, *, continuous: bool = True, contents_m3: float = ACETYLENE_CYLINDER_M3
) -> int:
    """Return how many acetylene cylinders must stand on the manifold for a flow.

    Parameters
    ----------
    flow_m3_h : float
        All torches together.
    continuous : bool
        Whether it is drawn for hours; short draws with pauses may take a tenth of the
        contents an hour instead of a fifteenth.
    contents_m3 : float
        Of one full cylinder.

    Raises
    ------
    DataError
        If the flow is negative or the cylinder empty.
    """
    if not flow_m3_h >= 0.0:
        raise DataError(f"an acetylene flow must not be negative, got {flow_m3_h:g} m³/h")
    if not contents_m3 > 0.0:
        raise DataError(f"a cylinder needs contents above 0 m³, got {contents_m3:g}")
    share = CONTINUOUS_WITHDRAWAL if continuous else INTERMITTENT_WITHDRAWAL
    # The tiny allowance keeps a flow of exactly one cylinder's limit from asking for two.
    return math.ceil(flow_m3_h / (contents_m3 * share) - 1e-9)
