"""The command that fits a program to its plate as it lies."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from cutplan.base.errors import InputError

__all__ = ["align", "places_in"]


def align(
    program: Annotated[Path, typer.Argument(help="A program of the plan.", show_default=False)],
    found: Annotated[
        list[str],
        typer.Option(
            metavar="X,Y",
            help="Where a corner of the plate was touched, mm; once for each, in the setup sheet's order.",
        ),
    ],
    more: Annotated[
        list[str] | None,
        typer.Argument(metavar="[X2,Y2 …]", help="The corners that follow, as --found X1,Y1 X2,Y2."),
    ] = None,
    plan: Annotated[
        Path | None, typer.Option("--plan", help="The plan.json it belongs to; by default the one beside it.")
    ] = None,
    corner: Annotated[
        list[str] | None,
        typer.Option(metavar="X,Y", help="A corner touched, plate coordinates, instead of the sheet's."),
    ] = None,
    sheet: Annotated[
        str | None, typer.Option(help="Plate and sheet, as PL10-1; by default by the file name.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(help="Folder for the result; by default SHEET-aligned beside the plan.")
    ] = None,
    posts: Annotated[
        list[Path] | None, typer.Option("--postprocessors", help="Folder of the shop's own post-processors.")
    ] = None,
    outline: Annotated[
        Path | None,
        typer.Option(
            help="Write the plate's outline as it lies as DXF, to nest on it anew, and nothing else."
        ),
    ] = None,
    json_: Annotated[bool, typer.Option("--json", help="Print JSON for scripts.")] = False,
) -> None:
    """Turn and shift a program to its plate as it lies, from touched corners, and prove it there.

    Two corners of a rectangle, three of a remnant. Clamps stay where they were planned, on the
    table. Every move is proved again; where one would meet a clamp or leave the table nothing is
    written, and the command ends with 3.
    """
    from cutplan.drawing import write_dxf
    from cutplan.planning import align_program, lying_outline, plate_lie, write_aligned

    beside = plan or program.parent / "plan.json"
    points = places_in([*found, *(more or ())], "--found")
    corners = places_in(corner, "--corner") if corner else None
    if outline is not None:
        nested, lie = plate_lie(program, beside, points, corners=corners, sheet=sheet)
        write_dxf(outline, {"CUT": list(lying_outline(nested, lie.pose))})
        print(
            f"the plate as it lies is written to {outline}: name it as outline of a [[plate]], and plan again"
        )
        return
    done = align_program(program, beside, points, corners=corners, sheet=sheet, posts=posts or ())
    folder = out or beside.parent / f"{done.sheet.sheet.name}-aligned"
    files = write_aligned(done, folder)
    if json_:
        record = {"sheet": done.sheet.sheet.name, "skew_deg": done.lie.skew_deg,
                  "zero_mm": [done.lie.pose.x, done.lie.pose.y], "misfit_mm": done.lie.misfit_mm,
                  "allowed_deg": done.allowed_deg, "would_fall": list(done.would_fall),
                  "out": str(folder), "files": files}  # fmt: skip
        print(json.dumps(record, ensure_ascii=False))
        return
    print(
        f"{done.sheet.sheet.name} lies turned by {done.lie.skew_deg:.3f} degrees, its zero at "
        f"({done.lie.pose.x:.2f}, {done.lie.pose.y:.2f}) mm; the corners fit within {done.lie.misfit_mm:.2f} mm"
    )
    print(f"as it was, the program would have done up to {done.allowed_deg:.2f} degrees")
    if done.would_fall:
        print(f"not turned, these parts would have run off the plate: {', '.join(done.would_fall)}")
    print(f"every move is proved on the plate as it lies; written to {folder}: run it dry first")


def places_in(texts: Sequence[str], option: str) -> list[tuple[float, float]]:
    """Return the places that an option names, each as X,Y."""
    places = []
    for text in " ".join(texts).split():
        try:
            x, y = (float(word) for word in text.split(","))
        except ValueError:
            raise InputError(
                f"{option}: {text!r} is no place", remedy="write X,Y in mm, as 12.5,-3"
            ) from None
        places.append((x, y))
    return places
