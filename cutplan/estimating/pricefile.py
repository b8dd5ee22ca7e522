"""The form of a price file; kept apart so that prices without a file need no validation library."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Annotated

from pydantic import BeforeValidator, Field, ValidationInfo

from cutplan.base.files import FileModel
from cutplan.process import GasName, Process

__all__ = ["PriceFile"]

_PRICE = re.compile(r"\s*([-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)\s*([A-Za-z€$£¥]{1,4})?\s*")


def _price(value: object, info: ValidationInfo) -> object:
    """Return a price as a number, where a text gives it in the file's own currency."""
    if isinstance(value, str):
        match = _PRICE.fullmatch(value)
        if match is None:
            raise ValueError(f'{value!r} is no price; write 1.15 or "1.15 EUR"')
        currency = str(info.data.get("currency", match[2]))
        if match[2] is not None and match[2].upper() != currency.upper():
            raise ValueError(
                f"a price in {match[2]} in a file whose currency is {currency}; "
                "convert it: all prices of an estimate must be in one currency"
            )
        value = float(match[1])
    if isinstance(value, int | float) and value < 0.0:
        raise ValueError(f"a price must not be negative, got {value:g}; give 0 or more")
    return value


Amount = Annotated[float, BeforeValidator(_price)]


class PriceFile(FileModel):
    """Keys of a price file; see `Prices` for their meaning.

    A price is a number, or a text that repeats the currency: 75 or "75 EUR".

    Attributes
    ----------
    currency : str
        Of every price; a price with another is refused.
    machine_per_hour : float
        The table, without people.
    labour_per_hour : float
        The operator.
    power_per_kwh : float
        Electricity.
    plate_per_kg : mapping
        By grade; "default" for all others.
    scrap_credit_per_kg : float
        Paid back for skeleton and slugs.
    gas_per_m3 : mapping
        By gas, at 15 °C and 1.013 bar.
    consumable_set : mapping
        Set of electrode and nozzle under "plasma", tip under "oxyfuel".
    programming_per_hour : float or None
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
