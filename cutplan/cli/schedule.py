"""The command that shares work out over the shop's tables."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutplan.base.cleaning import plain
from cutplan.base.errors import InputError

if TYPE_CHECKING:
    from cutplan.scheduling import Schedule

__all__ = ["schedule"]


def schedule(
    shop: Annotated[Path, typer.Argument(metavar="SHOP.toml", help="The shop file.", show_default=False)],
    places: Annotated[
        list[Path],
        typer.Argument(
            metavar="PLAN|FOLDER|LIST...",
            help="Plans, folders of plans, or lists of work.",
            show_default=False,
        ),
    ],
    start: Annotated[
        str | None, typer.Option(help="From when on, as 2027-01-11T06:00; the next shift if left out.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="Folder for days.html and days.csv.")] = None,
    seed: Annotated[int, typer.Option(help="Seed of the search.", min=0)] = 0,
    json_: Annotated[bool, typer.Option("--json", help="Print JSON for scripts instead of a table.")] = False,
) -> None:
    """Share sheets out over the tables: what is due first is cut first, and the tables are busy.

    Says how far the answer may be from the best, and why what is late is late. Exits with 1 when
    something is late or no table can cut it.
    """
    from cutplan.base.files import write_text
    from cutplan.planning import works_in
    from cutplan.report import days_csv, days_html
    from cutplan.scheduling import give_out, load_shop, next_start

    tables = load_shop(shop)
    works = works_in(places)
    begin = _time(start) if start else next_start(tables, datetime.now().replace(second=0, microsecond=0))
    answer = give_out(works, tables, begin, seed=seed)
    if out is not None:
        write_text(out / "days.html", days_html(answer, tables))
        write_text(out / "days.csv", days_csv(answer))
    if json_:
        print(json.dumps(_record(answer), ensure_ascii=False))
    else:
        _show(answer)
        if out is not None:
            print(f"written to {out}: days.html and days.csv")
    if answer.late or answer.refused:
        raise typer.Exit(1)


def _time(text: str) -> datetime:
    at: datetime | None = None
    with suppress(ValueError):
        at = datetime.fromisoformat(text)
    if at is None or at.tzinfo is not None:
        raise InputError(
            f"--start: {text!r} is no time", remedy="write the shop's own time: 2027-01-11T06:00"
        )
    return at


def _record(answer: Schedule) -> dict[str, Any]:
    return {
        "start": answer.start.isoformat(),
        "late_min": round(answer.late_min, 3),
        "late_bound_min": round(answer.late_bound_min, 3),
        "span_min": round(answer.span_min, 3),
        "span_bound_min": round(answer.span_bound_min, 3),
        "labour_hours": round(answer.labour_hours, 3),
        "busy": {name: round(share, 4) for name, share in answer.busy.items()},
        "booked": [
            {"work": b.work.name, "job": b.work.job, "table": b.table, "start": b.start.isoformat(),
             "end": b.end.isoformat(), "change_min": b.change_min, "late_min": round(b.late_min, 3),
             "why": answer.reasons.get(b.work.name)}
            for b in answer.booked
        ],
        "refused": [{"work": work.name, "why": why} for work, why in answer.refused],
    }  # fmt: skip


def _show(answer: Schedule) -> None:
    from cutplan.cli.tables import plain_table, wide_console

    rows = [
        [b.table, b.start.strftime("%a %m-%d %H:%M"), b.end.strftime("%a %m-%d %H:%M"), b.work.name, b.work.process,
         f"{b.work.thickness:g}", "–" if b.work.due is None else b.work.due.isoformat(),
         f"{b.late_min / 60.0:.1f}" if b.late_min else ""]
        for b in answer.booked
    ]  # fmt: skip
    headings = ["table", "from", "to", "work", "process", "mm", "due", "h late"]
    wide_console().print(plain_table(f"Days ({len(rows)} works)", headings, rows, left=5))
    print(
        f"late {answer.late_min / 60.0:.1f} h (no plan under {answer.late_bound_min / 60.0:.1f} h); the last is done "
        f"after {answer.span_min / 60.0:.1f} h (no plan before {answer.span_bound_min / 60.0:.1f} h, at most "
        f"{100.0 * answer.gap_span:.1f} % sooner)"
    )
    for name, share in answer.busy.items():
        print(f"{name} is busy {100.0 * share:.0f} % of its manned hours")
    for late in answer.late:
        print(
            plain(f"late: {late.work.name} by {late.late_min / 60.0:.1f} h: {answer.reasons[late.work.name]}")
        )
    for work, why in answer.refused:
        print(plain(f"no table can cut {work.name}: {why}"))
