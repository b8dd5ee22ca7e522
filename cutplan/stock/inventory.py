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
from pathlib import Path as FilePath
from typing import Any

import platformdirs

from cutplan.base.errors import StockError
from cutplan.stock.journal import Act, author_of, last_of, now, taken_back
from cutplan.stock.ledger import (
    book_marks,
    demand_text,
    drop_marks,
    enter_demand,
    plan_marks,
    spoil_mark,
)
from cutplan.stock.piece import Batch, Change, PartMark, Piece, Run, checked_piece
from cutplan.stock.readings import Readings
from cutplan.stock.rows import (
    labels_of,
)
from cutplan.stock.schema import BROKEN, connect, guarded
from cutplan.stock.shelving import insert_piece, move_piece, reserved_labels

__all__ = ["Inventory", "default_inventory"]

LONGEST_MIN, MOST_RESTARTS = 100_000.0, 10_000


def default_inventory() -> FilePath:
    """Return where the inventory is kept: ``$CUTPLAN_STOCK``, or the user's data folder.

    Returns
    -------
    Path
    """
    named = os.environ.get("CUTPLAN_STOCK")
    return FilePath(named) if named else FilePath(platformdirs.user_data_dir("cutplan")) / "stock.db"


class Inventory(Readings):
    """An open inventory; use it as a context manager.

    Parameters
    ----------
    file : Path, optional
        Database.
    make : bool
        Whether it is made where missing, or refused.
    author : str, optional
        Who changes it, for the journal; by default ``$CUTPLAN_AUTHOR``, or the system's user.
    """

    def __init__(self, file: FilePath | None = None, *, make: bool = True, author: str | None = None) -> None:
        self.file = file or default_inventory()
        self.author = author_of(author)
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
        with self._act("received", {"pieces": [piece.label for piece in checked]}) as act:
            for piece in checked:
                insert_piece(act, piece, event, self.file)

    def reserve(
        self,
        plan: str,
        labels: Sequence[str],
        *,
        instead_of: str | None = None,
        folder: FilePath | None = None,
        batch: Batch | None = None,
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
        batch : Batch, optional
            What the plan makes of its job: its parts are planned from now on.

        Returns
        -------
        tuple of str
            Labels that the replaced plan held.

        Raises
        ------
        StockError
            If one is not in the rack any more, or the batch makes more than its job still owes.
        """
        with self._act("reserved", {"plan": plan, "pieces": list(labels)}) as act:
            held = reserved_labels(act.db, instead_of) if instead_of is not None else ()
            for label in labels:
                if label not in held:
                    move_piece(act, label, ("in rack",), "reserved", plan, {"plan": plan}, self.file)
                elif instead_of != plan:
                    move_piece(act, label, ("reserved",), "reserved", plan, {"plan": plan}, self.file)
            if batch is not None:
                plan_marks(act.db, plan, batch, instead_of, self.file)
            if folder is None:
                self._give_back(act, held, instead_of, plan)
            else:
                values = (plan, str(folder), instead_of, json.dumps(held), now(), demand_text(batch))
                act.db.execute("INSERT OR REPLACE INTO pending VALUES (?, ?, ?, ?, ?, ?)", values)
        return held

    def settle(self, plan: str) -> None:
        """Let a pending reservation stand: its plan is written, and what it replaces needs no plate.

        Raises
        ------
        StockError
            If the plan has no pending reservation: its pieces were released in the meantime.
        """
        with self._act("planned", {"plan": plan}) as act:
            db = act.db
            row = db.execute("SELECT * FROM pending WHERE plan = ?", (plan,)).fetchone()
            if row is None:
                raise StockError(
                    f"the plates of plan {plan!r} were released while it was written",
                    where=str(self.file),
                    remedy="plan again before anything of it is cut",
                )
            self._give_back(act, labels_of(row["held"], self.file), row["replaces"], plan)
            if row["replaces"] != plan:
                drop_marks(db, row["replaces"])
            enter_demand(db, row["demand"], self.file)
            db.execute("DELETE FROM pending WHERE plan = ?", (plan,))
            db.execute("DELETE FROM holder WHERE plan = ?", (row["replaces"],))
            db.execute("INSERT OR REPLACE INTO holder VALUES (?, ?)", (plan, row["folder"]))

    def undo(self, plan: str) -> None:
        """Undo a pending reservation: the replaced plan has again what it held, the rest is free."""
        if plan not in {pending.plan for pending in self.pending()}:
            return
        with self._act("dropped", {"plan": plan}) as act:
            row = act.db.execute("SELECT replaces, held FROM pending WHERE plan = ?", (plan,)).fetchone()
            if row is None:
                return
            held, replaced = labels_of(row["held"], self.file), row["replaces"]
            if replaced != plan:
                drop_marks(act.db, plan)
            for label in reserved_labels(act.db, plan) if replaced != plan else ():
                if label in held:
                    move_piece(act, label, ("reserved",), "reserved", replaced, {"plan": replaced}, self.file)
                else:
                    move_piece(act, label, ("reserved",), "in rack", None, {"plan": plan}, self.file)
            act.db.execute("DELETE FROM pending WHERE plan = ?", (plan,))

    def _give_back(self, act: Act, held: Sequence[str], replaced: str | None, plan: str) -> None:
        """Put what a replaced plan still holds, and its successor does not want, in the rack."""
        if replaced is None or replaced == plan:
            return
        for label in reserved_labels(act.db, replaced):
            if label in held:
                move_piece(act, label, ("reserved",), "in rack", None, {"plan": replaced}, self.file)

    def release(self, plan: str) -> tuple[str, ...]:
        """Put the pieces that a plan reserved back in the rack; returns their labels."""
        with self._act("released", {"plan": plan}) as act:
            labels = reserved_labels(act.db, plan)
            for label in labels:
                move_piece(act, label, ("reserved",), "in rack", None, {"plan": plan}, self.file)
            drop_marks(act.db, plan)
            act.db.execute("DELETE FROM pending WHERE plan = ?", (plan,))
            act.db.execute("DELETE FROM holder WHERE plan = ?", (plan,))
        return labels

    def confirm_cut(
        self,
        plan: str,
        label: str,
        program: str,
        parts: Sequence[tuple[str, str, int]] = (),
        remnants: Sequence[Piece] = (),
        scrap_kg: float = 0.0,
        job: str | None = None,
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
        job : str, optional
            Job of the plan.

        Raises
        ------
        StockError
            If the plan has not reserved the piece, or it was confirmed before.
        """
        kept = [checked_piece(piece) for piece in remnants]
        with self._act("cut", {"piece": label, "plan": plan, "program": program}) as act:
            row = act.db.execute("SELECT * FROM item WHERE label = ?", (label,)).fetchone()
            if row is None or row["state"] != "reserved" or row["plan"] != plan:
                state = row["state"] if row is not None else "not in the inventory"
                raise StockError(
                    f"piece {label!r} is {state}, not reserved by plan {plan!r}",
                    where=str(self.file),
                    remedy="confirm a cut once, with the plan that was run",
                )
            detail = {"plan": plan, "program": program, "scrap_kg": round(scrap_kg, 3)}
            move_piece(act, label, ("reserved",), "cut", plan, detail, self.file)
            book_marks(act, plan, program, parts, row["id"], self.file, job=job or plan)
            for piece in kept:
                child = replace(
                    piece, heat=row["heat"], certificate=row["certificate"], grade=row["grade"],
                    material=row["material"], thickness_mm=row["thickness_mm"], parent=label,
                    rolling_direction=row["rolling_direction"],
                )  # fmt: skip
                insert_piece(act, child, "remnant put back", self.file)

    def confirm_parts(
        self, plan: str, plate: str, program: str, parts: Sequence[tuple[str, str, int]], job: str
    ) -> None:
        """Book the parts of a plate out that is a job's own, and no piece of the inventory.

        Raises
        ------
        StockError
            If one was booked out before.
        """
        with self._act("cut", {"piece": plate, "plan": plan, "program": program}) as act:
            book_marks(act, plan, program, parts, None, self.file, job=job, plate=plate)

    def spoil(self, mark: str, why: str, plan: str | None = None) -> PartMark:
        """Let a part be scrap: its job owes it again.

        Parameters
        ----------
        mark : str
        why : str
        plan : str, optional
            Where several plans have a part so marked.

        Returns
        -------
        PartMark

        Raises
        ------
        StockError
            If no part or several are so marked, or it is scrap already.
        """
        with self._act("spoilt", {"mark": mark, "why": why}) as act:
            spoil_mark(act, mark, why, plan, self.file)
        return next(m for m in self.marks(mark=mark, plan=plan) if m.state == "spoilt" and m.why == why)

    def note_runs(self, runs: Sequence[Run]) -> None:
        """Keep what operators wrote back of sheets, all or none.

        Raises
        ------
        StockError
            If minutes, restarts or sets are no such figures.
        """
        for run in runs:
            if not (0.0 < run.minutes < LONGEST_MIN and 0 <= run.restarts < MOST_RESTARTS):
                told = f"{run.minutes:g} minutes and {run.restarts} restarts are no run of a sheet"
                raise StockError(told, where=run.sheet, remedy="give minutes above 0, restarts from 0 on")
            if run.sets is not None and not 0.0 <= run.sets < MOST_RESTARTS:
                raise StockError(f"{run.sets:g} sets cannot be worn", where=run.sheet, remedy="count again")
        with self._act("run noted", {"sheets": [run.sheet for run in runs]}) as act:
            for run in runs:
                values = (now(), run.plan, run.sheet, run.minutes, run.restarts, run.sets)
                cursor = act.db.execute(
                    "INSERT INTO run (at, plan, sheet, minutes, restarts, sets) VALUES (?, ?, ?, ?, ?, ?)",
                    values,
                )
                act.inserted("run", int(cursor.lastrowid or 0))

    def scrap(self, label: str) -> None:
        """Take a piece out of use.

        Raises
        ------
        StockError
            If it is reserved, cut or scrapped already.
        """
        with self._act("scrapped", {"piece": label}) as act:
            move_piece(act, label, ("in rack",), "scrapped", None, {}, self.file)

    def relocate(self, label: str, location: str | None) -> str | None:
        """Say where a piece lies from now on; returns where it lay.

        Raises
        ------
        StockError
            If there is no such piece.
        """
        before = self.piece(label).location
        with self._act("moved", {"piece": label, "from": before, "to": location}) as act:
            row = act.db.execute("SELECT id FROM item WHERE label = ?", (label,)).fetchone()
            act.update("item", row["id"], location=location)
            act.log(row["id"], "moved", {"from": before, "to": location})
        return before

    def take_back(self, number: int | None = None) -> Change:
        """Take a change back, by default the author's last one that can be.

        Parameters
        ----------
        number : int, optional
            As the journal counts.

        Returns
        -------
        Change
            What was taken back.

        Raises
        ------
        StockError
            If there is none, it cannot be taken back, or something it touched was changed later.
        """
        with self._writing() as db:
            if number is None:
                number = last_of(db, self.author, self.file)
            return taken_back(db, number, self.author, self.file)

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

    @contextmanager
    def _act(self, act: str, detail: Mapping[str, Any]) -> Iterator[Act]:
        """Hold a change: one transaction, kept in the journal with time and author."""
        with self._writing() as db:
            made = Act(db, self.author, act, detail)
            yield made
            made.close()
