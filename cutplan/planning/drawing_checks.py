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
from cutplan.planning.intake import Intake, read_options, with_values
from cutplan.planning.job import Job
from cutplan.planning.preparation import cut_data
from cutplan.process import CutData, Library
from cutplan.record import bend_table_record
from cutplan.stock import material_of

__all__ = ["CheckedDrawing", "check_drawing", "check_drawings", "check_job", "drawings_in"]

# A drawing with the measures of its parts.
Measures = tuple[Drawing, tuple[PartMeasures, ...]]
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
    return _checked(read, [data] * len(read[0].parts))


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
        read = _as_read(file, reading)
        checked.append(_checked(read, [data] * len(read[0].parts)))
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
        checked.append(_as_wanted(_as_read(task[0], reading), entry, job, library))
    for blank in (entry for entry in job.parts if isinstance(entry, BlankEntry)):
        checked.append(_as_wanted(_developed(blank, job), blank, job, library))
    return _without_twins(checked)


def _as_wanted(read: Measures, entry: WantedEntry, job: Job, library: Library) -> CheckedDrawing:
    """Check the parts of an entry in the thickness and grade that the job, or a text beside them, gives."""
    intake = Intake()
    wanted = [with_values(entry, part, job, intake) for part in read[0].parts]
    data = [cut_data(each.thickness, each.grade, entry, job, library) for each in wanted]
    drawing = replace(read[0], parts=tuple(each.part for each in wanted))
    told = [finding for _, finding in intake.findings]
    found = _checked((drawing, read[1]), data, cutting_options(job), told)
    if found.stops or not wanted:
        return found
    bent = zip(wanted, data, strict=True)
    tables = bend_tables(((each.part, each.thickness, each.grade, row.material) for each, row in bent), job)
    findings = (*found.findings, *(finding for _, finding in told_of(tables)))
    return replace(found, findings=findings, bending=tuple(tables))


def _developed(entry: BlankEntry, job: Job) -> Measures:
    """Return a blank as though it were drawn; one that cannot be is a drawing with that one finding."""
    try:
        blank = entry.blank(entry.label, entry.thickness, job.press)
    except CutplanError as problem:
        return _as_read(job.file, problem)
    drawing = Drawing(f"{job.file.name}, blank {entry.label}", (blank.part,), "mm", blank.findings)
    return drawing, (measure_part(blank.part),)


def _data(thickness: float | None, grade: str, process: str) -> CutData | None:
    if process not in ("plasma", "oxyfuel", "auto"):
        raise InputError(f"unknown process {process!r}", remedy="use plasma, oxyfuel or auto")
    if thickness is None:
        return None
    return Library.load().choose(cast(ProcessChoice, process), material_of(grade), thickness)


def _as_read(file: Path, reading: Measured) -> Measures:
    """Return what was read; a file that cannot be read is a drawing with that one finding."""
    if not isinstance(reading, CutplanError):
        return reading
    refused = Finding("refused", reading.message, reading.place, reading.remedy or "", "files")
    return Drawing(str(file), (), "–", (refused,)), ()


def _checked(
    read: Measures,
    data: Sequence[CutData | None],
    options: CuttingOptions | None = None,
    told: Sequence[Finding] = (),
) -> CheckedDrawing:
    """Return a drawing with what the process makes of each part, by that part's own data."""
    drawing, measures = read
    findings = [*drawing.findings, *told]
    for part, row in zip(drawing.parts, data, strict=True):
        if row is not None:
            findings += check_part(part, row, options)
    return CheckedDrawing(drawing, tuple(findings), measures, data[0] if data else None)


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
