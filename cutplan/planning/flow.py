"""The flow from job to proved programs; the only module that knows every room.

Each step is one function: drawings to demands, demands to nests, a nested sheet to a proved
program, and the whole plan to files.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from cutplan.base.errors import CutplanError, NestingError, ProofError
from cutplan.base.files import error_of
from cutplan.base.findings import Finding
from cutplan.base.machine import Machine
from cutplan.base.version import __version__
from cutplan.control import joined, read_program
from cutplan.cutting import make_cuts
from cutplan.drawing import metal_area
from cutplan.estimating import Estimate, Prices, Work, add_estimates, estimate, load_prices
from cutplan.nesting import Nest, StripNest
from cutplan.planning.bookings import rack_plates
from cutplan.planning.folders import replaced_files
from cutplan.planning.group_nests import nests_of, overridden, scattered_kits, strips_of
from cutplan.planning.job import Job
from cutplan.planning.leftovers import metal_left, remnant_area
from cutplan.planning.preparation import (
    Group,
    Progress,
    cutting_options,
    groups_of,
    plates_of,
    postprocessor_of,
    within_travel,
)
from cutplan.planning.standing import file_digest, refuse_alike, refuse_another, standing_in
from cutplan.planning.warming import compiling_beside, saying_so
from cutplan.process import Library
from cutplan.program import PostProcessor, Program, write_program
from cutplan.record import Plan, PlannedSheet, bound_digests, inputs_digest, plan_json, planned_of
from cutplan.report import (
    Paper,
    batch_html,
    cut_list_csv,
    cut_list_xlsx,
    labels_html,
    labels_pdf,
    plate_svg,
    setup_sheet_html,
    setup_sheet_pdf,
    write_nest_dxf,
)
from cutplan.sequencing import Order, SequenceOptions, sequence
from cutplan.stock import NestedPlate, first_lane
from cutplan.verification import verify

__all__ = [
    "Progress",
    "nest_job",
    "plan_job",
    "plan_sheet",
    "prices_of",
    "strip_job",
    "works_of",
    "write_files",
]


def plan_job(
    job: Job, progress: Progress | None = None, *, replaces: str | None = None, own_plans: bool = False
) -> Plan:
    """Plan a job: nest, cut, order, write and prove, without touching any file.

    Parameters
    ----------
    job : Job
    progress : callable, optional
        Told of each stage.
    replaces : str, optional
        Name of a plan whose reserved plates are on offer again.
    own_plans : bool
        The plates of all plans of this job are on offer again: for estimates, not for cutting.

    Returns
    -------
    Plan

    Raises
    ------
    CutplanError
        If a drawing, plate, cutting datum or post-processor is missing or wrong, or a part
        is larger than every plate.
    ProofError
        If a program does not cut what the drawings ask for.
    """
    tell = saying_so(progress or (lambda stage, share: None))
    library = Library.load([job.folder / place for place in job.cutting.data])
    offered, beyond = within_travel((*plates_of(job), *rack_plates(job, replaces, own_plans=own_plans)), job)
    with compiling_beside():
        groups, findings = groups_of(job, offered, library, tell)
        answers, told = nests_of(groups, job, tell)
        _refuse_an_empty_plan(answers, job)
        nested_sheets = [(sheet, group) for group, nested in answers for sheet in nested.plates]
        sheets = [
            plan_sheet(sheet, group, job, _on_plate(number, len(nested_sheets), tell))
            for number, (sheet, group) in enumerate(nested_sheets, start=1)
        ]
    nests = [nested for _, nested in answers]
    own, used = {entry.id for entry in job.plates}, [s.plate.id for n in nests for s in n.plates]
    unplaced = [item for nested in nests for item in nested.unplaced]
    findings += [*told, *_of_used(beyond, nests), *scattered_kits(answers)]
    findings += [(sheet.name, finding) for sheet in sheets for finding in sheet.findings]
    findings += _stopped(answers, sheets)
    return Plan(
        job=job.name,
        seed=job.seed,
        version=__version__,
        machine=job.machine,
        sheets=tuple(sheets),
        unplaced=tuple(unplaced),
        total=add_estimates([sheet.estimate for sheet in sheets]),
        findings=tuple(findings),
        tolerance_mm=job.cutting.tolerance_mm,
        kits={d.part.name: d.kit for group, _ in answers for d in group.demands if d.kit is not None},
        due=_due_dates(job, (d.part.name for group, _ in answers for d in group.demands)),
        from_rack=tuple(dict.fromkeys(name for name in used if name not in own)),
    )


def _refuse_an_empty_plan(answers: Iterable[tuple[Group, Nest]], job: Job) -> None:
    """Refuse a batch of which nothing found a place: an earlier plan is worth more."""
    if not any(nested.plates for _, nested in answers):
        unplaced = [item for _, nested in answers for item in nested.unplaced]
        lines = [(f"{item.quantity} × {item.part}: {item.reason}", "") for item in unplaced]
        raise error_of(lines, f"{job.file}: nothing fits on the plates on offer", NestingError)


def nest_job(job: Job, progress: Progress | None = None) -> tuple[list[Nest], list[tuple[str, Finding]]]:
    """Nest a job's parts on its plates and go no further; returns the nests and the findings.

    Parameters
    ----------
    job : Job
    progress : callable, optional
        Told of each stage in words and of the share of it done, 0 to 1.

    Returns
    -------
    list of Nest, and list of (str, Finding)
        The nests, and what was noticed of which file or part.
    """
    tell = saying_so(progress or (lambda stage, share: None))
    library = Library.load([job.folder / place for place in job.cutting.data])
    offered, beyond = within_travel((*plates_of(job), *rack_plates(job, own_plans=True)), job)
    groups, findings = groups_of(job, offered, library, tell)
    answers, told = nests_of(groups, job, tell)
    nests = [nested for _, nested in answers]
    return nests, [*findings, *told, *_of_used(beyond, nests)]


def _due_dates(job: Job, names: Iterable[str]) -> dict[str, str]:
    """Return the day each part is due, by its name; several of one drawing carry its name and a number."""
    entries = {entry.label: entry for entry in job.parts}
    dates = {}
    for name in names:
        entry = entries.get(name) or entries.get(name.rpartition("-")[0])
        if entry is not None and entry.due is not None:
            dates[name] = entry.due.isoformat()
    return dates


def _of_used(findings: Iterable[tuple[str, Finding]], nests: Iterable[Nest]) -> list[tuple[str, Finding]]:
    """Keep what is told of plates that something lies on."""
    used = {f"plate {sheet.plate.id}" for nested in nests for sheet in nested.plates}
    return [(about, finding) for about, finding in findings if about in used]


def _stopped(
    answers: Iterable[tuple[Group, Nest | StripNest]], sheets: Iterable[PlannedSheet]
) -> list[tuple[str, Finding]]:
    """Tell where the user ended a search: what came of it is right, but may not come again."""
    stopped = [
        (f"{group.data.thickness:g} mm {group.demands[0].grade}", "nest")
        for group, nested in answers
        if nested.statistics.get("stopped")
    ]
    stopped += [(sheet.name, "order") for sheet in sheets if sheet.order.statistics.get("stopped")]
    return [
        (about, Finding("warning", f"the search was stopped: this {what} is the best found by then"))
        for about, what in stopped
    ]


def strip_job(
    job: Job, width: float, progress: Progress | None = None
) -> tuple[list[tuple[Group, StripNest]], list[tuple[str, Finding]]]:
    """Answer how long plates of a width must be ordered for a job; its own plates do not count.

    Parameters
    ----------
    job : Job
    width : float
        Of the plates, mm.
    progress : callable, optional
        Told of each stage in words and of the share of it done, 0 to 1.

    Returns
    -------
    list of (Group, StripNest), and list of (str, Finding)
        An answer for each group, and what was noticed.
    """
    library = Library.load([job.folder / place for place in job.cutting.data])
    tell = progress or (lambda stage, share: None)
    groups, findings = groups_of(job, None, library, tell)
    answers = strips_of(groups, job, width, tell)
    findings += [told for group in groups for told in overridden(group, job)]
    return answers, [*findings, *_stopped(answers, ())]


def works_of(plan: Plan, job: Job) -> list[Work]:
    """Return what a plan's programs do, for comparing other processes and torch counts.

    Parameters
    ----------
    plan : Plan
    job : Job

    Returns
    -------
    list of Work
    """
    works = []
    for sheet in plan.sheets:
        post = postprocessor_of(sheet.data, job)
        works.append(
            Work(
                joined([read_program(f.text, post.dialect_for(sheet.data)) for f in sheet.program.files]),
                sheet.data,
                sheet.nested.plate,
                _part_areas(sheet.nested),
                Counter(placement.part.name for placement in sheet.nested.placements),
            )
        )
    return works


def write_files(plan: Plan, out: Path, *, paper: Paper | None = None, replace: bool = False) -> list[str]:
    """Put a plan's files into a folder, all or nothing; returns their names.

    With a `paper`, the setup sheets and the labels are written as PDF too; with `replace`, the
    plan of another job, and files changed by hand, may go.

    Parameters
    ----------
    plan : Plan
    out : Path
        Folder into which the plan is written.
    paper : Paper, optional
        Write setup sheets and labels as PDF too.
    replace : bool, optional
        Another job's plan, and files changed by hand, may go.

    Returns
    -------
    list of str
        The names of the files.
    """
    refuse_another(out, plan.job, replace=replace)
    texts = _texts(plan)
    refuse_alike([*(name for name, _ in texts), *(f"{sheet.name}.dxf" for sheet in plan.sheets)])
    files = {name: text.encode() for name, text in texts}
    files["cut-list.xlsx"] = cut_list_xlsx(plan)
    if paper is not None:
        files["labels.pdf"] = labels_pdf(plan, paper=paper)
        for sheet in plan.sheets:
            files[f"{sheet.name}.pdf"] = setup_sheet_pdf(sheet, plan, paper=paper)
    with replaced_files(out, lambda folder: standing_in(folder).own()) as folder:
        for name, content in files.items():
            (folder / name).write_bytes(content)
        for sheet in plan.sheets:
            write_nest_dxf(folder / f"{sheet.name}.dxf", sheet)
        digests = {file.name: file_digest(file.read_bytes()) for file in sorted(folder.iterdir())}
        (folder / "plan.json").write_bytes(plan_json(plan, digests).encode())
    return sorted([*digests, "plan.json"])


def _texts(plan: Plan) -> list[tuple[str, str]]:
    """Return the text files of a plan with their names, but for plan.json."""
    texts: list[tuple[str, str]] = []
    for sheet in plan.sheets:
        texts += [(program.file_name, program.text) for program in sheet.program.files]
        texts.append((f"{sheet.name}.svg", plate_svg(sheet)))
        texts.append((f"{sheet.name}.html", setup_sheet_html(sheet, plan)))
    texts.append(("cut-list.csv", cut_list_csv(plan)))
    texts.append(("labels.html", labels_html(plan)))
    texts.append(("batch.html", batch_html(plan)))
    return texts


def _on_plate(number: int, total: int, tell: Progress) -> Progress:
    """Return a progress callback that says which plate of how many is worked on."""
    return lambda stage, share: tell(f"plate {number} of {total}: {stage}", share)


def plan_sheet(nested: NestedPlate, group: Group, job: Job, tell: Progress) -> PlannedSheet:
    """Take a nested sheet to a proved program and its estimate.

    Torches side by side run what the first lane asks for: it is cut, ordered and proved, and
    the others are held to be just like it.
    """
    name, data, lanes = f"{nested.plate.id}-{nested.sheet}", group.data, group.lanes
    run = first_lane(nested, lanes)
    if run is None:
        raise ProofError(
            f"the lanes of plate {name} are not alike", remedy="please keep the job and report this"
        )
    tell(f"laying the torch's paths on {name}", None)
    cuts = make_cuts(run, data, cutting_options(job))
    _refuse_uncut(cuts.findings, name, job)
    options = SequenceOptions(**vars(job.order), torch_shifts=lanes.shifts)
    post = postprocessor_of(data, job)
    order = sequence(
        cuts.cuts, _as_raised(job.machine, post), data, run.plate, options=options, seed=job.seed,
        progress=lambda share, best: tell(f"ordering the cuts of {name}", share),
    )  # fmt: skip
    tell(f"proving the program of {name}", None)
    inputs = inputs_digest(nested, data)
    planned, dialect = planned_of(order.steps, lanes), post.dialect_for(data)
    bound = bound_digests(nested, data, job.machine, dialect, job.cutting.tolerance_mm, planned)
    program = write_program(
        order, nested, data, job.machine, post, name=name, header=[f"job {job.name}"],
        bound=bound, torch_spacing=lanes.spacing or None,
    )  # fmt: skip
    verdict = verify(
        [file.text for file in program.files],
        run,
        data,
        lanes.machine_of_first(job.machine),
        dialect=dialect,
        tolerance=job.cutting.tolerance_mm,
        planned=planned,
    )
    if not verdict.is_as_planned:
        fault = [*verdict.faults, *verdict.trims][0]
        line = f", line {fault.line}" if fault.line else ""
        raise ProofError(
            f"the program failed its proof ({fault.code}): {fault.message}",
            where=f"{program.file_name}{line}",
            place=fault.place,
            remedy="nothing was written; please keep the job and report this",
        )
    figures = _estimate(program, order, nested, run, group, job, post)
    return PlannedSheet(nested, data, order, program, verdict, figures, inputs, bound, cuts.findings, lanes)


def _as_raised(machine: Machine, post: PostProcessor) -> Machine:
    """Return a machine that travels as high as the program raises it, where the program does."""
    heights = post.settings.heights
    return machine if heights is None else replace(machine, travel_height_mm=heights.travel_mm)


def _estimate(
    program: Program,
    order: Order,
    nested: NestedPlate,
    run: NestedPlate,
    group: Group,
    job: Job,
    post: PostProcessor,
) -> Estimate:
    data, lanes, texts = group.data, group.lanes, [file.text for file in program.files]
    dialect, kept = post.dialect_for(data), 0.0
    if job.estimate.keep_remnants:
        left = metal_left(texts, run, nested, data, dialect, lanes)
        kept = remnant_area(left, job.estimate.keep_remnants)
    return estimate(
        joined([read_program(text, dialect) for text in texts]),
        data,
        job.machine,
        plate=nested.plate,
        prices=prices_of(job),
        torches=lanes.torches,
        cut_parts=[step.cut.part for step in order.steps],
        part_areas=_part_areas(nested),
        part_copies=Counter(placement.part.name for placement in nested.placements),
        remnant_mm2=kept,
        options=job.estimate,
    )


def prices_of(job: Job) -> Prices | None:
    """Return the prices that a job names, or None."""
    if job.prices is None:
        return None
    # Named without its folder: the same job gives the same plan wherever it lies.
    return replace(load_prices(job.prices), source=job.prices.name)


def _part_areas(nested: NestedPlate) -> dict[str, float]:
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
