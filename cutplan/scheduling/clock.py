"""The hours of a table as plain minutes from the start on, and works put into them one after the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from cutplan.base.errors import InputError
from cutplan.scheduling.model import MINUTE, WEEK, Table

__all__ = ["Clock", "Slot", "clock_of"]

LONGEST_DAYS = 3660
SLACK_MIN = 1e-6
Slot = tuple[float, float]
"""Start and end, minutes from the beginning of the schedule."""


@dataclass(frozen=True)
class Clock:
    """The shifts of one table.

    Attributes
    ----------
    shifts : tuple of Slot
        In order, behind each other.
    longest : float
        Minutes of the longest.
    """

    shifts: tuple[Slot, ...]
    longest: float

    def fit(self, at: float, minutes: float, shift: int = 0) -> tuple[float, float, int]:
        """Return when a work begins and ends that is given out at a time, and in which shift it ends.

        It begins where it is done before the shift ends; one that no shift is long enough for
        begins with a shift and goes on in the next.
        """
        shifts, n = self.shifts, shift
        whole = minutes <= self.longest + SLACK_MIN
        while n < len(shifts):
            start, end = shifts[n]
            begin = start if at < start else at
            if whole and begin + minutes <= end + SLACK_MIN:
                return begin, begin + minutes, n
            if not whole and begin <= start + SLACK_MIN:
                return self._over(begin, minutes, n)
            n += 1
        raise InputError(
            "the tables' hours do not hold this work within ten years",
            remedy="see the works' minutes, and hours and days of the tables",
        )

    def _over(self, begin: float, minutes: float, n: int) -> tuple[float, float, int]:
        at, left = begin, minutes
        while n < len(self.shifts):
            room = self.shifts[n][1] - at
            if left <= room + SLACK_MIN:
                return begin, at + left, n
            left, n = left - room, n + 1
            at = self.shifts[n][0] if n < len(self.shifts) else at
        raise InputError("the tables' hours do not hold this work within ten years", remedy="see its minutes")

    def manned(self, until: float) -> float:
        """Return the minutes of shifts up to a time."""
        return sum(max(0.0, min(end, until) - start) for start, end in self.shifts if start < until)


def clock_of(table: Table, start: datetime, days_off: frozenset[date], minutes: float) -> Clock:
    """Return the shifts of a table from a time on, enough of them for so many minutes of work.

    Parameters
    ----------
    table : Table
    start : datetime
    days_off : frozenset of date
    minutes : float
        All the work there is; shifts that works do not fill are reckoned in.

    Returns
    -------
    Clock

    Raises
    ------
    InputError
        If the table is never manned.
    """
    shifts: list[Slot] = []
    held = 0.0
    for first, last in _shifts(table, start, days_off):
        shifts.append((first, last))
        held += last - first
        # A work may leave up to half of each shift empty, and the longest may wait for a whole one.
        if held > 2.0 * minutes + 8.0 * max(end - begin for begin, end in shifts) and len(shifts) > 2 * WEEK:
            break
    if not shifts:
        raise InputError(f"table {table.name!r} is never manned", remedy="give it hours and days")
    return Clock(tuple(shifts), max(end - begin for begin, end in shifts))


def _shifts(table: Table, start: datetime, days_off: frozenset[date]) -> Iterator[Slot]:
    if not any(table.hours.values()):
        return
    for n in range(LONGEST_DAYS):
        day = start.date() + timedelta(days=n)
        for begin, end in () if day in days_off else table.hours.get(day.weekday(), ()):
            last = _minutes(day, end, start) + (24 * 60.0 if end <= begin else 0.0)
            first = max(0.0, _minutes(day, begin, start))
            if last > first:
                yield first, last


def _minutes(day: date, at: time, start: datetime) -> float:
    return (datetime.combine(day, at) - start) / MINUTE


def minutes_by(clocks: Sequence[Clock]) -> list[tuple[float, float]]:
    """Return the time at which so many minutes are manned on some tables together, at each change."""
    changes: dict[float, int] = {}
    for clock in clocks:
        for begin, end in clock.shifts:
            changes[begin] = changes.get(begin, 0) + 1
            changes[end] = changes.get(end, 0) - 1
    corners, held, at, rate = [(0.0, 0.0)], 0.0, 0.0, 0
    for when in sorted(changes):
        held += rate * (when - at)
        at, rate = when, rate + changes[when]
        corners.append((held, at))
    return corners
