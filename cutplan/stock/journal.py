"""The inventory's journal: who did what and when, each change kept for good, and how one is taken back.

A change is one transaction.  It keeps the rows that it touched, before and after, so that it
can be taken back as long as nothing later has touched them again; taking back is a change too.
"""

from __future__ import annotations

import getpass
import json
import os
import sqlite3
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from cutplan.base.errors import StockError
from cutplan.base.names import checked_name
from cutplan.stock.piece import Change
from cutplan.stock.rows import change_of, detail_of

__all__ = ["CHANGES", "Act", "author_of", "last_of", "now", "taken_back"]

CHANGES = (
    "SELECT change.*, later.id AS undone_by FROM change LEFT JOIN change AS later ON later.undoes = change.id"
)
"""The query whose rows `change_of` takes."""

UNDOABLE = ("received", "cut", "scrapped", "moved", "spoilt", "run noted")
"""Acts of people; what planning does is undone by planning again or by a release."""

ITEM_FIELDS = ("label", "state", "plan", "location")
MARK_FIELDS = ("state", "why", "item", "program")
TABLES = {"item": ITEM_FIELDS, "part_mark": MARK_FIELDS, "run": ("gone",)}


def author_of(given: str | None) -> str:
    """Return who is named as the author of changes: as given, ``$CUTPLAN_AUTHOR``, or the system's user.

    Raises
    ------
    StockError
        If it is no name.
    """
    name = given or os.environ.get("CUTPLAN_AUTHOR")
    if not name:
        try:
            name = getpass.getuser()
        except (OSError, KeyError, ImportError):
            name = "unknown"
    try:
        return checked_name(name)
    except ValueError as problem:
        raise StockError(f"author: {problem}", remedy="give --by NAME, or mend CUTPLAN_AUTHOR") from None


class Act:
    """One change in the making: rows are touched through it, so that they can be put back.

    Attributes
    ----------
    number : int
        Of the change, in the journal.
    """

    def __init__(self, db: sqlite3.Connection, author: str, act: str, detail: Mapping[str, Any]) -> None:
        self.db = db
        values = (now(), author, act, json.dumps(detail), "{}")
        cursor = db.execute(
            "INSERT INTO change (at, author, act, detail, touched) VALUES (?, ?, ?, ?, ?)", values
        )
        self.number = int(cursor.lastrowid or 0)
        self._before: dict[tuple[str, int], dict[str, Any] | None] = {}

    def inserted(self, table: str, row: int) -> None:
        """Note a row that this change brings in."""
        self._before.setdefault((table, row), None)

    def update(self, table: str, row: int, **fields: Any) -> None:
        """Change fields of a row."""
        if (table, row) not in self._before:
            self._before[table, row] = _fields(self.db, table, row)
        names = ", ".join(f"{name} = ?" for name in fields)
        self.db.execute(f"UPDATE {table} SET {names} WHERE id = ?", (*fields.values(), row))

    def log(self, item: int, event: str, detail: Mapping[str, Any]) -> None:
        """Add to the history of a piece."""
        values = (now(), item, event, json.dumps(detail), self.number)
        self.db.execute(
            "INSERT INTO history (at, item, event, detail, change) VALUES (?, ?, ?, ?, ?)", values
        )

    def close(self, undoes: int | None = None) -> None:
        """Keep what was touched, before and after."""
        touched = [
            {"table": table, "row": row, "before": before, "after": _fields(self.db, table, row)}
            for (table, row), before in self._before.items()
        ]
        values = (json.dumps({"rows": touched}), undoes, self.number)
        self.db.execute("UPDATE change SET touched = ?, undoes = ? WHERE id = ?", values)


