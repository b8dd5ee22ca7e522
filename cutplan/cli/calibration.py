"""The command that fits a machine's factors to measured times."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.console import Console

from cutplan.base.errors import InputError

if TYPE_CHECKING:
    from cutplan.estimating import Calibration
    from cutplan.record import SavedPlan

__all__ = ["calibrate"]


def calibrate(
    job: Annotated[
        Path,
        typer.Argument(metavar="JOB.toml|plan.json", help="The job file, or a plan.", show_default=False),
    ],
    times: Annotated[
        Path | None,
        typer.Argument(
            help="CSV with the columns program and minutes; left out, the minutes noted in the inventory.",
            show_default=False,
        ),
    ] = None,
    factors: Annotated[
        str, typer.Option(help="Groups of activities to fit, parted by commas.")
    ] = "cutting,standing,moving",
    seed: Annotated[
        int | None, typer.Option(help="Seed of the searches, instead of the job's.", min=0)
    ] = None,
    workers: Annotated[int | None, typer.Option(help="Processes side by side.", min=1)] = None,
    cluster: Annotated[str | None, typer.Option(metavar="ADDRESS", help="Work on a cluster.")] = None,
    stock: Annotated[
        Path | None, typer.Option("--stock", help="The inventory, instead of the usual one.")
    ] = None,
) -> None:
    """Fit the machine's factors to measured times, and say how well they fit.

    A plan.json is enough: its estimates are taken as they are. Without a list of times those
    count that `cutplan stock ran` noted of the plan, or of all plans in the folders beside it.
    """
    from cutplan.estimating import calibrate as fit
    from cutplan.estimating import calibrate_to

    groups = [f.strip() for f in factors.split(",")]
    if job.suffix == ".json":
        from cutplan.record import read_plan

        saved = read_plan(job)
        if any(sheet.calibrated or not sheet.time_s for sheet in saved.sheets):
            remedy = "plan the job again; where its [estimate] has time_factors, name the job file instead"
            raise InputError("holds no estimate without factors", where=str(job), remedy=remedy)
        estimates: dict[str, Any] = {sheet.name: sheet for sheet in saved.sheets}
        if times is None:
            minutes, source = _noted(saved, stock)
            _tell(calibrate_to(minutes, estimates, groups, source=source))
            return
    else:
        if times is None:
            raise InputError("no times are given", remedy="name a CSV, or a plan.json in place of the job")
        estimates = _planned(job, seed, workers, cluster)
    _tell(fit(times, estimates, groups))


def _tell(fitted: Calibration) -> None:
    print(fitted.summary())
    if fitted.settings():
        print("to reckon with them, put into [estimate]:", *fitted.settings(), sep="\n")


def _noted(saved: SavedPlan, stock: Path | None) -> tuple[list[tuple[str, float]], str]:
    """Return the minutes noted of a plan's sheets, and where they were."""
    from cutplan.stock import Inventory

    with Inventory(stock, make=False) as inventory:
        runs = inventory.runs(saved.name)
        source = str(inventory.file)
    if not runs:
        raise InputError(
            f"no run of plan {saved.name!r} is noted", where=source, remedy="note them by `cutplan stock ran`"
        )
    return [(run.sheet, run.minutes) for run in runs], source


def _planned(job: Path, seed: int | None, workers: int | None, cluster: str | None) -> dict[str, Any]:
    from cutplan.cli.display import progress_display
    from cutplan.planning import load_job, opened, plan_job

    loaded = load_job(job)
    # Factors are fitted to what the programs say, without any that were fitted before.
    plain = replace(loaded.estimate, time_factors={}, time_scatter=0.0)
    loaded = replace(loaded, estimate=plain, seed=loaded.seed if seed is None else seed)
    with progress_display(Console(stderr=True)) as tell, opened(workers, cluster) as engine:
        planned = plan_job(loaded, tell, own_plans=True, engine=engine)
    return {sheet.name: sheet.estimate for sheet in planned.sheets}
