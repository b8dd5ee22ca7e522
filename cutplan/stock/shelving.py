"""Pieces put in and brought from one state to another, each within a change of the journal."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from pathlib import Path as FilePath
from typing import Any

from cutplan.base.errors import StockError
from cutplan.stock.journal import Act
from cutplan.stock.piece import Piece

__all__ = ["insert_piece", "move_piece", "reserved_labels"]

COLUMNS = (
    "label", "length_mm", "width_mm", "outline", "thickness_mm", "grade", "material", "heat",
    "certificate", "location", "price_per_kg", "state", "plan", "parent", "area_mm2", "voids",
    "rolling_direction",
)  # fmt: skip


def insert_piece(act: Act, piece: Piece, event: str, file: FilePath) -> None:
    """Put a piece in.

    Raises
    ------
    StockError
    If its label is there already.
    """
    db = act.db
    # Some file systems do not tell cases apart, and programs are named after labels.
    if db.execute("SELECT 1 FROM item WHERE label = ? COLLATE NOCASE", (piece.label,)).fetchone():
        raise StockError(
            f"piece {piece.label!r} is in the inventory already",
            where=str(file),
            remedy="give it a label of its own",
        )
    parent = db.execute("SELECT id FROM item WHERE label = ?", (piece.parent,)).fetchone()
    outline = None if piece.outline is None else json.dumps(piece.outline.vertices.tolist())
    voids = json.dumps([void.vertices.tolist() for void in piece.voids]) if piece.voids else None
    values = (
        piece.label, piece.length_mm, piece.width_mm, outline, piece.thickness_mm, piece.grade,
        piece.material, piece.heat, piece.certificate, piece.location, piece.price_per_kg, piece.state,
        piece.plan, parent["id"] if parent else None, piece.area_mm2, voids,
        piece.rolling_direction,
    )  # fmt: skip
    marks = ", ".join("?" * len(COLUMNS))
    cursor = db.execute(f"INSERT INTO item ({', '.join(COLUMNS)}) VALUES ({marks})", values)
    row = int(cursor.lastrowid or 0)
    act.inserted("item", row)
    act.log(row, event, {})


def move_piece(
    act: Act,
    label: str,
    allowed: Sequence[str],
    state: str,
    plan: str | None,
    detail: Mapping[str, Any],
    file: FilePath,
) -> None:
    """Bring a piece from one state to another.

    Raises
    ------
    StockError
        If it is in another state than one of those allowed.
    """
    row = act.db.execute("SELECT id, state, plan FROM item WHERE label = ?", (label,)).fetchone()
    if row is None or row["state"] not in allowed:
        now = "not in the inventory" if row is None else row["state"]
        holder = f" by plan {row['plan']!r}" if row is not None and row["plan"] else ""
        raise StockError(
            f"piece {label!r} is {now}{holder}, it would have to be {' or '.join(allowed)}",
            where=str(file),
            remedy="plan again: another plan may have taken it",
        )
    act.update("item", row["id"], state=state, plan=plan)
    act.log(row["id"], state, detail)


def reserved_labels(db: sqlite3.Connection, plan: str) -> tuple[str, ...]:
    """Return the labels of the pieces that a plan holds."""
    query = "SELECT label FROM item WHERE plan = ? AND state = 'reserved' ORDER BY label"
    return tuple(row["label"] for row in db.execute(query, (plan,)))