def now() -> str:
    """Return the time as the journal writes it."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def _fields(db: sqlite3.Connection, table: str, row: int) -> dict[str, Any]:
    names = TABLES[table]
    found = db.execute(f"SELECT {', '.join(names)} FROM {table} WHERE id = ?", (row,)).fetchone()
    return {} if found is None else {name: found[name] for name in names}


def last_of(db: sqlite3.Connection, author: str, file: Path) -> int:
    """Return the newest change of an author that can be taken back.

    Raises
    ------
    StockError
        If there is none.
    """
    acts = ", ".join("?" * len(UNDOABLE))
    query = f"{CHANGES} WHERE change.author = ? AND change.act IN ({acts}) AND later.id IS NULL ORDER BY change.id DESC"
    row = db.execute(query, (author, *UNDOABLE)).fetchone()
    if row is None:
        raise StockError(f"{author} has changed nothing that can be taken back", where=str(file), remedy=_SEE)
    return int(row["id"])


def taken_back(db: sqlite3.Connection, number: int, author: str, file: Path) -> Change:
    """Take a change back; the caller holds the transaction.

    Parameters
    ----------
    db : sqlite3.Connection
    number : int
    author : str
    file : Path
        The inventory, for errors.

    Returns
    -------
    Change
        The one that was taken back.

    Raises
    ------
    StockError
        If there is no such change, it is none that can be taken back, it was already, or
        something that it touched was changed later; nothing was changed then.
    """
    row = db.execute(f"{CHANGES} WHERE change.id = ?", (number,)).fetchone()
    if row is None:
        raise StockError(f"there is no change {number}", where=str(file), remedy=_SEE)
    change = change_of(row, file)
    if change.undone_by is not None:
        told = f"change {number} was taken back already, by change {change.undone_by}"
        raise StockError(told, where=str(file), remedy="do it again where it was right after all")
    if change.act not in UNDOABLE:
        told = f"change {number} ({change.act}) is none that can be taken back"
        raise StockError(told, where=str(file), remedy=_OTHER_WAYS.get(change.act, _SEE))
    rows = detail_of(row["touched"], file).get("rows") or []
    for each in rows:
        _refuse_touched_since(db, each, number, file)
    act = Act(db, author, "taken back", {"change": number, "was": change.act, **change.detail})
    for each in rows:
        _put_back(act, each, number)
    act.close(undoes=number)
    return change


_SEE = "see `cutplan stock journal`"
_OTHER_WAYS = {
    "reserved": "plan again, or `cutplan stock release PLAN`",
    "dropped": "plan again",
    "planned": "plan again, or `cutplan stock release PLAN`",
    "released": "plan again",
    "taken back": "do again what was taken back",
}


def _refuse_touched_since(db: sqlite3.Connection, each: Mapping[str, Any], number: int, file: Path) -> None:
    table, row, after = each["table"], each["row"], each["after"]
    current = _fields(db, table, row)
    if current == after:
        return
    if table == "item":
        later = db.execute(
            "SELECT MAX(change) AS number FROM history WHERE item = ? AND change > ?", (row, number)
        ).fetchone()["number"]
        what = f"piece {current.get('label') or after['label']!r} is {current.get('state', 'gone')}"
    elif table == "run":
        later, what = None, "the run is gone"
    else:
        later = None
        mark = db.execute("SELECT mark FROM part_mark WHERE id = ?", (row,)).fetchone()
        what = f"part {mark['mark'] if mark else '?'} is {current.get('state', 'gone')}"
    by = f" by change {later}" if later else ""
    raise StockError(
        f"change {number} cannot be taken back: {what} now{by}",
        where=str(file),
        remedy="take back later changes first, the newest before the older: `cutplan stock journal`",
    )


def _put_back(act: Act, each: Mapping[str, Any], number: int) -> None:
    table, row, before = each["table"], each["row"], each["before"]
    if before is None and table == "item":
        # The label is free again: a point and a tilde stand in no label of a piece.
        label = f"{each['after']['label']}~{number}"
        act.update("item", row, state="withdrawn", plan=None, label=label)
        act.log(row, "withdrawn", {})
        return
    if before is None:
        act.update("run", row, gone=1)
        return
    fields = dict(before)
    if table == "item":
        if fields["state"] == "reserved" and not _stands(act.db, fields["plan"]):
            fields |= {"state": "in rack", "plan": None}
        act.update("item", row, **fields)
        act.log(row, f"back: {fields['state']}", {"plan": fields["plan"]} if fields["plan"] else {})
        return
    plan = act.db.execute("SELECT plan FROM part_mark WHERE id = ?", (row,)).fetchone()["plan"]
    if fields["state"] == "planned" and not _stands(act.db, plan):
        fields["state"] = "dropped"
    act.update("part_mark", row, **fields)


def _stands(db: sqlite3.Connection, plan: str | None) -> bool:
    """Return whether a plan is known to be written, or holds pieces still."""
    query = (
        "SELECT 1 FROM holder WHERE plan = ? UNION ALL SELECT 1 FROM pending WHERE plan = ? "
        "UNION ALL SELECT 1 FROM item WHERE plan = ? AND state = 'reserved'"
    )
    return plan is not None and db.execute(query, (plan, plan, plan)).fetchone() is not None
