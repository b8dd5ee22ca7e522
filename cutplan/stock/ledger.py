"""What each job wants and what became of its parts: planned, cut, spoilt, and what it still owes.

Terminology
-----------
wanted : what the job's file asks for in all, as its last plan that was written had it.
planned : on a plan that stands, not booked out yet.
cut : booked out and good.
spoilt : cut, or to be cut, and scrap: it counts for nothing that is wanted.
owed : wanted and not cut.
open : owed and not planned.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from cutplan.base.errors import StockError
from cutplan.stock.journal import Act
from cutplan.stock.piece import Batch, Demanded
from cutplan.stock.rows import demand_of, detail_of

__all__ = [
    "Owing",
    "book_marks",
    "demand_text",
    "drop_marks",
    "enter_demand",
    "owings",
    "plan_marks",
    "spoil_mark",
]


@dataclass(frozen=True)
class Owing:
    """How one part of a job stands.

    Attributes
    ----------
    job, part : str
    wanted, planned, cut, spoilt : int
    kit, due : str or None
    """

    job: str
    part: str
    wanted: int
    planned: int
    cut: int
    spoilt: int
    kit: str | None = None
    due: str | None = None

    @property
    def owed(self) -> int:
        """Wanted and not cut."""
        return max(0, self.wanted - self.cut)

    @property
    def open(self) -> int:
        """Owed and not planned."""
        return max(0, self.wanted - self.cut - self.planned)

    @property
    def surplus(self) -> int:
        """Cut or planned beyond what is wanted."""
        return max(0, self.cut + self.planned - self.wanted)


def owings(db: sqlite3.Connection, job: str, file: Path) -> tuple[Owing, ...]:
    """Return how each part of a job stands, empty where the job is not known."""
    demands = {
        row["part"]: demand_of(row, file)
        for row in db.execute("SELECT * FROM demand WHERE job = ? ORDER BY part", (job,))
    }
    counts: Counter[tuple[str, str]] = Counter()
    query = "SELECT part, state, COUNT(*) AS number FROM part_mark WHERE job = ? GROUP BY part, state"
    for row in db.execute(query, (job,)):
        counts[row["part"], row["state"]] = row["number"]
    parts = sorted({*demands, *(part for part, state in counts if state != "dropped")})
    nothing = Demanded("", 0)
    standing = []
    for part in parts:
        asked = demands.get(part, nothing)
        planned, cut, spoilt = (counts[part, state] for state in ("planned", "cut", "spoilt"))
        standing.append(Owing(job, part, asked.wanted, planned, cut, spoilt, asked.kit, asked.due))
    return tuple(standing)


def plan_marks(db: sqlite3.Connection, plan: str, batch: Batch, instead_of: str | None, file: Path) -> None:
    """Enter the parts of a plan as planned.

    Raises
    ------
    StockError
        If it was planned for what the job still owes, and that is planned or cut by now.
    """
    if batch.only_owed:
        _refuse_too_many(db, plan, batch, instead_of, file)
    db.executemany(
        "INSERT INTO part_mark (mark, part, copy, plate, program, plan, job, state) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, 'planned') "
        # A part of this very plan that is cut or spoilt stays that.
        "ON CONFLICT (plan, mark) DO UPDATE SET state = 'planned' WHERE state = 'dropped'",
        [(m.mark, m.part, m.copy, m.plate, m.program, plan, batch.job) for m in batch.marks],
    )


def _refuse_too_many(
    db: sqlite3.Connection, plan: str, batch: Batch, instead_of: str | None, file: Path
) -> None:
    wanted = {each.part: each.wanted for each in batch.wanted}
    coming = Counter(mark.part for mark in batch.marks)
    query = (
        "SELECT part, COUNT(*) AS number FROM part_mark WHERE job = ? AND (state = 'cut' OR "
        "(state = 'planned' AND plan IS NOT ? AND plan IS NOT ?)) GROUP BY part"
    )
    there = {row["part"]: row["number"] for row in db.execute(query, (batch.job, instead_of, plan))}
    for part, number in coming.items():
        if number + there.get(part, 0) > wanted.get(part, 0):
            raise StockError(
                f"job {batch.job!r} owes {max(0, wanted.get(part, 0) - there.get(part, 0))} of {part!r} by now, "
                f"and this plan makes {number}",
                where=str(file),
                remedy="plan again: another plan of this job was made, or parts were booked out",
            )


def demand_text(batch: Batch | None) -> str | None:
    """Return a batch's demand as it waits for its plan to be written."""
    if batch is None:
        return None
    return json.dumps({"job": batch.job, "wanted": [asdict(each) for each in batch.wanted]})


