"""Commands that look at one file: a drawing before it is cut, a program before it runs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from cutplan.base.errors import InputError

__all__ = ["check", "verify"]

Json = Annotated[bool, typer.Option("--json", help="Print JSON for scripts instead of a table.")]


def check(
    drawings: Annotated[
        list[Path],
        typer.Argument(help="Drawings (DXF, SVG, STEP), folders of them, or a job file.", show_default=False),
    ],
    thickness: Annotated[
        float | None, typer.Option(help="Plate thickness, mm: checks the trade's rules.", min=0.1)
    ] = None,
    grade: Annotated[str, typer.Option(help="Grade of the plate.")] = "S355",
    process: Annotated[str, typer.Option(help="plasma, oxyfuel or auto.")] = "auto",
    units: Annotated[
        str | None, typer.Option(help="Units of the drawing, instead of the header's: mm, cm, m, in or ft.")
    ] = None,
    gap: Annotated[float, typer.Option(help="Widest gap between ends that is closed, mm.", min=0.0)] = 0.1,
    tolerance: Annotated[
        float, typer.Option(help="How far arcs may stray from curves that they stand for, mm.", min=1e-4)
    ] = 0.01,
    layer: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ROLE=NAME", help="Role of layers, as ignore=TITLE*: cut, mark, bend or ignore."
        ),
    ] = None,
    open_: Annotated[
        str, typer.Option("--open", help="Strokes that close no contour: refuse, or 'leave out'.")
    ] = "refuse",
    frames: Annotated[str, typer.Option(help="Frames of sheets: ask, 'leave out' or cut.")] = "ask",
    svg: Annotated[
        Path | None, typer.Option(help="Write a picture of one drawing, the findings numbered.")
    ] = None,
    page: Annotated[
        Path | None, typer.Option(help="Write a page with a table and a picture of each drawing.")
    ] = None,
    json_: Json = False,
) -> None:
    """Check drawings: what was found, mended and refused, and whether the process can cut it.

    The reading options are those of a job's [drawings]; folders are read on all cores. Exits with 2 when anything is refused or asked.
    """
    from cutplan.base.files import write_text
    from cutplan.cli.display import check_summary, check_tables
    from cutplan.cli.tables import wide_console
    from cutplan.drawing import ReadOptions
    from cutplan.planning import check_drawings, check_job, drawings_in, load_job
    from cutplan.report import drawing_svg, drawings_html

    job = drawings[0] if len(drawings) == 1 and drawings[0].suffix == ".toml" else None
    files = drawings if job else drawings_in(drawings)
    if svg is not None and len(files) != 1:
        raise InputError("--svg draws one drawing", remedy="use --page for several")
    chosen: Any = {"open": open_, "frames": frames}
    options = ReadOptions(units=units, layers=_layers(layer or ()), gap=gap, tolerance=tolerance, **chosen)
    if job:
        results = check_job(load_job(job))
    else:
        results = check_drawings(files, options, thickness=thickness, grade=grade, process=process)
    if svg is not None:
        write_text(svg, drawing_svg(results[0].drawing, results[0].findings))
    if page is not None:
        write_text(page, drawings_html([(r.drawing, r.findings) for r in results], "Drawings checked"))
    if json_:
        records = [result.record() for result in results]
        print(
            json.dumps(
                records[0] if len(files) == 1 and not job and not drawings[0].is_dir() else records,
                ensure_ascii=False,
            )
        )
    else:
        console = wide_console()
        for result in results:
            for table in check_tables(result):
                console.print(table)
        if len(results) > 1:
            console.print(check_summary(results))
    if any(result.stops for result in results):
        raise typer.Exit(2)


def _layers(options: Sequence[str]) -> dict[str, list[str]] | None:
    """Return the roles of layers, out of options like ``ignore=TITLE*``."""
    roles: dict[str, list[str]] = {}
    for option in options:
        role, sign, name = option.partition("=")
        if not (sign and name.strip()):
            raise InputError(
                f"--layer {option!r} names no layer", remedy="write --layer ROLE=NAME, as ignore=TITLE*"
            )
        roles.setdefault(role.strip().casefold(), []).append(name.strip())
    return roles or None


def verify(
    program: Annotated[Path, typer.Argument(help="An RS-274 program.", show_default=False)],
    plan: Annotated[
        Path | None, typer.Option("--plan", help="The plan.json it belongs to; by default the one beside it.")
    ] = None,
    sheet: Annotated[
        str | None, typer.Option(help="Plate and sheet, as PL10-1; by default by the file name.")
    ] = None,
    drawings: Annotated[
        Path | None, typer.Option(help="Folder of the drawings: read them again, and prove against them.")
    ] = None,
    scrap: Annotated[
        list[str] | None,
        typer.Option(help="A part left out because it is scrap: PART for all copies, PART/COPY for one."),
    ] = None,
    from_cut: Annotated[
        int, typer.Option(help="The program begins again at this cut, counted as in plan.json.", min=1)
    ] = 1,
    svg: Annotated[Path | None, typer.Option(help="Write a picture, the trouble spots labelled.")] = None,
    json_: Json = False,
) -> None:
    """Prove a program against its plan: what it really cuts and frees, and whether it was edited.

    Exits with 0 when it passes; 1 when the metal is right and nothing is in danger, but feeds,
    dwells or heights were trimmed within what the cutting data allow; 3 when it is wrong in metal
    or safety, or was not made for this plan.
    """
    from cutplan.base.files import write_text
    from cutplan.cli.display import verdict_lines
    from cutplan.planning import LeftOut, check_program

    beside = plan or program.parent / "plan.json"
    result = check_program(program, beside, sheet, drawings, LeftOut(tuple(scrap or ()), from_cut))
    if svg is not None:
        write_text(svg, result.picture())
    if json_:
        print(json.dumps(result.record(), ensure_ascii=False))
    else:
        for line in verdict_lines(result):
            print(line)
    if result.exit_code:
        raise typer.Exit(result.exit_code)
