"""Single checks beside the flow: a drawing against the process, a program against its plan."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace
from math import isfinite
from pathlib import Path
from typing import Any, Literal, cast

from cutplan.base.errors import InputError, ProgramError
from cutplan.base.files import read_text
from cutplan.base.findings import Finding
from cutplan.control import Dialect, is_untouched, joined, read_program
from cutplan.cutting import check_part
from cutplan.drawing import (
    Drawing,
    Part,
    PartMeasures,
    ReadOptions,
    inspect_drawing,
    measure_part,
    read_drawing,
)
from cutplan.process import CutData, Library
from cutplan.record import SavedSheet, read_plan
from cutplan.report import nested_svg, stacked_svg, verdict_svg
from cutplan.stock import NestedPlate, material_of
from cutplan.verification import Verdict, verify

__all__ = ["CheckedDrawing", "CheckedProgram", "check_drawing", "check_program"]

ProcessChoice = Literal["plasma", "oxyfuel", "auto"]
LENGTH_SLACK_MM = 0.01
"""Rounding that a program's coordinates may add to each cut's length."""


@dataclass(frozen=True)
class CheckedDrawing:
    """What was found in a drawing, and what the process makes of it."""

    drawing: Drawing
    findings: tuple[Finding, ...]
    measures: tuple[PartMeasures, ...]
    data: CutData | None

    def record(self) -> dict[str, Any]:
        """Return the check as plain data."""
        return {
            "drawing": self.drawing.source,
            "units": self.drawing.units,
            "process": None if self.data is None else self.data.title,
            "parts": [
                {"name": part.name, "marks": len(part.marks) + len(part.texts), "bends": len(part.bends)}
                | asdict(measures)
                for part, measures in zip(self.drawing.parts, self.measures, strict=True)
            ],
            "findings": [asdict(finding) for finding in self.findings],
        }


@dataclass(frozen=True)
class CheckedProgram:
    """The verdict on a program, and whether it is, word for word, the one that was planned."""

    program: str
    sheet: SavedSheet
    verdict: Verdict
    untouched: bool
    texts: tuple[str, ...]
    dialect: Dialect

    def picture(self) -> str:
        """Return the plate, what the program runs on it, and the trouble spots, as SVG.

        A text that cannot be read shows the plate alone.
        """
        try:
            motions = joined([read_program(text, self.dialect) for text in self.texts])
        except ProgramError:
            return nested_svg(self.sheet.nested)
        return verdict_svg(self.sheet.nested, motions, self.verdict.faults)

    def _repr_svg_(self) -> str:
        return stacked_svg([self.picture()])

    def record(self) -> dict[str, Any]:
        """Return the check as plain data."""
        verdict = self.verdict
        return {
            "program": self.program,
            "sheet": self.sheet.name,
            "passed": verdict.passed,
            "untouched": self.untouched,
            "worst_bite_mm": round(verdict.worst_bite_mm, 4),
            # JSON knows no infinity: null where a contour is not cut at all.
            "worst_left_mm": round(verdict.worst_left_mm, 4) if isfinite(verdict.worst_left_mm) else None,
            "parts_freed": verdict.parts_freed,
            "pierces": verdict.pierces,
            "cut_length_mm": round(verdict.cut_length_mm, 3),
            "faults": [asdict(fault) for fault in verdict.faults],
        }


def check_drawing(
    file: Path, thickness: float | None, grade: str, process: str, units: str | None
) -> CheckedDrawing:
    """Check a drawing, and with a thickness its parts against the trade's rules.

    Raises
    ------
    CutplanError
        If the file cannot be read at all, or no cutting data reach the thickness.
    """
    drawing = inspect_drawing(file, ReadOptions(units=units))
    findings = list(drawing.findings)
    data = None
    if thickness is not None:
        if process not in ("plasma", "oxyfuel", "auto"):
            raise InputError(f"unknown process {process!r}", remedy="use plasma, oxyfuel or auto")
        data = Library.load().choose(cast(ProcessChoice, process), material_of(grade), thickness)
        for part in drawing.parts:
            findings += check_part(part, data)
    return CheckedDrawing(drawing, tuple(findings), tuple(map(measure_part, drawing.parts)), data)


def check_program(
    program: Path, plan_file: Path, sheet: str | None, drawings: Path | None = None
) -> CheckedProgram:
    """Prove a program against the plan it belongs to, its parts as planned or as drawn now.

    Parameters
    ----------
    program, plan_file : Path
    sheet : str or None
        Plate and sheet; by default the program's own.
    drawings : Path, optional
        Folder of the drawings: they are read again and the proof holds against them.

    Raises
    ------
    InputError
        If a file cannot be read, or the plan has no such sheet.
    """
    text, saved = read_text(program), read_plan(plan_file)
    names = {name: s for s in saved.sheets for name, _ in s.programs}
    by_name = {s.name: s for s in saved.sheets}
    found = by_name.get(sheet) if sheet else names.get(program.name) or by_name.get(program.stem)
    if found is None:
        raise InputError(
            f"the plan has no sheet for {sheet or program.name}",
            where=str(plan_file),
            remedy=f"name one with --sheet: {', '.join(by_name)}",
        )
    if drawings is not None:
        found = replace(found, nested=_as_drawn(found.nested, drawings))
    folder = program.parent
    texts = [text]
    if len(found.programs) > 1:
        texts = [read_text(folder / name) for name, _ in found.programs]
    expected = dict(found.programs).get(program.name)
    dialect = found.dialect
    verdict = verify(
        texts if len(texts) > 1 else text,
        found.run,
        found.data,
        found.lanes.machine_of_first(saved.machine),
        dialect=dialect,
        pierces=found.pierces,
        cut_length=found.cut_length_mm,
        tolerance=saved.tolerance_mm,
        torches=found.lanes.torches,
    )
    return CheckedProgram(program.name, found, verdict, is_untouched(text, expected), tuple(texts), dialect)


def _as_drawn(nested: NestedPlate, folder: Path) -> NestedPlate:
    """Give the parts of a sheet the contours of their drawings as they are now."""
    fresh: dict[str, Part] = {}
    for placement in nested.placements:
        part = placement.part
        if part.name in fresh or not part.source.lower().endswith(".dxf"):
            continue
        parts = read_drawing(folder / part.source, part.read_with or ReadOptions()).parts
        same = [each for each in parts if each.name == part.name] or list(parts)
        if len(same) != 1:
            raise InputError(
                f"draws {len(parts)} parts, and none is named {part.name!r}",
                where=str(folder / part.source),
                remedy="prove against the plan alone",
            )
        fresh[part.name] = replace(part, outer=same[0].outer, holes=same[0].holes)
    placements = tuple(replace(p, part=fresh.get(p.part.name, p.part)) for p in nested.placements)
    return replace(nested, placements=placements)
