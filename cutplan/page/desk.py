"""One job on the page: its plan under edits, one piece of work after another, nothing lost.

An edit is in the file before the browser is told that it holds.
"""

from __future__ import annotations

import getpass
import hashlib
import json
import os
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from cutplan.base.errors import CutplanError, InputError, OutputError
from cutplan.editing import Edit, Edits, read_edits, write_edits
from cutplan.page.shop import Shop
from cutplan.planning import Handwork, locked, planned_before, refuse_another, reserved, write_files
from cutplan.record import Plan

__all__ = ["Desk", "WaitingError", "Watch"]

MOST_WAITING = 20
"""Pieces of work of one job that may wait; more is a browser gone wild."""


class WaitingError(Exception):
    """The desk has other work to do first."""


@dataclass
class Watch:
    """What is being done, and whether it is to end with the best found so far."""

    threads: int = 1
    stage: str = ""
    share: float | None = None
    ending: bool = field(default=False)

    def tell(self, stage: str, share: float | None) -> None:
        """Take down how far the work is."""
        self.stage, self.share = stage, share

    def look_up(self) -> None:
        """End a search where somebody asked for it."""
        if self.ending:
            raise KeyboardInterrupt


class Desk:
    """A job of the folder with its plan.

    Parameters
    ----------
    shop : Shop
    name : str
        Of the job's file.
    """

    def __init__(self, shop: Shop, name: str) -> None:
        self.shop = shop
        self.name = name
        self.file = shop.file(name, (".toml",))
        self.stem = self.file.stem
        self.edits_file = shop.folder / f"{self.stem}.edits.json"
        self.out = shop.folder / f"{self.stem}-plan"
        self.log = shop.folder / f"{self.stem}.releases.jsonl"
        self.watch = Watch()
        self.work: Handwork | None = None
        self.problem: str | None = None
        self.version = 0
        self._begun: Plan | None = None
        self._digest = b""
        self._waiting = 0
        self._counting = threading.Lock()
        self._hand = ThreadPoolExecutor(max_workers=1, thread_name_prefix="desk")

    @property
    def busy(self) -> bool:
        """Whether something is being worked on."""
        return self._waiting > 0

    def submit(self, work: Callable[[], Any]) -> Future[Any]:
        """Do a piece of work after those before it.

        Raises
        ------
        WaitingError
            If too much waits already.
        """
        with self._counting:
            if self._waiting >= MOST_WAITING:
                raise WaitingError
            self._waiting += 1
        return self._hand.submit(self._do, work)

    def _do(self, work: Callable[[], Any]) -> Any:
        try:
            self.watch = Watch(stage="")
            return work()
        finally:
            with self._counting:
                self._waiting -= 1

    def close(self) -> None:
        """End what runs, and take no more."""
        self.watch.ending = True
        self._hand.shutdown(wait=True, cancel_futures=True)

    # Work, each in the desk's own thread.

    def open(self) -> None:
        """Read the job and its edits, and plan it."""
        try:
            job = self.shop.job(self.name)
            edits = read_edits(self.edits_file) if self.edits_file.exists() else None
            self._digest = self._content()
            with self._folder():
                before = planned_before(self.out, job)
            self.work = Handwork(job, edits, desk=self.watch, replaces=before)
            self._write(self.work.edits)
            self.problem = None
        except CutplanError as problem:
            self.work, self.problem = None, str(problem)
        self.version += 1

    def make(self, edit: Edit) -> None:
        """Make an edit: it is measured, cut, ordered and proved, and in the file."""
        work = self._opened()
        self._change(lambda: work.make(edit, self.watch))

    def undo(self) -> None:
        """Take the last edit back."""
        work = self._opened()
        self._change(lambda: work.undo(self.watch))

    def redo(self) -> None:
        """Make again what was undone."""
        work = self._opened()
        self._change(lambda: work.redo(self.watch))

    def improve(self, what: str, sheet: str) -> bool:
        """Nest or order again around what is pinned; True where something better was found."""
        work = self._opened()
        search = {"nest": work.better_layout, "order": work.better_order}.get(what)
        if search is None:
            raise InputError(f"there is nothing to improve called {what[:40]!r}")
        found = search(sheet, self.watch)
        if found is None:
            return False
        self.watch.ending = False
        self.make(found)
        return True

    def release(self, who: str) -> list[str]:
        """Write the programs, all or nothing, as the command does; who and when is kept."""
        work = self._opened()
        if self._content() != self._digest:
            raise OutputError(
                "the job file was changed since it was planned here", remedy="open the job anew"
            )
        job, plan = work.job, work.plan
        with self._folder():
            replaces = planned_before(self.out, job)
            refuse_another(self.out, plan.job)
            with reserved(plan, job, self.out, replaces):
                names = write_files(plan, self.out)
        self._note(who, plan, names)
        self.version += 1
        return names

    def begun(self) -> Plan:
        """Return the plan without any edit, for comparing."""
        work = self._opened()
        if self._begun is None:
            bare = work.edits.model_copy(update={"edits": (), "undone": ()})
            self._begun = Handwork(work.job, bare, desk=self.watch).plan if work.edits.edits else work.plan
        return self._begun

    def releases(self) -> list[dict[str, Any]]:
        """Return who released what and when, the last one first."""
        try:
            lines = self.log.read_text(encoding="utf-8").splitlines()
        except FileNotFoundError:
            return []
        return [json.loads(line) for line in reversed(lines[-200:])]

    def _change(self, change: Callable[[], None]) -> None:
        """Make a change and write it down; where it cannot be written it is taken back."""
        work = self._opened()
        before = (work.edits, work.state, work.plan)
        change()
        try:
            self._write(work.edits)
        except CutplanError:
            work.edits, work.state, work.plan = before
            raise
        self.version += 1

    def _opened(self) -> Handwork:
        if self.work is None:
            raise InputError(self.problem or "the job is not open yet")
        return self.work

    def _write(self, edits: Edits) -> None:
        write_edits(edits, self.edits_file)

    def _content(self) -> bytes:
        return hashlib.sha256(self.file.read_bytes()).digest()

    @contextmanager
    def _folder(self) -> Iterator[None]:
        with locked(self.out):
            yield

    def _note(self, who: str, plan: Plan, names: list[str]) -> None:
        entry = {
            "when": datetime.now(UTC).isoformat(timespec="seconds"),
            "who": who or getpass.getuser(),
            "sheets": [sheet.name for sheet in plan.sheets],
            "edits": len(self._opened().edits.edits),
            "files": names,
        }
        with self.log.open("a", encoding="utf-8") as out:
            out.write(json.dumps(entry, ensure_ascii=False) + "\n")
            out.flush()
            os.fsync(out.fileno())
