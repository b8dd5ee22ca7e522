"""What a plate takes: time, gas, power, consumables, money, carbon dioxide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from pydantic.dataclasses import dataclass as file_dataclass

from cutplan.base.files import FILE_RULES
from cutplan.base.words import duration

__all__ = [
    "ACTIVITIES",
    "SUMMED",
    "CostLine",
    "Estimate",
    "EstimateOptions",
    "PartEstimate",
    "Supply",
]

ACTIVITIES = ("cutting", "piercing", "preheating", "travel", "raising", "marking", "handling")
"""What a table's time goes to; together they make the total."""

Supply = Literal["cylinder", "liquid", "bulk", "pipe"]

SUMMED = "summed"
"""Key of a field's metadata that says how a sum of estimates treats it: `ADDED` and so on."""
ADDED: dict[str, str] = {SUMMED: "added"}
GREATEST: dict[str, str] = {SUMMED: "greatest"}
EACH_ONCE: dict[str, str] = {SUMMED: "each once"}
DERIVED: dict[str, str] = {SUMMED: "derived"}


@file_dataclass(frozen=True, config=FILE_RULES)
class EstimateOptions:
    """What a shop knows of itself beyond machine, cutting data and prices: `[estimate]` of a job.

    What is 0 is left out of the estimate, which says so.

    Attributes
    ----------
    supply_efficiency : float
        Arc power over the power that the source draws; see the source's data sheet.
    standby_kw : float
        Drives, control and cooling, as long as the table is in use.
    source_idle_kw : float
        Drawn by the plasma source while its arc is out and the table in use: fan and pump.
    extraction_kw : float
        Fume extraction or water pump, while a torch burns.
    marker_switch_s : float
        Time to set the marker down, and as much to lift it.
    marker_feed_mm_min : float
        Where the program leaves the feed of marking to the control.
    handling_s_per_plate : float
        Loading a plate and taking off its skeleton: the table stands.
    handling_s_per_tonne : float
        As much again for every tonne of the plate.
    set_up_s_per_plate : float
        Squaring the plate up, loading and dry-running the program: the table stands.
    set_up_s_per_thickness : float
        Changing torch parts, gases and heights for each thickness and process of a batch.
    sorting_s_per_piece, sorting_s_per_kg : float
        Taking off and sorting parts, by their number and by their mass: labour only.
    breaking_s_per_tab : float
        Breaking a tab and grinding its stubs: labour only, with the sorting.
    programming_s_per_drawing, programming_s_per_plate : float
        Reading in and checking a drawing, and seeing a plate's program through: labour only.
    overhead : float
        Share added to all costs, as 0.12.
    margin : float
        Share added to costs with overhead, to make the price.
    batches : tuple of int
        Numbers of batches that a quote gives prices for: set-up and programming are shared.
    keep_remnants : tuple of float
        Sides of the smallest remnant kept, mm; empty keeps none.
    remnant_value : float
        Share of the plate's price at which a kept remnant is credited.
    supplies : mapping
        "cylinder", "liquid", "bulk" or "pipe" by gas, where it is not the usual.
    liquid_loss : float
        Share of a liquid gas that boils off unused.
    acetylene_c : float
        Temperature of the acetylene cylinders, °C: cold ones give less.
    acetylene_full : float
        How full the acetylene cylinders are, as a share: emptier ones give less.
    co2_kg_per_kwh : float
        Carbon dioxide of the shop's electricity; see the supplier's statement.
    co2_kg_per_kg_plate : mapping
        Of plate, by grade or "default"; see the mill's declaration.
    co2_kg_per_m3 : mapping
        Of making (and, for fuels, burning) a gas.
    time_factors : mapping
        Factor of each group of activities, and low and high of its interval, as
        `cutplan calibrate` prints them: cutting = [1.04, 1.01, 1.07].
    time_scatter : float
        How far measured times scatter about the fit, as a share, from there too.
    """

    supply_efficiency: float = 0.88
    standby_kw: float = 1.5
    source_idle_kw: float = 0.0
    extraction_kw: float = 0.0
    marker_switch_s: float = 0.5
    marker_feed_mm_min: float = 8000.0
    handling_s_per_plate: float = 0.0
    handling_s_per_tonne: float = 0.0
    set_up_s_per_plate: float = 0.0
    set_up_s_per_thickness: float = 0.0
    sorting_s_per_piece: float = 0.0
    sorting_s_per_kg: float = 0.0
    breaking_s_per_tab: float = 0.0
    programming_s_per_drawing: float = 0.0
    programming_s_per_plate: float = 0.0
    overhead: float = 0.0
    margin: float = 0.0
    batches: tuple[int, ...] = (1, 2, 5, 10)
    keep_remnants: tuple[float, ...] = (300.0, 300.0)
    remnant_value: float = 1.0
    supplies: Mapping[str, Supply] = field(default_factory=dict)
    liquid_loss: float = 0.1
    acetylene_c: float = 15.0
    acetylene_full: float = 1.0
    co2_kg_per_kwh: float = 0.0
    co2_kg_per_kg_plate: Mapping[str, float] = field(default_factory=dict)
    co2_kg_per_m3: Mapping[str, float] = field(default_factory=dict)
    time_factors: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    time_scatter: float = 0.0


