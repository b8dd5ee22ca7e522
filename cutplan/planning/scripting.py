"""What a script calls: a job in, a plan, a nest, an estimate or a verdict out.

The command line does the same work with its own words around it; `cutplan` itself hands these
names on.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from cutplan.base.errors import InputError, JobError
from cutplan.base.files import FileModel, validate
from cutplan.base.findings import Finding
from cutplan.base.pictures import Pictured, picture_of
from cutplan.drawing import Part
from cutplan.editing import Edits, read_edits
from cutplan.estimating import Estimate
from cutplan.forming import FlangeProfile
from cutplan.nesting import Nest, Unplaced
from cutplan.planning import bookings, flow, folders, output, program_check
from cutplan.planning.engine import Progress
from cutplan.planning.entries import BlankEntry, PartEntry, PartInHand, PlateEntry, WantedEntry
from cutplan.planning.job import Job, load_job
from cutplan.planning.workers import opened
from cutplan.record import Plan
from cutplan.report import PAPERS, stacked_svg
from cutplan.stock import NestedPlate

__all__ = ["NestedJob", "estimate", "nest", "on_offer", "plan", "verify", "wanted", "write_plan"]

ShareProgress = Callable[[str, float], None]
"""Told of each stage in words, and of the share of it done, 0 to 1."""


@dataclass(frozen=True, repr=False)
class NestedJob(Pictured):
    """A job nested, not cut yet.

    Attributes
    ----------
    nests : tuple of Nest
        One for each thickness, grade and process.
    findings : tuple of (str, Finding)
        What was mended or warned of, each with the file or part it is about.
    """

    nests: tuple[Nest, ...]
    findings: tuple[tuple[str, Finding], ...] = ()

    @property
    def sheets(self) -> tuple[NestedPlate, ...]:
        """Every plate with what lies on it."""
        return tuple(sheet for nested in self.nests for sheet in nested.plates)

    @property
    def unplaced(self) -> tuple[Unplaced, ...]:
        """What found no place, and why."""
        return tuple(item for nested in self.nests for item in nested.unplaced)

    def __repr__(self) -> str:
        missing = sum(item.quantity for item in self.unplaced)
        rest = f", {missing} parts not placed" if missing else ""
        return f"<NestedJob: {list(self.sheets)}{rest}>"


@picture_of.register
def _(nested: NestedJob) -> str:
    return stacked_svg([picture_of(sheet) or "" for sheet in nested.sheets])


def plan(
    job: Job | str | Path,
    progress: ShareProgress | None = None,
    *,
    out: str | Path | None = None,
    workers: int | None = 1,
    cluster: str | None = None,
    edits: Edits | str | Path | None = None,
) -> Plan:
    """Plan a job: nest, cut, order, write and prove its programs, without touching any file.

    Parameters
    ----------
    job : Job, str or Path
        A job, or its file.
    progress : callable, optional
        Told of each stage in words, and of the share of it done, 0 to 1.
    out : str or Path, optional
        Folder whose plan this one will take the place of: the plates of the rack that it
        reserved are on offer again.
    workers : int or None
        Processes side by side; None for one on each core.  The result does not depend on it.
        Where processes begin afresh (Windows, macOS) a script that asks for several must be
        guarded by ``if __name__ == "__main__":``.
    cluster : str, optional
        Address of a Dask scheduler, ``tcp://…``, or "local".
    edits : Edits, str or Path, optional
        What was changed by hand, or the file that holds it.

    Returns
    -------
    Plan

    Raises
    ------
    CutplanError
        If something the job refers to is missing or wrong, or a part is larger than every plate.
    EditError
        If an edit cannot be made; the message says which and why.
    ProofError
        If a program does not cut what the drawings ask for.
    """
    read = _job(job)
    by_hand = read_edits(edits) if isinstance(edits, str | Path) else edits
    if out is None:
        with opened(workers, cluster) as engine:
            return flow.plan_job(read, _shares(progress), engine=engine, edits=by_hand)
    with folders.locked(Path(out)), opened(workers, cluster) as engine:
        before = bookings.planned_before(Path(out), read)
        return flow.plan_job(read, _shares(progress), replaces=before, engine=engine, edits=by_hand)


def _shares(progress: ShareProgress | None) -> Progress | None:
    """Tell a share of none where no share is known, so that a listener may count on a figure."""
    if progress is None:
        return None
    return lambda stage, share: progress(stage, share or 0.0)


def nest(
    job: Job | str | Path,
    progress: ShareProgress | None = None,
    *,
    workers: int | None = 1,
    cluster: str | None = None,
) -> NestedJob:
    """Nest a job's parts on its plates, and go no further.

    Parameters
    ----------
    job : Job, str or Path
        A job, or its file.
    progress : callable, optional
        Told of each stage in words, and of the share of it done, 0 to 1.
    workers : int or None
        As for `plan`.
    cluster : str, optional
        As for `plan`.

    Returns
    -------
    NestedJob

    Raises
    ------
    CutplanError
        If something the job refers to is missing or wrong, or a part is larger than every plate.
    """
    with opened(workers, cluster) as engine:
        nests, findings = flow.nest_job(_job(job), _shares(progress), engine=engine)
    return NestedJob(tuple(nests), tuple(findings))


def estimate(job: Job | str | Path, progress: ShareProgress | None = None) -> Estimate:
    """Estimate time, gas, power and, with a price file, the cost of a job.

    The job is planned and proved in memory; the figures come from the programs' own text.
    Each sheet's are in the `estimate` of the sheets of `plan`.

    Parameters
    ----------
    job : Job, str or Path
        A job, or its file.
    progress : callable, optional
        Told of each stage in words, and of the share of it done, 0 to 1.

    Returns
    -------
    Estimate

    Raises
    ------
    CutplanError
        As `plan`.
    """
    return flow.plan_job(_job(job), _shares(progress), own_plans=True).total


def verify(
    program: str | Path,
    plan: str | Path | None = None,
    *,
    sheet: str | None = None,
    drawings: str | Path | None = None,
    scrap: Sequence[str] = (),
    from_cut: int = 1,
) -> program_check.CheckedProgram:
    """Prove a program against the plan it belongs to, its parts as planned or as drawn now.

    Parameters
    ----------
    program : str or Path
        An RS-274 program.
    plan : str or Path, optional
        The plan.json; by default the one beside the program.
    sheet : str, optional
        Plate and sheet, "PL10-1"; by default the program's own.
    drawings : str or Path, optional
        Folder of the drawings: they are read again and the proof holds against them.
    scrap : sequence of str
        Copies given up, which the program leaves out: "PART" for all, "PART/COPY" for one.
    from_cut : int
        The first cut made, as plan.json counts them: the program begins again behind the others.

    Returns
    -------
    CheckedProgram
        Its `verdict` says whether the program passed.

    Raises
    ------
    InputError
        If a file cannot be read, or the plan has no such sheet.
    """
    text = Path(program)
    record = text.parent / "plan.json" if plan is None else Path(plan)
    left_out = program_check.LeftOut(tuple(scrap), from_cut)
    folder = None if drawings is None else Path(drawings)
    return program_check.check_program(text, record, sheet, folder, left_out)


def write_plan(
    plan: Plan,
    out: str | Path,
    *,
    job: Job | None = None,
    paper: Literal["A4", "Letter"] | None = None,
    replace: bool = False,
) -> list[str]:
    """Put a plan's files into a folder, all or nothing.

    Parameters
    ----------
    plan : Plan
    out : str or Path
        The folder.
    job : Job, optional
        The plan's job: needed where plates come from the rack, which are reserved.
    paper : {"A4", "Letter"}, optional
        Write setup sheets and labels as PDF too.
    replace : bool
        Another job's plan in the folder, and files changed by hand, may go.

    Returns
    -------
    list of str
        The names of the files.

    Raises
    ------
    InputError
        If the paper is not known, or plates come from the rack and the job is not given.
    StockError
        If another plan has taken one of the plates in the meantime.
    OutputError
        If the folder cannot be written, another process is writing it, or what it holds may not go.
    """
    folder = Path(out)
    if paper is not None and paper not in PAPERS:
        raise InputError(f"unknown paper {paper!r}", remedy=f"use {' or '.join(PAPERS)}")
    if job is None:
        if plan.from_rack:
            raise InputError(
                f"plates of the rack are used: {', '.join(plan.from_rack)}",
                remedy="give the job too, so that they are reserved",
            )
        return output.write_files(plan, folder, paper=paper, replace=replace)
    with folders.locked(folder):
        replaces = bookings.planned_before(folder, job)
        with bookings.reserved(plan, job, folder, replaces):
            return output.write_files(plan, folder, paper=paper, replace=replace)


def wanted(what: Part | FileModel | str | Path, quantity: int, **keys: Any) -> WantedEntry:
    """Return the entry of a part wanted.

    Parameters
    ----------
    what : Part, standard plate, FlangeProfile, str or Path
        A part made or read in Python, a shape such as `Ring`, a bent part by its flanges, or a
        drawing's file.
    quantity : int
    **keys
        The keys of a [[part]] in a job file: thickness and grade, and as needed name,
        rotations, mirror, priority, due, kit, filler, …

    Returns
    -------
    WantedEntry

    Raises
    ------
    JobError
        If a key is missing, unknown or wrong.
    """
    values: dict[str, Any] = {"quantity": quantity, **keys}
    if isinstance(what, FlangeProfile):
        return validate(BlankEntry, {**what.model_dump(), **values}, "a blank wanted", JobError)
    if isinstance(what, Part):
        return validate(PartInHand, {"part": what, **values}, "a part wanted", JobError)
    source = {"drawing": str(what)} if isinstance(what, str | Path) else {"shape": what}
    return validate(PartEntry, {**source, **values}, "a part wanted", JobError)


def on_offer(id: str, length: float | None = None, width: float | None = None, **keys: Any) -> PlateEntry:
    """Return the entry of a plate on offer.

    Parameters
    ----------
    id : str
        Its mark, unique in the job.
    length, width : float, optional
        mm; an `outline` drawing serves in place of them.
    **keys
        The keys of a [[plate]] in a job file: thickness and grade, and as needed quantity,
        heat, outline, price_per_kg, keepouts, rolling_direction, …

    Returns
    -------
    PlateEntry

    Raises
    ------
    JobError
        If a key is missing, unknown or wrong.
    """
    values: Mapping[str, Any] = {"id": id, "length": length, "width": width, **keys}
    return validate(PlateEntry, values, "a plate on offer", JobError)


def _job(job: Job | str | Path) -> Job:
    return job if isinstance(job, Job) else load_job(job)
