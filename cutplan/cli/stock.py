"""Commands about the inventory: what comes in, who has it, what was cut from it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, fields
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from cutplan.base.cleaning import plain
from cutplan.base.errors import InputError, StockError
from cutplan.cli.tables import plain_table, wide_console

if TYPE_CHECKING:
    from cutplan.stock import PartMark, Piece

__all__ = ["Json", "Label", "Page", "StockFile", "stock_app"]

stock_app = typer.Typer(
    no_args_is_help=True,
    help=(
        "The inventory of plates and remnants: add, reserve, book out, trace. It lies in the user's data "
        "folder, or where --stock or the variable CUTPLAN_STOCK say."
    ),
)

Json = Annotated[bool, typer.Option("--json", help="Print JSON for scripts instead of a table.")]
StockFile = Annotated[Path | None, typer.Option("--stock", help="The inventory, instead of the usual one.")]
Page = Annotated[Path | None, typer.Option(help="Write a page to print, HTML, instead of a table.")]
Label = Annotated[str, typer.Argument(metavar="LABEL", help="Label of a piece.", show_default=False)]
PlanName = Annotated[str, typer.Argument(metavar="PLAN", help="Name of a plan.", show_default=False)]
STATES = ("in rack", "reserved", "cut", "scrapped", "withdrawn")
RESCUED_WORDS = {
    "item": "pieces",
    "history": "entries of their history",
    "part_mark": "marks of parts",
    "pending": "open reservations",
    "holder": "folders of plans",
    "demand": "demands of jobs",
    "run": "runs noted",
    "change": "changes in the journal",
}
TRACE_HEADINGS = [
    "mark", "part", "copy", "piece", "heat", "certificate", "program", "plan", "job", "state", "why",
]  # fmt: skip


@stock_app.command()
def add(
    label: Label,
    thickness: Annotated[float, typer.Option(help="mm.")],
    grade: Annotated[str, typer.Option(help="Designation as on the plate: S355J2+N.")],
    length: Annotated[float | None, typer.Option(help="mm.")] = None,
    width: Annotated[float | None, typer.Option(help="mm.")] = None,
    outline: Annotated[
        Path | None, typer.Option(help="DXF of a remnant's outline, in place of length and width.")
    ] = None,
    material: Annotated[str | None, typer.Option(help="Material group, for a grade not known.")] = None,
    heat: Annotated[str | None, typer.Option(help="Heat number.")] = None,
    certificate: Annotated[str | None, typer.Option(help="Reference of the test certificate.")] = None,
    location: Annotated[str | None, typer.Option(help="Where it lies.")] = None,
    price: Annotated[float | None, typer.Option(help="Price per kg.")] = None,
    rolled: Annotated[str, typer.Option(help="Rolled along its length or its width.")] = "length",
    stock: StockFile = None,
) -> None:
    """Add a plate or remnant to the rack."""
    from cutplan.stock import Inventory, Piece, material_of, read_outline

    sides = (length, width)
    if (outline is None) == (None in sides) or (outline is not None and sides != (None, None)):
        raise InputError("a piece has length and width, or an outline", remedy="give one or the other")
    if rolled not in ("length", "width"):
        raise InputError(f"rolled along {rolled!r}?", remedy="say length or width")
    contour, voids = (None, ()) if outline is None else read_outline(outline)
    piece = Piece(
        label, length or 0.0, width or 0.0, thickness, grade, material or material_of(grade),
        outline=contour, voids=voids,
        heat=heat, certificate=certificate, location=location, price_per_kg=price,
        rolling_direction="x" if rolled == "length" else "y",
    )  # fmt: skip
    with Inventory(stock) as inventory:
        inventory.add([piece])
        print(f"{label} is in the rack ({inventory.file})")


@stock_app.command("import")
def import_list(
    file: Annotated[Path, typer.Argument(help="A CSV or XLSX list.", show_default=False)],
    dry_run: Annotated[bool, typer.Option(help="List what would be added, and each bad row.")] = False,
    stock: StockFile = None,
    json_: Json = False,
) -> None:
    """Add the plates of a list, all or none.

    Columns: label, length, width (or outline, a DXF beside the list), thickness, grade; and, where
    there are, heat, certificate, location, price, rolled (length or width), quantity, material.
    Exits with 2 when a row is bad, and adds nothing then.
    """
    from cutplan.stock import Inventory, default_inventory, read_stock_list

    taken: list[str] = []
    if (stock or default_inventory()).exists():
        with Inventory(stock) as inventory:
            taken = [piece.label for piece in inventory.pieces()]
    listed = read_stock_list(file, taken=taken)
    if not (dry_run or listed.problems):
        with Inventory(stock) as inventory:
            inventory.add(listed.pieces)
    if json_:
        bad = [{"row": problem.line, "message": problem.message} for problem in listed.problems]
        print(json.dumps({"pieces": [_record(piece) for piece in listed.pieces], "bad_rows": bad}))
    else:
        if listed.unread:
            print(f"columns not read: {', '.join(listed.unread)}")
        for problem in listed.problems:
            print(problem)
        if dry_run or not listed.problems:
            wide_console().print(_pieces_table("Would be added" if dry_run else "Added", listed.pieces))
    if listed.problems:
        raise StockError(
            f"bad rows: {len(listed.problems)}; nothing was added", where=str(file), remedy="mend the list"
        )


@stock_app.command()
def check(stock: StockFile = None) -> None:
    """Check the inventory itself: its file, its rows and what they refer to.

    Exits with 2 when something is wrong with it.
    """
    from cutplan.stock import default_inventory, inventory_problems

    file = stock or default_inventory()
    problems = inventory_problems(file)
    for problem in problems:
        print(plain(problem))
    if problems:
        raise StockError(
            f"is damaged in {len(problems)} places" if len(problems) > 1 else "is damaged",
            where=str(file),
            remedy="restore a copy, or save what can be read by `cutplan stock rescue`",
        )
    print(f"{file} is sound")


@stock_app.command()
def rescue(
    into: Annotated[Path, typer.Argument(help="The new inventory.", show_default=False)],
    stock: StockFile = None,
) -> None:
    """Copy what can be read of a damaged inventory into a new one; the old one stays as it is."""
    from cutplan.stock import default_inventory, rescue_inventory

    file = stock or default_inventory()
    done = rescue_inventory(file, into)
    for table, words in RESCUED_WORDS.items():
        lost = f", {done.lost[table]} lost" if done.lost[table] else ""
        print(f"{words}: {done.kept[table]} saved{lost}")
    print(f"check them against the rack before you plan: {into}")


@stock_app.command("list")
def list_stock(
    thickness: Annotated[float | None, typer.Option(help="mm.")] = None,
    grade: Annotated[str | None, typer.Option(help="Grade that is needed: pieces that serve for it.")] = None,
    state: Annotated[str | None, typer.Option(help=f"{', '.join(STATES)}, or all.")] = None,
    heat: Annotated[str | None, typer.Option(help="Heat number.")] = None,
    location: Annotated[str | None, typer.Option(help="Where it lies.")] = None,
    remnants: Annotated[bool, typer.Option("--remnants", help="Remnants only.")] = False,
    page: Page = None,
    stock: StockFile = None,
    json_: Json = False,
) -> None:
    """List pieces, remnants first, then small before large; what is cut or scrapped only if asked for."""
    from cutplan.stock import Inventory, shortfall

    if state is not None and state not in (*STATES, "all"):
        raise InputError(f"unknown state {state!r}", remedy=f"use {', '.join(STATES)} or all")
    shown = {None: STATES[:2], "all": STATES}.get(state, (str(state),))
    with Inventory(stock, make=False) as inventory:
        pieces = [
            piece
            for piece in inventory.pieces(thickness_mm=thickness)
            if piece.state in shown
            and (grade is None or shortfall(piece.grade, grade) is None)
            and (heat is None or piece.heat == heat)
            and (location is None or piece.location == location)
            and (piece.is_remnant or not remnants)
        ]
    if page is not None:
        from cutplan.base.files import write_text
        from cutplan.report import rack_html

        write_text(page, rack_html(pieces))
    if json_:
        print(json.dumps([_record(piece) for piece in pieces]))
    elif page is not None:
        print(f"written to {page}")
    else:
        wide_console().print(_pieces_table("Stock", pieces))


@stock_app.command()
def reserve(
    plan: PlanName,
    labels: Annotated[list[str], typer.Argument(metavar="LABEL...", show_default=False)],
    stock: StockFile = None,
) -> None:
    """Reserve pieces for a plan by hand, all or none."""
    from cutplan.stock import Inventory

    with Inventory(stock, make=False) as inventory:
        inventory.reserve(plan, labels)
    print(f"reserved for {plan}: {', '.join(labels)}")


@stock_app.command()
def release(plan: PlanName, stock: StockFile = None) -> None:
    """Put what a plan reserved, and has not cut, back in the rack."""
    from cutplan.stock import Inventory

    with Inventory(stock, make=False) as inventory:
        labels = inventory.release(plan)
    print(f"back in the rack: {', '.join(labels)}" if labels else f"nothing is reserved for {plan!r}")


@stock_app.command()
def cut(
    plan: Annotated[Path, typer.Argument(metavar="PLAN.json", show_default=False)],
    sheet: Annotated[
        str | None, typer.Argument(help="Plate and sheet, as PL10-1; left out where there is one.")
    ] = None,
    keep: Annotated[str, typer.Option(help="Smallest remnant worth keeping, mm.")] = "300x300",
    remnants: Annotated[bool, typer.Option(help="Keep what the program leaves, or none of it.")] = True,
    remnant: Annotated[
        list[str] | None,
        typer.Option(help="Rectangle kept, mm, as measured: 1200x800; instead of what the program leaves."),
    ] = None,
    stock: StockFile = None,
    json_: Json = False,
) -> None:
    """Book a sheet out once it is cut: parts' marks are kept, remnants go back in the rack.

    The remnants are taken from the program that was proved, where it lies beside the plan:
    smaller than they are, never larger. Narrow necks of the skeleton are no remnants; what is
    not kept counts as scrap.
    """
    from cutplan.planning import book_out
    from cutplan.stock import Inventory

    with Inventory(stock, make=False) as inventory:
        booked = book_out(
            inventory,
            plan,
            sheet,
            keep=_size(keep) if remnants else None,
            sizes=[_size(text) for text in remnant or ()],
        )
    if json_:
        print(json.dumps({**vars(booked), "remnants": [_record(piece) for piece in booked.remnants]}))
        return
    if booked.own_plate:
        print(
            f"{booked.piece} is cut; parts: {len(booked.marks)}. The plate is the job's own: what is left of it is "
            "not in the rack, `cutplan stock add` puts it there"
        )
        return
    print(f"{booked.piece} is cut; parts: {len(booked.marks)}, scrap: {booked.scrap_kg:.1f} kg")
    if booked.remnants:
        wide_console().print(_pieces_table("Put back", booked.remnants))


@stock_app.command()
def scrap(label: Label, stock: StockFile = None) -> None:
    """Take a piece out of use."""
    from cutplan.stock import Inventory

    with Inventory(stock, make=False) as inventory:
        inventory.scrap(label)
    print(f"{label} is scrapped")


@stock_app.command()
def history(label: Label, stock: StockFile = None, json_: Json = False) -> None:
    """Show what happened to a piece, oldest first."""
    from cutplan.stock import Inventory, detail_words

    with Inventory(stock, make=False) as inventory:
        events = inventory.history(label)
    if json_:
        print(json.dumps([{"at": at, "event": event, **detail} for at, event, detail in events]))
        return
    rows = [[at, event, detail_words(detail)] for at, event, detail in events]
    wide_console().print(plain_table(f"History of {label}", ["time (UTC)", "event", "with"], rows, left=3))


@stock_app.command()
def trace(
    mark: Annotated[str | None, typer.Option(help="A part's mark: back to plate, heat and plan.")] = None,
    heat: Annotated[str | None, typer.Option(help="A heat number: forward to its parts.")] = None,
    piece: Annotated[str | None, typer.Option(help="A plate's label: forward to its parts.")] = None,
    plan: Annotated[str | None, typer.Option(help="A plan: forward to its parts.")] = None,
    page: Page = None,
    stock: StockFile = None,
    json_: Json = False,
) -> None:
    """Trace a part back to plate, heat, program and plan, or any of these forward to parts."""
    from cutplan.stock import Inventory

    if (mark, heat, piece, plan) == (None,) * 4:
        raise InputError("nothing to trace by", remedy="give --mark, --heat, --piece or --plan")
    with Inventory(stock, make=False) as inventory:
        found = inventory.trace(mark=mark, heat=heat, piece=piece, plan=plan)
        labels = list(dict.fromkeys(part.piece for part in found))
        origins = [inventory.piece(label) for label in labels]
        histories = [inventory.history(label) for label in labels]
    if page is not None:
        from cutplan.base.files import write_text
        from cutplan.report import trace_html

        asked = {"mark": mark, "heat": heat, "piece": piece, "plan": plan}
        question = ", ".join(f"{name} {value}" for name, value in asked.items() if value is not None)
        write_text(page, trace_html(question, found, origins, histories))
    if json_:
        print(json.dumps([asdict(part) for part in found]))
    elif page is not None:
        print(f"written to {page}")
    elif not found:
        print("no part that was cut answers to this")
    else:
        wide_console().print(plain_table("Traced", TRACE_HEADINGS, [_trace_row(p) for p in found], left=2))


def _size(text: str) -> tuple[float, float]:
    """Part "1200x800" into length and width."""
    try:
        length, width = (float(word) for word in text.lower().replace("×", "x").split("x"))
    except ValueError:
        length = width = 0.0
    if not (0.0 < length < float("inf") and 0.0 < width < float("inf")):
        raise InputError(f"{text!r} is no size", remedy="write length x width in mm: 1200x800")
    return length, width


def _trace_row(part: PartMark) -> list[str]:
    return [str(value) if value is not None else "–" for value in asdict(part).values()]


def _record(piece: Piece) -> dict[str, Any]:
    record = {field.name: getattr(piece, field.name) for field in fields(piece)}
    outline = None if piece.outline is None else piece.outline.vertices.tolist()
    voids = [void.vertices.tolist() for void in piece.voids]
    return {**record, "outline": outline, "voids": voids, "remnant": piece.is_remnant}


def _pieces_table(title: str, pieces: Sequence[Piece]) -> Any:
    rows = [
        [p.label, p.grade, p.heat or "–", p.location or "–", p.state, p.plan or "–",
         "remnant" if p.is_remnant else "plate", f"{p.thickness_mm:g}", f"{p.length_mm:.0f} × {p.width_mm:.0f}",
         f"{p.area_mm2 / 1e6:.2f}", "–" if p.price_per_kg is None else f"{p.price_per_kg:.2f}"]
        for p in pieces
    ]  # fmt: skip
    headings = ["label", "grade", "heat", "place", "state", "plan", "kind", "mm", "size mm", "m²", "per kg"]
    return plain_table(f"{title} ({len(rows)})", headings, rows, left=7)
