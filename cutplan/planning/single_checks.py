"""A drawing checked beside the flow, against the process."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal, cast

from cutplan.base.errors import InputError
from cutplan.base.findings import Finding
from cutplan.cutting import check_part
from cutplan.drawing import (
    Drawing,
    PartMeasures,
    ReadOptions,
    inspect_drawing,
    measure_part,
)
from cutplan.process import CutData, Library
from cutplan.stock import material_of

__all__ = ["CheckedDrawing", "check_drawing"]

ProcessChoice = Literal["plasma", "oxyfuel", "auto"]


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


def check_drawing(
    file: Path,
    thickness: float | None = None,
    grade: str = "S355",
    process: str = "auto",
    reading: ReadOptions = ReadOptions(),
) -> CheckedDrawing:
    """Check a drawing, and with a thickness its parts against the trade's rules.

    Parameters
    ----------
    file : Path
    thickness : float, optional
        Of the plate, mm.
    grade : str
    process : {"plasma", "oxyfuel", "auto"}
    reading : ReadOptions
        How the drawing is read.

    Returns
    -------
    CheckedDrawing

    Raises
    ------
    CutplanError
        If the file cannot be read at all, or no cutting data reach the thickness.
    """
    drawing = inspect_drawing(file, reading)
    findings = list(drawing.findings)
    data = None
    if thickness is not None:
        if process not in ("plasma", "oxyfuel", "auto"):
            raise InputError(f"unknown process {process!r}", remedy="use plasma, oxyfuel or auto")
        data = Library.load().choose(cast(ProcessChoice, process), material_of(grade), thickness)
        for part in drawing.parts:
            findings += check_part(part, data)
    return CheckedDrawing(drawing, tuple(findings), tuple(map(measure_part, drawing.parts)), data)
