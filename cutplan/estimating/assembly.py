"""From usage to an estimate: time, resources and cost, each with its low and high.

Everything is linear in the usage, so the same functions serve the whole, its shares by
part, and the low and high ends of the range.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from cutplan.estimating.activities import CUTTING, HANDLING
from cutplan.estimating.calibration import Calibration
from cutplan.estimating.cost import STEP, by_item, plate_lines, running_lines
from cutplan.estimating.model import ACTIVITIES, CostLine, EstimateOptions
from cutplan.estimating.prices import Prices
from cutplan.estimating.ranges import CONSUMABLES_SHARE, FLOW_SHARE, POWER_SHARE, TIME_SHARE, time_factors
from cutplan.estimating.resources import Resources, resources_of
from cutplan.estimating.usage import Usage, scaled
from cutplan.process import CutData
from cutplan.stock import Plate

__all__ = [
    "Figures",
    "Setting",
    "co2_of",
    "cost_with_faster_feed",
    "figures_of",
    "lines_of",
    "plate_lines_of",
    "ranges_of",
]

ENDS = (0, 1)
"""The low and the high end of a range."""


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
    remnant_kg : float
        Mass of what is kept of the plate.
    sorting_s : float
        Labour beside the table for all parts.
    """

    data: CutData
    options: EstimateOptions
    plate: Plate | None = None
    prices: Prices | None = None
    torches: int = 1
    time_share: float = 1.0
    parts_kg: float | None = None
    calibration: Calibration | None = None
    remnant_kg: float = 0.0
    sorting_s: float = 0.0


@dataclass(frozen=True)
class Figures:
    """Time and resources of a usage; money is made of them by `lines_of`."""

    time_s: dict[str, float]
    used: Resources

    @property
    def power_kwh(self) -> float:
        """Electricity of all phases."""
        return sum(self.used.power_kwh.values())

    @property
    def handling_s(self) -> float:
        """Time that the table stands for loading, set-up and taking off."""
        return self.time_s["handling"]


def figures_of(usage: Usage, setting: Setting) -> Figures:
    """Return the figures of a usage."""
    shares = np.full(len(ACTIVITIES), setting.time_share)
    shares[HANDLING] = 1.0
    on_table = dict(zip(ACTIVITIES, map(float, usage.seconds * shares), strict=True))
    used = resources_of(usage, setting.data, setting.options, setting.torches, setting.time_share)
    return Figures({"total": sum(on_table.values()), **on_table}, used)


def lines_of(figures: Figures, setting: Setting, sorting_s: float) -> tuple[CostLine, ...] | None:
    """Return the lines of running the table for some figures; None without prices."""
    if setting.prices is None:
        return None
    total, handling = figures.time_s["total"], figures.handling_s
    return running_lines(
        figures.used, total - handling, handling, sorting_s, setting.data.process, setting.prices
    )


def plate_lines_of(setting: Setting) -> tuple[CostLine, ...]:
    """Return the plate's own lines; empty without plate or prices."""
    if setting.plate is None or setting.prices is None:
        return ()
    return plate_lines(setting.plate, setting.prices, setting.parts_kg, setting.remnant_kg, setting.options)


def co2_of(figures: Figures, setting: Setting, plate_share: float) -> Mapping[str, float] | None:
    """Return carbon dioxide by source, kg; None without factors.

    What is kept of a plate carries its own, so the plate counts without its remnants.

    Parameters
    ----------
    plate_share : float
        Share of the plate that counts: 1 for the whole, less for a part.
    """
    options = setting.options
    if not (options.co2_kg_per_kwh or options.co2_kg_per_kg_plate or options.co2_kg_per_m3):
        return None
    plate = 0.0
    if setting.plate is not None:
        factors = options.co2_kg_per_kg_plate
        factor = factors.get(setting.plate.grade, factors.get("default", 0.0))
        plate = (setting.plate.mass_kg() - setting.remnant_kg) * factor * plate_share
    sources = {
        "electricity": figures.power_kwh * options.co2_kg_per_kwh,
        "gas": sum(v * options.co2_kg_per_m3.get(gas, 0.0) for gas, v in figures.used.gas_m3.items()),
        "plate": plate,
    }
    return {**sources, "total": sum(sources.values())}


def ranges_of(usage: Usage, setting: Setting) -> dict[str, tuple[float, float]]:
    """Return low and high of each figure."""
    ends = [
        _flat(figures_of(scaled(usage, factors), setting), setting, end)
        for end, factors in zip(ENDS, time_factors(setting.calibration), strict=True)
    ]
    return {name: (ends[0][name], ends[1][name]) for name in ends[0]}


def _flat(figures: Figures, setting: Setting, end: int) -> dict[str, float]:
    """Return figures by dotted name, resources at the low (0) or high (1) end of their share."""
    used = figures.used.times(1.0 + FLOW_SHARE[end], 1.0 + POWER_SHARE[end], 1.0 + CONSUMABLES_SHARE[end])
    at_end = Figures(figures.time_s, used)
    flat = {f"time_s.{name}": seconds for name, seconds in figures.time_s.items()}
    flat |= {f"gas_m3.{gas}": volume for gas, volume in used.gas_m3.items()}
    flat |= {"power_kwh": at_end.power_kwh, "consumable_sets": used.consumable_sets}
    lines = lines_of(at_end, setting, setting.sorting_s * (1.0 + TIME_SHARE["handling"][end]))
    if lines is not None:
        flat["cost.total"] = sum(line.amount for line in (*lines, *plate_lines_of(setting)))
    return flat


def cost_with_faster_feed(usage: Usage, setting: Setting) -> float | None:
    """Return the total cost with the feed raised by `STEP`; None without prices."""
    factors = [1.0] * len(ACTIVITIES)
    factors[CUTTING] = 1.0 / (1.0 + STEP)
    lines = lines_of(figures_of(scaled(usage, factors), setting), setting, setting.sorting_s)
    if lines is None:
        return None
    return sum(by_item((*lines, *plate_lines_of(setting))).values())
