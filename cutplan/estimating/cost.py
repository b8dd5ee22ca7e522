"""What a plate costs: by item, its parts' shares, and what moves the cost most."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from cutplan.estimating.prices import Prices
from cutplan.estimating.resources import HOUR_S, Resources
from cutplan.process import Process
from cutplan.stock import Plate

__all__ = [
    "STEP",
    "PlateCost",
    "plate_cost",
    "running_cost",
    "sensitivity_line",
    "with_total",
]

STEP = 0.1
"""Change of a price, and of the feed, that the sensitivity line compares."""
NAMES = {
    "plate": "the plate price",
    "scrap credit": "the scrap credit",
    "gas": "the gas prices",
    "power": "the power price",
    "consumables": "the consumables",
    "machine": "the machine hour",
    "labour": "the labour hour",
}


@dataclass(frozen=True)
class PlateCost:
    """A plate's price and what its scrap brings back (zero or below)."""

    plate: float
    scrap_credit: float


def plate_cost(plate: Plate, prices: Prices, parts_kg: float | None) -> PlateCost:
    """Return the cost of a plate.

    The plate's own price comes before the price file's; scrap is credited where the mass of
    the parts is known.
    """
    mass = plate.mass_kg()
    per_kg = prices.plate(plate.grade) if plate.price_per_kg is None else plate.price_per_kg
    scrap = 0.0 if parts_kg is None else max(mass - parts_kg, 0.0)
    return PlateCost(mass * per_kg, -scrap * prices.scrap_credit_per_kg if scrap else 0.0)


def running_cost(
    used: Resources, standby_kwh: float, machine_s: float, process: Process, prices: Prices
) -> dict[str, float]:
    """Return the cost of running the table, by item."""
    return {
        "gas": sum(volume * prices.gas(gas) for gas, volume in used.gas_m3.items() if volume > 0.0),
        "power": (used.arc_kwh + standby_kwh) * prices.power_per_kwh,
        "consumables": used.consumable_sets * prices.consumables(process) if used.consumable_sets else 0.0,
        "machine": machine_s / HOUR_S * prices.machine_per_hour,
        "labour": machine_s / HOUR_S * prices.labour_per_hour,
    }


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
