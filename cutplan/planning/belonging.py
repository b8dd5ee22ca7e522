"""Whether a program belongs to its plan: its sheet, its files, what ran before it, and what both are bound to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from cutplan.base.errors import InputError
from cutplan.control import bound_to, is_untouched, plan_digests
from cutplan.record import SavedPlan, SavedSheet, bound_digests, read_plan
from cutplan.verification import Before, Fault

__all__ = ["AsPlanned", "as_planned", "bound_faults", "program_texts", "ran_before", "sheet_of"]

BOUND_WORDS = {
    "nest": "the plate, or where its parts lie",
    "drawings": "the drawings",
    "data": "the cutting data",
    "machine": "the machine",
    "dialect": "how the control reads",
    "tolerance": "the tolerance",
    "cuts": "the cuts",
    "before": "what was cut before",
}


class AsPlanned(NamedTuple):
    """A program with its plan, its sheet, and what ran on the plate before."""

    saved: SavedPlan
    sheet: SavedSheet
    texts: list[str]
    before: tuple[Before, ...]


def as_planned(program: Path, plan_file: Path, sheet: str | None) -> AsPlanned:
    """Return a program that belongs, as it is, to its plan.

    Raises
    ------
    InputError
        If a file cannot be read, or the program or plan.json was changed since the plan was made.
    """
    saved = read_plan(plan_file)
    planned = sheet_of(saved, program, sheet, plan_file)
    texts, _ = program_texts(program, planned)
    before = ran_before(planned, plan_file.parent)
    other = bound_faults(planned, saved, texts, before)
    if other:
        raise InputError(other[0].message, where=str(program), remedy="name the program as it was planned")
    return AsPlanned(saved, planned, texts, before)


def ran_before(sheet: SavedSheet, folder: Path) -> tuple[Before, ...]:
    """Return the programs that ran on a sheet's plate before, with their texts from the plan's folder.

    Raises
    ------
    InputError
        If one is not there, or not as it was run.
    """
    found = []
    for ran in sheet.before:
        texts = []
        for name, expected in ran.programs:
            text, _ = _decoded(folder / name)
            if not is_untouched(text, expected):
                raise InputError(
                    "ran before this program, and is not as it was then",
                    where=str(folder / name),
                    remedy="put back the file that the restart was written with",
                )
            texts.append(text)
        found.append(replace(ran.before, texts=tuple(texts)))
    return tuple(found)


def bound_faults(
    sheet: SavedSheet, saved: SavedPlan, texts: Sequence[str], before: Sequence[Before] = ()
) -> list[Fault]:
    """Name what differs between plan.json as it was made, as it is, and the program."""
    now = bound_digests(
        sheet.nested, sheet.data, saved.machine, sheet.dialect, saved.tolerance_mm, sheet.planned, before
    )
    changed = [name for name in now if sheet.bound and sheet.bound.get(name) != now[name]]
    faults = [
        Fault("bound", f"{BOUND_WORDS[name]} in plan.json changed since the plan was made")
        for name in changed
    ]
    if not sheet.bound:
        faults.append(Fault("bound", "plan.json does not say what its programs are bound to"))
    if not saved.untouched and not faults:
        told = "was edited since the plan was made" if saved.digest else "carries no digest of itself"
        faults.append(Fault("bound", f"plan.json {told}"))
    for number, text in enumerate(texts, start=1):
        which = f"file {number}" if len(texts) > 1 else "the program"
        stamped = bound_to(text)
        other = [name for name in now if name in stamped and not now[name].startswith(stamped[name])]
        other = [name for name in other if name not in changed]
        own = plan_digests(text)
        if other:
            told = ", ".join(BOUND_WORDS[name] for name in other)
            faults.append(Fault("bound", f"{which} belongs to another plan: {told} differ"))
        elif own - {sheet.plan_digest} and sheet.bound and not changed:
            faults.append(Fault("bound", f"{which} belongs to another plan by the digest in its head"))
    return faults


def sheet_of(saved: SavedPlan, program: Path, sheet: str | None, plan_file: Path) -> SavedSheet:
    """Return the sheet of a plan that a program is of.

    Raises
    ------
    InputError
        If there is none.
    """
    names = {name: s for s in saved.sheets for name, _ in s.programs}
    by_name = {s.name: s for s in saved.sheets}
    found = by_name.get(sheet) if sheet else names.get(program.name) or by_name.get(program.stem)
    if found is None:
        raise InputError(
            f"the plan has no sheet for {sheet or program.name}",
            where=str(plan_file),
            remedy=f"name one with --sheet: {', '.join(by_name)}",
        )
    if len(found.programs) > 1 and program.name not in dict(found.programs):
        files = ", ".join(name for name, _ in found.programs)
        raise InputError(
            f"is none of the files of sheet {found.name}, which are one program together",
            where=str(program),
            remedy=f"name one of {files}, the others beside it",
        )
    return found


def program_texts(program: Path, sheet: SavedSheet) -> tuple[list[str], list[str]]:
    """Return the files of a program in their order, and what is odd about them as files."""
    files = [program]
    if len(sheet.programs) > 1:
        files = [program.parent / name for name, _ in sheet.programs]
    texts, notes = [], []
    for file in files:
        text, is_utf8 = _decoded(file)
        texts.append(text)
        if not is_utf8:
            notes.append(f"{file.name} is written in Latin-1")
    return texts, notes


def _decoded(file: Path) -> tuple[str, bool]:
    """Return a program's text, and whether it is UTF-8; controls write Latin-1 as well."""
    try:
        content = file.read_bytes()
    except FileNotFoundError:
        raise InputError("no such file", where=str(file), remedy="check the path") from None
    except OSError:
        raise InputError("cannot be read", where=str(file), remedy="check the file") from None
    try:
        return content.decode("utf-8"), True
    except UnicodeDecodeError:
        return content.decode("latin-1"), False
