"""Rows of the inventory's database as pieces and marks, refused where the file is damaged."""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path as FilePath
from typing import Any

from cutplan.base.errors import CutplanError, StockError
from cutplan.geometry import Path
from cutplan.stock.piece import LIFE, Change, Demanded, PartMark, Pending, Piece, Run

__all__ = [
    "MARKS",
    "PIECES",
    "change_of",
    "demand_of",
    "detail_of",
    "labels_of",
    "mark_of",
    "pending_of",
    "piece_of",
    "run_of",
]

PIECES = "SELECT item.*, mother.label AS mother FROM item LEFT JOIN item AS mother ON mother.id = item.parent"
"""The query whose rows `piece_of` takes."""

MARKS = (
    "SELECT mark, part, copy, COALESCE(item.label, part_mark.plate) AS label, item.heat, item.certificate, "
    "program, part_mark.plan, job, part_mark.state, why FROM part_mark LEFT JOIN item ON item.id = part_mark.item"
)
"""The query whose rows `mark_of` takes."""

STATES = ("in rack", "reserved", "cut", "scrapped", "withdrawn")
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


def mark_of(row: sqlite3.Row, file: FilePath) -> PartMark:
    """Return a row of `MARKS` as a marked part."""
    try:
        return PartMark(
            _text(row["mark"]), _text(row["part"]), int(row["copy"]), _text(row["label"]),
            _text_or_none(row["heat"]), _text_or_none(row["certificate"]), str(row["program"]),
            _text(row["plan"]), _text(row["job"]), _one_of(row["state"], LIFE), _text_or_none(row["why"]),
        )  # fmt: skip
    except _SPOILED:
        raise _damaged("the mark of a part", file) from None


def change_of(row: sqlite3.Row, file: FilePath) -> Change:
    """Return an entry of the journal."""
    try:
        return Change(
            int(row["id"]), _text(row["at"]), _text(row["author"]), _text(row["act"]),
            detail_of(row["detail"], file), None if row["undoes"] is None else int(row["undoes"]),
            None if row["undone_by"] is None else int(row["undone_by"]),
        )  # fmt: skip
    except _SPOILED:
        raise _damaged("an entry of the journal", file) from None


def demand_of(row: sqlite3.Row, file: FilePath) -> Demanded:
    """Return what a job wants of a part."""
    try:
        _text(row["job"])
        return Demanded(
            _text(row["part"]), int(row["wanted"]), _text_or_none(row["kit"]), _text_or_none(row["due"])
        )
    except _SPOILED:
        raise _damaged("what a job wants", file) from None


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


def run_of(row: sqlite3.Row, file: FilePath) -> Run:
    """Return what was written back of a sheet."""
    try:
        sets = None if row["sets"] is None else _figure(row["sets"])
        return Run(
            _text(row["plan"]), _text(row["sheet"]), _size(row["minutes"]), int(row["restarts"]), sets,
            _text(row["at"]),
        )  # fmt: skip
    except _SPOILED:
        raise _damaged("a run that was noted", file) from None


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
