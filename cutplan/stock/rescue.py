"""An inventory that is in doubt: what is wrong with it, and a sound copy of what can still be read."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from cutplan.base.errors import StockError
from cutplan.stock.rows import (
    MARKS,
    PIECES,
    change_of,
    demand_of,
    detail_of,
    labels_of,
    mark_of,
    pending_of,
    piece_of,
    run_of,
)
from cutplan.stock.schema import BROKEN, SCHEMA_VERSION, connect, guarded

__all__ = ["Rescued", "inventory_problems", "rescue_inventory"]

MOST_TOLD = 50
# In an order in which each finds what it refers to.
TABLES = ("change", "item", "history", "part_mark", "pending", "holder", "demand", "run")


def _read_pending(row: sqlite3.Row, file: Path) -> None:
    pending_of(row, file)
    labels_of(row["held"], file)


def _read_history(row: sqlite3.Row, file: Path) -> None:
    detail_of(row["detail"], file)
    if row["label"] is None:
        raise StockError("an entry of the history is of no piece", where=str(file))


READERS: dict[str, tuple[str, Callable[[sqlite3.Row, Path], object]]] = {
    "item": (PIECES.replace("SELECT", "SELECT item.rowid AS row_number,", 1), piece_of),
    "history": (
        "SELECT history.rowid AS row_number, detail, label FROM history "
        "LEFT JOIN item ON item.id = history.item",
        _read_history,
    ),
    "part_mark": (MARKS.replace("SELECT", "SELECT part_mark.rowid AS row_number,", 1), mark_of),
    "change": ("SELECT rowid AS row_number, *, NULL AS undone_by FROM change", change_of),
    "run": ("SELECT rowid AS row_number, * FROM run", run_of),
    "demand": ("SELECT rowid AS row_number, * FROM demand", demand_of),
    "pending": ("SELECT rowid AS row_number, * FROM pending", _read_pending),
}
"""By table, each row with its number and what a reader needs of it, and that reader."""


@dataclass(frozen=True)
class Rescued:
    """What came over into the sound copy, in rows by table, and how many did not.

    Attributes
    ----------
    kept, lost : mapping of str to int
        `lost` counts rows that were seen and could not be taken; a damaged page may hold more.
    """

    kept: dict[str, int]
    lost: dict[str, int]


def inventory_problems(file: Path) -> tuple[str, ...]:
    """Return what is wrong with an inventory, empty where nothing is.

    The database's own check, references between its tables, and every row read as it would be
    when planning.  Nothing is written.

    Parameters
    ----------
    file : Path
        The file.

    Returns
    -------
    tuple of str

    Raises
    ------
    StockError
        If there is no such file.
    """
    try:
        with closing(_read_only(file)) as db:
            version = int(db.execute("PRAGMA user_version").fetchone()[0])
            if version != SCHEMA_VERSION:
                return (f"is of schema {version}, this version works with {SCHEMA_VERSION}",)
            problems = [str(row[0]) for row in db.execute("PRAGMA integrity_check") if row[0] != "ok"]
            problems += [
                f"row {row[1]} of {row[0]} refers to a row of {row[2]} that is gone"
                for row in db.execute("PRAGMA foreign_key_check")
            ]
            problems += [
                f"piece {row['label']!r} is reserved, and no plan is named"
                for row in db.execute("SELECT label FROM item WHERE state = 'reserved' AND plan IS NULL")
            ]
            problems += _unreadable_rows(db, file)
    except BROKEN as problem:
        return (str(guarded(problem, file).message),)
    return tuple(problems[:MOST_TOLD])


def _unreadable_rows(db: sqlite3.Connection, file: Path) -> Iterator[str]:
    """Yield the rows that cannot be what their table holds."""
    for query, read in READERS.values():
        for row in db.execute(query):
            try:
                read(row, file)
            except StockError as problem:
                yield problem.message


def rescue_inventory(file: Path, into: Path) -> Rescued:
    """Copy what can be read of a damaged inventory into a new one; the old file stays as it is.

    Parameters
    ----------
    file, into : Path

    Returns
    -------
    Rescued

    Raises
    ------
    StockError
        If there is no such file, nothing of it can be read, or `into` exists.
    """
    if into.exists():
        raise StockError("is there already", where=str(into), remedy="name a new file")
    kept, lost = dict.fromkeys(TABLES, 0), dict.fromkeys(TABLES, 0)
    try:
        with closing(_read_only(file)) as old:
            old.execute("SELECT name FROM sqlite_master").fetchall()
            with closing(connect(into)) as new:
                new.execute("PRAGMA foreign_keys = OFF")
                new.execute("BEGIN IMMEDIATE")
                for table in TABLES:
                    for row in _rows_of(old, table):
                        taken = row is not None and _copied(new, table, row)
                        (kept if taken else lost)[table] += 1
                _drop_unfit(new, kept, lost)
                new.execute("COMMIT")
    except BROKEN as problem:
        with suppress(OSError):
            into.unlink(missing_ok=True)
        raise guarded(problem, file) from None
    return Rescued(kept, lost)


def _read_only(file: Path) -> sqlite3.Connection:
    if not file.is_file():
        raise StockError("there is no inventory here", where=str(file), remedy="check the path")
    db = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)
    db.row_factory = sqlite3.Row
    return db


def _rows_of(db: sqlite3.Connection, table: str) -> Iterator[sqlite3.Row | None]:
    """Yield the rows of a table from both ends until a damaged page is met; None for each such place."""
    seen: set[int] = set()
    for way in ("ASC", "DESC"):
        try:
            for row in db.execute(f"SELECT rowid AS row_number, * FROM {table} ORDER BY rowid {way}"):
                if row["row_number"] in seen:
                    return
                seen.add(row["row_number"])
                yield row
            return
        except BROKEN:
            yield None


def _copied(db: sqlite3.Connection, table: str, row: sqlite3.Row) -> bool:
    names = [name for name in row.keys() if name != "row_number"]  # noqa: SIM118 - a row iterates its values
    marks = ", ".join("?" * len(names))
    try:
        values = [row[name] for name in names]
        db.execute(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({marks})", values)
    except BROKEN:
        return False
    return True


def _drop_unfit(db: sqlite3.Connection, kept: dict[str, int], lost: dict[str, int]) -> None:
    """Take out rows that no reader would take, and what refers to a piece that is gone."""
    for table, (query, read) in READERS.items():
        unfit = []
        for row in db.execute(query).fetchall():
            try:
                read(row, Path())
            except StockError:
                unfit.append((row["row_number"],))
        db.executemany(f"DELETE FROM {table} WHERE rowid = ?", unfit)
        kept[table] -= len(unfit)
        lost[table] += len(unfit)
    db.execute("UPDATE item SET parent = NULL WHERE parent NOT IN (SELECT id FROM item)")
    db.execute("UPDATE history SET change = NULL WHERE change NOT IN (SELECT id FROM change)")
    db.execute("UPDATE change SET undoes = NULL WHERE undoes NOT IN (SELECT id FROM change)")
