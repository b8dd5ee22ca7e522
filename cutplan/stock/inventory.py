"""The inventory of plates and remnants: every change one transaction, with its history.

A row is one piece of plate.  It is in the rack until a plan reserves it, reserved until the
operator confirms the cut or the plan is dropped, and then cut or scrapped; what is left of a
cut plate comes back as a remnant, a piece of its own that knows its parent.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path as FilePath
from typing import Any

import platformdirs

from cutplan.base.errors import StockError
from cutplan.stock.piece import PartMark, Pending, Piece, checked_piece
from cutplan.stock.rows import PIECES, detail_of, labels_of, mark_of, pending_of, piece_of
from cutplan.stock.schema import BROKEN, connect, guarded

__all__ = ["Inventory", "PartMark", "Piece", "default_inventory"]

COLUMNS = (
    "label", "length_mm", "width_mm", "outline", "thickness_mm", "grade", "material", "heat",
    "certificate", "location", "price_per_kg", "state", "plan", "parent", "area_mm2", "voids",
    "rolling_direction",
)  # fmt: skip


def default_inventory() -> FilePath:
    """Return where the inventory is kept: ``$CUTPLAN_STOCK``, or the user's data folder.

    Returns
    -------
    Path
    """
    named = os.environ.get("CUTPLAN_STOCK")
    return FilePath(named) if named else FilePath(platformdirs.user_data_dir("cutplan")) / "stock.db"


class Inventory:
    """An open inventory; use it as a context manager.

    Parameters
    ----------
    file : Path, optional
        Database.
    make : bool
        Whether it is made where missing, or refused.
    """

    def __init__(self, file: FilePath | None = None, *, make: bool = True) -> None:
        self.file = file or default_inventory()
        self._connection = connect(self.file, make=make)

    def __enter__(self) -> Inventory:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the database."""
        self._connection.close()

    def add(self, pieces: Sequence[Piece], event: str = "received") -> None:
        """Add pieces, all or none.

        Raises
        ------
        StockError
            If a label is there already, or a size or outline is wrong.
        """
        checked = [checked_piece(piece) for piece in pieces]
        with self._writing() as db:
            for piece in checked:
                self._insert(db, piece, event)

    def pieces(self, *, thickness_mm: float | None = None, grade: str | None = None,
               state: str | None = None) -> tuple[Piece, ...]:  # fmt: skip
        """Return pieces by thickness, grade and state, remnants first, then small before large."""
        wanted = {"thickness_mm": thickness_mm, "grade": grade, "state": state}
        given = {key: value for key, value in wanted.items() if value is not None}
        where = " AND ".join(f"item.{key} = ?" for key in given) or "1"
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

    def reserve(
        self,
        plan: str,
        labels: Sequence[str],
        *,
        instead_of: str | None = None,
        folder: FilePath | None = None,
    ) -> tuple[str, ...]:
        """Reserve pieces for a plan, all or none.

        Parameters
        ----------
        plan : str
        labels : sequence of str
        instead_of : str, optional
            A plan that this one replaces: what it holds, and this one does not want, goes back
            in the rack, at once or when a pending reservation is settled.
        folder : Path, optional
            Where the plan is about to be written: until `settle` or `undo` is called the
            reservation is pending, and can be undone by whoever comes next.

        Returns
        -------
        tuple of str
            Labels that the replaced plan held.

        Raises
        ------
        StockError
            If one is not in the rack any more; it is named.
        """
        with self._writing() as db:
            held = self._reserved(db, instead_of) if instead_of is not None else ()
            for label in labels:
                if label not in held:
                    self._move(db, label, ("in rack",), "reserved", plan, {"plan": plan})
                elif instead_of != plan:
                    self._move(db, label, ("reserved",), "reserved", plan, {"plan": plan})
            if folder is None:
                self._give_back(db, held, instead_of, plan)
            else:
                values = (plan, str(folder), instead_of, json.dumps(held), _now())
                db.execute("INSERT OR REPLACE INTO pending VALUES (?, ?, ?, ?, ?)", values)
        return held

    def pending(self) -> tuple[Pending, ...]:
        """Return the reservations whose plans are not known to be written."""
        rows = self._read("SELECT plan, folder, at FROM pending ORDER BY at, plan")
        return tuple(pending_of(row, self.file) for row in rows)

    def settle(self, plan: str) -> None:
        """Let a pending reservation stand: its plan is written, and what it replaces needs no plate.

        Raises
        ------
        StockError
            If the plan has no pending reservation: its pieces were released in the meantime.
        """
        with self._writing() as db:
            row = db.execute("SELECT folder, replaces, held FROM pending WHERE plan = ?", (plan,)).fetchone()
            if row is None:
                raise StockError(
                    f"the plates of plan {plan!r} were released while it was written",
                    where=str(self.file),
                    remedy="plan again before anything of it is cut",
                )
            self._give_back(db, labels_of(row["held"], self.file), row["replaces"], plan)
            db.execute("DELETE FROM pending WHERE plan = ?", (plan,))
            db.execute("DELETE FROM holder WHERE plan = ?", (row["replaces"],))
            db.execute("INSERT OR REPLACE INTO holder VALUES (?, ?)", (plan, row["folder"]))

    def folder_of(self, plan: str) -> FilePath | None:
        """Return the folder that a plan's plates were reserved for, None where none is known."""
        rows = self._read("SELECT folder FROM holder WHERE plan = ?", (plan,))
        return FilePath(rows[0]["folder"]) if rows else None

    def undo(self, plan: str) -> None:
        """Undo a pending reservation: the replaced plan has again what it held, the rest is free."""
        with self._writing() as db:
            row = db.execute("SELECT replaces, held FROM pending WHERE plan = ?", (plan,)).fetchone()
            if row is None:
                return
            held, replaced = labels_of(row["held"], self.file), row["replaces"]
            for label in self._reserved(db, plan) if replaced != plan else ():
                if label in held:
                    self._move(db, label, ("reserved",), "reserved", replaced, {"plan": replaced})
                else:
                    self._move(db, label, ("reserved",), "in rack", None, {"plan": plan})
            db.execute("DELETE FROM pending WHERE plan = ?", (plan,))

    def _give_back(
        self, db: sqlite3.Connection, held: Sequence[str], replaced: str | None, plan: str
    ) -> None:
        """Put what a replaced plan still holds, and its successor does not want, in the rack."""
        if replaced is None or replaced == plan:
            return
        for label in self._reserved(db, replaced):
            if label in held:
                self._move(db, label, ("reserved",), "in rack", None, {"plan": replaced})

    def release(self, plan: str) -> tuple[str, ...]:
        """Put the pieces that a plan reserved back in the rack; returns their labels."""
        with self._writing() as db:
            labels = self._reserved(db, plan)
            for label in labels:
                self._move(db, label, ("reserved",), "in rack", None, {"plan": plan})
            db.execute("DELETE FROM pending WHERE plan = ?", (plan,))
            db.execute("DELETE FROM holder WHERE plan = ?", (plan,))
        return labels

    def confirm_cut(
        self,
        plan: str,
        label: str,
        program: str,
        parts: Sequence[tuple[str, str, int]] = (),
        remnants: Sequence[Piece] = (),
        scrap_kg: float = 0.0,
    ) -> None:
        """Book a reserved piece out as cut, with its parts' marks and its remnants put back.

        Parameters
        ----------
        plan, label, program : str
        parts : sequence of (mark, part, copy)
        remnants : sequence of Piece
            Their heat, grade and certificate are the cut piece's.
        scrap_kg : float
            What is left over and not kept.

        Raises
        ------
        StockError
            If the plan has not reserved the piece, or it was confirmed before.
        """
        kept = [checked_piece(piece) for piece in remnants]
        with self._writing() as db:
            row = db.execute("SELECT * FROM item WHERE label = ?", (label,)).fetchone()
            if row is None or row["state"] != "reserved" or row["plan"] != plan:
                state = row["state"] if row is not None else "not in the inventory"
                raise StockError(
                    f"piece {label!r} is {state}, not reserved by plan {plan!r}",
                    where=str(self.file),
                    remedy="confirm a cut once, with the plan that was run",
                )
            detail = {"plan": plan, "program": program, "scrap_kg": round(scrap_kg, 3)}
            self._move(db, label, ("reserved",), "cut", plan, detail)
            for mark, part, copy in parts:
                values = (mark, part, copy, row["id"], program, plan)
                db.execute(
                    "INSERT INTO part_mark (mark, part, copy, item, program, plan) VALUES (?, ?, ?, ?, ?, ?)",
                    values,
                )
            for piece in kept:
                child = replace(
                    piece, heat=row["heat"], certificate=row["certificate"], grade=row["grade"],
                    material=row["material"], thickness_mm=row["thickness_mm"], parent=label,
                    rolling_direction=row["rolling_direction"],
                )  # fmt: skip
                self._insert(db, child, "remnant put back")

    def scrap(self, label: str) -> None:
        """Take a piece out of use.

        Raises
        ------
        StockError
            If it is reserved, cut or scrapped already.
        """
        with self._writing() as db:
            self._move(db, label, ("in rack",), "scrapped", None, {})

    def history(self, label: str) -> tuple[tuple[str, str, Mapping[str, Any]], ...]:
        """Return what happened to a piece: time (UTC), event, detail; oldest first."""
        self.piece(label)
        rows = self._read(
            "SELECT at, event, detail FROM history JOIN item ON item.id = history.item "
            "WHERE label = ? ORDER BY history.id",
            (label,),
        )
        return tuple((row["at"], row["event"], detail_of(row["detail"], self.file)) for row in rows)

    def trace(self, *, mark: str | None = None, heat: str | None = None,
              piece: str | None = None, plan: str | None = None) -> tuple[PartMark, ...]:  # fmt: skip
        """Return marked parts by their mark (backwards), or by heat, piece or plan (forwards)."""
        wanted = {"part_mark.mark": mark, "item.heat": heat, "item.label": piece, "part_mark.plan": plan}
        given = {key: value for key, value in wanted.items() if value is not None}
        where = " AND ".join(f"{key} = ?" for key in given) or "1"
        rows = self._read(
            "SELECT mark, part, copy, label, heat, certificate, program, part_mark.plan FROM part_mark "
            f"JOIN item ON item.id = part_mark.item WHERE {where} ORDER BY part_mark.id",
            tuple(given.values()),
        )
        return tuple(mark_of(row, self.file) for row in rows)

    def _read(self, query: str, values: tuple[Any, ...] = ()) -> list[sqlite3.Row]:
        try:
            return self._connection.execute(query, values).fetchall()
        except BROKEN as problem:
            raise guarded(problem, self.file) from None

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """Hold the only write transaction there can be; undone on any error."""
        db = self._connection
        try:
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
                db.execute("COMMIT")
            except BaseException:
                # A full disk ends the transaction by itself.
                if db.in_transaction:
                    db.execute("ROLLBACK")
                raise
        except BROKEN as problem:
            raise guarded(problem, self.file) from None

    def _insert(self, db: sqlite3.Connection, piece: Piece, event: str) -> None:
        # Some file systems do not tell cases apart, and programs are named after labels.
        if db.execute("SELECT 1 FROM item WHERE label = ? COLLATE NOCASE", (piece.label,)).fetchone():
            raise StockError(
                f"piece {piece.label!r} is in the inventory already",
                where=str(self.file),
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
        _log(db, int(cursor.lastrowid or 0), event, {"state": piece.state})

    def _move(
        self,
        db: sqlite3.Connection,
        label: str,
        allowed: Sequence[str],
        state: str,
        plan: str | None,
        detail: Mapping[str, Any],
    ) -> None:
        row = db.execute("SELECT id, state, plan FROM item WHERE label = ?", (label,)).fetchone()
        if row is None or row["state"] not in allowed:
            now = "not in the inventory" if row is None else row["state"]
            holder = f" by plan {row['plan']!r}" if row is not None and row["plan"] else ""
            raise StockError(
                f"piece {label!r} is {now}{holder}, it would have to be {' or '.join(allowed)}",
                where=str(self.file),
                remedy="plan again: another plan may have taken it",
            )
        db.execute("UPDATE item SET state = ?, plan = ? WHERE id = ?", (state, plan, row["id"]))
        _log(db, row["id"], state, detail)

    def _reserved(self, db: sqlite3.Connection, plan: str) -> tuple[str, ...]:
        query = "SELECT label FROM item WHERE plan = ? AND state = 'reserved' ORDER BY label"
        return tuple(row["label"] for row in db.execute(query, (plan,)))


def _log(db: sqlite3.Connection, item: int, event: str, detail: Mapping[str, Any]) -> None:
    db.execute(
        "INSERT INTO history (at, item, event, detail) VALUES (?, ?, ?, ?)",
        (_now(), item, event, json.dumps(detail)),
    )


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
