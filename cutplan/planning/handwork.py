"""A job's plan while somebody works on it by hand: each edit is measured, cut, ordered and proved at once.

What an edit leaves alone is not planned again.  Files are none of its business.
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import replace

from cutplan.editing import Edit, Edits, OrderOf, State, UseData, applied
from cutplan.planning.edited import first_state, start_of
from cutplan.planning.engine import Desk, Here
from cutplan.planning.improving import tighter_layout
from cutplan.planning.job import Job
from cutplan.planning.laid_job import LaidJob, assembled, lay_job, tasks_of
from cutplan.planning.sheets import SheetTask, plan_sheet
from cutplan.record import Plan, PlannedSheet
from cutplan.sequencing import cut_keys

__all__ = ["Handwork"]

MOST_KEPT = 400
"""Planned sheets that are kept for going back and forth; one takes a megabyte or so."""


class Handwork:
    """A plan under edits.

    Parameters
    ----------
    job : Job
    edits : Edits, optional
        Made before; they are made again.
    desk : Desk, optional
        Told of progress, and asked whether a search is to end.
    replaces : str, optional
        Name of a plan whose reserved plates are on offer again.

    Attributes
    ----------
    edits : Edits
        All that were made, with what was undone and the nest that they begin from.
    plan : Plan
        As the edits have it, proved.
    state : State
        How its parts lie, and what is asked of them.
    """

    def __init__(
        self, job: Job, edits: Edits | None = None, *, desk: Desk | None = None, replaces: str | None = None
    ) -> None:
        self.job = job
        self._replaces = replaces
        self._kept: dict[Hashable, PlannedSheet] = {}
        desk = desk or Here()
        given = edits or Edits(job=job.name)
        bare = given.model_copy(update={"edits": (), "undone": ()})
        self._laid = lay_job(job, desk.tell, _engine(desk), edits=bare, replaces=replaces)
        self._grounds: dict[tuple[Edit, ...], LaidJob] = {(): self._laid}
        whole = self._planned(self._laid, desk)
        start = given.start or start_of(self._laid.begun, self._laid.told, whole)
        self.edits = given.model_copy(update={"edits": (), "undone": (), "start": start})
        self.state = self._first(self._laid)
        self.plan = whole
        if given.edits:
            self._go_to(given.model_copy(update={"start": start}), desk)
        self.edits = given.model_copy(update={"start": start})

    def _first(self, laid: LaidJob) -> State:
        return first_state(laid.begun, laid.prepared.groups, laid.job, self.edits.start)

    def make(self, edit: Edit, desk: Desk | None = None) -> None:
        """Make one more edit.

        Raises
        ------
        CutplanError
            If it cannot be made; everything is as it was.
        """
        self._go_to(self.edits.with_edit(edit), desk or Here())

    def undo(self, desk: Desk | None = None) -> None:
        """Take the last edit back.

        Raises
        ------
        InputError
            If there is none.
        """
        self._go_to(self.edits.undo(), desk or Here())

    def redo(self, desk: Desk | None = None) -> None:
        """Make the edit that was undone last again.

        Raises
        ------
        InputError
            If none was undone.
        """
        self._go_to(self.edits.redo(), desk or Here())

    def better_order(self, sheet: str, desk: Desk) -> OrderOf | None:
        """Search a sheet's order anew; None where what it has is as good.

        What was put before what stays so.
        """
        laid = self._laid_after(self.edits, self.state, desk)
        for task, planned in zip(tasks_of(laid), self.plan.sheets, strict=True):
            if task.nested.name != sheet:
                continue
            free = replace(task, wishes=replace(task.wishes, kept=None))
            found = plan_sheet(free, desk)
            if _cost(found) >= _cost(planned) - 1e-6:
                return None
            cuts = tuple(cut_keys([step.cut for step in found.order.steps]))
            return OrderOf(sheet=sheet, cuts=cuts, pinned=False)
        self.state.sheet(sheet)
        return None

    def better_layout(self, sheet: str, desk: Desk) -> Edit | None:
        """Nest what shares plates with a sheet again, around what is pinned; None where nothing is won."""
        return tighter_layout(self.state, self.state.sheet(sheet).bench, self.job, desk)

    def _go_to(self, edits: Edits, desk: Desk) -> None:
        state = self._state_after(edits, desk)
        laid = self._laid_after(edits, state, desk)
        plan = self._planned(laid, desk)
        self.edits, self.state, self.plan = edits, state, plan

    def _state_after(self, edits: Edits, desk: Desk) -> State:
        ground = self._ground(edits, desk)
        mine = self.edits.edits
        if edits.edits[: len(mine)] == mine and ground is self._ground(self.edits, desk):
            state, rest = self.state, edits.edits[len(mine) :]
        else:
            state, rest = self._first(ground), edits.edits
        for edit in rest:
            state = applied(state, edit)
        return state

    def _ground(self, edits: Edits, desk: Desk) -> LaidJob:
        """Return the job with the cutting data that edits ask for, nested as they begin."""
        rows = tuple(edit for edit in edits.edits if isinstance(edit, UseData))
        if rows not in self._grounds:
            asked = self.edits.model_copy(update={"edits": rows, "undone": ()})
            self._grounds[rows] = lay_job(
                self.job, desk.tell, _engine(desk), edits=asked, replaces=self._replaces
            )
        return self._grounds[rows]

    def _laid_after(self, edits: Edits, state: State, desk: Desk) -> LaidJob:
        ground = self._ground(edits, desk)
        if not edits.edits:
            return replace(ground, edits=None)
        return ground.after(state, edits)

    def _planned(self, laid: LaidJob, desk: Desk) -> Plan:
        sheets = []
        for task in tasks_of(laid):
            key = _key(task)
            if key not in self._kept:
                self._kept[key] = plan_sheet(task, desk)
            sheets.append(self._kept[key])
        while len(self._kept) > MOST_KEPT:
            del self._kept[next(iter(self._kept))]
        return assembled(laid, sheets)


def _engine(desk: Desk) -> _AtDesk:
    return _AtDesk(desk)


class _AtDesk:
    """Carries out tasks here, one after another, at a desk that somebody else watches."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def map(self, work, tasks, tell, *, searches=False):  # type: ignore[no-untyped-def]
        """Return the results of the tasks, in their order."""
        return [work(task, self._desk) for task in tasks]


def _key(task: SheetTask) -> Hashable:
    """Return what a planned sheet depends on."""
    nested = task.nested
    placements = tuple((p.part.name, p.copy, p.pose) for p in nested.placements)
    barred = tuple((k.outline.vertices.tobytes(), k.height_mm) for k in nested.plate.keepouts)
    return nested.name, placements, barred, repr(task.wishes), repr(task.data), task.lanes


def _cost(sheet: PlannedSheet) -> float:
    """Return what an order costs, s: its time, and how many parts more than wanted are begun at once."""
    return sheet.estimate.time_s["total"] + 60.0 * max(0, sheet.order.open_parts - 5)
