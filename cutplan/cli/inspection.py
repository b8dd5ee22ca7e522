"""Commands that look at one file: a drawing before it is cut, a program before it runs."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutplan.base.errors import InputError

if TYPE_CHECKING:
    from cutplan.planning import CheckedDrawing

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
    colour: Annotated[
        list[str] | None,
        typer.Option(metavar="ROLE=COLOUR", help="Role of colours, by number or name, as mark=red."),
    ] = None,
    open_: Annotated[
        str, typer.Option("--open", help="Strokes that close no contour: refuse, or 'leave out'.")
    ] = "refuse",
    frames: Annotated[str, typer.Option(help="Frames of sheets: ask, 'leave out' or cut.")] = "ask",
    equal: Annotated[str, typer.Option(help="Equal parts: 'one part', counted, or apart.")] = "one part",
    choose: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY=VALUE,…", help="Take these parts alone, as layer=NEW*,larger_than=20."),
    ] = None,
    leave_out: Annotated[
        list[str] | None,
        typer.Option(metavar="KEY=VALUE,…", help="Leave these parts out, as name=OLD* or at=40/25."),
    ] = None,
    text: Annotated[
        list[str] | None,
        typer.Option(
            metavar="MEANING=PATTERN",
            help="Pattern of a quantity, thickness, grade or name in texts; the value in round brackets.",
        ),
    ] = None,
    limit: Annotated[
        list[str] | None,
        typer.Option(metavar="NAME=FIGURE", help="What reading a drawing may take, as seconds=60."),
    ] = None,
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
    from cutplan.cli.reading_options import choices_of, limits_of, roles_of, texts_of
    from cutplan.drawing import ReadOptions
    from cutplan.planning import check_drawings, check_job, drawings_in, load_job
    from cutplan.report import drawing_svg, drawings_html

    job = drawings[0] if len(drawings) == 1 and drawings[0].suffix == ".toml" else None
    files = drawings if job else drawings_in(drawings)
    if svg is not None and len(files) != 1:
        raise InputError("--svg draws one drawing", remedy="use --page for several")
    chosen: Any = {"open": open_, "frames": frames, "equal": equal}
    options = ReadOptions(
        units=units,
        gap=gap,
        tolerance=tolerance,
        layers=roles_of("--layer", layer or ()),
        colours=roles_of("--colour", colour or ()),
        choose=choices_of("--choose", choose or ()),
        leave_out=choices_of("--leave-out", leave_out or ()),
        texts=texts_of(text or ()),
        limits=limits_of(limit or ()),
        **chosen,
    )
    if job:
        results = check_job(load_job(job))
    else:
        results = check_drawings(files, options, thickness=thickness, grade=grade, process=process)
    if svg is not None:
        write_text(svg, drawing_svg(results[0].drawing, results[0].findings))
    if page is not None:
        write_text(page, drawings_html([(r.drawing, r.findings) for r in results], "Drawings checked"))
    _show(results, json_=json_, alone=len(files) == 1 and not job and not drawings[0].is_dir())
    if any(result.stops for result in results):
        raise typer.Exit(2)


def _show(results: Sequence[CheckedDrawing], *, json_: bool, alone: bool) -> None:
    """Print what was found; of a drawing that was asked for `alone`, JSON without a list around it."""
    from cutplan.cli.display import check_summary, check_tables
    from cutplan.cli.tables import wide_console

    if json_:
        records = [result.record() for result in results]
        print(json.dumps(records[0] if alone else records, ensure_ascii=False))
        return
    console = wide_console()
    for result in results:
        for table in check_tables(result):
            console.print(table)
    if len(results) > 1:
        console.print(check_summary(results))


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
