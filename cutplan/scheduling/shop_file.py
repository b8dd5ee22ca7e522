"""The shop file: its tables, their hours and limits, what may be lifted, and what jobs refer to."""

from __future__ import annotations

import re
from datetime import date, time
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, field_validator, model_validator

from cutplan.base.errors import InputError
from cutplan.base.files import FileModel, read_toml, validate
from cutplan.base.lifting import Lifting
from cutplan.base.machine import Machine
from cutplan.base.names import Name
from cutplan.estimating import EstimateOptions
from cutplan.scheduling.model import Shop, Table

__all__ = ["ShopFile", "load_shop", "read_shop_file"]

DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_HOURS = re.compile(r"([01]?[0-9]|2[0-3]):([0-5][0-9])\s*-\s*(2[0-4]|[01]?[0-9]):([0-5][0-9])")
Day = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
MOST_TABLES = 100


def shifts_of(text: str) -> tuple[tuple[time, time], ...]:
    """Return the shifts of a text like "06:00-14:00, 14:30-22:00".

    Raises
    ------
    ValueError
        If it is no such text, or shifts overlap.
    """
    shifts = []
    for word in text.split(","):
        found = _HOURS.fullmatch(word.strip())
        if found is None or (found[3] == "24" and found[4] != "00"):
            raise ValueError(f"{word.strip()!r} are no hours; write them as 06:00-14:00, 14:30-22:00")
        end = time(int(found[3]) % 24, int(found[4]))
        shifts.append((time(int(found[1]), int(found[2])), end))
    for (_, end), (begin, _) in pairwise(shifts):
        if begin < end or end == time():
            raise ValueError(f"the shifts {text!r} overlap or are out of order")
    return tuple(shifts)


def _hours(text: str) -> str:
    shifts_of(text)
    return text


class TableEntry(FileModel):
    """A cutting table.

    Attributes
    ----------
    name : str
        As it is called in the shop.
    processes : list of {"plasma", "oxyfuel"}
        What it cuts by.
    travel : tuple of float
        In x and y, mm.
    thickness : tuple of float
        Thinnest and thickest plate that it takes, mm.
    max_current_a : float or None
        Arc current that its source supplies; None for any.
    torches : int
        That can burn together.
    postprocessors : list of str
        Whose programs its control runs; empty for any.
    crane_kg : float or None
        Heaviest plate that can be laid on it; None for any.
    hours : str
        Shifts of a day: "06:00-14:00, 14:30-22:00"; an end before its beginning is on the next day.
    days : list of str
        Days of the week on which it is manned.
    labour : float
        People at work while it cuts.
    change_min : float
        Minutes to change over to another process or thickness.
    """

    name: Name
    processes: Annotated[tuple[Literal["plasma", "oxyfuel"], ...], Field(min_length=1)]
    travel: tuple[Annotated[float, Field(gt=0, le=100_000)], Annotated[float, Field(gt=0, le=100_000)]]
    thickness: tuple[float, float] = (0.0, 500.0)
    max_current_a: float | None = Field(None, gt=0)
    torches: int = Field(1, ge=1, le=16)
    postprocessors: tuple[str, ...] = ()
    crane_kg: float | None = Field(None, gt=0)
    hours: Annotated[str, AfterValidator(_hours)] = "06:00-14:00"
    days: Annotated[tuple[Day, ...], Field(min_length=1)] = ("mon", "tue", "wed", "thu", "fri")
    labour: float = Field(1.0, ge=0, le=100)
    change_min: float = Field(0.0, ge=0, le=1440)

    @field_validator("thickness")
    @classmethod
    def _is_a_range(cls, thickness: tuple[float, float]) -> tuple[float, float]:
        if not 0 <= thickness[0] <= thickness[1]:
            raise ValueError(f"thickness {list(thickness)} must be thinnest, then thickest")
        return thickness

    def table(self) -> Table:
        """Return the table."""
        shifts = shifts_of(self.hours)
        return Table(
            self.name, self.processes, self.travel, {DAYS.index(day): shifts for day in self.days},
            self.thickness, self.max_current_a, self.torches, self.postprocessors, self.crane_kg,
            self.labour, self.change_min,
        )  # fmt: skip


class ShopFile(FileModel):
    """A shop: its tables, and what may be lifted how.

    Attributes
    ----------
    name : str
        Name of the shop, on its pages.
    days_off : list of date
        Days on which nobody works.
    lifting : table
        What one person, two and the crane may lift.
    table : list of tables
        Its cutting tables.
    estimate : table
        What hands and energy cost, for jobs that say ``estimate = "shop.toml"``.
    machine : table
        The table's own limits, for jobs that say ``machine = "shop.toml"``.
    """

    name: Name = "the shop"
    days_off: tuple[date, ...] = ()
    lifting: Lifting = Lifting()
    table: Annotated[tuple[TableEntry, ...], Field(max_length=MOST_TABLES)] = ()
    estimate: EstimateOptions | None = None
    machine: Machine | None = None

    @model_validator(mode="after")
    def _tables_have_names_of_their_own(self) -> ShopFile:
        names = [table.name.casefold() for table in self.table]
        if len(set(names)) < len(names):
            raise ValueError("two tables share a name; give each its own")
        return self


def read_shop_file(file: Path) -> ShopFile:
    """Return a shop file.

    Parameters
    ----------
    file : Path

    Returns
    -------
    ShopFile

    Raises
    ------
    InputError
        If it cannot be read, or a key is wrong; the message names each.
    """
    return validate(ShopFile, read_toml(file), str(file))


def load_shop(file: Path) -> Shop:
    """Return the tables of a shop file.

    Parameters
    ----------
    file : Path

    Returns
    -------
    Shop

    Raises
    ------
    InputError
        If the file is wrong, or has no table.
    """
    known = read_shop_file(file)
    if not known.table:
        raise InputError("has no table", where=str(file), remedy="add a [[table]]")
    return Shop(known.name, tuple(entry.table() for entry in known.table), frozenset(known.days_off))
