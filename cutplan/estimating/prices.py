"""The shop's prices, read from a TOML file and held to one currency."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from cutplan.base.errors import DataError

__all__ = ["Prices", "load_prices"]


@dataclass(frozen=True)
class Prices:
    """What things cost, all in one currency.

    Attributes
    ----------
    currency : str
    machine_per_hour, labour_per_hour : float
    power_per_kwh : float
    plate_per_kg : mapping
        By grade; "default" for all others.
    scrap_credit_per_kg : float
        Paid back for skeleton and slugs.
    gas_per_m3 : mapping
        By gas, at 15 °C and 1.013 bar.
    consumable_set : mapping
        Set of electrode and nozzle under "plasma", tip under "oxyfuel".
    programming_rate : float or None
        An hour of programming; None takes the labour hour.
    source : str
        File they were read from.
    """

    currency: str
    machine_per_hour: float
    labour_per_hour: float
    power_per_kwh: float
    plate_per_kg: Mapping[str, float] = field(default_factory=dict)
    scrap_credit_per_kg: float = 0.0
    gas_per_m3: Mapping[str, float] = field(default_factory=dict)
    consumable_set: Mapping[str, float] = field(default_factory=dict)
    source: str = "prices"
    programming_rate: float | None = None

    @property
    def programming_per_hour(self) -> float:
        """An hour of programming, or of labour where it has no price of its own."""
        return self.labour_per_hour if self.programming_rate is None else self.programming_rate

    def gas(self, gas: str) -> float:
        """Return the price of a gas, or say that it is missing."""
        return self._of(self.gas_per_m3, gas, "gas_per_m3")

    def consumables(self, process: str) -> float:
        """Return the price of a set for a process, or say that it is missing."""
        return self._of(self.consumable_set, process, "consumable_set")

    def plate(self, grade: str) -> float:
        """Return the price of plate of a grade, or say that it is missing."""
        if grade not in self.plate_per_kg and "default" in self.plate_per_kg:
            return self.plate_per_kg["default"]
        return self._of(self.plate_per_kg, grade, "plate_per_kg")

    def _of(self, table: Mapping[str, float], key: str, name: str) -> float:
        if key not in table:
            raise DataError(
                f"no price for {key}",
                where=f"{self.source}, [{name}]",
                remedy=f'add "{key}" = … under [{name}]',
            )
        return table[key]


def load_prices(file: str | Path) -> Prices:
    """Read a price file.

    Prices are numbers in the file's `currency`, or strings that repeat it ("1.15 EUR").

    Parameters
    ----------
    file : str or Path
        The file.

    Returns
    -------
    Prices

    Raises
    ------
    DataError
        Naming the file and the key: missing, unknown, negative, no number, or in another
        currency than the rest.
    """
    from cutplan.base.files import read_toml, validate
    from cutplan.estimating.pricefile import PriceFile

    path = Path(file)
    model = validate(PriceFile, read_toml(path, DataError), str(path), DataError)

    return Prices(
        currency=model.currency,
        machine_per_hour=model.machine_per_hour,
        labour_per_hour=model.labour_per_hour,
        power_per_kwh=model.power_per_kwh,
        plate_per_kg=model.plate_per_kg,
        scrap_credit_per_kg=model.scrap_credit_per_kg,
        gas_per_m3={str(gas): price for gas, price in model.gas_per_m3.items()},
        consumable_set={str(process): price for process, price in model.consumable_set.items()},
        source=str(path),
        programming_rate=model.programming_per_hour,
    )
