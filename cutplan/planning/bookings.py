"""Between plans and the inventory: what a plan is offered, what it takes and gives back."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from cutplan.base.errors import InputError, OutputError, StockError
from cutplan.base.files import read_text
from cutplan.control import as_read, is_untouched
from cutplan.drawing import metal_area
from cutplan.geometry import bounds
from cutplan.planning.entries import PartEntry
from cutplan.planning.folders import folder_key, locked, mended, uninterrupted
from cutplan.planning.job import Job
from cutplan.planning.leftovers import metal_left
from cutplan.planning.standing import standing_in
from cutplan.record import Plan, PlannedSheet, SavedSheet, marked_parts, plan_name, read_plan
from cutplan.stock import (
    KEEP_MM,
    LONGEST_LABEL,
    Batch,
    Demanded,
    Inventory,
    Pending,
    Piece,
    PlannedMark,
    Plate,
    RemnantShape,
    remnant_shapes,
)

__all__ = ["Booking", "book_out", "left_behind", "planned_before", "rack_plates", "reserved"]


@dataclass(frozen=True)
class Booking:
    """A sheet booked out as cut.

    Attributes
    ----------
    plan, piece, program : str
    marks : tuple of str
        Marks of its parts.
    remnants : tuple of Piece
        Put back in the rack.
    scrap_kg : float
        What is neither part nor remnant, kerf included.
    own_plate : bool
        The plate is the job's own and no piece of the inventory: parts only were booked.
    """

    plan: str
    piece: str
    program: str
    marks: tuple[str, ...]
    remnants: tuple[Piece, ...]
    scrap_kg: float
    own_plate: bool = False


def rack_plates(job: Job, replaces: str | None = None, *, own_plans: bool = False) -> tuple[Plate, ...]:
    """Return the plates and remnants in the rack as thick as the job's parts, of any grade.

    Parameters
    ----------
    job : Job
    replaces : str, optional
        Name of a plan that is made anew: what it holds is on offer too.
    own_plans : bool
        What any plan of this job holds is on offer too, where nothing will be reserved.

    Raises
    ------
    StockError
        If the inventory cannot be read, or a label is also the id of one of the job's plates.
    """
    if job.inventory is None:
        return ()
    own = {entry.id.casefold() for entry in job.plates}
    thicknesses: list[float | None] = sorted({entry.thickness for entry in job.parts})  # type: ignore[assignment]
    if any("thickness" in entry.from_text for entry in job.parts if isinstance(entry, PartEntry)):
        # What a text will say is not known yet.
        thicknesses = [None]
    plates = []
    with Inventory(job.inventory, make=False) as stock:
        for thickness in thicknesses:
            for piece in stock.pieces(thickness_mm=thickness):
                held = piece.state == "reserved" and (
                    piece.plan == replaces or (own_plans and _is_plan_of(piece.plan, job))
                )
                if piece.state != "in rack" and not held:
                    continue
                if piece.label.casefold() in own:
                    raise StockError(
                        f"piece {piece.label!r} of the inventory is a [[plate]] of the job too",
                        where=str(job.file),
                        remedy="take it out of the job, or give the plate another id",
                    )
                plates.append(piece.as_plate())
    return tuple(plates)


def planned_before(out: Path, job: Job | None = None) -> str | None:
    """Return the name of the plan that a folder holds, None where it holds none.

    What a killed process left half done is mended first: files that it had begun to move in,
    and pieces of the job's inventory that it reserved for a plan it never wrote.  The caller
    holds the folder (`outfolder.locked`) until its own plan is written.

    Parameters
    ----------
    out : Path
        The folder.
    job : Job, optional

    Returns
    -------
    str or None
    """
    mended(out)
    if job is not None and job.inventory is not None and job.inventory.exists():
        with Inventory(job.inventory) as stock:
            for pending in stock.pending():
                if pending.folder == folder_key(out):
                    _settle(stock, pending)
                elif pending.folder.parent.is_dir():
                    # A folder that cannot be held is being written now, or is not ours to mend.
                    with suppress(OutputError), locked(pending.folder):
                        mended(pending.folder)
                        _settle(stock, pending)
        if _is_copy(out, job.inventory):
            return None
    return _plan_in(out)


def _is_copy(out: Path, inventory: Path) -> bool:
    """Return whether another folder holds the plan of this one, for which its plates are reserved."""
    name = _plan_in(out)
    if name is None:
        return False
    with Inventory(inventory) as stock:
        holder = stock.folder_of(name)
    return holder is not None and holder != folder_key(out) and _plan_in(holder) == name


def _settle(stock: Inventory, pending: Pending) -> None:
    if _plan_in(pending.folder) == pending.plan:
        stock.settle(pending.plan)
    else:
        stock.undo(pending.plan)


def _plan_in(folder: Path) -> str | None:
    return standing_in(folder).plan or None


def _is_plan_of(plan: str | None, job: Job) -> bool:
    return re.fullmatch(rf"{re.escape(job.name)} [0-9a-f]{{8}}", plan or "") is not None


def left_behind(out: Path, job: Job) -> str | None:
    """Return the plan in a folder whose pieces the job's inventory does not know, None where it does.

    They stay reserved, in whatever inventory they are, when another plan takes its place.

    Parameters
    ----------
    out : Path
        The folder.
    job : Job

    Returns
    -------
    str or None
    """
    there = standing_in(out)
    labels, name = there.from_rack, there.plan
    if not labels or not name:
        return None
    if job.inventory is None or not job.inventory.exists():
        return name
    with Inventory(job.inventory) as stock:
        known = {piece.label for piece in stock.pieces()}
    return None if set(labels) <= known else name


@contextmanager
def reserved(plan: Plan, job: Job, out: Path, replaces: str | None = None) -> Iterator[tuple[str, ...]]:
    """Hold the pieces that a plan uses, and give them back if the block ends with an error.

    Parameters
    ----------
    plan : Plan
    job : Job
    out : Path
        Folder into which the block writes the plan.
    replaces : str, optional
        Name of a plan that this one takes the place of.

    Yields
    ------
    tuple of str
        Labels of the pieces.

    Raises
    ------
    StockError
        If another plan has taken one of them in the meantime.
    """
    if job.inventory is None:
        yield ()
        return
    labels, name = plan.from_rack, plan_name(plan)
    with Inventory(job.inventory, make=False) as stock:
        stock.reserve(name, labels, instead_of=replaces, folder=folder_key(out), batch=_batch(plan))
        try:
            yield labels
        except BaseException as problem:
            written = _plan_in(out) == name
            with uninterrupted():
                if written:
                    stock.settle(name)
                else:
                    stock.undo(name)
            # Stopped by hand once all was in place: the plan stands.
            if not (written and isinstance(problem, KeyboardInterrupt)):
                raise
        else:
            with uninterrupted():
                stock.settle(name)


def _batch(plan: Plan) -> Batch:
    """Return what a plan makes of its job, as the inventory keeps it."""
    return Batch(
        plan.job,
        tuple(
            Demanded(part, quantity, plan.kits.get(part), plan.due.get(part))
            for part, quantity in plan.wanted.items()
        ),
        tuple(
            PlannedMark(
                mark, placement.part.name, placement.copy, _where(sheet, plan), sheet.program.file_name
            )
            for sheet, placement, mark in marked_parts(plan)
        ),
        plan.only_owed,
    )


def _where(sheet: PlannedSheet, plan: Plan) -> str:
    """Return the piece of the rack, or the sheet of the job's own plates, that parts are cut from."""
    plate = sheet.nested.plate.id
    return plate if plate in plan.from_rack else sheet.name


