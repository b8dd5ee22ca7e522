"""Rows of the inventory's database as pieces and marks, refused where the file is damaged."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Iterable, Mapping
from datetime import datetime
from pathlib import Path as FilePath
from typing import Any

from cutplan.base.errors import CutplanError, StockError
from cutplan.geometry import Path
from cutplan.stock.piece import PartMark, Pending, Piece

__all__ = ["PIECES", "detail_of", "labels_of", "mark_of", "pending_of", "piece_of"]

PIECES = "SELECT item.*, mother.label AS mother FROM item LEFT JOIN item AS mother ON mother.id = item.parent"
"""The query whose rows `piece_of` takes."""

STATES = ("in rack", "reserved", "cut", "scrapped")
# What a row that a disk or another program spoiled can make the code below say.
_SPOILED = (TypeError, ValueError, KeyError, IndexError, RecursionError, CutplanError)


def piece_of(row: sqlite3.Row, file: FilePath) -> Piece:
    """Return a row of `PIECES` as a piece.

    Raises
    ------
    StockError
        If it holds what no piece can be; names the piece and what to do.
    """
    try:
        return Piece(
            label=_text(row["label"]),
            length_mm=_size(row["length_mm"]),
            width_mm=_size(row["width_mm"]),
            thickness_mm=_size(row["thickness_mm"]),
            grade=_text(row["grade"]),
            material=_text(row["material"]),
            outline=None if row["outline"] is None else Path(json.loads(row["outline"])),
            heat=_text_or_none(row["heat"]),
            certificate=_text_or_none(row["certificate"]),
            location=_text_or_none(row["location"]),
            price_per_kg=None if row["price_per_kg"] is None else _figure(row["price_per_kg"]),
            state=_one_of(row["state"], STATES),
            plan=_text_or_none(row["plan"]),
            parent=_text_or_none(row["mother"]),
            voids=tuple(Path(void) for void in json.loads(row["voids"] or "[]")),
            rolling_direction=_one_of(row["rolling_direction"], ("x", "y")),
        )
    except _SPOILED:
        raise _damaged(f"piece {row['label']!r}", file) from None


def mark_of(row: Iterable[Any], file: FilePath) -> PartMark:
    """Return mark, part, copy, label, heat, certificate, program and plan as a marked part."""
    try:
        mark, part, copy, label, heat, certificate, program, plan = row
        return PartMark(
            _text(mark), _text(part), int(copy), _text(label), _text_or_none(heat),
            _text_or_none(certificate), _text(program), _text(plan),
        )  # fmt: skip
    except _SPOILED:
        raise _damaged("the mark of a part", file) from None


def pending_of(row: sqlite3.Row, file: FilePath) -> Pending:
    """Return plan, folder and time of a reservation whose plan may not be written."""
    try:
        folder = _text(row["folder"])
        if "\0" in folder:
            raise ValueError("a path holds no NUL")
        return Pending(_text(row["plan"]), FilePath(folder), datetime.fromisoformat(row["at"]))
    except _SPOILED:
        raise _damaged("a reservation", file) from None


def labels_of(text: Any, file: FilePath) -> tuple[str, ...]:
    """Return a list of labels that was stored as JSON."""
    try:
        return tuple(_text(label) for label in json.loads(text))
    except _SPOILED:
        raise _damaged("the labels of a reservation", file) from None


def detail_of(text: Any, file: FilePath) -> Mapping[str, Any]:
    """Return what an entry of the history says beside its event."""
    try:
        detail = json.loads(text)
        if not isinstance(detail, dict):
            raise TypeError("an entry is a table of words")
        return detail
    except _SPOILED:
        raise _damaged("an entry of the history", file) from None


def _damaged(what: str, file: FilePath) -> StockError:
    return StockError(
        f"{what} is damaged",
        where=str(file),
        remedy="see `cutplan stock check`; `cutplan stock rescue` saves what can be read",
    )


def _text(value: Any) -> str:
    if not isinstance(value, str) or not value:
        raise TypeError("no text")
    return value


def _text_or_none(value: Any) -> str | None:
    return None if value is None else _text(value)


def _figure(value: Any) -> float:
    if not isinstance(value, int | float) or not math.isfinite(value):
        raise TypeError("no figure")
    return float(value)


def _size(value: Any) -> float:
    size = _figure(value)
    if size <= 0.0:
        raise ValueError("no size")
    return size


def _one_of(value: Any, words: tuple[str, ...]) -> str:
    if value not in words:
        raise ValueError("another word")
    return str(value)
