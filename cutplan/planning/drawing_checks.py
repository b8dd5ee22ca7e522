"""Checks of drawings beside the flow: one, or a folder of them, and what the process makes of their parts."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any, Literal, cast

from cutplan.base.errors import CutplanError, InputError
from cutplan.base.findings import Finding, stopping
from cutplan.cutting import CuttingOptions, check_part
from cutplan.drawing import Drawing, Measured, PartMeasures, ReadOptions, measure_apart, measure_part
from cutplan.forming import BendTable
from cutplan.planning.bending import bend_tables, told_of
from cutplan.planning.cutting_wishes import cutting_options
from cutplan.planning.entries import BlankEntry, PartEntry, WantedEntry
from cutplan.planning.intake import read_options
from cutplan.planning.job import Job
from cutplan.planning.preparation import cut_data
from cutplan.process import CutData, Library
from cutplan.record import bend_table_record
from cutplan.stock import material_of

__all__ = ["CheckedDrawing", "check_drawing", "check_drawings", "check_job", "drawings_in"]

ProcessChoice = Literal["plasma", "oxyfuel", "auto"]
# Endings of files that are taken for drawings in a folder.
ENDINGS = (".dxf", ".svg", ".step", ".stp")


@dataclass(frozen=True)
class CheckedDrawing:
    """What was found in a drawing, and what the process makes of it."""

    drawing: Drawing
    findings: tuple[Finding, ...]
    measures: tuple[PartMeasures, ...]
    data: CutData | None
    bending: tuple[BendTable, ...] = ()

    def record(self) -> dict[str, Any]:
        """Return the check as plain data; what is no finite number is null."""
        record: dict[str, Any] = _finite(self._record())
        return record

    def _record(self) -> dict[str, Any]:
        return {
            "drawing": self.drawing.source,
            "units": self.drawing.units,
            "process": None if self.data is None else self.data.title,
            "parts": [
                {
                    "name": part.name,
                    "drawn": part.drawn,
                    "marks": len(part.marks) + len(part.texts),
                    "bends": len(part.bends),
                    "notes": [asdict(note) for note in part.notes],
                }
                | asdict(measures)
                for part, measures in zip(self.drawing.parts, self.measures, strict=True)
            ],
            "findings": [asdict(finding) for finding in self.findings],
            "bending": [bend_table_record(table) for table in self.bending],
            "unused": dict(self.drawing.unused),
            "notes": [asdict(note) for note in self.drawing.notes],
        }

    @property
    def stops(self) -> bool:
        """Whether no plan goes past it: something is refused, or asked."""
        return bool(stopping(self.findings))


def _finite(value: Any) -> Any:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: _finite(each) for key, each in value.items()}
    return [_finite(each) for each in value] if isinstance(value, list | tuple) else value


def drawings_in(places: Sequence[Path]) -> list[Path]:
    """Return drawings by name: files as they are, folders by what they hold.

    Parameters
    ----------
    places : sequence of Path
        Files and folders.

    Returns
    -------
    list of Path

    Raises
    ------
    InputError
        If a folder holds no drawing.
    """
    files: list[Path] = []
    for place in places:
        if not place.is_dir():
            files.append(place)
            continue
        held = sorted(f for f in place.rglob("*") if f.suffix.lower() in ENDINGS and f.is_file())
        if not held:
            raise InputError(
                "the folder holds no drawing",
                where=str(place),
                remedy=f"drawings end in {', '.join(ENDINGS)}",
            )
        files += held
    return list(dict.fromkeys(files))


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
    data = _data(thickness, grade, process)
    (read,) = measure_apart([(file, reading)])
    if isinstance(read, CutplanError):
        raise read
    return _checked(*read, data)


def check_drawings(
    files: Sequence[Path],
    options: ReadOptions = ReadOptions(),
    *,
    thickness: float | None = None,
    grade: str = "S355",
    process: str = "auto",
) -> list[CheckedDrawing]:
    """Check drawings on all cores; one that cannot be read at all is a finding like any other.

    Parameters
    ----------
    files : sequence of Path
    options : ReadOptions, optional
        For all of them.
    thickness : float or None
        With one, parts are held against the trade's rules.
    grade : str
    process : {"plasma", "oxyfuel", "auto"}

    Returns
    -------
    list of CheckedDrawing

    Raises
    ------
    InputError
        If the process is unknown, or no cutting data reach the thickness.
    """
    data = _data(thickness, grade, process)
    readings = measure_apart([(file, options) for file in files], os.cpu_count() or 1)
    checked = []
    for file, reading in zip(files, readings, strict=True):
        checked.append(_checked(*_as_read(file, reading), data))
    return _without_twins(checked)


def check_job(job: Job) -> list[CheckedDrawing]:
    """Check the drawings of a job, each as the job has it read and cut.

    Parameters
    ----------
    job : Job

    Returns
    -------
    list of CheckedDrawing
        In the order of the job's entries, its blanks last; with bend tables where it has a press.

    Raises
    ------
    CutplanError
        If a grade or process of the job is wrong, or no cutting data reach a thickness.
    """
    entries = [entry for entry in job.parts if isinstance(entry, PartEntry) and entry.drawing is not None]
    library = Library.load([job.folder / place for place in job.cutting.data])
    tasks = [(job.folder / str(entry.drawing), read_options(job, entry)) for entry in entries]
    checked = []
    for entry, task, reading in zip(entries, tasks, measure_apart(tasks, os.cpu_count() or 1), strict=True):
        data = cut_data(entry.thickness, entry.grade, entry, job, library)
        found = _checked(*_as_read(task[0], reading), data, cutting_options(job))
        checked.append(_with_bending(found, entry, job))
    for blank in (entry for entry in job.parts if isinstance(entry, BlankEntry)):
        data = cut_data(blank.thickness, blank.grade, blank, job, library)
        found = _checked(*_developed(blank, job), data, cutting_options(job))
        checked.append(_with_bending(found, blank, job))
    return _without_twins(checked)


def _developed(entry: BlankEntry, job: Job) -> tuple[Drawing, tuple[PartMeasures, ...]]:
    """Return a blank as though it were drawn; one that cannot be is a drawing with that one finding."""
    try:
        blank = entry.blank(entry.label, entry.thickness, job.press)
    except CutplanError as problem:
        return _as_read(job.file, problem)
    drawing = Drawing(f"{job.file.name}, blank {entry.label}", (blank.part,), "mm", blank.findings)
    return drawing, (measure_part(blank.part),)


def _with_bending(checked: CheckedDrawing, entry: WantedEntry, job: Job) -> CheckedDrawing:
    """Add how the parts are bent on the job's press, and what that found."""
    if checked.data is None or checked.stops:
        return checked
    metal = (entry.thickness, entry.grade, checked.data.material)
    tables = bend_tables(((part, *metal) for part in checked.drawing.parts), job)
    findings = (*checked.findings, *(finding for _, finding in told_of(tables)))
    return replace(checked, findings=findings, bending=tuple(tables))


