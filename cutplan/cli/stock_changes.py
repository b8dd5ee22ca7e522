"""Commands that correct the inventory: spoilt parts, moved pieces, changes taken back, what jobs owe."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.base.cleaning import plain
from cutplan.base.errors import InputError
from cutplan.base.names import checked_name
from cutplan.cli.stock import Json, Label, Page, StockFile, stock_app
from cutplan.cli.tables import plain_table, wide_console

if TYPE_CHECKING:
    from cutplan.stock import Owing

__all__ = ["stock_app"]

By = Annotated[
    str | None,
    typer.Option(help="Who does it, for the journal; by default CUTPLAN_AUTHOR or the system's user."),
]


@stock_app.command()
def spoil(
    mark: Annotated[str, typer.Argument(help="Mark on the part's label.", show_default=False)],
    why: Annotated[str, typer.Option(help="What is wrong with it.", show_default=False)],
    plan: Annotated[str | None, typer.Option(help="Plan, where several have a part so marked.")] = None,
    by: By = None,
    stock: StockFile = None,
) -> None:
    """Book a part as scrap: its job owes it again, and a plan with [stock] reopen takes it along."""
    from cutplan.stock import Inventory

    with Inventory(stock, make=False, author=by) as inventory:
        part = inventory.spoil(mark, _told(why, "--why"), plan)
        owing = next(each for each in inventory.owings(part.job) if each.part == part.part)
    print(
        f"{mark} ({part.part}) is spoilt; job {part.job} owes {owing.owed} of {owing.wanted}, {owing.open} not planned"
    )


@stock_app.command()
def move(
    label: Label,
    place: Annotated[str, typer.Argument(help="Where it lies now; '' where that is not known.")],
    by: By = None,
    stock: StockFile = None,
) -> None:
    """Say where a piece lies now."""
    from cutplan.stock import Inventory

    with Inventory(stock, make=False, author=by) as inventory:
        before = inventory.relocate(label, _told(place, "the place") if place else None)
    print(f"{label} lies at {place or 'no known place'} (before: {before or 'not given'})")


@stock_app.command()
def undo(
    number: Annotated[
        int | None,
        typer.Argument(help="Number of the change in the journal; your own last one if left out.", min=1),
    ] = None,
    by: By = None,
    stock: StockFile = None,
) -> None:
    """Take a change back: what was received, cut, scrapped, moved or spoilt by mistake.

    The newest before the older: what later changes touched stays. Taking back is kept in the
    journal like any other change.
    """
    from cutplan.stock import Inventory, detail_words

    with Inventory(stock, make=False, author=by) as inventory:
        change = inventory.take_back(number)
    print(plain(f"taken back: change {change.number}, {change.act} {detail_words(change.detail)}"))


@stock_app.command()
def journal(
    count: Annotated[int, typer.Option(help="Changes shown, newest first.", min=1)] = 40,
    stock: StockFile = None,
    json_: Json = False,
) -> None:
    """Show what was changed, when and by whom, newest first."""
    from cutplan.stock import Inventory, detail_words

    with Inventory(stock, make=False) as inventory:
        changes = inventory.changes(count)
    if json_:
        print(json.dumps([asdict(change) for change in changes], ensure_ascii=False))
        return
    rows = [
        [str(c.number), c.at, c.author, c.act, detail_words(c.detail),
         f"by change {c.undone_by}" if c.undone_by else ""]
        for c in changes
    ]  # fmt: skip
    headings = ["change", "time (UTC)", "by", "what", "with", "taken back"]
    wide_console().print(plain_table("Journal", headings, rows, left=6))


@stock_app.command("job")
def show_job(
    job: Annotated[str | None, typer.Argument(help="Name of the job; all of them if left out.")] = None,
    page: Page = None,
    stock: StockFile = None,
    json_: Json = False,
) -> None:
    """Show what a job wants, has planned, cut and spoilt, and still owes."""
    from cutplan.stock import Inventory

    with Inventory(stock, make=False) as inventory:
        known = inventory.jobs()
        if job is not None and job not in known:
            remedy = f"known here: {', '.join(known)}" if known else "no plan was made with this inventory"
            raise InputError(f"no job {job!r}", where=str(inventory.file), remedy=remedy)
        names = known if job is None else (job,)
        owings = [each for name in names for each in inventory.owings(name)]
        spoilt = [mark for name in names for mark in inventory.marks(job=name) if mark.state == "spoilt"]
    if page is not None:
        from cutplan.base.files import write_text
        from cutplan.report import owing_html

        write_text(page, owing_html(job or "all jobs", owings, spoilt))
    if json_:
        records = [
            {**asdict(each), "owed": each.owed, "open": each.open, "surplus": each.surplus} for each in owings
        ]
        print(json.dumps({"parts": records, "spoilt": [asdict(mark) for mark in spoilt]}, ensure_ascii=False))
    elif page is not None:
        print(f"written to {page}")
    else:
        _show_owings(owings)


def _show_owings(owings: Sequence[Owing]) -> None:
    rows = [
        [o.job, o.part, o.kit or "–", o.due or "–",
         *map(str, (o.wanted, o.planned, o.cut, o.spoilt, o.owed, o.open))]
        for o in owings
    ]  # fmt: skip
    headings = ["job", "part", "kit", "due", "wanted", "planned", "cut", "spoilt", "owed", "not planned"]
    wide_console().print(plain_table("Owed", headings, rows, left=4))
    for each in owings:
        if each.surplus:
            print(plain(f"{each.surplus} more of {each.part} ({each.job}) are cut or planned than wanted"))


def _told(text: str, what: str) -> str:
    try:
        return checked_name(text)
    except ValueError as problem:
        raise InputError(f"{what}: {problem}", remedy="give a few plain words") from None
