"""Between plans and the inventory: what a plan is offered, what it takes and gives back."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from cutplan.errors import InputError, StockError
from cutplan.job import Job
from cutplan.report import Plan, SavedSheet, metal_area, plan_name, read_plan
from cutplan.stock import Inventory, Piece, Plate

__all__ = ["Booking", "book_out", "rack_plates", "reserved"]

MM3_PER_M3 = 1e9


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
    """

    plan: str
    piece: str
    program: str
    marks: tuple[str, ...]
    remnants: tuple[Piece, ...]
    scrap_kg: float


def rack_plates(job: Job, replaces: str | None = None) -> tuple[Plate, ...]:
    """Return the plates and remnants in the rack that the job's parts may be cut from.

    Parameters
    ----------
    job : Job
    replaces : str, optional
        Name of a plan that is made anew: what it holds is on offer too.

    Raises
    ------
    StockError
        If the inventory cannot be read, or a label is also the id of one of the job's plates.
    """
    if job.inventory is None:
        return ()
    own = {entry.id.casefold() for entry in job.plates}
    wanted = sorted({(entry.thickness, entry.grade) for entry in job.parts})
    plates = []
    with Inventory(job.inventory, make=False) as stock:
        for thickness, grade in wanted:
            for piece in stock.pieces(thickness_mm=thickness, grade=grade):
                held = piece.state == "reserved" and piece.plan == replaces
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


@contextmanager
def reserved(plan: Plan, job: Job, replaces: str | None = None) -> Iterator[tuple[str, ...]]:
    """Hold the pieces that a plan uses, and give them back if the block ends with an error.

    Parameters
    ----------
    plan : Plan
    job : Job
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
    own = {entry.id for entry in job.plates}
    used = dict.fromkeys(sheet.nested.plate.id for sheet in plan.sheets)
    labels = tuple(label for label in used if label not in own)
    name = plan_name(plan)
    with Inventory(job.inventory, make=False) as stock:
        before = stock.reserve(name, labels, instead_of=replaces)
        try:
            yield labels
        except BaseException:
            if replaces is None:
                stock.release(name)
            else:
                stock.reserve(replaces, before, instead_of=name)
            raise


def book_out(
    stock: Inventory, plan_file: Path, sheet: str | None, remnants: Sequence[tuple[float, float]] = ()
) -> Booking:
    """Book a plan's sheet out of the inventory once it is cut.

    Parameters
    ----------
    stock : Inventory
    plan_file : Path
        The plan.json.
    sheet : str or None
        Name of the sheet, "PL10-1"; None where the plan has one only.
    remnants : sequence of (length, width)
        Rectangles kept, mm.

    Raises
    ------
    StockError
        If the plan has not reserved the plate, it was booked out before, or the remnants
        weigh more than what is left.
    """
    saved = read_plan(plan_file)
    planned = saved.sheet(sheet)
    if not saved.name or len(planned.marks) != len(planned.nested.placements):
        raise InputError("knows no marks of its parts", where=str(plan_file), remedy="plan the job again")
    piece = stock.piece(planned.nested.plate.id)
    kept = _rectangles(piece, remnants)
    scrap_kg = _scrap_kg(planned, piece, kept)
    program = "; ".join(name for name, _ in planned.programs)
    parts = [
        (mark, placement.part.name, placement.copy)
        for mark, placement in zip(planned.marks, planned.nested.placements, strict=True)
    ]
    stock.confirm_cut(saved.name, piece.label, program, parts, kept, scrap_kg)
    return Booking(saved.name, piece.label, program, planned.marks, tuple(kept), scrap_kg)


def _rectangles(piece: Piece, sizes: Sequence[tuple[float, float]]) -> list[Piece]:
    return [
        Piece(
            label=f"{piece.label}-R{number}",
            length_mm=length,
            width_mm=width,
            thickness_mm=piece.thickness_mm,
            grade=piece.grade,
            material=piece.material,
            heat=piece.heat,
            certificate=piece.certificate,
            price_per_kg=piece.price_per_kg,
            location=piece.location,
            parent=piece.label,
        )
        for number, (length, width) in enumerate(sizes, start=1)
    ]


def _scrap_kg(sheet: SavedSheet, piece: Piece, kept: Sequence[Piece]) -> float:
    """Return the weight that is neither part nor remnant."""
    parts = sum(metal_area(placement.part) for placement in sheet.nested.placements)
    left = piece.area_mm2 - parts - sum(remnant.area_mm2 for remnant in kept)
    if left < 0.0:
        raise StockError(
            f"the remnants are larger than what the parts leave of piece {piece.label!r}",
            remedy="measure them again",
        )
    return left * piece.thickness_mm * sheet.nested.plate.density_kg_m3 / MM3_PER_M3
