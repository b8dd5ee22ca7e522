"""From a job to what the rooms work on: plates, and parts sorted by thickness and process.

The flow itself is in `cutplan.planning.flow`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from cutplan.base.errors import CutplanError, DataError, JobError
from cutplan.base.findings import Finding
from cutplan.cutting import Techniques, check_part
from cutplan.drawing import Part, name_to_mark
from cutplan.estimating import Prices, load_prices
from cutplan.forming import check_bends, scribe_lines
from cutplan.geometry import Path, area, bounds, polygon
from cutplan.nesting import Demand
from cutplan.planning.attaching import mark_attached
from cutplan.planning.bevelling import Bevelling, bevel_problems, bevelling_of, foot_of
from cutplan.planning.cutting_wishes import cutting_options, techniques_of_parts
from cutplan.planning.engine import Progress
from cutplan.planning.entries import PlateEntry, WantedEntry
from cutplan.planning.intake import Intake, Wanted, job_findings, raise_problems, read_options, read_wanted
from cutplan.planning.job import Job
from cutplan.planning.offer_notes import better_than_asked, no_plate
from cutplan.planning.posts import postprocessor_of
from cutplan.planning.rolling import rolling_direction
from cutplan.planning.sections import ProcessChoice
from cutplan.planning.splicing import split_long_parts
from cutplan.process import (
    CutData,
    Library,
    expected_quality,
    preheat_advice_for_grade,
    quality_shortfalls,
)
from cutplan.stock import ONE_TORCH, Keepout, Lanes, Plate, density_of, material_of, read_outline, shortfall

__all__ = [
    "Group",
    "cut_data",
    "groups_of",
    "plates_of",
    "prices_of",
    "within_travel",
]

MOST_REMNANTS = 120
"""Offered to one nest; each costs the search tables of its own."""


@dataclass(frozen=True)
class Group:
    """Parts that share thickness, grade and cutting data, and so plates and gaps.

    With `lanes` of several torches, these may cut side by side what each of them needs as often.
    `of_parts` says, by name, which parts are held and cut otherwise than the job's; `bevelling` how
    their edges are bevelled.
    """

    data: CutData
    demands: tuple[Demand, ...]
    plates: tuple[Plate, ...]
    lanes: Lanes = ONE_TORCH
    of_parts: Mapping[str, Techniques] = field(default_factory=dict)
    bevelling: Bevelling | None = None


def plates_of(job: Job) -> tuple[Plate, ...]:
    """Return the plates and remnants that the job offers.

    Raises
    ------
    StockError
        If a grade is not known, or a remnant's drawing is not one contour.
    DrawingError
        If a remnant's outline is open or crosses itself.
    """
    return tuple(_plate(entry, job) for entry in job.plates)


def within_travel(plates: Sequence[Plate], job: Job) -> tuple[tuple[Plate, ...], list[tuple[str, Finding]]]:
    """Bar what lies beyond the table's travel on each plate, and tell of it."""
    reach_x, reach_y = job.machine.table
    barred, findings = [], []
    for plate in plates:
        _, _, x1, y1 = bounds(plate.outline)
        beyond = []
        if x1 > reach_x:
            beyond.append(_box(reach_x, 0, x1, y1))
        if y1 > reach_y:
            beyond.append(_box(0, reach_y, min(x1, reach_x), y1))
        if beyond:
            told = f"reaches beyond the table's travel: only {min(x1, reach_x):g} × {min(y1, reach_y):g} mm of it are used"
            findings.append((f"plate {plate.id}", Finding("warning", told)))
        # Nothing stands there: the torch just does not get so far.
        barred.append(replace(plate, keepouts=(*plate.keepouts, *(Keepout(box, 0.0) for box in beyond))))
    return tuple(barred), findings


def _materials(job: Job) -> dict[str, str]:
    """Return the material groups that the job states by grade, in [grades] or in any entry."""
    stated = dict(job.grades)
    entries: list[PlateEntry | WantedEntry] = [*job.plates, *job.parts]
    for entry in entries:
        if entry.material is not None and stated.setdefault(entry.grade, entry.material) != entry.material:
            raise JobError(
                f"grade {entry.grade!r} is said to be {stated[entry.grade]} and {entry.material}",
                where=str(job.file),
                remedy="say one material for each grade",
            )
    return stated


