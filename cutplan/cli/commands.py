"""The command line: one command a use, each with its reason, its options and its exit code."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from rich.console import Console

from cutplan.base.errors import InputError
from cutplan.base.version import __version__
from cutplan.cli.alignment import align
from cutplan.cli.calibration import calibrate
from cutplan.cli.inspection import check, verify
from cutplan.cli.lists import data_app, posts_app
from cutplan.cli.page import page
from cutplan.cli.quote import quote
from cutplan.cli.restart import resume
from cutplan.cli.schedule import schedule
from cutplan.cli.stock_runs import stock_app

if TYPE_CHECKING:
    from cutplan.record import Plan
    from cutplan.report import Paper

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
        "but something did not fit or a warning was made an error, or `verify` found feeds, dwells or "
        "heights trimmed; 2 the input is wrong; 3 a program failed its proof.\n\n"
        "The operator stays in charge: dry run with the torch off first, and follow local codes."
    ),
)

JobFile = Annotated[Path, typer.Argument(metavar="JOB.toml", help="The job file.", show_default=False)]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for scripts instead of a table.")]
Seed = Annotated[int | None, typer.Option(help="Seed of the searches, instead of the job's.", min=0)]
Workers = Annotated[
    int | None,
    typer.Option(
        help="Processes side by side, one for each core by default. What comes out does not depend on it.",
        min=1,
    ),
]
Cluster = Annotated[
    str | None,
    typer.Option(
        metavar="ADDRESS",
        help="Work on a cluster: tcp://… of a Dask scheduler, or local. Needs the extra 'cluster'.",
    ),
]
# A place may begin with a minus.
app.command("align", context_settings={"ignore_unknown_options": True})(align)
app.command("resume")(resume)
app.command("calibrate")(calibrate)
app.command("page")(page)
app.command("quote")(quote)
app.command("schedule")(schedule)
app.command("check")(check)
app.command("verify")(verify)
app.add_typer(data_app, name="data")
app.add_typer(posts_app, name="posts")
app.add_typer(stock_app, name="stock")


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
    pdf: Annotated[
        str | None, typer.Option(help="Write setup sheets and labels as PDF too, on A4 or Letter.")
    ] = None,
    workers: Workers = None,
    cluster: Cluster = None,
    json_: Json = False,
    strict: Annotated[bool, typer.Option(help="Exit with 1 when there is any warning.")] = False,
    replace_: Annotated[
        bool,
        typer.Option("--replace", help="Take the place of another job's plan, or of files changed by hand."),
    ] = False,
    edits: Annotated[
        Path | None,
        typer.Option(help="File of edits made by hand, on the page or in an editor; they are made anew."),
    ] = None,
) -> None:
    """Make proved programs for a batch: drawings in, a program, picture and sheet a plate out.

    Writes into the folder, all or nothing: for each plate a program, an SVG picture and a setup
    sheet, and plan.json for the whole batch. No program is written that failed its proof. Plates
    drawn from the inventory are reserved; planning into the same folder again gives them back. A
    folder that holds another job's plan, or files changed by hand, is refused unless --replace.
    """
    from cutplan.cli.display import findings_lines, progress_display
    from cutplan.editing import read_edits
    from cutplan.planning import (
        left_behind,
        locked,
        opened,
        plan_job,
        planned_before,
        refuse_another,
        reserved,
        write_files,
    )
    from cutplan.record import plan_record

    paper = _paper(pdf)
    loaded, by_hand = _load(job, seed), read_edits(edits) if edits else None
    with locked(out):
        replaces = planned_before(out, loaded)
        refuse_another(out, loaded.name, replace=replace_)
        stranded = left_behind(out, loaded)
        with progress_display(Console(stderr=True)) as tell, opened(workers, cluster) as engine:
            planned = plan_job(loaded, tell, replaces=replaces, engine=engine, edits=by_hand)
            with reserved(planned, loaded, out, replaces) as pieces:
                tell("drawing the sheets and writing the files", None)
                write_files(planned, out, paper=paper, replace=replace_)
    warnings = findings_lines(planned.findings)
    if stranded is not None:
        warnings.append(
            f"warning: plates stay reserved for {stranded!r}, which this plan replaced, in an inventory that the "
            f"job no longer names: `cutplan stock release {stranded!r}` frees them"
        )
    if json_:
        print(json.dumps(plan_record(planned), ensure_ascii=False))
    else:
        _show_plan(planned, warnings, pieces)
        print(f"written to {out}")
    # What was taken from a drawing, or left out of it as the job says, is told but is no warning.
    warned = stranded is not None or any(finding.kind == "warning" for _, finding in planned.findings)
    if planned.unplaced or (warned and (strict or loaded.warnings_are_errors)):
        raise typer.Exit(1)


def _paper(pdf: str | None) -> Paper | None:
    """Return the paper that is meant, None where no PDF is asked for."""
    from cutplan.report import PAPERS

    paper = next((each for each in PAPERS if pdf and each.casefold() == pdf.casefold()), None)
    if pdf and paper is None:
        raise InputError(f"unknown paper {pdf!r}", remedy=f"use {' or '.join(PAPERS)}")
    return paper


def _show_plan(planned: Plan, warnings: Sequence[str], pieces: Sequence[str]) -> None:
    """Print a plan, what is to be known of it, and the plates that were reserved for it."""
    from cutplan.cli.display import order_lines, plan_summary
    from cutplan.cli.tables import wide_console
    from cutplan.record import plan_name

    wide_console().print(plan_summary(planned))
    for line in [*order_lines(planned), *warnings, *_unplaced_lines(planned.unplaced)]:
        print(line)
    if pieces:
        print(f"reserved for {plan_name(planned)!r}: {', '.join(pieces)}")


@app.command()
def nest(
    job: JobFile,
    seed: Seed = None,
    svg: Annotated[Path | None, typer.Option(help="Write a picture of each plate into this folder.")] = None,
    workers: Workers = None,
    cluster: Cluster = None,
    json_: Json = False,
) -> None:
    """Nest a batch on its plates, without making programs: what fits where, and what does not."""
    from cutplan.base.files import write_text
    from cutplan.cli.display import findings_lines, nest_summary, progress_display
    from cutplan.cli.tables import wide_console
    from cutplan.planning import nest_job, opened
    from cutplan.report import nested_svg

    with progress_display(Console(stderr=True)) as tell, opened(workers, cluster) as engine:
        nests, findings = nest_job(_load(job, seed), tell, engine=engine)
    plates = [plate for each in nests for plate in each.plates]
    unplaced = [item for each in nests for item in each.unplaced]
    if svg is not None:
        for plate in plates:
            write_text(svg / f"{plate.plate.id}-{plate.sheet}.svg", nested_svg(plate))
    if json_:
        from cutplan.record import nest_record

        print(json.dumps([nest_record(each) for each in nests], ensure_ascii=False))
    else:
        wide_console().print(nest_summary(nests))
        for line in [*findings_lines(findings), *_unplaced_lines(unplaced)]:
            print(line)
    if unplaced:
        raise typer.Exit(1)


@app.command()
def strip(
    job: JobFile,
    width: Annotated[float, typer.Argument(help="Width of the plate, mm.", show_default=False)],
    seed: Seed = None,
    svg: Annotated[Path | None, typer.Option(help="Write a picture of each plate into this folder.")] = None,
    workers: Workers = None,
    cluster: Cluster = None,
    json_: Json = False,
) -> None:
    """Say how long a plate of a width must be ordered for a batch; the job's own plates do not count."""
    from cutplan.base.files import write_text
    from cutplan.cli.display import findings_lines, progress_display, strip_summary
    from cutplan.cli.tables import wide_console
    from cutplan.planning import as_plate, opened, strip_job
    from cutplan.report import nested_svg

    if not 0.0 < width < float("inf"):
        raise InputError(f"a plate cannot be {width:g} mm wide", remedy="give a width above zero")
    with progress_display(Console(stderr=True)) as tell, opened(workers, cluster) as engine:
        answers, findings = strip_job(_load(job, seed), width, tell, engine=engine)
    unplaced = [item for _, answer in answers for item in answer.unplaced]
    if svg is not None:
        for group, answer in answers:
            plate = as_plate(group, answer)
            write_text(svg / f"{plate.plate.id}.svg", nested_svg(plate))
    if json_:
        print(json.dumps([
            {"thickness_mm": group.data.thickness, "grade": group.demands[0].grade, "width_mm": answer.width,
             "length_mm": answer.length, "least_length_mm": answer.least_length,
             "parts": len(answer.placements), "unplaced": [vars(item) for item in answer.unplaced]}
            for group, answer in answers
        ], ensure_ascii=False))  # fmt: skip
    else:
        wide_console().print(strip_summary(answers))
        for line in [*findings_lines(findings), *_unplaced_lines(unplaced)]:
            print(line)
    if unplaced:
        raise typer.Exit(1)


