"""What a plate costs: line by line, summed by item, and what moves the cost most."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from cutplan.estimating.model import CostLine, EstimateOptions
from cutplan.estimating.prices import Prices
from cutplan.estimating.resources import HOUR_S, Resources
from cutplan.process import Process
from cutplan.stock import Plate

__all__ = [
    "STEP",
    "by_item",
    "plate_lines",
    "running_lines",
    "sensitivity_line",
    "with_total",
]

STEP = 0.1
"""Change of a price, and of the feed, that the sensitivity line compares."""
NAMES = {
    "plate": "the plate price",
    "remnant credit": "the remnant credit",
    "scrap credit": "the scrap credit",
    "gas": "the gas prices",
    "power": "the power price",
    "consumables": "the consumables",
    "machine": "the machine hour",
    "labour": "the labour hour",
}


def plate_lines(
    plate: Plate, prices: Prices, parts_kg: float | None, remnant_kg: float, options: EstimateOptions
) -> tuple[CostLine, ...]:
    """Return the lines of a plate: its price, and what its remnants and its scrap bring back.

    The plate's own price comes before the price file's; a kept remnant is credited at that
    price times `remnant_value`, scrap at the price of scrap where the parts' mass is known.
    """
    mass = plate.mass_kg()
    own = plate.price_per_kg is not None
    per_kg = plate.price_per_kg if plate.price_per_kg is not None else prices.plate(plate.grade)
    priced = f"price of plate {plate.id}" if own else f"{prices.source}, plate_per_kg"
    name = f"{plate.id}, {plate.thickness:g} mm {plate.grade}"
    lines = [CostLine("plate", name, mass, "kg", per_kg, f"size of the plate; {priced}")]
    lines.append(
        CostLine(
            "remnant credit", f"kept of {plate.id}", -remnant_kg, "kg", per_kg * options.remnant_value,
            f"outline left by the proved program; {priced} × {options.remnant_value:g}",
        )
    )  # fmt: skip
    scrap = 0.0 if parts_kg is None else max(mass - parts_kg - remnant_kg, 0.0)
    lines.append(
        CostLine(
            "scrap credit", f"skeleton and kerf of {plate.id}", -scrap, "kg", prices.scrap_credit_per_kg,
            f"plate less parts and remnants; {prices.source}, scrap_credit_per_kg",
        )
    )  # fmt: skip
    return tuple(lines)


def running_lines(
    used: Resources,
    table_s: float,
    handling_s: float,
    sorting_s: float,
    process: Process,
    prices: Prices,
) -> tuple[CostLine, ...]:
    """Return the lines of running the table and of the hands about it.

    Parameters
    ----------
    used : Resources
    table_s : float
        The table's time without handling.
    handling_s : float
        Time that the table stands for loading, set-up and taking off.
    sorting_s : float
        Labour beside the table.
    process : {"plasma", "oxyfuel"}
    prices : Prices
    """
    lines = [
        CostLine("gas", gas, volume, "m³", prices.gas(gas), f"proved program × cutting data; {prices.source}, gas_per_m3")
        for gas, volume in used.gas_m3.items()
        if volume > 0.0
    ]  # fmt: skip
    lines += [
        CostLine("power", phase, kwh, "kWh", prices.power_per_kwh, f"seconds of the phase × its power; {prices.source}, power_per_kwh")
        for phase, kwh in used.power_kwh.items()
        if kwh > 0.0
    ]  # fmt: skip
    hours = used.consumable_sets - used.sets_by_starts
    for detail, sets in (("worn by starts", used.sets_by_starts), ("worn by arc hours", hours)):
        if sets > 0.0:
            source = f"life in the cutting data; {prices.source}, consumable_set"
            lines.append(CostLine("consumables", detail, sets, "sets", prices.consumables(process), source))
    for item, rate, key in (
        ("machine", prices.machine_per_hour, "machine_per_hour"),
        ("labour", prices.labour_per_hour, "labour_per_hour"),
    ):
        for detail, seconds, what in (
            ("cutting", table_s, "proved program"),
            ("loading, set-up and taking off", handling_s, "[estimate]"),
        ):
            if seconds > 0.0:
                lines.append(
                    CostLine(item, detail, seconds / HOUR_S, "h", rate, f"{what}; {prices.source}, {key}")
                )
    if sorting_s > 0.0:
        source = f"pieces and mass × [estimate]; {prices.source}, labour_per_hour"
        lines.append(CostLine("labour", "sorting", sorting_s / HOUR_S, "h", prices.labour_per_hour, source))
    return tuple(lines)


ITEMS = ("gas", "power", "consumables", "machine", "labour")


def by_item(lines: Iterable[CostLine], items: Iterable[str] = ITEMS) -> dict[str, float]:
    """Return the amounts summed by item; items without a line are 0."""
    sums = dict.fromkeys(items, 0.0)
    for line in lines:
        sums[line.item] = sums.get(line.item, 0.0) + line.amount
    return sums


def with_total(items: Mapping[str, float]) -> dict[str, float]:
    """Return items with their sum under "total"."""
    return {**items, "total": sum(items.values())}


def sensitivity_line(cost: Mapping[str, float], faster_total: float, currency: str) -> str:
    """Return a sentence on what moves the cost most.

    Parameters
    ----------
    cost : mapping
        By item, and "total".
    faster_total : float
        Total with a tenth more feed.
    currency : str
    """
    total = cost["total"]
    if not total > 0.0:
        return "the prices make this free"
    moves = {NAMES[item]: abs(value) * STEP for item, value in cost.items() if item in NAMES and value}
    moves["the feed"] = abs(total - faster_total)
    (first, most), *others = sorted(moves.items(), key=lambda item: -item[1])
    line = f"10 % on {first} moves the cost by {most:.2f} {currency} ({most / total:.1%})"
    return line + "".join(f", on {name} by {change / total:.1%}" for name, change in others[:3])
