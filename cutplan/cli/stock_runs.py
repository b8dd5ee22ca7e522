"""What operators write back of a sheet: minutes, restarts, consumables worn."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.base.errors import CutplanError, InputError
from cutplan.base.files import error_of
from cutplan.base.tables import Column, Row, decimal_mark, number, read_rows, whole_number
from cutplan.cli.stock import Json, StockFile
from cutplan.cli.stock_changes import By, stock_app
from cutplan.cli.tables import plain_table, wide_console

if TYPE_CHECKING:
    from cutplan.record import SavedPlan
    from cutplan.stock import Run

__all__ = ["stock_app"]

RUN_COLUMNS = (
    Column("program", ("program", "sheet", "programm"), required=True),
    Column("minutes", ("minutes", "min", "time", "minuten"), required=True),
    Column("restarts", ("restarts", "restart", "neustarts")),
    Column("sets", ("sets", "worn sets", "consumable sets", "sets worn")),
)
PlanFile = Annotated[Path, typer.Argument(metavar="PLAN.json", show_default=False)]


@stock_app.command("ran")
def note_run(
    plan: PlanFile,
    sheet: Annotated[
        str | None, typer.Argument(help="Plate and sheet, as PL10-1; left out where there is one.")
    ] = None,
    minutes: Annotated[float | None, typer.Option(help="From the first start to the last end.")] = None,
    restarts: Annotated[int, typer.Option(help="Times that a cut was begun again.", min=0)] = 0,
    sets: Annotated[float | None, typer.Option(help="Consumable sets worn out, as 0.5.", min=0.0)] = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            help="A list with the columns program, minutes and, where there are, restarts and sets."
        ),
    ] = None,
    by: By = None,
    stock: StockFile = None,
) -> None:
    """Note how a sheet ran: minutes, restarts, sets worn; `cutplan calibrate` learns from it."""
    from cutplan.record import read_plan
    from cutplan.stock import Inventory, Run

    saved = read_plan(plan)
    if not saved.name:
        raise InputError("has no name of its own", where=str(plan), remedy="plan the job again")
    if (csv is None) == (minutes is None):
        raise InputError("a run has minutes, or a list of them", remedy="give --minutes or --csv")
    if csv is None:
        assert minutes is not None
        runs = [Run(saved.name, saved.sheet(sheet).name, minutes, restarts, sets)]
    else:
        runs = _listed(csv, saved)
    with Inventory(stock, author=by) as inventory:
        inventory.note_runs(runs)
    print(f"noted: {', '.join(f'{run.sheet} {run.minutes:g} min' for run in runs)}")


@stock_app.command("runs")
def show_runs(
    plan: Annotated[str | None, typer.Argument(help="Name of a plan; all if left out.")] = None,
    stock: StockFile = None,
    json_: Json = False,
) -> None:
    """Show how sheets ran, oldest first."""
    from cutplan.stock import Inventory

    with Inventory(stock, make=False) as inventory:
        runs = inventory.runs(plan)
    if json_:
        print(json.dumps([asdict(run) for run in runs], ensure_ascii=False))
        return
    rows = [
        [run.at, run.plan, run.sheet, f"{run.minutes:g}", str(run.restarts), "–" if run.sets is None else f"{run.sets:g}"]
        for run in runs
    ]  # fmt: skip
    headings = ["time (UTC)", "plan", "sheet", "minutes", "restarts", "sets"]
    wide_console().print(plain_table("Runs", headings, rows, left=3))


def _listed(file: Path, saved: SavedPlan) -> list[Run]:
    rows = read_rows(file, RUN_COLUMNS)
    mark = decimal_mark(row.cells.get(key, "") for row in rows for key in ("minutes", "sets"))
    runs: list[Run] = []
    problems: list[tuple[str, str]] = []
    for row in rows:
        try:
            runs.append(_run(row, saved, mark))
        except CutplanError as problem:
            problems.append((f"row {row.line}: {problem.message}", problem.remedy or "mend the list"))
    if problems:
        raise error_of(problems, str(file))
    if not runs:
        raise InputError("holds no run", where=str(file), remedy="a row for each sheet that ran")
    return runs


def _run(row: Row, saved: SavedPlan, mark: str | None) -> Run:
    from cutplan.stock import Run

    cells = row.cells
    by_file = {name: sheet.name for sheet in saved.sheets for name, _ in sheet.programs}
    named = cells["program"].strip()
    sheet = saved.sheet(by_file.get(named, named)).name
    restarts = whole_number(cells["restarts"], mark=mark) if cells.get("restarts") else 0
    sets = number(cells["sets"], mark=mark) if cells.get("sets") else None
    return Run(saved.name, sheet, number(cells["minutes"], mark=mark), restarts, sets)