def enter_demand(db: sqlite3.Connection, text: str | None, file: Path) -> None:
    """Enter what a job wants, once its plan is written; parts that it dropped are wanted no more."""
    if text is None:
        return
    told = detail_of(text, file)
    job = str(told.get("job"))
    db.execute("UPDATE demand SET wanted = 0 WHERE job = ?", (job,))
    for each in _demands(told):
        db.execute(
            "INSERT OR REPLACE INTO demand VALUES (?, ?, ?, ?, ?)",
            (job, each.part, each.wanted, each.kit, each.due),
        )
    db.execute("DELETE FROM demand WHERE job = ? AND wanted = 0", (job,))


def _demands(told: Mapping[str, Any]) -> Iterable[Demanded]:
    return (Demanded(**each) for each in told.get("wanted") or ())


def drop_marks(db: sqlite3.Connection, plan: str | None) -> None:
    """Let go of the parts of a plan that are not cut."""
    db.execute("UPDATE part_mark SET state = 'dropped' WHERE plan = ? AND state = 'planned'", (plan,))


def book_marks(
    act: Act, plan: str, program: str, parts: Sequence[tuple[str, str, int]], item: int | None,
    file: Path, *, job: str, plate: str | None = None,
) -> None:  # fmt: skip
    """Let parts of a plan be cut, each under its mark; one that is spoilt stays that.

    Raises
    ------
    StockError
        If one was booked out before.
    """
    for mark, part, copy in parts:
        values = (mark, part, copy, plate, program, plan, job)
        act.db.execute(
            "INSERT INTO part_mark (mark, part, copy, plate, program, plan, job, state) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, 'planned') ON CONFLICT (plan, mark) DO NOTHING",
            values,
        )
        row = act.db.execute(
            "SELECT id, state FROM part_mark WHERE plan = ? AND mark = ?", (plan, mark)
        ).fetchone()
        if row["state"] == "cut":
            raise StockError(
                f"part {mark} of plan {plan!r} is cut already",
                where=str(file),
                remedy="confirm a cut once, with the plan that was run",
            )
        state = "spoilt" if row["state"] == "spoilt" else "cut"
        act.update("part_mark", row["id"], state=state, item=item, program=program)


def spoil_mark(act: Act, mark: str, why: str, plan: str | None, file: Path) -> str:
    """Let a part be scrap; returns its name.

    Raises
    ------
    StockError
        If no part or several are so marked, or it is scrap already, or its plan was dropped.
    """
    query = "SELECT * FROM part_mark WHERE mark = ? AND (? IS NULL OR plan = ?) ORDER BY id"
    rows = act.db.execute(query, (mark, plan, plan)).fetchall()
    alive = [row for row in rows if row["state"] in ("planned", "cut")]
    if not rows:
        raise StockError(
            f"no part is marked {mark!r}",
            where=str(file),
            remedy="marks stand on the labels; plans made without an inventory are not known here",
        )
    if not alive:
        told = "is spoilt already" if rows[-1]["state"] == "spoilt" else "was never cut: its plan was dropped"
        raise StockError(
            f"part {mark} {told}", where=str(file), remedy=f"see `cutplan stock trace --mark {mark}`"
        )
    if len(alive) > 1:
        plans = ", ".join(repr(row["plan"]) for row in alive)
        raise StockError(
            f"{len(alive)} parts are marked {mark!r}, of plans {plans}",
            where=str(file),
            remedy="say which: --plan",
        )
    act.update("part_mark", alive[0]["id"], state="spoilt", why=why)
    if alive[0]["item"] is not None:
        act.log(alive[0]["item"], "part spoilt", {"mark": mark, "part": alive[0]["part"], "why": why})
    return str(alive[0]["part"])
