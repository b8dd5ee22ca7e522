"""The command that quotes a batch, before or after plates are chosen."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console

from cutplan.base.errors import InputError

__all__ = ["quote"]


def quote(
    job: Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.", show_default=False)],
    out: Annotated[
        Path | None, typer.Option(help="Folder for quote.html, quote.pdf and quote.csv.", show_default=False)
    ] = None,
    width: Annotated[
        float | None, typer.Option(help="Reckon with plate of this width, mm, as long as needed.")
    ] = None,
    stock_size: Annotated[
        str | None, typer.Option(help="Reckon with whole plates of this size, as 3000x1500.")
    ] = None,
    paper: Annotated[str, typer.Option(help="Paper of the PDF, A4 or Letter.")] = "A4",
    json_: Annotated[bool, typer.Option("--json", help="Print JSON for scripts instead of a table.")] = False,
) -> None:
    """Quote a batch: every line with its source, the price and its range, and what each part costs.

    Without options it reckons with the job's plates; with --width or --stock-size with plate yet to
    be bought. The price file and [estimate] of the job say what a shop's hours and hands cost.
    """
    from cutplan.base.files import write_text
    from cutplan.cli.display import progress_display
    from cutplan.planning import load_job, quote_job
    from cutplan.report import PAPERS, quote_csv, quote_html, quote_pdf

    sheet = next((each for each in PAPERS if paper.casefold() == each.casefold()), None)
    if sheet is None:
        raise InputError(f"unknown paper {paper!r}", remedy=f"use {' or '.join(PAPERS)}")
    with progress_display(Console(stderr=True)) as tell:
        answer = quote_job(load_job(job), tell, width=width, stock_size=_size(stock_size))
    if out is not None:
        write_text(out / "quote.html", quote_html(answer))
        write_text(out / "quote.csv", quote_csv(answer))
        (out / "quote.pdf").write_bytes(quote_pdf(answer, paper=sheet))
    if json_:
        print(json.dumps(_record(answer), ensure_ascii=False))
        return
    _show(answer)
    if out is not None:
        print(f"written to {out}: quote.html and quote.pdf for the customer, quote.csv with every line")


def _size(text: str | None) -> tuple[float, float] | None:
    if text is None:
        return None
    sides = text.lower().replace("×", "x").split("x")
    try:
        length, width = map(float, sides)
    except ValueError:
        raise InputError(
            f"{text!r} is no size of a plate", remedy="write length x width, as 3000x1500"
        ) from None
    return length, width


def _record(answer: Any) -> dict[str, Any]:
    return {
        "job": answer.job,
        "currency": answer.currency,
        "basis": answer.basis,
        "price": str(answer.price),
        "low": str(answer.low),
        "high": str(answer.high),
        "lines": [{**vars(line), "amount": str(line.amount)} for line in answer.lines],
        "parts": [
            {**vars(part), "price_each": {str(n): str(price) for n, price in part.price_each.items()}}
            for part in answer.parts
        ],
        "table_s": list(answer.table_s),
        "edges": list(answer.edges),
        "batch_prices": {str(n): str(price) for n, price in answer.batch_prices.items()},
        "notes": list(answer.notes),
    }


def _show(answer: Any) -> None:
    from cutplan.cli.tables import plain_table, wide_console

    console = wide_console()
    sums = [[item, str(amount)] for item, amount in answer.by_item.items()]
    console.print(
        plain_table(
            f"{answer.job}, quoted", ["item", answer.currency], [*sums, ["price", str(answer.price)]], left=1
        )
    )
    batches = sorted(answer.batch_prices)
    headings = [
        "part",
        "mm",
        "grade",
        "kg each",
        "pieces",
        *(f"each at {n}" for n in batches),
        "kWh each",
        "kg CO2 each",
    ]
    rows = [
        [part.name, f"{part.thickness:g}", part.grade, "–" if part.kg_each is None else f"{part.kg_each:.2f}",
         str(part.copies), *(str(part.price_each[n]) for n in batches), f"{part.power_kwh_each:.2f}",
         "–" if part.co2_kg_each is None else f"{part.co2_kg_each:.2f}"]
        for part in answer.parts
    ]  # fmt: skip
    console.print(plain_table("Parts, by batches ordered", headings, rows, left=1))
    print(
        f"price {answer.price} {answer.currency}, {answer.low} to {answer.high}; reckoned with {answer.basis}"
    )
    stated, low, high = (seconds / 3600.0 for seconds in answer.table_s)
    print(f"table time {stated:.2f} h, {low:.2f} to {high:.2f} h")
    for text in answer.notes:
        print(f"note: {text}")
