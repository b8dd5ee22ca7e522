"""A job's nests after the edits made by hand, and what these ask of each sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from cutplan.base.errors import EditError
from cutplan.base.findings import Finding
from cutplan.editing import (
    Bench,
    CutRow,
    Edit,
    Edits,
    EditStart,
    LaidSheet,
    SheetLaid,
    SheetWishes,
    State,
    UnplacedRow,
    UseData,
    refuse_conflicts,
    replayed,
    wishes_of,
)
from cutplan.geometry import Pose
from cutplan.nesting import Nest, Unplaced
from cutplan.planning.group_nests import rules_of
from cutplan.planning.job import Job
from cutplan.planning.preparation import Group
from cutplan.record import Plan
from cutplan.sequencing import Step, cut_keys
from cutplan.stock import ONE_TORCH, NestedPlate, Placement

__all__ = [
    "Answers",
    "EditedNests",
    "edited_nests",
    "first_state",
    "refuse_foreign_edits",
    "start_of",
    "started_nests",
    "told_of_edits",
    "with_data",
]

BY_HAND = "taken off by hand, or added and not laid yet"
Answers = list[tuple[Group, Nest]]


@dataclass(frozen=True)
class EditedNests:
    """Nests with what is asked of their sheets.

    Attributes
    ----------
    answers : list of (Group, Nest)
    wishes : mapping of str to SheetWishes
        By the sheet's name.
    wanted : mapping of str to int
        How many of each part the plan is for.
    """

    answers: Answers
    wishes: Mapping[str, SheetWishes]
    wanted: Mapping[str, int]


def refuse_foreign_edits(edits: Edits, job: Job) -> None:
    """Refuse edits that were made of another job.

    Raises
    ------
    EditError
    """
    if edits.job != job.name:
        raise EditError(
            f"the edits are of job {edits.job!r}, this is {job.name!r}", remedy="name the edits of this job"
        )


def with_data(job: Job, edits: Sequence[Edit]) -> Job:
    """Return a job with the rows of the cutting data that edits ask for."""
    settings = dict(job.settings)
    for edit in edits:
        if isinstance(edit, UseData):
            settings[edit.thickness_mm, edit.grade] = (edit.process, edit.setting)
    return replace(job, settings=settings)


def started_nests(start: EditStart, groups: Sequence[Group]) -> tuple[Answers, list[tuple[str, Finding]]]:
    """Return the nests that edits begin from, as they were written down.

    Raises
    ------
    EditError
        If the job has no such part or plate any more.
    """
    of_part = {demand.part.name: n for n, group in enumerate(groups) for demand in group.demands}
    sheets: dict[tuple[int, int], list[NestedPlate]] = {}
    for laid in start.sheets:
        names = {row[0] for row in laid.placements}
        unknown = sorted(names - of_part.keys())
        if unknown:
            raise EditError(
                f"the edits begin from a nest with {', '.join(map(repr, unknown))}, which the job no longer has",
                remedy="plan the job without the edits",
            )
        n = of_part[laid.placements[0][0]]
        sheets.setdefault((n, laid.torches), []).append(_nested(laid, groups[n]))
    answers: Answers = []
    stopped = float(bool(start.stopped))
    for n, group in enumerate(groups):
        many = [(torches, found) for (of, torches), found in sheets.items() if of == n and torches > 1]
        alone = sheets.get((n, 1), [])
        missing = tuple(
            Unplaced(u.part, u.quantity, u.reason) for u in start.unplaced if of_part.get(u.part) == n
        )
        statistics = {
            "stopped": stopped * (f"{group.data.thickness:g} mm {group.demands[0].grade}" in start.stopped)
        }
        answers += [(group, Nest(tuple(found), statistics=statistics)) for _, found in many]
        if alone or missing or not many:
            answers.append(
                (replace(group, lanes=ONE_TORCH), Nest(tuple(alone), missing, statistics=statistics))
            )
    return answers, [(about, Finding("warning", words)) for about, words in start.told]


def _nested(laid: SheetLaid, group: Group) -> NestedPlate:
    plate = next((plate for plate in group.plates if plate.id == laid.plate), None)
    if plate is None:
        raise EditError(
            f"the edits begin from plate {laid.plate!r}, which is not on offer any more",
            remedy="plan the job without the edits",
        )
    parts = {demand.part.name: demand.part for demand in group.demands}
    placements = tuple(
        Placement(parts[part], copy, Pose(x, y, rotation, flipped))
        for part, copy, x, y, rotation, flipped in laid.placements
    )
    return NestedPlate(plate, laid.sheet, placements)


def first_state(answers: Answers, groups: Sequence[Group], job: Job, start: EditStart | None) -> State:
    """Return the state that the first edit is applied to.

    Parameters
    ----------
    answers : list of (Group, Nest)
    groups : sequence of Group
        All that the job wants.
    job : Job
    start : EditStart, optional
        Holds the orders that the sheets had.
    """
    benches = tuple(
        Bench(group.demands, group.plates, rules_of(replace(group, lanes=ONE_TORCH), job), _words(group))
        for group in groups
    )
    bench_of = {demand.part.name: n for n, group in enumerate(groups) for demand in group.demands}
    orders = {} if start is None else {sheet.name: sheet.order for sheet in start.sheets}
    sheets = tuple(
        LaidSheet(
            nested, bench_of[nested.placements[0].part.name], group.lanes.torches, orders.get(nested.name, ())
        )
        for group, nest in answers
        for nested in nest.plates
    )
    wanted = {demand.part.name: demand.quantity for group in groups for demand in group.demands}
    return State(sheets, benches, wanted)


def _words(group: Group) -> str:
    return f"{group.data.thickness:g} mm {group.demands[0].grade}"


def edited_nests(answers: Answers, groups: Sequence[Group], job: Job, edits: Edits) -> EditedNests:
    """Return nests after edits.

    Parameters
    ----------
    answers : list of (Group, Nest)
        What the edits begin from.
    groups : sequence of Group
    job : Job
    edits : Edits

    Raises
    ------
    EditError
        If one of them cannot be made.
    """
    state = replayed(first_state(answers, groups, job, edits.start), edits.edits)
    if any(isinstance(edit, UseData) for edit in edits.edits):
        # Other data may ask for wider gaps, also where no edit came by.
        for sheet in state.sheets:
            if sheet.torches == 1:
                refuse_conflicts(state, sheet)
    return nests_after(state, answers, groups)


def nests_after(state: State, answers: Answers, groups: Sequence[Group]) -> EditedNests:
    """Return a state's sheets as nests, with what is asked of each sheet."""
    left = Counter({part: len(copies) for part, copies in state.off().items()})
    found: Answers = []
    for group, nest in answers:
        mine = {d.part.name for d in group.demands}
        sheets = tuple(
            sheet.nested
            for sheet in state.sheets
            if sheet.nested.placements[0].part.name in mine and sheet.torches == group.lanes.torches
        )
        found.append((group, replace(nest, plates=sheets, unplaced=_unplaced(nest, group, left))))
    # A bench whose sheets were all for torches side by side may have one for a single torch now.
    given = {sheet.name for _, nest in found for sheet in nest.plates}
    for n, group in enumerate(groups):
        rest = tuple(s.nested for s in state.sheets if s.bench == n and s.name not in given)
        if rest:
            found.append((replace(group, lanes=ONE_TORCH), Nest(rest)))
    wishes = {sheet.name: wishes_of(state, sheet) for sheet in state.sheets}
    return EditedNests(found, wishes, {part: count for part, count in state.wanted.items() if count})


