"""What is to be cut, the tables that cut it, and who cuts what when.

Terminology
-----------
work : one sheet's program, or a line of a list: it runs on one table without a break.
shift : a stretch of hours in which a table is manned.
late : finished after the end of the day that it is due.
busy : minutes that a table cuts or is changed over, of those that it is manned.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

__all__ = ["MINUTE", "Booked", "Schedule", "Shop", "Table", "Work"]

MINUTE = timedelta(minutes=1)
WEEK = 7


@dataclass(frozen=True)
class Work:
    """One sheet to be cut, or one line of a list.

    Attributes
    ----------
    name : str
    process : {"plasma", "oxyfuel"}
    thickness : float
        mm.
    length, width : float
        Of the plate, mm.
    minutes : float
        From the estimate, with all that its cutting takes.
    job : str
    due : date or None
        To be finished at the end of that day.
    kits : tuple of str
        Kits that its parts belong to.
    current_a : float
        Arc current; 0 where it cuts by flame.
    torches : int
        That burn together.
    postprocessor : str
        That wrote its program; empty where it is not written yet.
    mass_kg : float
        Of the heaviest piece to be lifted on or off; 0 where that is not known.
    """

    name: str
    process: str
    thickness: float
    length: float
    width: float
    minutes: float
    job: str = ""
    due: date | None = None
    kits: tuple[str, ...] = ()
    current_a: float = 0.0
    torches: int = 1
    postprocessor: str = ""
    mass_kg: float = 0.0

    @property
    def setting(self) -> tuple[str, float]:
        """What a table is set up for: changing it takes time."""
        return self.process, self.thickness


@dataclass(frozen=True)
class Table:
    """One cutting table and its hours.

    Attributes
    ----------
    name : str
    processes : tuple of str
    travel : tuple of float
        mm.
    thickness : tuple of float
        Thinnest and thickest plate that it takes, mm.
    max_current_a : float or None
    torches : int
    postprocessors : tuple of str
        Whose programs its control runs; empty for any.
    crane_kg : float or None
        Heaviest plate that can be laid on it.
    hours : mapping of int to (start, end) pairs
        Shifts by weekday, Monday 0.
    labour : float
        People at work while it cuts.
    change_min : float
        Minutes to change over to another process or thickness.
    """

    name: str
    processes: tuple[str, ...]
    travel: tuple[float, float]
    hours: Mapping[int, tuple[tuple[time, time], ...]]
    thickness: tuple[float, float] = (0.0, float("inf"))
    max_current_a: float | None = None
    torches: int = 1
    postprocessors: tuple[str, ...] = ()
    crane_kg: float | None = None
    labour: float = 1.0
    change_min: float = 0.0

    def refusal(self, work: Work) -> str | None:
        """Return why the table cannot cut a work, None where it can."""
        if work.process not in self.processes:
            return f"does not cut by {work.process}"
        if work.length > self.travel[0] or work.width > self.travel[1]:
            return f"travels {self.travel[0]:g} × {self.travel[1]:g} mm only"
        if not self.thickness[0] <= work.thickness <= self.thickness[1]:
            return f"takes {self.thickness[0]:g} to {self.thickness[1]:g} mm"
        if self.max_current_a is not None and work.current_a > self.max_current_a:
            return f"supplies {self.max_current_a:g} A only"
        if work.torches > self.torches:
            return f"has {self.torches} of {work.torches} torches"
        if work.postprocessor and self.postprocessors and work.postprocessor not in self.postprocessors:
            return f"runs no programs of {work.postprocessor}"
        if self.crane_kg is not None and work.mass_kg > self.crane_kg:
            return f"is served by a crane for {self.crane_kg:g} kg"
        return None


@dataclass(frozen=True)
class Shop:
    """The tables, and the days on which nobody works.

    Attributes
    ----------
    name : str
    tables : tuple of Table
    days_off : frozenset of date
    """

    name: str
    tables: tuple[Table, ...]
    days_off: frozenset[date] = frozenset()


@dataclass(frozen=True)
class Booked:
    """A work on a table from one time to another; `change_min` of it is changing over."""

    work: Work
    table: str
    start: datetime
    end: datetime
    change_min: float = 0.0

    @property
    def late_min(self) -> float:
        """Minutes after the end of the day that it is due."""
        if self.work.due is None:
            return 0.0
        limit = datetime.combine(self.work.due + timedelta(days=1), time())
        return max(0.0, (self.end - limit) / MINUTE)


@dataclass(frozen=True)
class Schedule:
    """Who cuts what when.

    Attributes
    ----------
    booked : tuple of Booked
        By table in the shop's order, and by time.
    start : datetime
        From when on work is given out.
    late_bound_min, span_bound_min : float
        No schedule is less late, or sooner done.
    refused : tuple of (Work, str)
        What no table can cut, with the reasons.
    reasons : mapping of str to str
        Why a work is late, by its name.
    busy : mapping of str to float
        Share of its manned minutes, until it is done, that each table is busy.
    labour_hours : float
    """

    booked: tuple[Booked, ...]
    start: datetime
    late_bound_min: float
    span_bound_min: float
    refused: tuple[tuple[Work, str], ...] = ()
    reasons: Mapping[str, str] = field(default_factory=dict)
    busy: Mapping[str, float] = field(default_factory=dict)
    labour_hours: float = 0.0

    @property
    def late_min(self) -> float:
        """Lateness of all works together, minutes."""
        return sum(each.late_min for each in self.booked)

    @property
    def span_min(self) -> float:
        """Minutes from the start until the last is done."""
        return max(((each.end - self.start) / MINUTE for each in self.booked), default=0.0)

    @property
    def late(self) -> tuple[Booked, ...]:
        """The works that are late, the latest first."""
        return tuple(sorted((b for b in self.booked if b.late_min > 0.0), key=lambda b: -b.late_min))

    @property
    def gap_late_min(self) -> float:
        """How much less late a better schedule could be at most, minutes."""
        return max(0.0, self.late_min - self.late_bound_min)

    @property
    def gap_span(self) -> float:
        """How much sooner, at most, all could be done, as a share."""
        return max(0.0, self.span_min / self.span_bound_min - 1.0) if self.span_bound_min > 0.0 else 0.0
