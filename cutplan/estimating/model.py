"""What a plate takes: time, gas, power, consumables, money."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = ["Estimate"]


@dataclass(frozen=True)
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
    cut_length_mm : float
    consumable_sets : float
        Electrode-and-nozzle (or tip) sets worn.
    cost : mapping or None
        By item, in the currency of the prices; None without prices.
    currency : str or None
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