def _box(x0: float, y0: float, x1: float, y1: float) -> Path:
    return polygon([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def _plate(entry: PlateEntry, job: Job) -> Plate:
    grades = _materials(job)
    if entry.outline is None:
        assert entry.length is not None and entry.width is not None
        outline = polygon([(0, 0), (entry.length, 0), (entry.length, entry.width), (0, entry.width)])
        holes: tuple[Path, ...] = ()
    else:
        outline, holes = read_outline(job.folder / entry.outline, read_options(job))
    return Plate(
        id=entry.id,
        outline=outline,
        thickness=entry.thickness,
        grade=entry.grade,
        material=material_of(entry.grade, grades),
        quantity=entry.quantity,
        heat=entry.heat,
        price_per_kg=entry.price_per_kg,
        density_kg_m3=density_of(entry.grade, grades),
        rolling_direction=entry.rolling_direction,
        keepouts=tuple(Keepout(_box(*k.box), k.height) for k in entry.keepout_entries),
        voids=holes,
        is_remnant=entry.outline is not None,
        face=entry.face,
        face_up=entry.face_side == "up",
    )


def groups_of(
    job: Job, plates: Sequence[Plate] | None, library: Library, tell: Progress
) -> tuple[list[Group], list[tuple[str, Finding]]]:
    """Read every drawing and sort its parts by thickness, grade and process.

    Without plates, None, the groups have none, as where plate is yet to be ordered.
    """
    if plates is not None and not job.plates and job.inventory is None:
        raise JobError(
            "there is no plate",
            where=str(job.file),
            remedy="add a [[plate]], or [stock] with inventory = true",
        )
    intake = read_wanted(job, tell)
    mark_attached(intake, job)
    split_long_parts(
        intake, plates or (), job, lambda each: cut_data(each.thickness, each.grade, each.entry, job, library)
    )
    demands = _demands(job, library, intake)
    of_parts = techniques_of_parts(intake.wanted, job)
    findings = [*job_findings(job), *intake.findings]
    groups = []
    for (grade, data), wanted in demands.items():
        offered = tuple(
            p for p in plates or () if p.thickness == data.thickness and shortfall(p.grade, grade) is None
        )
        if not offered and plates is not None:
            raise no_plate(wanted[0], plates, job)
        findings += better_than_asked(offered, grade)
        bevelling = bevelling_of([demand.part for demand in wanted], data, job, library)
        lanes, found = (ONE_TORCH, []) if bevelling else _lanes(data, job)
        findings += found
        shortlist = _shortlist(offered, wanted)
        groups.append(Group(data, tuple(wanted), shortlist, lanes, of_parts, bevelling))
    return groups, findings


def _demands(job: Job, library: Library, intake: Intake) -> dict[tuple[str, CutData], list[Demand]]:
    """Return what is wanted of each grade by each cutting data, or tell all that is wrong at once.

    Parts that ask for a process by different words may still share their data, and so plates.
    """
    demands: dict[tuple[str, CutData], list[Demand]] = {}
    known: dict[tuple[float, str, str], CutData] = {}
    failed: dict[tuple[float, str, str], CutplanError] = {}
    for each in intake.wanted:
        key = (each.thickness, each.grade, each.entry.process or job.cutting.process)
        if key in failed:
            continue
        if key not in known:
            try:
                known[key] = cut_data(each.thickness, each.grade, each.entry, job, library)
            except CutplanError as error:
                failed[key] = error
                refused = Finding("refused", error.message, None, error.remedy or "", "cutting data")
                intake.problems.append((str(job.file), refused))
                continue
            intake.take(f"{each.thickness:g} mm {each.grade}", _warm_first(known[key], each.grade))
            intake.take("machine", _source_assumed(known[key], job))
        data = known[key]
        (part,) = _with_marks([each.part], job)
        intake.take(part.name, check_part(part, data, cutting_options(job)))
        intake.take(part.name, _check_bending(part, data, each.grade, job))
        intake.take(part.name, _check_quality(part, data, each.entry))
        intake.take(part.name, [*bevel_problems(part, data, each.entry.mirror, job, library)])
        foot = foot_of(part, data, job, library)
        demands.setdefault((each.grade, data), []).append(_demand(each, part, job, foot))
    if len(failed) == len(intake.problems) == 1:
        raise next(iter(failed.values()))
    raise_problems(intake.problems, job)
    return demands


def prices_of(job: Job) -> Prices | None:
    """Return the prices that a job names, or None."""
    if job.prices is None:
        return None
    # Named without its folder: the same job gives the same plan wherever it lies.
    return replace(load_prices(job.prices), source=job.prices.name)


def _lanes(data: CutData, job: Job) -> tuple[Lanes, list[tuple[str, Finding]]]:
    """Return how the machine's torches cut, side by side or one alone, and why where that is told."""
    machine = job.machine
    if machine.torches == 1 or machine.torch_spacing_mm is None:
        return ONE_TORCH, []
    about = f"{data.thickness:g} mm {data.title}"
    post = postprocessor_of(data, job)
    if not post.lights_several:
        told = f"planned for one torch of {machine.torches}: post-processor {post.name!r} lights no more"
        return ONE_TORCH, [(about, Finding("warning", told))]
    if data.thickness > data.rules.edge_start_above:
        told = f"planned for one torch of {machine.torches}: every cut begins at the plate's edge"
        return ONE_TORCH, [(about, Finding("warning", told))]
    return Lanes(machine.torches, machine.torch_spacing_mm), []


def _shortlist(plates: Sequence[Plate], demands: Sequence[Demand]) -> tuple[Plate, ...]:
    """Leave out remnants beyond the smallest that may hold each part: a rack may hold thousands."""
    remnants = sorted((p for p in plates if p.is_remnant), key=lambda p: abs(area(p.outline)))
    if len(remnants) <= MOST_REMNANTS:
        return tuple(plates)
    each = max(1, MOST_REMNANTS // len(demands))
    boxes = {plate.id: _sides(plate.outline) for plate in remnants}
    kept: set[str] = set()
    for demand in demands:
        short, long = _sides(demand.part.outer)
        holding = [p.id for p in remnants if boxes[p.id][0] >= short and boxes[p.id][1] >= long]
        kept |= set(holding[:each])
    return tuple(plate for plate in plates if not plate.is_remnant or plate.id in kept)


def _sides(outline: Path) -> tuple[float, float]:
    """Return the shorter and the longer side of a contour's box, mm."""
    x0, y0, x1, y1 = bounds(outline)
    return min(x1 - x0, y1 - y0), max(x1 - x0, y1 - y0)


def cut_data(thickness: float, grade: str, entry: WantedEntry, job: Job, library: Library) -> CutData:
    """Return the cutting data for a thickness and grade, by what the job and the part's entry ask for."""
    material = material_of(grade, _materials(job))
    by_hand = job.settings.get((thickness, grade))
    try:
        return library.choose(
            by_hand[0] if by_hand else _process(entry, job),
            material,
            thickness,
            current_a=None if by_hand else job.cutting.current_a,
            setting=by_hand[1] if by_hand else job.cutting.setting,
            quality=None if by_hand else job.cutting.quality,
            max_current_a=job.machine.max_current_a,
            under_water=job.cutting.under_water,
        )
    except DataError as problem:
        raise DataError(
            f"part {entry.label!r}: {problem.message}", where=str(job.file), remedy=problem.remedy
        ) from None


def _process(entry: WantedEntry, job: Job) -> ProcessChoice:
    """Return the process asked for, as far as the machine has it.

    Raises
    ------
    JobError
        If the machine does not cut by it.
    """
    asked, able = entry.process or job.cutting.process, job.machine.processes
    if asked == "auto":
        return able[0] if len(set(able)) == 1 else "auto"
    if asked not in able:
        raise JobError(
            f"part {entry.label!r} asks for {asked}, the machine cuts by {' and '.join(able)} only",
            where=str(job.file),
            remedy="mend processes under [machine], or process under [cutting] or in the part",
        )
    return asked


def _source_assumed(data: CutData, job: Job) -> list[Finding]:
    """Tell which arc current is taken to be within reach where the job does not say."""
    if data.process != "plasma" or job.machine.max_current_a is not None:
        return []
    told = f"the power source supplies {data.current_a:g} A"
    return [Finding("taken", told, remedy="say max_current_a under [machine]")]


def _with_marks(parts: Sequence[Part], job: Job) -> list[Part]:
    """Add the lines that the marker scribes for bends, and the parts' names where asked."""
    marking = job.marking
    if not job.machine.marker:
        return list(parts)
    marked = []
    for part in parts:
        if marking.bends != "none":
            tick = marking.tick_mm if marking.bends == "ticks" else None
            part = replace(part, marks=(*part.marks, *scribe_lines(part, tick=tick)))
        name = (
            name_to_mark(part, marking.letters_mm)
            if marking.names and not (part.texts or marking.trace)
            else None
        )
        marked.append(replace(part, texts=(*part.texts, name)) if name else part)
    return marked


def _warm_first(data: CutData, grade: str) -> list[Finding]:
    """Advise on warming plate that may harden at a flame-cut edge."""
    if data.process != "oxyfuel":
        return []
    advice = preheat_advice_for_grade(grade, data.thickness)
    if advice is None or advice.temperature_c is None:
        return []
    return [Finding("warning", advice.text)]


def _check_quality(part: Part, data: CutData, entry: WantedEntry) -> list[Finding]:
    """Flag a part that asks for more than the process usually gives."""
    if entry.tolerance_class is None:
        return []
    x0, y0, x1, y1 = bounds(part.outer)
    expected = expected_quality(data, max(x1 - x0, y1 - y0))
    shortfalls = quality_shortfalls(expected, tolerance_class=entry.tolerance_class)
    return [Finding("warning", text) for text in shortfalls]


def _check_bending(part: Part, data: CutData, grade: str, job: Job) -> list[Finding]:
    """Flag what the press brake cannot bend; the blank can be cut all the same."""
    checks = check_bends(part, data.thickness, grade, data.material, job.press)
    return [replace(finding, kind="warning") for check in checks for finding in check.findings]


def _priority(entry: WantedEntry, job: Job) -> int:
    """Rank by the stated priority, and within it by due date, the earliest first."""
    dates = {other.due for other in job.parts if other.due is not None}
    later = sum(date > entry.due for date in dates) + 1 if entry.due is not None else 0
    return entry.priority * (len(dates) + 1) + later


def _demand(wanted: Wanted, part: Part, job: Job, foot: tuple[Path, ...]) -> Demand:
    entry = wanted.entry
    return Demand(
        part=part,
        quantity=wanted.quantity,
        thickness=wanted.thickness,
        grade=wanted.grade,
        rotations_deg=entry.rotations_deg,
        mirror=entry.mirror and not part.bevelled_here,
        priority=_priority(entry, job),
        filler=entry.filler,
        kit=entry.kit,
        rolling_direction=rolling_direction(entry, part),
        foot=foot,
    )
