"""Between plans and the inventory: what a plan's sheet takes out of stock and gives back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cutplan.errors import InputError, StockError
from cutplan.report import SavedSheet, metal_area, read_plan
from cutplan.stock import Inventory, Piece

__all__ = ["Booking", "book_out"]

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