@dataclass(frozen=True)
class CostLine:
    """A line of a quote: so much of something at a rate.

    Attributes
    ----------
    item : str
        What it is under in the sum: "plate", "gas", "machine", …
    detail : str
        Which gas, which phase, which work.
    quantity : float
        In `unit`; below zero for a credit.
    unit : str
    rate : float
        Price of a unit.
    source : str
        Where the quantity and the rate come from.
    """

    item: str
    detail: str
    quantity: float
    unit: str
    rate: float
    source: str

    @property
    def amount(self) -> float:
        """Quantity times rate, in the currency of the prices."""
        return self.quantity * self.rate


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
        By item and "total"; the plate, with its waste and credits, is shared by area.
    kg : float or None
        Mass of all copies, where plate and area are told.
    co2_kg : mapping or None
        Carbon dioxide by "electricity", "gas", "plate" and "total"; None without factors.
    """

    time_s: Mapping[str, float]
    gas_m3: Mapping[str, float]
    power_kwh: float
    copies: int | None = None
    area_mm2: float | None = None
    cost: Mapping[str, float] | None = None
    kg: float | None = None
    co2_kg: Mapping[str, float] | None = None


def _field(rule: Mapping[str, str], **default: Any) -> Any:
    return field(metadata=rule, **default)


@dataclass(frozen=True, repr=False)
class Estimate:
    """The estimate for one program, or the sum over several.

    How a sum treats a field stands in the field's metadata.

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
    sets_by_starts : float
        The share of them that starts wear, not hours.
    power_by_phase_kwh : mapping
        "piercing", "cutting", "source idle", "extraction", "drives and control".
    sorting_s : float
        Labour beside the table: taking off and sorting parts; not in `time_s`.
    cost : mapping or None
        By item and "total", in the currency of the prices; None without prices.
    lines : tuple of CostLine
        What the cost is made of.
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
    supplies : mapping
        How much of its supply each gas takes: "oxygen, cylinders of 10.0 m³", "air, m³ by pipe".
    peak_flow_m3_h : mapping
        Greatest flow by gas at any one time, flames up.
    acetylene_manifold : int
        Cylinders that must be on the manifold together; 0 without acetylene.
    torches : int
    plate_kg, parts_kg : float or None
        Mass of the plate, and of the parts on it where their area was told.
    remnant_kg : float or None
        Mass of what is kept of the plate, where told.
    by_part : mapping of str to PartEstimate
    co2_kg : mapping or None
        Carbon dioxide by "electricity", "gas", "plate" and "total"; None without factors.
    cost_with_faster_feed : float or None
        Total cost with a tenth more feed.
    sensitivity : str
        What moves the cost most; empty without prices.
    """

    time_s: Mapping[str, float] = _field(ADDED)
    gas_m3: Mapping[str, float] = _field(ADDED)
    power_kwh: float = _field(ADDED)
    pierces: int = _field(ADDED)
    cut_length_mm: float = _field(ADDED)
    consumable_sets: float = _field(ADDED, default=0.0)
    cost: Mapping[str, float] | None = _field(ADDED, default=None)
    currency: str | None = _field(DERIVED, default=None)
    notes: tuple[str, ...] = _field(EACH_ONCE, default=())
    inputs: tuple[str, ...] = _field(EACH_ONCE, default=())
    ranges: Mapping[str, tuple[float, float]] = _field(ADDED, default_factory=dict)
    gas_kg: Mapping[str, float] = _field(ADDED, default_factory=dict)
    cylinders: Mapping[str, float] = _field(ADDED, default_factory=dict)
    peak_flow_m3_h: Mapping[str, float] = _field(GREATEST, default_factory=dict)
    acetylene_manifold: int = _field(GREATEST, default=0)
    torches: int = _field(GREATEST, default=1)
    plate_kg: float | None = _field(ADDED, default=None)
    parts_kg: float | None = _field(ADDED, default=None)
    by_part: Mapping[str, PartEstimate] = _field(ADDED, default_factory=dict)
    cost_with_faster_feed: float | None = _field(ADDED, default=None)
    sensitivity: str = _field(DERIVED, default="")
    sets_by_starts: float = _field(ADDED, default=0.0)
    power_by_phase_kwh: Mapping[str, float] = _field(ADDED, default_factory=dict)
    sorting_s: float = _field(ADDED, default=0.0)
    remnant_kg: float | None = _field(ADDED, default=None)
    co2_kg: Mapping[str, float] | None = _field(ADDED, default=None)
    lines: tuple[CostLine, ...] = _field(DERIVED, default=())
    supplies: Mapping[str, float] = _field(ADDED, default_factory=dict)

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
