"""Stock lists in CSV or XLSX as pieces for the inventory; adding them is left to it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from cutplan.base.errors import CutplanError, InputError, StockError
from cutplan.base.tables import (
    Column,
    Row,
    RowProblem,
    decimal_mark,
    number,
    read_rows,
    refuse_thousands,
    whole_number,
)
from cutplan.stock.grades import material_of
from cutplan.stock.outline import read_outline
from cutplan.stock.piece import Piece, checked_piece

__all__ = ["STOCK_COLUMNS", "StockList", "read_stock_list"]

_WORDS = {
    "label": "label, id, plate, plate no, plate number, piece, tag, name, platte, nummer, etikett",
    "length": "length, len, l, länge",
    "width": "width, w, b, breite",
    "thickness": "thickness, thk, t, dicke, stärke",
    "grade": "grade, steel, steel grade, material grade, quality, werkstoff",
    "material": "material, material group",
    "heat": "heat, heat no, heat number, melt, charge, schmelze",
    "certificate": "certificate, cert, certificate no, test certificate, zeugnis",
    "location": "location, place, rack, bay, lagerort, lagerplatz, platz",
    "price": "price, price per kg, price/kg, preis",
    "outline": "outline, drawing, dxf, contour, zeichnung",
    "rolled": "rolled, rolling direction, walzrichtung",
    "quantity": "quantity, qty, pcs, pieces, count, off, menge, anzahl, stück, stückzahl",
}
REQUIRED = ("label", "thickness", "grade")
STOCK_COLUMNS = tuple(
    Column(key, tuple(words.split(", ")), required=key in REQUIRED) for key, words in _WORDS.items()
)
SIDES = ("length", "width")
ROLLED = {"": "x", "length": "x", "along length": "x", "x": "x", "width": "y", "along width": "y", "y": "y"}
"""Plates are rolled along their length unless a list says otherwise (common practice)."""
FIGURES = (*SIDES, "thickness", "price", "quantity")
MOST_OF_ONE_ROW = 1000
"""More of the same in one row is a slip of the column."""
KG_PER_TONNE = 1000.0


@dataclass(frozen=True)
class StockList:
    """What a list holds.

    Attributes
    ----------
    pieces : tuple of Piece
        Of the good rows, in their order.
    problems : tuple of RowProblem
        A bad row each; while there is one, the list should not be added.
    unread : tuple of str
        Headings that mean nothing here.
    """

    pieces: tuple[Piece, ...]
    problems: tuple[RowProblem, ...]
    unread: tuple[str, ...] = ()


def read_stock_list(
    file: Path, *, taken: Collection[str] = (), grades: Mapping[str, str] | None = None
) -> StockList:
    """Return the pieces of a list, and what is wrong with each bad row.

    A row of quantity n gives pieces label-1 to label-n; a remnant names the drawing of its
    outline, relative to the list, in place of length and width.  Lengths without a unit are mm, or
    the unit that the heading states; a price is per kg, or per tonne where the heading says
    so: "Price [EUR/t]".

    Parameters
    ----------
    file : Path
        CSV or XLSX.
    taken : collection of str
        Labels in the inventory already.
    grades : mapping, optional
        Material group by grade, beyond the table that ships.

    Returns
    -------
    StockList

    Raises
    ------
    StockError
        If the list cannot be read at all, or lacks a column.
    """
    try:
        rows = read_rows(file, STOCK_COLUMNS)
        mark = decimal_mark(row.cells.get(key, "") for row in rows for key in FIGURES)
    except InputError as problem:
        raise StockError(problem.message, where=problem.where or str(file), remedy=problem.remedy) from None
    pieces: list[Piece] = []
    problems: list[RowProblem] = []
    seen = {label.casefold() for label in taken}
    for row in rows:
        try:
            fresh = _pieces(row, mark, grades, file.parent)
            for piece in fresh:
                if piece.label.casefold() in seen:
                    raise StockError(f"label {piece.label!r} is there already")
        except CutplanError as problem:
            problems.append(RowProblem(row.line, str(problem)))
            continue
        seen |= {piece.label.casefold() for piece in fresh}
        pieces += fresh
    unread = rows[0].unread if rows else ()
    return StockList(tuple(pieces), tuple(problems), unread)


def _pieces(row: Row, mark: str | None, grades: Mapping[str, str] | None, folder: Path) -> list[Piece]:
    drawing = row.cells.get("outline", "")
    for key in (*REQUIRED, *(() if drawing else SIDES)):
        if not row.cells.get(key):
            raise InputError(f"{key} is empty")
    grade = row.cells["grade"]
    piece = Piece(
        label=row.cells["label"],
        length_mm=0.0 if drawing else _length(row, "length", mark),
        width_mm=0.0 if drawing else _length(row, "width", mark),
        thickness_mm=_length(row, "thickness", mark),
        grade=grade,
        material=row.cells.get("material") or material_of(grade, grades),
        heat=row.cells.get("heat") or None,
        certificate=row.cells.get("certificate") or None,
        location=row.cells.get("location") or None,
        price_per_kg=_price(row, mark),
        rolling_direction=_rolling(row),
    )
    if drawing:
        outline, voids = read_outline(folder / drawing)
        piece = replace(piece, outline=outline, voids=voids)
    return _copies(checked_piece(piece), _quantity(row, mark))


def _length(row: Row, key: str, mark: str | None) -> float:
    if key in SIDES and row.units.get(key, "") in ("", "mm"):
        refuse_thousands(row.cells[key], mark)
    return number(row.cells[key], mark=mark, unit=row.units.get(key, ""), lengths=True)


def _quantity(row: Row, mark: str | None) -> int:
    text = row.cells.get("quantity", "")
    quantity = whole_number(text, mark=mark) if text else 1
    if not 1 <= quantity <= MOST_OF_ONE_ROW:
        raise InputError(f"quantity {quantity} is not from 1 to {MOST_OF_ONE_ROW}")
    return quantity


def _rolling(row: Row) -> str:
    text = row.cells.get("rolled", "").casefold()
    if text not in ROLLED:
        raise InputError(f"rolled {text!r} is neither length nor width")
    return ROLLED[text]


def _price(row: Row, mark: str | None) -> float | None:
    text = row.cells.get("price", "")
    if not text:
        return None
    per = row.units.get("price", "").rpartition("/")[2].strip()
    return number(text, mark=mark) / (KG_PER_TONNE if per in ("t", "tonne") else 1.0)


def _copies(piece: Piece, quantity: int) -> list[Piece]:
    if quantity == 1:
        return [piece]
    return [checked_piece(replace(piece, label=f"{piece.label}-{copy}")) for copy in range(1, quantity + 1)]
