"""What an inventory is asked: pieces, reservations, histories, parts and the journal; nothing is changed."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from pathlib import Path as FilePath
from typing import Any

from cutplan.base.errors import StockError
from cutplan.stock.journal import CHANGES
from cutplan.stock.ledger import Owing, owings
from cutplan.stock.piece import Change, PartMark, Pending, Piece, Run
from cutplan.stock.rows import MARKS, PIECES, change_of, detail_of, mark_of, pending_of, piece_of, run_of
from cutplan.stock.schema import BROKEN, guarded

__all__ = ["Readings"]


class Readings:
    """The questions that an open inventory answers."""

    file: FilePath
    _connection: sqlite3.Connection

    def pieces(self, *, thickness_mm: float | None = None, grade: str | None = None,
               state: str | None = None) -> tuple[Piece, ...]:  # fmt: skip
        """Return pieces by thickness, grade and state, remnants first, then small before large."""
        wanted = {"thickness_mm": thickness_mm, "grade": grade, "state": state}
        given = {key: value for key, value in wanted.items() if value is not None}
        where = " AND ".join(f"item.{key} = ?" for key in given) or "item.state != 'withdrawn'"
        query = f"{PIECES} WHERE {where} ORDER BY item.parent IS NULL, item.area_mm2, item.label"
        return tuple(piece_of(row, self.file) for row in self._read(query, tuple(given.values())))

    def piece(self, label: str) -> Piece:
        """Return one piece.

        Raises
        ------
        StockError
            If there is none of that label.
        """
        rows = self._read(f"{PIECES} WHERE item.label = ?", (label,))
        if not rows:
            raise StockError(f"no piece {label!r}", where=str(self.file), remedy="see `cutplan stock list`")
        return piece_of(rows[0], self.file)

    def pending(self) -> tuple[Pending, ...]:
        """Return the reservations whose plans are not known to be written."""
        rows = self._read("SELECT plan, folder, at FROM pending ORDER BY at, plan")
        return tuple(pending_of(row, self.file) for row in rows)

    def folder_of(self, plan: str) -> FilePath | None:
        """Return the folder that a plan's plates were reserved for, None where none is known."""
        rows = self._read("SELECT folder FROM holder WHERE plan = ?", (plan,))
        return FilePath(rows[0]["folder"]) if rows else None

    def changes(self, count: int | None = None) -> tuple[Change, ...]:
        """Return the journal, newest first."""
        limit = "" if count is None else f"LIMIT {count:d}"
        rows = self._read(f"{CHANGES} ORDER BY change.id DESC {limit}")
        return tuple(change_of(row, self.file) for row in rows)

    def owings(self, job: str) -> tuple[Owing, ...]:
        """Return what of each part a job wants, has planned, cut and spoilt, and still owes."""
        try:
            return owings(self._connection, job, self.file)
        except BROKEN as problem:
            raise guarded(problem, self.file) from None

    def jobs(self) -> tuple[str, ...]:
        """Return the names of the jobs whose plans this inventory knows."""
        rows = self._read("SELECT job FROM demand UNION SELECT job FROM part_mark ORDER BY job")
        return tuple(str(row["job"]) for row in rows)

    def history(self, label: str) -> tuple[tuple[str, str, Mapping[str, Any]], ...]:
        """Return what happened to a piece: time (UTC), event, detail; oldest first."""
        self.piece(label)
        rows = self._read(
            "SELECT history.at, event, history.detail, author FROM history "
            "JOIN item ON item.id = history.item LEFT JOIN change ON change.id = history.change "
            "WHERE label = ? ORDER BY history.id",
            (label,),
        )
        by = [{} if row["author"] is None else {"by": row["author"]} for row in rows]
        return tuple(
            (row["at"], row["event"], {**detail_of(row["detail"], self.file), **who})
            for row, who in zip(rows, by, strict=True)
        )

    def trace(self, *, mark: str | None = None, heat: str | None = None,
              piece: str | None = None, plan: str | None = None) -> tuple[PartMark, ...]:  # fmt: skip
        """Return parts that were cut by their mark (backwards), or by heat, piece or plan (forwards)."""
        found = self.marks(mark=mark, heat=heat, piece=piece, plan=plan)
        return tuple(each for each in found if each.state in ("cut", "spoilt"))

    def marks(self, *, mark: str | None = None, heat: str | None = None, piece: str | None = None,
              plan: str | None = None, job: str | None = None) -> tuple[PartMark, ...]:  # fmt: skip
        """Return marked parts whatever became of them, by any of these."""
        wanted = {"part_mark.mark": mark, "item.heat": heat, "COALESCE(item.label, part_mark.plate)": piece,
                  "part_mark.plan": plan, "job": job}  # fmt: skip
        given = {key: value for key, value in wanted.items() if value is not None}
        where = " AND ".join(f"{key} = ?" for key in given) or "1"
        rows = self._read(f"{MARKS} WHERE {where} ORDER BY part_mark.id", tuple(given.values()))
        return tuple(mark_of(row, self.file) for row in rows)

    def _read(self, query: str, values: tuple[Any, ...] = ()) -> list[sqlite3.Row]:
        try:
            return self._connection.execute(query, values).fetchall()
        except BROKEN as problem:
            raise guarded(problem, self.file) from None

    def runs(self, plan: str | None = None) -> tuple[Run, ...]:
        """Return what was written back of a plan's sheets, or of all, oldest first."""
        where = "gone = 0" if plan is None else "gone = 0 AND plan = ?"
        rows = self._read(f"SELECT * FROM run WHERE {where} ORDER BY id", () if plan is None else (plan,))
        return tuple(run_of(row, self.file) for row in rows)

    def is_own_plate(self, plan: str, label: str) -> bool:
        """Return whether a plan known here was made for a plate that is no piece of the inventory."""
        known = self._read("SELECT 1 FROM part_mark WHERE plan = ? LIMIT 1", (plan,))
        return bool(known) and not self._read("SELECT 1 FROM item WHERE label = ?", (label,))