def _unplaced(nest: Nest, group: Group, left: Counter[str]) -> tuple[Unplaced, ...]:
    """Return what has no place: what the nest had none for, with its reason, and what came off by hand."""
    told = []
    for item in nest.unplaced:
        count = min(item.quantity, left[item.part])
        left[item.part] -= count
        if count:
            told.append(replace(item, quantity=count))
    if group.lanes == ONE_TORCH:
        for demand in group.demands:
            if left[demand.part.name]:
                told.append(Unplaced(demand.part.name, left.pop(demand.part.name), BY_HAND))
    return tuple(told)


def told_of_edits(edits: Edits) -> list[tuple[str, Finding]]:
    """Tell that a plan was changed by hand; nothing where it was not."""
    if not edits.edits:
        return []
    kinds = Counter(edit.do for edit in edits.edits)
    words = ", ".join(f"{count} × {do}" for do, count in kinds.items())
    return [("edits", Finding("taken", f"changed by hand: {words}"))]


def start_of(answers: Answers, told: Sequence[tuple[str, Finding]], plan: Plan) -> EditStart:
    """Return a plan's nests and orders as a start of edits.

    Parameters
    ----------
    answers : list of (Group, Nest)
    told : sequence of (str, Finding)
        What the nest told.
    plan : Plan
        Made of these nests.
    """
    orders = {sheet.name: _order_of(sheet.order.steps) for sheet in plan.sheets}
    sheets = [
        SheetLaid(
            plate=nested.plate.id,
            sheet=nested.sheet,
            torches=group.lanes.torches,
            placements=tuple(
                (p.part.name, p.copy, p.pose.x, p.pose.y, p.pose.rotation_deg, p.pose.mirrored)
                for p in nested.placements
            ),
            order=orders[nested.name],
        )
        for group, nest in answers
        for nested in nest.plates
    ]
    stopped = [
        f"{group.data.thickness:g} mm {group.demands[0].grade}"
        for group, nest in answers
        if nest.statistics.get("stopped")
    ]
    return EditStart(
        sheets=tuple(sheets),
        unplaced=tuple(
            UnplacedRow(part=u.part, quantity=u.quantity, reason=u.reason)
            for _, nest in answers
            for u in nest.unplaced
        ),
        stopped=tuple(stopped),
        told=tuple((about, finding.message) for about, finding in told),
    )


def _order_of(steps: Sequence[Step]) -> tuple[CutRow, ...]:
    # Each contour of a chain has its own place in the order.
    single = [replace(step.cut, makes=(made,)) for step in steps for made in step.cut.makes]
    return tuple(cut_keys(single))
