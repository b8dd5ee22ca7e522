"""One sheet from its nest to a proved program and its estimate: a task of its own.

All that a sheet needs travels with its task, so that it may be planned on another machine.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from cutplan.base.errors import CutplanError, NoStartError, ProgramError, ProofError
from cutplan.base.findings import Finding
from cutplan.base.machine import Machine
from cutplan.control import Dialect, Reading, as_read
from cutplan.cutting import BevelCuts, SheetCuts, Tab, Techniques, make_cuts
from cutplan.drawing import metal_area
from cutplan.editing import SheetWishes
from cutplan.estimating import Estimate, Prices, add_estimates, estimate
from cutplan.planning.bevelling import Bevelling, bevel_programs, clear_cuts, grooved
from cutplan.planning.camber import camber_told
from cutplan.planning.cutting_wishes import cutting_options, left_out
from cutplan.planning.engine import Desk, Progress
from cutplan.planning.job import Job
from cutplan.planning.leftovers import metal_left, remnant_area
from cutplan.planning.posts import postprocessor_of
from cutplan.planning.preparation import Group
from cutplan.planning.tracing import trace_findings, traced
from cutplan.planning.travel_heights import as_travelled, heights_unsaid
from cutplan.process import CutData
from cutplan.program import PostProcessor, Program, write_program
from cutplan.record import PlannedSheet, bound_digests, planned_of
from cutplan.sequencing import Order, SequenceOptions, sequence, shares_of
from cutplan.stock import Lanes, NestedPlate, first_lane
from cutplan.verification import Verdict, verify

__all__ = ["SheetTask", "part_areas", "plan_sheet", "sheet_tasks"]


@dataclass(frozen=True)
class SheetTask:
    """A nested sheet to be planned, with what the job and its files say about it.

    It is plate `number` of `of`, for whoever watches.
    """

    nested: NestedPlate
    data: CutData
    lanes: Lanes
    job: Job
    post: PostProcessor
    prices: Prices | None
    number: int
    of: int
    of_parts: Mapping[str, Techniques] = field(default_factory=dict)
    wishes: SheetWishes = field(default_factory=SheetWishes)
    bevelling: Bevelling | None = None


def sheet_tasks(
    sheets: Sequence[tuple[NestedPlate, Group]],
    job: Job,
    prices: Prices | None,
    wishes: Mapping[str, SheetWishes] | None = None,
) -> list[SheetTask]:
    """Return a task for each sheet, with what its group's post-processor and the job's prices say.

    `wishes` are what is asked by hand of a sheet, by its name.
    """
    posts = {id(group): postprocessor_of(group.data, job) for _, group in sheets}
    return [
        SheetTask(
            traced(nested, job),
            group.data,
            group.lanes,
            job,
            posts[id(group)],
            prices,
            number,
            len(sheets),
            group.of_parts,
            (wishes or {}).get(nested.name, SheetWishes()),
            group.bevelling,
        )
        for number, (nested, group) in enumerate(sheets, start=1)
    ]


def _on_plate(number: int, total: int, tell: Progress) -> Progress:
    """Return a progress callback that says which plate of how many is worked on."""
    return lambda stage, share: tell(f"plate {number} of {total}: {stage}", share)


def plan_sheet(task: SheetTask, desk: Desk) -> PlannedSheet:
    """Take a nested sheet to a proved program and its estimate.

    Torches side by side run what the first lane asks for: it is cut, ordered and proved, and
    the others are held to be just like it.
    """
    nested, data, lanes, job, post = task.nested, task.data, task.lanes, task.job, task.post
    name = f"{nested.plate.id}-{nested.sheet}"
    tell = _on_plate(task.number, task.of, desk.tell)
    run = first_lane(nested, lanes)
    if run is None:
        raise ProofError(
            f"the lanes of plate {name} are not alike", remedy="please keep the job and report this"
        )
    tell(f"laying the torch's paths on {name}", None)
    asked = replace(job.order, pin=(*job.order.pin, *task.wishes.before))
    raised, options = as_travelled(job.machine, post, data, asked, lanes)
    bevels = grooved(run, task.bevelling, data, job)
    cuts, order = _ordered(
        task, run, raised, options, lambda share, best: _watched(tell, desk, name, share), bevels
    )
    findings = _told(task, run, cuts, order, options)
    tell(f"proving the program of {name}", None)
    planned, dialect = planned_of(order.steps, lanes, cuts.tabs), post.dialect_for(data)
    bound = bound_digests(nested, data, job.machine, dialect, job.cutting.tolerance_mm, planned)
    program = write_program(
        order, nested, data, job.machine, post, name=name, header=[f"job {job.name}"],
        bound=bound, torch_spacing=lanes.spacing or None,
    )  # fmt: skip
    read = _read(program, dialect)
    verdict = verify(
        read, run, data, lanes.machine_of_first(job.machine),
        tolerance=job.cutting.tolerance_mm, planned=planned,
    )  # fmt: skip
    _refuse_unproved(verdict, program)
    figures = _estimate(read, order, run, task, cuts.tabs)
    prepared, told = bevel_programs(nested, bevels, order.steps, task.bevelling, job, task.prices)
    figures = add_estimates([figures, *(each.estimate for each in prepared)]) if prepared else figures
    return PlannedSheet(
        nested, data, order, program, verdict, figures, bound, (*findings, *told), lanes, cuts.tabs, prepared
    )


def _ordered(
    task: SheetTask,
    run: NestedPlate,
    machine: Machine,
    options: SequenceOptions,
    progress: Callable[[float, float], None],
    bevels: Sequence[BevelCuts],
) -> tuple[SheetCuts, Order]:
    """Return the cuts of a sheet and their order, their starts clear of bevels that are cut before.

    Every tab asks for one more start.  Where these leave a cut without one, the part with the
    nearest tab does without, which its findings tell.
    """
    job, untabbed = task.job, set[int]()
    wishes = cutting_options(job, task.of_parts, task.lanes, task.wishes.on(run))
    while True:
        cuts = make_cuts(run, task.data, wishes, untabbed=untabbed)
        cuts = clear_cuts(cuts, bevels, run, task.data)
        _refuse_uncut(cuts.findings, run.name, job)
        try:
            return cuts, sequence(
                cuts.cuts, machine, task.data, run.plate, links=cuts.links, options=options, seed=job.seed,
                progress=progress,
                kept=task.wishes.kept,
            )  # fmt: skip
        except NoStartError as none:
            if not cuts.tabs or none.place is None:
                raise
            place = none.place
            untabbed.add(min(cuts.tabs, key=lambda tab: math.dist(tab.at, place)).placement)


def _told(
    task: SheetTask, run: NestedPlate, cuts: SheetCuts, order: Order, options: SequenceOptions
) -> tuple[Finding, ...]:
    """Return what a person should know of a sheet's cuts and their order."""
    wishes = cutting_options(task.job, task.of_parts, task.lanes)
    return (
        *cuts.findings,
        *_too_many_open(order, options),
        *heights_unsaid(task.job.order, task.post),
        *trace_findings(task.nested, task.job),
        *left_out(task.job, task.lanes),
        *camber_told(run, task.data, wishes, {tab.part for tab in cuts.tabs}),
    )


