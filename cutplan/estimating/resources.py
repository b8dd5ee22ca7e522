"""Gas, power and wear from what the torches do.

Everything here is linear in the torches' seconds and starts, so shares by part add up to
the whole.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cutplan.estimating.activities import CUTTING, HANDLING, PIERCING, PREHEATING
from cutplan.estimating.model import EstimateOptions
from cutplan.estimating.usage import Usage
from cutplan.process import CutData, gas_density_kg_m3

__all__ = ["HOUR_S", "Resources", "gas_kg", "peak_flows", "resources_of"]

HOUR_S = 3600.0


@dataclass(frozen=True)
class Resources:
    """What is used up.

    Attributes
    ----------
    gas_m3 : mapping
    power_kwh : mapping
        By phase of the cycle.
    consumable_sets, sets_by_starts : float
        Sets worn, and the share of them that starts wear.
    """

    gas_m3: Mapping[str, float]
    power_kwh: Mapping[str, float]
    consumable_sets: float
    sets_by_starts: float

    def times(self, flow: float, power: float, wear: float) -> Resources:
        """Return resources with factors on gas, power and wear."""
        return Resources(
            {gas: volume * flow for gas, volume in self.gas_m3.items()},
            {phase: kwh * power for phase, kwh in self.power_kwh.items()},
            self.consumable_sets * wear,
            self.sets_by_starts * wear,
        )


def resources_of(
    usage: Usage, data: CutData, options: EstimateOptions, torches: int = 1, time_share: float = 1.0
) -> Resources:
    """Return what `torches` torches use up that all do the same.

    Gas in the pierce phase flows from before ignition on, and after the cut for the data's
    post-flow; flames burn higher while they preheat; power and wear begin with the arc.

    Parameters
    ----------
    usage : Usage
    data : CutData
    options : EstimateOptions
    torches : int
    time_share : float
        Table time over the usage's own, for what runs as long as the table does.
    """
    wear_starts, wear_hours = _wear(usage, data)
    return Resources(
        gas_m3={gas: volume * torches for gas, volume in _gas(usage, data).items()},
        power_kwh=_power(usage, data, options, torches, time_share),
        consumable_sets=(wear_starts + wear_hours) * torches,
        sets_by_starts=wear_starts * torches,
    )


def _gas(usage: Usage, data: CutData) -> dict[str, float]:
    preheating_s = float(usage.seconds[PREHEATING])
    bleed_s = usage.programs * data.bleed_s
    seconds = {
        "preheat": usage.flame_s + (preheating_s + bleed_s) * data.high_preheat - preheating_s,
        "pierce": float(usage.seconds[PIERCING]),
        "cut": float(usage.seconds[CUTTING]) + usage.starts * data.post_flow_s + bleed_s,
    }
    gas: dict[str, float] = {}
    for flow in data.gases:
        gas[flow.gas] = gas.get(flow.gas, 0.0) + flow.flow_m3_h * seconds[flow.phase] / HOUR_S
    return gas


def _burning_s(usage: Usage, data: CutData) -> tuple[float, float]:
    """Return the seconds that the arc (or the cutting jet) stands piercing, and cutting."""
    unlit = usage.unlit_s if data.process == "plasma" else 0.0
    return float(usage.seconds[PIERCING]) - unlit, float(usage.seconds[CUTTING])


def _wear(usage: Usage, data: CutData) -> tuple[float, float]:
    """Return sets worn by starts and by hours: their shares of the same electrode's life add up."""
    by_starts = usage.starts / data.starts_per_set if data.starts_per_set > 0.0 else 0.0
    hours = sum(_burning_s(usage, data)) / HOUR_S
    return by_starts, hours / data.hours_per_set if data.hours_per_set > 0.0 else 0.0


def _power(
    usage: Usage, data: CutData, options: EstimateOptions, torches: int, time_share: float
) -> dict[str, float]:
    piercing_s, cutting_s = _burning_s(usage, data)
    burning_s = piercing_s + cutting_s
    in_use_s = float(usage.seconds.sum() - usage.seconds[HANDLING]) * time_share
    arc_kw = data.current_a * data.voltage_v / 1000.0 / options.supply_efficiency * torches
    idle_kw = options.source_idle_kw * torches if data.process == "plasma" else 0.0
    kws = {
        "piercing": arc_kw * piercing_s,
        "cutting": arc_kw * cutting_s,
        "source idle": idle_kw * max(in_use_s - burning_s * time_share, 0.0),
        "extraction": options.extraction_kw * burning_s * time_share,
        "drives and control": options.standby_kw * in_use_s,
    }
    return {phase: value / HOUR_S for phase, value in kws.items()}


def peak_flows(data: CutData, torches: int = 1) -> dict[str, float]:
    """Return the greatest flow by gas at any one time, m³/h.

    Flames burn in every phase, and higher while they preheat.
    """
    flows: dict[str, dict[str, float]] = {}
    for flow in data.gases:
        phases = flows.setdefault(flow.gas, {"preheat": 0.0, "pierce": 0.0, "cut": 0.0})
        phases[flow.phase] += flow.flow_m3_h
    return {
        gas: max(
            phases["preheat"] * data.high_preheat, phases["preheat"] + max(phases["pierce"], phases["cut"])
        )
        * torches
        for gas, phases in flows.items()
    }


def gas_kg(gas_m3: Mapping[str, float]) -> dict[str, float]:
    """Return masses by gas, kg."""
    return {gas: volume * gas_density_kg_m3(gas) for gas, volume in gas_m3.items()}