def book_out(
    stock: Inventory,
    plan_file: Path,
    sheet: str | None,
    *,
    keep: tuple[float, float] | None = KEEP_MM,
    sizes: Sequence[tuple[float, float]] = (),
) -> Booking:
    """Book a plan's sheet out of the inventory once it is cut.

    Parameters
    ----------
    stock : Inventory
    plan_file : Path
        The plan.json, with the programs beside it.
    sheet : str or None
        Name of the sheet, "PL10-1"; None where the plan has one only.
    keep : (length, width) or None
        Smallest remnant worth keeping, mm; None keeps none.
    sizes : sequence of (length, width)
        Rectangles kept, mm, as measured; instead of what the program leaves.

    Returns
    -------
    Booking

    Raises
    ------
    StockError
        If the plan has not reserved the plate, it was booked out before, it is not the plate
        that was planned, or the remnants weigh more than what is left.
    InputError
        If the plan or its program cannot be read, or the program was changed since.
    """
    saved = read_plan(plan_file)
    planned = saved.sheet(sheet)
    if not saved.name or len(planned.marks) != len(planned.nested.placements):
        raise InputError("knows no marks of its parts", where=str(plan_file), remedy="plan the job again")
    program = "; ".join(name for name, _ in planned.programs)
    parts = [
        (mark, placement.part.name, placement.copy)
        for mark, placement in zip(planned.marks, planned.nested.placements, strict=True)
    ]
    plate = planned.nested.plate
    if plate.id not in saved.from_rack and stock.is_own_plate(saved.name, plate.id):
        stock.confirm_parts(saved.name, planned.name, program, parts, saved.job)
        return Booking(saved.name, planned.name, program, planned.marks, (), 0.0, own_plate=True)
    piece = stock.piece(plate.id)
    _refuse_another(piece, planned.nested.plate, plan_file)
    if sizes:
        kept = _numbered([_rectangle(piece, *size) for size in sizes])
    elif keep is not None:
        shapes = remnant_shapes(_metal_left(planned, plan_file.parent), keep)
        kept = _numbered([_remnant(piece, shape) for shape in shapes])
    else:
        kept = ()
    scrap_kg = _scrap_kg(planned, piece, kept)
    stock.confirm_cut(saved.name, piece.label, program, parts, kept, scrap_kg, saved.job)
    return Booking(saved.name, piece.label, program, planned.marks, kept, scrap_kg)