@app.command()
def estimate(
    job: JobFile, seed: Seed = None, workers: Workers = None, cluster: Cluster = None, json_: Json = False
) -> None:
    """Estimate time, gas, power and, with a price file, cost of a batch, without writing programs.

    The batch is planned and proved in memory; the figures come from the programs' own text.
    """
    from cutplan.cli.display import estimate_lines, estimate_summary, progress_display
    from cutplan.cli.tables import wide_console
    from cutplan.planning import opened, plan_job
    from cutplan.record import plan_record

    with progress_display(Console(stderr=True)) as tell, opened(workers, cluster) as engine:
        planned = plan_job(_load(job, seed), tell, own_plans=True, engine=engine)
    if json_:
        record = plan_record(planned)
        print(json.dumps({"totals": record["totals"], "plates": {
            f"{p['id']}-{p['sheet']}": p["estimate"] for p in record["plates"]}}, ensure_ascii=False))  # fmt: skip
        return
    wide_console().print(estimate_summary(planned))
    for line in estimate_lines(planned.total):
        print(line)


@app.command()
def compare(
    job: JobFile, seed: Seed = None, workers: Workers = None, cluster: Cluster = None, json_: Json = False
) -> None:
    """Compare the same batch by plasma and by oxy-fuel with one, two and four torches.

    The cuts stay as they were planned; only the process and the torches differ.
    """
    from cutplan.cli.display import compare_summary, progress_display
    from cutplan.cli.tables import wide_console
    from cutplan.planning import compare_job, opened

    with progress_display(Console(stderr=True)) as tell, opened(workers, cluster) as engine:
        results = compare_job(_load(job, seed), tell, engine=engine)
    if json_:
        records = [
            {"name": r.alternative.name, "reason": r.reason, **({} if r.estimate is None else {
                "time_s": dict(r.estimate.time_s), "gas_m3": dict(r.estimate.gas_m3),
                "cost": r.estimate.cost and dict(r.estimate.cost)})}
            for r in results
        ]  # fmt: skip
        print(json.dumps(records, ensure_ascii=False))
        return
    wide_console().print(compare_summary(results))


@app.command()
def version() -> None:
    """Print the version."""
    print(f"cutplan {__version__}")


def _load(file: Path, seed: int | None) -> Any:
    from cutplan.planning import load_job

    loaded = load_job(file)
    return loaded if seed is None else replace(loaded, seed=seed)


def _unplaced_lines(unplaced: Any) -> list[str]:
    return [f"not placed: {item.quantity} × {item.part}: {item.reason}" for item in unplaced]
