"""The inventory's database: its tables, and the steps from an older schema to this one."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from cutplan.base.errors import StockError

__all__ = ["BROKEN", "SCHEMA_VERSION", "connect", "guarded"]

BROKEN = (sqlite3.Error, UnicodeError, IndexError, OverflowError)
"""What reading a damaged database can raise: its own errors, texts and columns that are none any more."""

BUSY_S = 5.0
"""How long a planner waits for another one to finish writing."""

# Each step brings the database from the version of its place in the list to the next.
MIGRATIONS = (
    """
    CREATE TABLE item (
        id INTEGER PRIMARY KEY,
        label TEXT NOT NULL UNIQUE,
        length_mm REAL NOT NULL CHECK (length_mm > 0),
        width_mm REAL NOT NULL CHECK (width_mm > 0),
        outline TEXT,
        thickness_mm REAL NOT NULL CHECK (thickness_mm > 0),
        grade TEXT NOT NULL,
        material TEXT NOT NULL,
        heat TEXT,
        location TEXT,
        price_per_kg REAL,
        state TEXT NOT NULL CHECK (state IN ('in rack', 'reserved', 'cut', 'scrapped')),
        plan TEXT
    );
    CREATE INDEX item_offer ON item (thickness_mm, grade, state);
    CREATE INDEX item_plan ON item (plan);
    CREATE TABLE history (
        id INTEGER PRIMARY KEY,
        at TEXT NOT NULL,
        item INTEGER NOT NULL REFERENCES item (id),
        event TEXT NOT NULL,
        detail TEXT NOT NULL
    );
    CREATE INDEX history_item ON history (item);
    """,
    """
    ALTER TABLE item ADD COLUMN certificate TEXT;
    ALTER TABLE item ADD COLUMN parent INTEGER REFERENCES item (id);
    ALTER TABLE item ADD COLUMN area_mm2 REAL NOT NULL DEFAULT 0;
    UPDATE item SET area_mm2 = length_mm * width_mm;
    CREATE TABLE part_mark (
        id INTEGER PRIMARY KEY,
        mark TEXT NOT NULL,
        part TEXT NOT NULL,
        copy INTEGER NOT NULL,
        item INTEGER NOT NULL REFERENCES item (id),
        program TEXT NOT NULL,
        plan TEXT NOT NULL,
        UNIQUE (plan, mark)
    );
    CREATE INDEX part_mark_mark ON part_mark (mark);
    CREATE INDEX part_mark_item ON part_mark (item);
    """,
    "CREATE INDEX item_label ON item (label COLLATE NOCASE)",
    "ALTER TABLE item ADD COLUMN voids TEXT",
    """
    CREATE TABLE pending (
        plan TEXT PRIMARY KEY,
        folder TEXT NOT NULL,
        replaces TEXT,
        held TEXT NOT NULL,
        at TEXT NOT NULL
    )
    """,
    "ALTER TABLE item ADD COLUMN rolling_direction TEXT NOT NULL DEFAULT 'x'",
    "CREATE TABLE holder (plan TEXT PRIMARY KEY, folder TEXT NOT NULL)",
    # Pieces can be withdrawn, parts have a life of their own, and each change is kept.
    """
    CREATE TABLE change (
        id INTEGER PRIMARY KEY,
        at TEXT NOT NULL,
        author TEXT NOT NULL,
        act TEXT NOT NULL,
        detail TEXT NOT NULL,
        touched TEXT NOT NULL,
        undoes INTEGER UNIQUE REFERENCES change (id)
    );
    ALTER TABLE history ADD COLUMN change INTEGER REFERENCES change (id);
    CREATE INDEX history_change ON history (change);
    CREATE TABLE item_now (
        id INTEGER PRIMARY KEY,
        label TEXT NOT NULL UNIQUE,
        length_mm REAL NOT NULL CHECK (length_mm > 0),
        width_mm REAL NOT NULL CHECK (width_mm > 0),
        outline TEXT,
        thickness_mm REAL NOT NULL CHECK (thickness_mm > 0),
        grade TEXT NOT NULL,
        material TEXT NOT NULL,
        heat TEXT,
        location TEXT,
        price_per_kg REAL,
        state TEXT NOT NULL CHECK (state IN ('in rack', 'reserved', 'cut', 'scrapped', 'withdrawn')),
        plan TEXT,
        certificate TEXT,
        parent INTEGER REFERENCES item (id),
        area_mm2 REAL NOT NULL DEFAULT 0,
        voids TEXT,
        rolling_direction TEXT NOT NULL DEFAULT 'x'
    );
    INSERT INTO item_now SELECT id, label, length_mm, width_mm, outline, thickness_mm, grade, material, heat,
        location, price_per_kg, state, plan, certificate, parent, area_mm2, voids, rolling_direction FROM item;
    DROP TABLE item;
    ALTER TABLE item_now RENAME TO item;
    CREATE INDEX item_offer ON item (thickness_mm, grade, state);
    CREATE INDEX item_plan ON item (plan);
    CREATE INDEX item_label ON item (label COLLATE NOCASE);
    CREATE TABLE part_mark_now (
        id INTEGER PRIMARY KEY,
        mark TEXT NOT NULL,
        part TEXT NOT NULL,
        copy INTEGER NOT NULL,
        item INTEGER REFERENCES item (id),
        plate TEXT,
        program TEXT NOT NULL,
        plan TEXT NOT NULL,
        job TEXT NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('planned', 'cut', 'spoilt', 'dropped')),
        why TEXT,
        UNIQUE (plan, mark)
    );
    INSERT INTO part_mark_now SELECT id, mark, part, copy, item, NULL, program, plan,
        CASE WHEN plan GLOB '* [0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f]'
        THEN substr(plan, 1, length(plan) - 9) ELSE plan END, 'cut', NULL FROM part_mark;
    DROP TABLE part_mark;
    ALTER TABLE part_mark_now RENAME TO part_mark;
    CREATE INDEX part_mark_mark ON part_mark (mark);
    CREATE INDEX part_mark_item ON part_mark (item);
    CREATE INDEX part_mark_job ON part_mark (job, part, state);
    CREATE TABLE demand (
        job TEXT NOT NULL,
        part TEXT NOT NULL,
        wanted INTEGER NOT NULL CHECK (wanted >= 0),
        kit TEXT,
        due TEXT,
        PRIMARY KEY (job, part)
    );
    ALTER TABLE pending ADD COLUMN demand TEXT;
    CREATE TABLE run (
        id INTEGER PRIMARY KEY,
        at TEXT NOT NULL,
        plan TEXT NOT NULL,
        sheet TEXT NOT NULL,
        minutes REAL NOT NULL CHECK (minutes > 0),
        restarts INTEGER NOT NULL CHECK (restarts >= 0),
        sets REAL CHECK (sets >= 0),
        gone INTEGER NOT NULL DEFAULT 0
    );
    CREATE INDEX run_plan ON run (plan)
    """,
)
SCHEMA_VERSION = len(MIGRATIONS)


def connect(file: Path, *, make: bool = True) -> sqlite3.Connection:
    """Open an inventory, brought up to date where needed; where missing it is made, or refused.

    Raises
    ------
    StockError
        If the file cannot be opened, is no inventory, or was written by a newer version.

    Notes
    -----
    Before an older inventory is changed, a copy of it is kept beside it: ``stock.db.schema-4``.
    """
    if not make and not file.exists():
        raise StockError(
            "there is no inventory here",
            where=str(file),
            remedy="check the path, or begin one with `cutplan stock add` or `cutplan stock import`",
        )
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        connection = sqlite3.connect(file, timeout=BUSY_S, isolation_level=None)
        connection.row_factory = sqlite3.Row
        connection.execute("PRAGMA synchronous = FULL")
        # A step may make a table anew: what refers to it must not go with the old one.
        _migrate(connection, file)
        connection.execute("PRAGMA foreign_keys = ON")
    except (*BROKEN, OSError) as problem:
        raise guarded(problem, file) from None
    return connection


def _migrate(connection: sqlite3.Connection, file: Path) -> None:
    if _version(connection) == SCHEMA_VERSION:
        return
    # Taken before the version is read again: another process may be migrating too.
    connection.execute("BEGIN IMMEDIATE")
    try:
        version = _version(connection)
        if version > SCHEMA_VERSION:
            raise StockError(
                f"was written by a newer version (schema {version}, this one knows {SCHEMA_VERSION})",
                where=str(file),
                remedy="update cutplan",
            )
        foreign = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchone()
        if version == 0 and foreign:
            raise StockError("is a database of something else", where=str(file), remedy="give another path")
        if version:
            _keep_a_copy(file, version)
        for script in MIGRATIONS[version:]:
            for statement in filter(str.strip, script.split(";")):
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
        connection.execute("COMMIT")
    except BaseException:
        connection.execute("ROLLBACK")
        raise


def _keep_a_copy(file: Path, version: int) -> None:
    """Keep the inventory as it was beside itself before its tables are changed."""
    old = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro", uri=True)
    new = sqlite3.connect(file.with_name(f"{file.name}.schema-{version}"))
    try:
        old.backup(new)
    finally:
        old.close()
        new.close()


def _version(connection: sqlite3.Connection) -> int:
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def guarded(problem: Exception, file: Path) -> StockError:
    """Return what a database error means to the person at the desk; nothing was changed."""
    text = str(problem)
    if "locked" in text or "busy" in text:
        remedy = "another planner is writing; try again"
    elif "full" in text:
        remedy = "free some space on that disk"
    elif not isinstance(problem, OSError | sqlite3.OperationalError | sqlite3.IntegrityError):
        remedy = "this is no readable inventory; restore a copy, save what can be read by `cutplan stock rescue`, or give another path"
    elif "readonly" in text or "unable to open" in text or isinstance(problem, OSError):
        remedy = "check the path and its permissions"
    else:
        remedy = "nothing was changed"
    return StockError(f"the inventory answers: {text}", where=str(file), remedy=remedy)
