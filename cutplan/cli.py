"""The command line: one command a use, each with its reason, its options and its exit code."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Annotated, Any

import typer
from rich.console import Console

from cutplan import __version__
from cutplan.cli_lists import data_app, posts_app

__all__ = ["app"]

app = typer.Typer(
    add_completion=False,
    no_args_is_help=True,
    rich_markup_mode="rich",
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
    help=(
        "Plan the cutting of steel plate by plasma and oxy-fuel: nest the parts of a batch, order the "
        "cuts, write RS-274 programs, and prove each against the drawings before it is written.\n\n"
        "Lengths are mm, times seconds, angles degrees. Exit codes: 0 all planned and proved; 1 planned, "
        "but something did not fit or a warning was made an error; 2 the input is wrong; 3 a program "
        "failed its proof.\n\n"
        "The operator stays in charge: dry run with the torch off first, and follow local codes."
    ),
)

JobFile = Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.", show_default=False)]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for scripts instead of a table.")]
Seed = Annotated[int | None, typer.Option(help="Seed of the searches, instead of the job's.", min=0)]
app.add_typer(data_app, name="data")
app.add_typer(posts_app, name="posts")


def _version(wanted: bool) -> None:
    if wanted:
        print(f"cutplan {__version__}")
        raise typer.Exit


@app.callback()
def _main(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    """Hold the options before any command."""


@app.command()
def plan(
    job: JobFile,
    out: Annotated[Path, typer.Option(help="Folder for the results; replaced all or nothing.")] = Path("out"),
    seed: Seed = None,
    json_: Json = False,
    strict: Annotated[bool, typer.Option(help="Exit with 1 when there is any warning.")] = False,
) -> None:
    """Make proved programs for a batch: drawings in, a program, picture and sheet a plate out.

    Writes into the folder, all or nothing: for each plate a program, an SVG picture and a setup
    sheet, and plan.json for the whole batch. No program is written that failed its proof.
    """
    from cutplan.display import findings_lines, plan_summary, progress_display, wide_console
    from cutplan.plan import plan_job, write_plan
    from cutplan.report import plan_record

    loaded = _load(job, seed)
    with progress_display(Console(stderr=True)) as tell:
        planned = plan_job(loaded, tell)
        write_plan(planned, out)
    warnings = findings_lines(planned.findings)
    if json_:
        print(json.dumps(plan_record(planned), ensure_ascii=False))
    else:
        wide_console().print(plan_summary(planned))
        for line in [*warnings, *_unplaced_lines(planned.unplaced)]:
            print(line)
        print(f"written to {out}")
    if planned.unplaced or (warnings and (strict or loaded.warnings_are_errors)):
        raise typer.Exit(1)


def _load(file: Path, seed: int | None) -> Any:
    from dataclasses import replace

    from cutplan.job import load_job

    loaded = load_job(file)
    return loaded if seed is None else replace(loaded, seed=seed)


def _unplaced_lines(unplaced: Any) -> list[str]:
    return [f"not placed: {item.quantity} × {item.part}: {item.reason}" for item in unplaced]
