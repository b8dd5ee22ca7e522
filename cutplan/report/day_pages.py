"""The plan of days: who cuts what when, on paper and as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from itertools import groupby

from cutplan.base.cleaning import csv_text
from cutplan.report.pages import render
from cutplan.scheduling import Booked, Schedule, Shop

__all__ = ["DAY_COLUMNS", "days_csv", "days_html", "kits_complete"]

DAY_COLUMNS = (
    "table", "start", "end", "change_min", "work", "job", "process", "thickness_mm", "length_mm", "width_mm",
    "minutes", "due", "late_min", "why_late", "kits",
)  # fmt: skip


def days_csv(schedule: Schedule) -> str:
    """Return a schedule as comma-separated text: a row for each work, by time, then what no table can cut.

    Parameters
    ----------
    schedule : Schedule

    Returns
    -------
    str
    """
    rows = []
    for each in sorted(schedule.booked, key=lambda b: (b.start, b.table)):
        work = each.work
        row = [
            each.table, _stamp(each.start), _stamp(each.end), f"{each.change_min:g}", work.name, work.job,
            work.process, f"{work.thickness:g}", f"{work.length:g}", f"{work.width:g}", f"{work.minutes:.1f}",
            "" if work.due is None else work.due.isoformat(), f"{each.late_min:.0f}",
            schedule.reasons.get(work.name, ""), "; ".join(work.kits),
        ]  # fmt: skip
        rows.append(row)
    for work, why in schedule.refused:
        row = ["", "", "", "", work.name, work.job, work.process, f"{work.thickness:g}", f"{work.length:g}",
                 f"{work.width:g}", f"{work.minutes:.1f}", "" if work.due is None else work.due.isoformat(), "",
                 f"no table: {why}", "; ".join(work.kits)]  # fmt: skip
        rows.append(row)
    return csv_text(DAY_COLUMNS, rows)


def days_html(schedule: Schedule, shop: Shop) -> str:
    """Return a schedule as a page to print: each day, its tables, and what is late with the reason.

    Parameters
    ----------
    schedule : Schedule
    shop : Shop

    Returns
    -------
    str
    """
    booked = sorted(schedule.booked, key=lambda b: (b.start, b.table))
    days = [
        (day, [(name, [b for b in own if b.table == name]) for name in _tables(shop, own)])
        for day, own in ((day, list(own)) for day, own in groupby(booked, key=lambda b: b.start.date()))
    ]
    return render(
        "days.html",
        shop=shop.name,
        schedule=schedule,
        start=_stamp(schedule.start),
        end=_stamp(max((b.end for b in booked), default=schedule.start)),
        days=days,
        kits=kits_complete(schedule),
    )


def _tables(shop: Shop, booked: Sequence[Booked]) -> list[str]:
    used = {each.table for each in booked}
    return [table.name for table in shop.tables if table.name in used]


def kits_complete(schedule: Schedule) -> tuple[tuple[str, datetime], ...]:
    """Return when the last sheet of each kit is cut, the earliest first.

    Parameters
    ----------
    schedule : Schedule

    Returns
    -------
    tuple of (str, datetime)
    """
    ends: dict[str, datetime] = {}
    for each in schedule.booked:
        for kit in each.work.kits:
            name = f"{kit} ({each.work.job})" if each.work.job else kit
            ends[name] = max(ends.get(name, each.end), each.end)
    return tuple(sorted(ends.items(), key=lambda item: (item[1], item[0])))


def _stamp(at: datetime) -> str:
    return at.isoformat(sep=" ", timespec="minutes")
