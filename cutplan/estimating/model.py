"""What a plate takes: time, gas, power, consumables, money."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cutplan.base.words import duration

__all__ = ["ACTIVITIES", "Estimate", "EstimateOptions", "PartEstimate"]

ACTIVITIES = ("cutting", "piercing", "preheating", "travel", "raising", "marking", "handling")
"""What a table's time goes to; together they make the total."""


@dataclass(frozen=True)
class EstimateOptions:
    """What a shop knows of itself beyond machine and cutting data; defaults are common practice.

    Attributes
    ----------
    supply_efficiency : float
        Arc power over the power that the source draws.
    standby_kw : float
        Drives, control and cooling, as long as the table is in use.
    marker_switch_s : float
        Time to set the marker down, and as much to lift it.
    marker_feed_mm_min : float
        Where the program leaves the feed of marking to the control.
    handling_s_per_plate : float
        Loading the plate, and taking off parts and skeleton.
    """

    supply_efficiency: float = 0.88
    standby_kw: float = 1.5
    marker_switch_s: float = 0.5
    marker_feed_mm_min: float = 8000.0
    handling_s_per_plate: float = 0.0


@dataclass(frozen=True)
class PartEstimate:
    """A part's share of a plate: all its copies together.

    Attributes
    ----------
    copies : int or None
        Copies on the plate, where told.
    time_s : mapping
        Seconds by activity and "total"; the way home and the handling are shared by time.
    gas_m3 : mapping
    power_kwh : float
    area_mm2 : float or None
        True area of all copies, holes taken out, where told.
    cost : mapping or None
        By item and "total"; the plate, with its waste and scrap credit, is shared by area.
    """

    time_s: Mapping[str, float]
    gas_m3: Mapping[str, float]
    power_kwh: float
    copies: int | None = None
    area_mm2: float | None = None
    cost: Mapping[str, float] | None = None


@dataclass(frozen=True, repr=False)
class Estimate:
    """The estimate for one program, or the sum over several.

    Attributes
    ----------
    time_s : mapping
        Seconds by activity: "total", "cutting", "piercing", "preheating", "travel",
        "raising", "marking", "handling".
    gas_m3 : mapping
        By gas, at 15 °C and 1.013 bar.
    power_kwh : float
    pierces : int
        Torch starts, those at an edge included.
    cut_length_mm : float
    consumable_sets : float
        Electrode-and-nozzle (or tip) sets worn.
    cost : mapping or None
        By item and "total", in the currency of the prices; None without prices.
    currency : str or None
    notes : tuple of str
        What is left out or assumed.
    inputs : tuple of str
        What the figures rest on: data, machine, prices.
    ranges : mapping of str to (float, float)
        Low and high for each figure: "time_s.total", "gas_m3.oxygen", "power_kwh",
        "consumable_sets", "cost.total", …
    gas_kg : mapping
    cylinders : mapping
        Cylinders' contents by gas, for gases that come in cylinders.
    peak_flow_m3_h : mapping
        Greatest flow by gas at any one time.
    acetylene_manifold : int
        Cylinders that must be on the manifold together; 0 without acetylene.
    torches : int
    plate_kg, parts_kg : float or None
        Mass of the plate, and of the parts on it where their area was told.
    by_part : mapping of str to PartEstimate
    cost_with_faster_feed : float or None
        Total cost with a tenth more feed.
    sensitivity : str
        What moves the cost most; empty without prices.
    """

    time_s: Mapping[str, float]
    gas_m3: Mapping[str, float]
    power_kwh: float
    pierces: int
    cut_length_mm: float
    consumable_sets: float = 0.0
    cost: Mapping[str, float] | None = None
    currency: str | None = None
    notes: tuple[str, ...] = field(default=())
    inputs: tuple[str, ...] = ()
    ranges: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    gas_kg: Mapping[str, float] = field(default_factory=dict)
    cylinders: Mapping[str, float] = field(default_factory=dict)
    peak_flow_m3_h: Mapping[str, float] = field(default_factory=dict)
    acetylene_manifold: int = 0
    torches: int = 1
    plate_kg: float | None = None
    parts_kg: float | None = None
    by_part: Mapping[str, PartEstimate] = field(default_factory=dict)
    cost_with_faster_feed: float | None = None
    sensitivity: str = ""

    def __repr__(self) -> str:
        figures = [
            duration(self.time_s["total"]),
            f"{self.cut_length_mm / 1000.0:.2f} m cut",
            f"{self.pierces} pierces",
        ]
        figures += [f"{gas} {volume:.2f} m³" for gas, volume in self.gas_m3.items()]
        if self.cost is not None:
            figures.append(f"{self.cost['total']:.2f} {self.currency}")
        return f"<Estimate: {', '.join(figures)}>"
