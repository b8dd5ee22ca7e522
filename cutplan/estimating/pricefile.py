"""The form of a price file; kept apart so that prices without a file need no validation library."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from cutplan.base.files import FileModel
from cutplan.process import GasName, Process

__all__ = ["PriceFile"]

Amount = float | str


class PriceFile(FileModel):
    """Keys of a price file; see `Prices` for their meaning."""

    currency: str = Field(min_length=1, max_length=4)
    machine_per_hour: Amount
    labour_per_hour: Amount
    power_per_kwh: Amount
    plate_per_kg: Mapping[str, Amount] = {}
    scrap_credit_per_kg: Amount = 0.0
    gas_per_m3: Mapping[GasName, Amount] = {}
    consumable_set: Mapping[Process, Amount] = {}
    programming_per_hour: Amount | None = None