def _data(thickness: float | None, grade: str, process: str) -> CutData | None:
    if process not in ("plasma", "oxyfuel", "auto"):
        raise InputError(f"unknown process {process!r}", remedy="use plasma, oxyfuel or auto")
    if thickness is None:
        return None
    return Library.load().choose(cast(ProcessChoice, process), material_of(grade), thickness)


def _as_read(file: Path, reading: Measured) -> tuple[Drawing, tuple[PartMeasures, ...]]:
    """Return what was read; a file that cannot be read is a drawing with that one finding."""
    if not isinstance(reading, CutplanError):
        return reading
    refused = Finding("refused", reading.message, reading.place, reading.remedy or "", "files")
    return Drawing(str(file), (), "–", (refused,)), ()


def _checked(
    drawing: Drawing,
    measures: tuple[PartMeasures, ...],
    data: CutData | None,
    options: CuttingOptions | None = None,
) -> CheckedDrawing:
    findings = list(drawing.findings)
    for part in drawing.parts if data is not None else ():
        assert data is not None
        findings += check_part(part, data, options)
    return CheckedDrawing(drawing, tuple(findings), measures, data)


def _without_twins(checked: list[CheckedDrawing]) -> list[CheckedDrawing]:
    """Warn where parts of two drawings share a name, which a job would refuse."""
    homes: dict[str, str] = {}
    result = []
    for each in checked:
        told = []
        for part in each.drawing.parts:
            home = homes.setdefault(part.name.casefold(), each.drawing.source)
            if home != each.drawing.source:
                words = f"its part {part.name!r} has the same name as one of {home}"
                told.append(Finding("warning", words, None, "give it a name of its own in the job", "names"))
        result.append(replace(each, findings=(*each.findings, *told)))
    return result
