"""A program proved against its plan: the text, what it is bound to, and what a hand left out of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from math import isfinite
from pathlib import Path
from typing import Any

from cutplan.base.errors import InputError, ProgramError
from cutplan.control import Dialect, Reading, as_read, is_untouched
from cutplan.drawing import Part, ReadOptions, read_drawing, split_part
from cutplan.planning.belonging import bound_faults, program_texts, ran_before, sheet_of
from cutplan.record import SavedBevels, SavedPlan, SavedSheet, read_plan
from cutplan.report import nested_svg, verdict_svg
from cutplan.stock import NestedPlate
from cutplan.verification import Done, Fault, Planned, Verdict, verify, verify_bevels

__all__ = ["CheckedProgram", "LeftOut", "check_program", "scrap_of"]


@dataclass(frozen=True)
class LeftOut:
    """What a program leaves out on purpose.

    Attributes
    ----------
    scrap : tuple of str
        Copies given up, each as "PART" for all or "PART/COPY" for one.
    from_cut : int
        The first cut made, counted as in plan.json: a restart behind what was cut before.
    """

    scrap: tuple[str, ...] = ()
    from_cut: int = 1


@dataclass(frozen=True)
class CheckedProgram:
    """The verdict on a program, and whether it is, word for word, the one that was planned."""

    program: str
    sheet: SavedSheet
    verdict: Verdict
    untouched: bool
    read: Reading | None

    @property
    def exit_code(self) -> int:
        """0 as planned; 1 trimmed within what an operator may; 3 wrong in metal or safety."""
        return 3 if not self.verdict.passed else 1 if self.verdict.trims else 0

    def picture(self) -> str:
        """Return the plate, what the program runs on it, and the trouble spots, as SVG.

        A text that cannot be read shows the plate alone.
        """
        if self.read is None:
            return nested_svg(self.sheet.nested)
        return verdict_svg(self.sheet.nested, self.read.motions, self.verdict.labelled)

    def record(self) -> dict[str, Any]:
        """Return the check as plain data."""
        verdict = self.verdict
        return {
            "program": self.program,
            "sheet": self.sheet.name,
            "passed": verdict.passed,
            "exit_code": self.exit_code,
            "untouched": self.untouched,
            "tolerance_mm": verdict.tolerance_mm,
            "worst_bite_mm": round(verdict.worst_bite_mm, 4),
            # JSON knows no infinity: null where a contour is not cut at all.
            "worst_left_mm": round(verdict.worst_left_mm, 4) if isfinite(verdict.worst_left_mm) else None,
            "parts_freed": verdict.parts_freed,
            "pierces": verdict.pierces,
            "cut_length_mm": round(verdict.cut_length_mm, 3),
            "faults": [asdict(fault) for fault in verdict.faults],
            "trims": [asdict(fault) for fault in verdict.trims],
            "notes": list(verdict.notes),
        }


def check_program(
    program: Path,
    plan_file: Path,
    sheet: str | None,
    drawings: Path | None = None,
    left_out: LeftOut | None = None,
) -> CheckedProgram:
    """Prove a program against the plan it belongs to, its parts as planned or as drawn now.

    Parameters
    ----------
    program, plan_file : Path
    sheet : str or None
        Plate and sheet; by default the program's own.
    drawings : Path, optional
        Folder of the drawings: they are read again and the proof holds against them.
    left_out : LeftOut, optional
        What the program leaves out on purpose.

    Returns
    -------
    CheckedProgram

    Raises
    ------
    InputError
        If a file cannot be read, or the plan has no such sheet, part or cut.
    """
    saved = read_plan(plan_file)
    for each in saved.sheets:
        for bevels in each.bevels:
            if program.name == bevels.program and sheet in (None, each.name):
                return _check_bevels(program, each, bevels, saved, left_out)
    found = sheet_of(saved, program, sheet, plan_file)
    texts, notes = program_texts(program, found)
    before = ran_before(found, plan_file.parent)
    bound = list(bound_faults(found, saved, texts, before))
    if drawings is not None:
        fresh = replace(found, nested=_as_drawn(found.nested, drawings))
        bound += _redrawn_faults(found, fresh)
        found = fresh
    run, planned, done = _asked(found, left_out or LeftOut())
    read = _as_read(texts, found.dialect)
    verdict = verify(
        read or texts,
        run,
        found.data,
        found.lanes.machine_of_first(saved.machine),
        dialect=found.dialect,
        tolerance=saved.tolerance_mm,
        planned=planned,
        done=replace(done, before=before),
    )
    verdict = replace(
        verdict,
        passed=verdict.passed and not bound,
        faults=(*bound, *verdict.faults),
        notes=(*notes, *verdict.notes),
    )
    untouched = _are_untouched(found, program, texts)
    return CheckedProgram(program.name, found, verdict, untouched, read)


def _as_read(texts: Sequence[str], dialect: Dialect) -> Reading | None:
    """Return what a control makes of a program; None where it cannot be read."""
    try:
        return as_read(texts, dialect)
    except ProgramError:
        return None


def _check_bevels(
    program: Path, sheet: SavedSheet, bevels: SavedBevels, saved: SavedPlan, left_out: LeftOut | None
) -> CheckedProgram:
    """Prove a program that bevels, which is all of it or none."""
    if left_out not in (None, LeftOut()):
        raise InputError(
            "a program that bevels is proved as a whole", where=str(program), remedy="leave the option out"
        )
    own = replace(
        sheet, programs=((bevels.program, bevels.digest),), data=bevels.data, dialect=bevels.dialect,
        cuts=bevels.asked.planned.cuts, tabs=(), bound=bevels.bound,
    )  # fmt: skip
    texts, notes = program_texts(program, own)
    bound = list(bound_faults(own, saved, texts))
    verdict = verify_bevels(
        texts, sheet.nested, bevels.data, saved.machine, bevels.asked,
        dialect=bevels.dialect, tolerance=saved.tolerance_mm,
    )  # fmt: skip
    verdict = replace(
        verdict, passed=verdict.passed and not bound, faults=(*bound, *verdict.faults), notes=tuple(notes)
    )
    untouched = _are_untouched(own, program, texts)
    return CheckedProgram(program.name, own, verdict, untouched, _as_read(texts, bevels.dialect))


def _are_untouched(sheet: SavedSheet, program: Path, texts: Sequence[str]) -> bool:
    if len(sheet.programs) > 1:
        wanted = [expected for _, expected in sheet.programs]
        return all(map(is_untouched, texts, wanted))
    return is_untouched(texts[0], dict(sheet.programs).get(program.name))


def _redrawn_faults(planned: SavedSheet, drawn: SavedSheet) -> list[Fault]:
    """Name the parts whose drawings are no longer those of the plan."""
    before = {p.part.name: p.part for p in planned.nested.placements}
    after = {p.part.name: p.part for p in drawn.nested.placements}
    return [
        Fault("bound", f"the drawing of {name!r} is not the one that was planned", part=name)
        for name, part in before.items()
        if not _same_drawing(part, after[name])
    ]


def _same_drawing(one: Part, two: Part) -> bool:
    paths = zip((one.outer, *one.holes, *one.marks), (two.outer, *two.holes, *two.marks), strict=False)
    counts = (len(one.holes), len(one.marks)) == (len(two.holes), len(two.marks))
    same = all(a.vertices.shape == b.vertices.shape and (a.vertices == b.vertices).all() for a, b in paths)
    return counts and same and one.texts == two.texts and one.bends == two.bends and one.bevels == two.bevels


def _as_drawn(nested: NestedPlate, folder: Path) -> NestedPlate:
    """Give the parts of a sheet what their drawings hold now."""
    fresh: dict[str, Part] = {}
    for placement in nested.placements:
        part = placement.part
        if part.name in fresh or not part.source.lower().endswith(".dxf"):
            continue
        parts = read_drawing(folder / part.source, part.read_with or ReadOptions()).parts
        whole = part.name if part.piece is None else part.piece.split.of
        same = _called(whole, parts)
        if len(same) != 1:
            raise InputError(
                f"draws {len(parts)} parts, and none is named {whole!r}",
                where=str(folder / part.source),
                remedy="prove against the plan alone",
            )
        drawn = same[0]
        if part.piece is not None:
            drawn = split_part(drawn, part.piece.split)[part.piece.number - 1]
        fresh[part.name] = replace(
            part,
            outer=drawn.outer,
            holes=drawn.holes,
            marks=drawn.marks,
            texts=drawn.texts,
            bends=drawn.bends,
        )
    placements = tuple(replace(p, part=fresh.get(p.part.name, p.part)) for p in nested.placements)
    return replace(nested, placements=placements)


def _called(name: str, parts: Sequence[Part]) -> list[Part]:
    """Return the parts of a drawing that a plan knows by a name: their own, a text's, or the job's with a number."""
    own = [part for part in parts if part.name == name]
    told = [part for part in parts if any(note.values.get("name") == name for note in part.notes)]
    number = name.rpartition("-")[2]
    numbered = [parts[int(number) - 1]] if number.isdecimal() and 0 < int(number) <= len(parts) > 1 else []
    return own or told or numbered or list(parts)


def _asked(sheet: SavedSheet, left_out: LeftOut) -> tuple[NestedPlate, Planned, Done]:
    """Return the placements and cuts that a program is still asked for, and the contours cut before."""
    cuts = sheet.cuts
    if not 1 <= left_out.from_cut <= max(len(cuts), 1):
        raise InputError(
            f"there is no cut {left_out.from_cut}", where=sheet.name, remedy=f"name one of 1 to {len(cuts)}"
        )
    before = cuts[: left_out.from_cut - 1]
    kept = cuts[left_out.from_cut - 1 :]
    done = Done(
        # A hole whose mark was made is drilled later.
        frozenset(
            (made.part, made.copy, made.hole)
            for cut in before
            for made in cut.makes
            if cut.kind != "mark" or made.hole is not None
        ),
        tuple(cut for cut in before if cut.kind == "mark"),
    )
    free = {(made.part, made.copy) for cut in before if cut.kind == "outside" for made in cut.makes}
    scrap = scrap_of(sheet, left_out.scrap)
    gone = scrap | free
    placements = tuple(p for p in sheet.run.placements if (p.part.name, p.copy) not in gone)
    planned = replace(
        sheet.planned,
        cuts=tuple(
            cut for cut in kept if not cut.makes or any((m.part, m.copy) not in scrap for m in cut.makes)
        ),
    )
    return replace(sheet.run, placements=placements), planned, done


def scrap_of(sheet: SavedSheet, names: Sequence[str]) -> set[tuple[str, int]]:
    """Return the copies that are given up, "PART" for all of one or "PART/COPY".

    Raises
    ------
    InputError
        If the sheet has no such part.
    """
    all_copies = [(p.part.name, p.copy) for p in sheet.nested.placements]
    given: set[tuple[str, int]] = set()
    for name in names:
        part, _, copy = name.rpartition("/")
        found = {each for each in all_copies if each[0] == name}
        if part and copy.isdigit():
            found |= {each for each in all_copies if each == (part, int(copy))}
        if not found:
            raise InputError(
                f"the sheet {sheet.name} has no part {name!r}",
                remedy='name it as in plan.json, "PART" for all copies or "PART/COPY" for one',
            )
        given |= found
    return given