def _refuse_another(piece: Piece, plate: Plate, plan_file: Path) -> None:
    """Refuse a piece that only shares its label with the plate that was planned: parts would be
    traced to a heat that they are not of."""
    stocked = (piece.thickness_mm, piece.grade, piece.heat)
    planned = (plate.thickness, plate.grade, plate.heat)
    if stocked != planned:
        raise StockError(
            f"piece {piece.label!r} is {_in_words(*stocked)}, the plan was made for {_in_words(*planned)}",
            where=str(plan_file),
            remedy="plan again with the plate that is there",
        )


def _in_words(thickness: float, grade: str, heat: str | None) -> str:
    return f"{thickness:g} mm {grade}, heat {heat or 'not given'}"


def _metal_left(sheet: SavedSheet, folder: Path) -> Any:
    """Return what a sheet's own program leaves of the plate, as a polygon."""
    texts = []
    for name, expected in sheet.programs:
        text = read_text(folder / name)
        if not is_untouched(text, expected):
            raise InputError(
                "is not the program that was planned, so what it left is not known",
                where=str(folder / name),
                remedy="measure the remnants and give their sizes, or say that there are none",
            )
        texts.append(text)
    return metal_left(
        as_read(texts, sheet.dialect), sheet.run, sheet.nested, sheet.data, sheet.lanes,
        rest_parted=any(cut.kind == "rest" for cut in sheet.cuts),
    )  # fmt: skip


def _remnant(piece: Piece, shape: RemnantShape) -> Piece:
    _, _, length, width = bounds(shape.outline)
    return replace(_rectangle(piece, length, width), outline=shape.outline, voids=shape.voids)


def _rectangle(piece: Piece, length: float, width: float) -> Piece:
    return replace(
        piece, length_mm=length, width_mm=width, outline=None, voids=(),
        state="in rack", plan=None, parent=piece.label,
    )  # fmt: skip


def _numbered(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    return tuple(
        replace(piece, label=_remnant_label(piece.label, n)) for n, piece in enumerate(pieces, start=1)
    )


def _remnant_label(parent: str, number: int) -> str:
    """Name a remnant after its plate; a name too long for a label keeps its ends and a digest."""
    label = f"{parent}-R{number}"
    if len(label) <= LONGEST_LABEL:
        return label
    digest = hashlib.sha256(label.encode()).hexdigest()[:6]
    tail = f"-{digest}-R{number}"
    return parent[: LONGEST_LABEL - len(tail)] + tail


def _scrap_kg(sheet: SavedSheet, piece: Piece, kept: Sequence[Piece]) -> float:
    """Return the weight that is neither part nor remnant."""
    parts = sum(metal_area(placement.part) for placement in sheet.nested.placements)
    left = piece.area_mm2 - parts - sum(remnant.area_mm2 for remnant in kept)
    if left < 0.0:
        raise StockError(
            f"the remnants are larger than what the parts leave of piece {piece.label!r}",
            remedy="measure them again",
        )
    return sheet.nested.plate.mass_kg(left)