def _too_many_open(order: Order, options: SequenceOptions) -> tuple[Finding, ...]:
    """Tell where more parts are begun and not finished at once than the job wants."""
    torches = len(options.torch_shifts)
    if order.open_parts <= options.most_open:
        return ()
    words = (
        f"{order.open_parts * torches} parts are begun and not finished at once, more than [order] open_parts = "
        f"{options.open_parts}: heat, a pin, a band or parts inside parts ask for it"
    )
    return (Finding("warning", words),)


def _read(program: Program, dialect: Dialect) -> Reading:
    """Return what a control makes of a program: proof, remnants and estimate ask nothing else."""
    try:
        read = as_read([file.text for file in program.files], dialect)
        wrong = "; ".join(read.motions.departures)
    except ProgramError as error:
        wrong = str(error)
    if wrong:
        raise ProofError(
            f"the program failed its proof (syntax): {wrong}",
            where=program.file_name,
            remedy="nothing was written; please keep the job and report this",
        )
    return read


def _refuse_unproved(verdict: Verdict, program: Program) -> None:
    if verdict.is_as_planned:
        return
    fault = [*verdict.faults, *verdict.trims][0]
    line = f", line {fault.line}" if fault.line else ""
    raise ProofError(
        f"the program failed its proof ({fault.code}): {fault.message}",
        where=f"{program.file_name}{line}",
        place=fault.place,
        remedy="nothing was written; please keep the job and report this",
    )


def _watched(tell: Progress, desk: Desk, name: str, share: float) -> None:
    tell(f"ordering the cuts of {name}", share)
    desk.look_up()


def _estimate(
    read: Reading, order: Order, run: NestedPlate, task: SheetTask, tabs: Sequence[Tab]
) -> Estimate:
    nested, job = task.nested, task.job
    data, lanes, kept = task.data, task.lanes, 0.0
    if job.estimate.keep_remnants:
        parted = any(step.cut.kind == "rest" for step in order.steps)
        left = metal_left(read, run, nested, data, lanes, rest_parted=parted)
        kept = remnant_area(left, job.estimate.keep_remnants)
    return estimate(
        read.motions,
        data,
        job.machine,
        plate=nested.plate,
        prices=task.prices,
        torches=lanes.torches,
        cut_parts=[shares_of(step) for step in order.steps],
        part_areas=part_areas(nested),
        part_copies=Counter(placement.part.name for placement in nested.placements),
        part_tabs={part: lanes.torches * n for part, n in Counter(tab.part for tab in tabs).items()},
        remnant_mm2=kept,
        options=job.estimate,
        dialect=read.dialect,
    )


def part_areas(nested: NestedPlate) -> dict[str, float]:
    """Return the metal that the copies of each part on a sheet have, mm², by its name."""
    areas: dict[str, float] = {}
    for placement in nested.placements:
        areas[placement.part.name] = areas.get(placement.part.name, 0.0) + metal_area(placement.part)
    return areas


def _refuse_uncut(findings: Iterable[Finding], name: str, job: Job) -> None:
    for finding in findings:
        if finding.kind == "refused":
            raise CutplanError(
                f"plate {name}: {finding.message}",
                where=str(job.file),
                place=finding.place,
                remedy="widen [nesting] gap or edge, or change the drawing",
            )
