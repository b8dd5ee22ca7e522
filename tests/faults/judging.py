"""An edit put to the command that proves, and what it answers."""

from __future__ import annotations

import io
import json
import os
import random
import zlib
from collections.abc import Iterator, Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from faults.cases import Case, case, workshop
from faults.model import REPLAY, Edit, Fault, edit_of
from faults.view import View

PASSED, NOTED, WRONG_INPUT, REFUSED = 0, 1, 2, 3


@dataclass(frozen=True)
class Answer:
    """What the command said: its exit code and its words."""

    code: int
    words: str

    @property
    def refused(self) -> bool:
        """Whether the program may not be cut."""
        return self.code in (WRONG_INPUT, REFUSED)


@cache
def view(name: str, file: str) -> View:
    """Return a case's file as mutators see it."""
    return View(case(name), file)


def prove(of: Case, edit: Edit) -> Answer:
    """Return the answer of `cutplan verify` to an edit of a case."""
    folder = workshop() / f"tried-{of.name}-{os.getpid()}"
    folder.mkdir(exist_ok=True)
    for name, text in {**of.files, **edit.files}.items():
        file = folder / name
        if text == "" and name in edit.files:
            file.unlink(missing_ok=True)
        else:
            file.write_bytes(text if isinstance(text, bytes) else text.encode())
    program = edit.program or of.programs[0]
    words = ["verify", str(folder / program), "--plan", str(folder / "plan.json"), *edit.options]
    if program not in of.programs:
        words += ["--sheet", of.sheet]
    answer = _answer(words)
    for name in edit.files:
        if name not in of.files:
            (folder / name).unlink(missing_ok=True)
    return answer


@cache
def _command() -> Any:
    from typer.main import get_command

    from cutplan.cli import app

    return get_command(app)


def _answer(words: Sequence[str]) -> Answer:
    """Return what the command line answers."""
    from cutplan.base.errors import CutplanError, ProofError

    said = io.StringIO()
    try:
        with redirect_stdout(said), redirect_stderr(said):
            code = _command().main(args=list(words), standalone_mode=False)
    except CutplanError as problem:
        return Answer(REFUSED if isinstance(problem, ProofError) else WRONG_INPUT, str(problem))
    return Answer(int(code or PASSED), said.getvalue())


def seeded(fault: Fault, of: Case, seed: int) -> Edit | None:
    """Return the edit that a class makes of a case with a seed; None where it finds no place."""
    chance = random.Random(f"{fault.name}/{of.name}/{seed}")
    file = chance.choice(of.programs)
    seen = view(of.name, file)
    return edit_of(of, seen, fault.mutate(seen, chance))


@dataclass(frozen=True)
class Trial:
    """One edit of a class, and what came of it."""

    fault: Fault
    case: str
    seed: int
    answer: Answer
    harms: tuple[str, ...] | None = None

    @property
    def missed(self) -> bool:
        """Whether a wrong program was not refused."""
        if self.answer.refused:
            return False
        return self.fault.wrong != REPLAY or bool(self.harms)


def trials(fault: Fault, names: tuple[str, ...], count: int) -> Iterator[Trial]:
    """Yield so many different edits of a class, spread over some cases, with their answers.

    There are fewer where the class finds no more places.
    """
    fitting = [name for name in names if not fault.cases or name in fault.cases]
    seen: set[int] = set()
    seed = idle = 0
    while fitting and len(seen) < count and idle < 3 * len(fitting) + 12:
        name = fitting[(zlib.crc32(fault.name.encode()) + seed) % len(fitting)]
        seed += 1
        edit = seeded(fault, case(name), seed)
        key = hash((name, edit.program, edit.options, *sorted(edit.files.items()))) if edit else None
        if edit is None or key is None or key in seen:
            idle += 1
            continue
        seen.add(key)
        idle = 0
        yield tried(fault, name, seed, edit)


def tried(fault: Fault, name: str, seed: int, edit: Edit) -> Trial:
    """Put an edit to the proof, and where it passes and the class asks for it, to the replay."""
    from replay_judge import harms

    of = case(name)
    answer = prove(of, edit)
    found = None
    if fault.wrong == REPLAY and not answer.refused:
        found = harms(of.plate, of.plan["parts"], _texts(of, {}), _texts(of, dict(edit.files)))
    return Trial(fault, name, seed, answer, found)


def _texts(of: Case, files: dict[str, str | bytes]) -> list[str]:
    texts = []
    for name in of.programs:
        text = files.get(name, of.files[name])
        texts.append(text.decode("utf-8", "replace") if isinstance(text, bytes) else text)
    return texts


def leave(trial: Trial, folder: Path) -> None:
    """Leave a trial's files in a folder, to look at."""
    of = case(trial.case)
    edit = seeded(trial.fault, of, trial.seed)
    assert edit is not None
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in {**of.files, **edit.files}.items():
        (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    (folder / "answer.json").write_text(json.dumps([trial.answer.code, trial.answer.words]))
