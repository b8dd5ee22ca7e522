"""From usage to an estimate: time, resources and cost, each with its low and high.

Everything is linear in the usage, so the same functions serve the whole, its shares by
part, and the low and high ends of the range.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutplan.estimating.activities import CUTTING, HANDLING, Usage
from cutplan.estimating.calibration import Calibration
from cutplan.estimating.cost import STEP, plate_cost, running_cost, with_total
from cutplan.estimating.model import ACTIVITIES, EstimateOptions
from cutplan.estimating.prices import Prices
from cutplan.estimating.ranges import CONSUMABLES_SHARE, FLOW_SHARE, POWER_SHARE, time_factors
from cutplan.estimating.resources import HOUR_S, Resources, resources_of
from cutplan.process import CutData
from cutplan.stock import Plate

__all__ = [
    "Figures",
    "Setting",
    "added",
    "cost_with_faster_feed",
    "figures_of",
    "plate_items",
    "ranges_of",
    "scaled",
]


@dataclass(frozen=True)
class Setting:
    """What turns usage into figures.

    Attributes
    ----------
    torches : int
        Torches that all do what the usage says.
    time_share : float
        Table time over the usage's own: below 1 where torches share one torch's work.
    parts_kg : float or None
        Mass of all parts on the plate, for the scrap credit.
    """

    data: CutData
    options: EstimateOptions
    plate: Plate | None = None
    prices: Prices | None = None
    torches: int = 1
    time_share: float = 1.0
    parts_kg: float | None = None
    calibration: Calibration | None = None


@dataclass(frozen=True)
class Figures:
    """Time, resources and running cost of a usage; the plate's cost is kept apart."""

    time_s: dict[str, float]
    used: Resources
    power_kwh: float
    running: dict[str, float] | None


def added(usages: Iterable[Usage]) -> Usage:
    """Return the sum of usages."""
    total = Usage(np.zeros(len(ACTIVITIES)), 0.0, 0.0, 0, 0.0)
    for usage in usages:
        total = Usage(
            total.seconds + usage.seconds,
            total.flame_s + usage.flame_s,
            total.ignition_s + usage.ignition_s,
            total.starts + usage.starts,
            total.cut_length_mm + usage.cut_length_mm,
        )
    return total


def scaled(usage: Usage, factors: Sequence[float]) -> Usage:
    """Return a usage with the seconds of each activity multiplied; the flames follow the sum."""
    seconds = usage.seconds * np.asarray(factors)
    before = usage.seconds.sum() - usage.seconds[HANDLING]
    after = seconds.sum() - seconds[HANDLING]
    flame = usage.flame_s * float(after / before) if before > 0.0 else usage.flame_s
    return replace(usage, seconds=seconds, flame_s=flame)


def figures_of(usage: Usage, setting: Setting) -> Figures:
    """Return the figures of a usage."""
    shares = np.full(len(ACTIVITIES), setting.time_share)
    shares[HANDLING] = 1.0
    on_table = usage.seconds * shares
    time_s = with_total(dict(zip(ACTIVITIES, map(float, on_table), strict=True)))
    used = resources_of(usage, setting.data, setting.options, setting.torches)
    standby_h = (time_s["total"] - time_s["handling"]) / HOUR_S
    standby_kwh = setting.options.standby_kw * standby_h
    running = None
    if setting.prices is not None:
        running = running_cost(used, standby_kwh, time_s["total"], setting.data.process, setting.prices)
    return Figures({"total": time_s.pop("total"), **time_s}, used, used.arc_kwh + standby_kwh, running)


def ranges_of(usage: Usage, setting: Setting) -> dict[str, tuple[float, float]]:
    """Return low and high of each figure."""
    scatter = None if setting.calibration is None else setting.calibration.scatter
    if scatter is not None and math.isnan(scatter):
        scatter = None
    ends = [
        _flat(figures_of(scaled(usage, factors), setting), setting, end)
        for end, factors in enumerate(time_factors(scatter))
    ]
    return {name: (ends[0][name], ends[1][name]) for name in ends[0]}


def _flat(figures: Figures, setting: Setting, end: int) -> dict[str, float]:
    """Return figures by dotted name, resources at the low (0) or high (1) end of their share."""
    used = Resources(
        {gas: volume * (1.0 + FLOW_SHARE[end]) for gas, volume in figures.used.gas_m3.items()},
        figures.used.arc_kwh * (1.0 + POWER_SHARE[end]),
        figures.used.consumable_sets * (1.0 + CONSUMABLES_SHARE[end]),
    )
    standby = (figures.power_kwh - figures.used.arc_kwh) * (1.0 + POWER_SHARE[end])
    flat = {f"time_s.{name}": seconds for name, seconds in figures.time_s.items()}
    flat |= {f"gas_m3.{gas}": volume for gas, volume in used.gas_m3.items()}
    flat |= {"power_kwh": used.arc_kwh + standby, "consumable_sets": used.consumable_sets}
    prices = setting.prices
    if prices is not None:
        running = running_cost(used, standby, figures.time_s["total"], setting.data.process, prices)
        flat["cost.total"] = sum((running | plate_items(setting)).values())
    return flat


def plate_items(setting: Setting) -> dict[str, float]:
    """Return the plate's own cost items; empty without plate or prices."""
    if setting.plate is None or setting.prices is None:
        return {}
    cost = plate_cost(setting.plate, setting.prices, setting.parts_kg)
    return {"plate": cost.plate, "scrap credit": cost.scrap_credit}


def cost_with_faster_feed(usage: Usage, setting: Setting) -> float | None:
    """Return the total cost with the feed raised by `STEP`; None without prices."""
    factors = [1.0] * len(ACTIVITIES)
    factors[CUTTING] = 1.0 / (1.0 + STEP)
    faster = figures_of(scaled(usage, factors), setting)
    if faster.running is None:
        return None
    return sum((faster.running | plate_items(setting)).values())
