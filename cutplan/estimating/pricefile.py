"""The form of a price file; kept apart so that prices without a file need no validation library."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from cutplan.base.files import FileModel
from cutplan.process import GasName, Process

__all__ = ["PriceFile"]

Amount = float | str


class PriceFile(FileModel):
    """Keys of a price file; see `Prices` for their meaning.

    Attributes
    ----------
    currency : str
        Of every price; a price with another is refused.
    machine_per_hour : float or str
        The table, without people: 75 or "75 EUR".
    labour_per_hour : float or str
        The operator.
    power_per_kwh : float or str
        Electricity.
    plate_per_kg : mapping
        By grade; "default" for all others.
    scrap_credit_per_kg : float or str
        Paid back for skeleton and slugs.
    gas_per_m3 : mapping
        By gas, at 15 °C and 1.013 bar.
    consumable_set : mapping
        Set of electrode and nozzle under "plasma", tip under "oxyfuel".
    programming_per_hour : float, str or None
        An hour of programming; the labour hour if left out.
    """

    currency: str = Field(min_length=1, max_length=4)
    machine_per_hour: Amount
    labour_per_hour: Amount
    power_per_kwh: Amount
    plate_per_kg: Mapping[str, Amount] = {}
    scrap_credit_per_kg: Amount = 0.0
    gas_per_m3: Mapping[GasName, Amount] = {}
    consumable_set: Mapping[Process, Amount] = {}
    programming_per_hour: Amount | None = None
