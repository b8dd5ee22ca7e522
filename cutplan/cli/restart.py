"""The command that takes up a program that was stopped."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cutplan.cli.alignment import places_in

if TYPE_CHECKING:
    from cutplan.planning import Restarted

__all__ = ["resume"]


def resume(
    program: Annotated[Path, typer.Argument(help="The program that was stopped.", show_default=False)],
    from_cut: Annotated[
        int,
        typer.Option(
            metavar="N", help="The cut on which it stopped, or the next to be made, as numbered in the sheet."
        ),
    ],
    at: Annotated[
        str | None,
        typer.Option(
            metavar="X,Y", help="Where on it the torch stopped, mm; without it the cut is made anew."
        ),
    ] = None,
    later: Annotated[
        bool, typer.Option("--later", help="Of two times that the torch passes there the second is meant.")
    ] = False,
    skip: Annotated[
        list[str] | None,
        typer.Option(metavar="PART[/COPY]", help="A part that is spoilt: cut no more of it."),
    ] = None,
    reorder: Annotated[bool, typer.Option("--reorder", help="Order what is left anew.")] = False,
    over_run: Annotated[
        float | None,
        typer.Option(
            metavar="MM", help="How far before the place it begins; by default by thickness and kerf."
        ),
    ] = None,
    plan: Annotated[
        Path | None, typer.Option("--plan", help="The plan.json it belongs to; by default the one beside it.")
    ] = None,
    sheet: Annotated[
        str | None, typer.Option(help="Plate and sheet, as PL10-1; by default by the file name.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the result; by default SHEET-restart-1 beside the plan.")
    ] = None,
    posts: Annotated[
        list[Path] | None, typer.Option("--postprocessors", help="Folder of the shop's own post-processors.")
    ] = None,
    json_: Annotated[bool, typer.Option("--json", help="Print JSON for scripts.")] = False,
) -> None:
    """Take up a program that was stopped, from a cut or from a place on it, and prove the two together.

    All modes are stated anew. On a place the torch begins in the kerf, an over-run before it, so
    nothing is pierced. What was cut and came loose before is known to the proof; where the two
    programs do not make the plan together nothing is written, and the command ends with 3.
    """
    from cutplan.planning import RestartWishes, restart_program, write_restart

    beside = plan or program.parent / "plan.json"
    wishes = RestartWishes(
        from_cut=from_cut,
        at=places_in([at], "--at")[0] if at is not None else None,
        later=later,
        skip=tuple(skip or ()),
        reorder=reorder,
        over_run_mm=over_run,
    )
    done = restart_program(program, beside, wishes, sheet=sheet, posts=posts or ())
    rest = done.sheet
    home = beside.parent.parent if rest.sheet.before else beside.parent
    folder = out or home / rest.program.name
    files = write_restart(done, folder)
    if json_:
        print(json.dumps(_record(done, folder, files), ensure_ascii=False))
    else:
        _tell(done, folder)


def _record(done: Restarted, folder: Path, files: list[str]) -> dict[str, object]:
    rest = done.sheet
    return {
        "sheet": rest.sheet.name,
        "program": rest.program.file_name,
        "cuts_before": rest.stopped.cuts,
        "until_mm": rest.stopped.until,
        "taken_up": done.taken_up or None,
        "over_run_mm": round(done.over_run_mm, 3),
        "cuts": len(rest.order.steps),
        "given_up": list(done.given_up),
        "time_s": round(rest.estimate.time_s["total"], 1),
        "out": str(folder),
        "files": files,
    }


def _tell(done: Restarted, folder: Path) -> None:
    from cutplan.base.words import duration

    rest = done.sheet
    stopped = rest.stopped
    if done.taken_up and stopped.until is not None:
        x, y = stopped.until
        print(
            f"{done.taken_up} is taken up at ({x:.2f}, {y:.2f}) mm, {stopped.until_mm:.1f} mm along it; the torch "
            f"begins {done.over_run_mm:.1f} mm before that in its kerf"
        )
    else:
        print(f"{rest.sheet.name} is taken up behind its cut {stopped.cuts}")
    if done.passes_twice_mm:
        first, *_, last = done.passes_twice_mm
        print(
            f"the torch passes there twice, {first:.1f} and {last:.1f} mm along the cut: look which it was; "
            "--later takes the second"
        )
    for name in done.given_up:
        print(f"skipped: {name}; book it with `cutplan stock spoil`, and its demand opens again")
    print(
        f"{len(rest.order.steps)} cuts are left, {duration(rest.estimate.time_s['total'])}; with what ran they make "
        f"the plan. {rest.program.file_name} is written to {folder}: run it dry first"
    )
