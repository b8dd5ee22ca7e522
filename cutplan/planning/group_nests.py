"""From groups of parts to nests on the plates on offer, for one torch or for several side by side."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from cutplan.base.cleaning import file_stem
from cutplan.base.errors import JobError
from cutplan.base.findings import Finding
from cutplan.base.stopping import MaxSeconds
from cutplan.cutting import gaps_for, needs_marker
from cutplan.geometry import bounds, polygon
from cutplan.nesting import Demand, Nest, NestGaps, StripNest, Unplaced, nest, nest_strip
from cutplan.planning.cutting_wishes import cutting_options, gaps_of
from cutplan.planning.engine import Desk, Engine, Progress
from cutplan.planning.job import Job
from cutplan.planning.preparation import Group
from cutplan.planning.shared_blocks import lay_blocks
from cutplan.stock import (
    ONE_TORCH,
    Lanes,
    NestedPlate,
    Plate,
    in_bands,
    lane_plates,
    repeated,
    strip_width,
)

__all__ = ["as_plate", "nests_of", "overridden", "rules_of", "scattered_kits", "strips_of"]


def nests_of(
    groups: Sequence[Group], job: Job, tell: Progress, engine: Engine
) -> tuple[list[tuple[Group, Nest]], list[tuple[str, Finding]]]:
    """Nest group by group; groups that may lie on the same plates share them, none twice.

    A group for torches side by side comes back as two where some of its parts cannot be cut in
    step: what is left of its demands is nested for one torch.
    """
    sharing = _sharing(groups)
    tasks = [_NestTask(tuple(groups[n] for n in numbers), job) for numbers in sharing]
    results = engine.map(_nest_sharing, tasks, tell, searches=True)
    found: dict[int, _Nested] = {}
    findings: dict[int, list[tuple[str, Finding]]] = {}
    for numbers, task_results in zip(sharing, results, strict=True):
        for n, (came, nested, told) in zip(numbers, task_results, strict=True):
            found[n] = [_with_own_parts(each, came, groups[n]) for each in nested]
            findings[n] = told
    used: Counter[str] = Counter()
    copies: Counter[str] = Counter()
    order = range(len(groups))
    answers = [(each, _counted(nested, used, copies)) for n in order for each, nested in found[n]]
    told = [each for n in order for each in (*overridden(groups[n], job), *findings[n])]
    return answers, told


def _sharing(groups: Sequence[Group]) -> list[list[int]]:
    """Numbers of groups that may lie on the same plates, together; each list and they all in order."""
    sets: list[tuple[list[int], set[str]]] = []
    for n, group in enumerate(groups):
        ids = {plate.id for plate in group.plates}
        meeting = [each for each in sets if each[1] & ids]
        sets = [each for each in sets if not each[1] & ids]
        numbers = sorted([n, *(k for mine, _ in meeting for k in mine)])
        sets.append((numbers, ids.union(*(theirs for _, theirs in meeting))))
    return sorted(numbers for numbers, _ in sets)


@dataclass(frozen=True)
class _NestTask:
    """Groups that share plates, to be nested one after another."""

    groups: tuple[Group, ...]
    job: Job


def _nest_sharing(task: _NestTask, desk: Desk) -> list[tuple[Group, _Nested, list[tuple[str, Finding]]]]:
    used: Counter[str] = Counter()
    results = []
    for group in task.groups:
        found, told = _nested(group, task.job, desk, used)
        used.update(sheet.plate.id for _, nested in found for sheet in nested.plates)
        results.append((group, found, told))
    return results


def _with_own_parts(answer: tuple[Group, Nest], came: Group, group: Group) -> tuple[Group, Nest]:
    """Put the group's own parts and data in the place of the copies that came back from elsewhere."""
    if came is group:
        return answer
    own = {id(copy.part): demand.part for copy, demand in zip(came.demands, group.demands, strict=True)}
    found, nested = answer
    demands = tuple(replace(demand, part=own[id(demand.part)]) for demand in found.demands)
    sheets = []
    for sheet in nested.plates:
        placements = tuple(replace(placement, part=own[id(placement.part)]) for placement in sheet.placements)
        sheets.append(replace(sheet, placements=placements))
    return replace(found, data=group.data, demands=demands), replace(nested, plates=tuple(sheets))


_Nested = list[tuple[Group, Nest]]


def _nested(
    group: Group, job: Job, desk: Desk, used: Counter[str]
) -> tuple[_Nested, list[tuple[str, Finding]]]:
    """Nest one group on what is left of its plates, for torches side by side where that serves."""
    plates = _on_offer(group, used)
    if group.lanes == ONE_TORCH:
        return [_alone(group, plates, job, desk)], []
    lanes, side_by_side, rest, told = _side_by_side(group, job, desk, plates)
    taken = used + Counter(sheet.plate.id for sheet in side_by_side.plates)
    found: _Nested = [(replace(group, lanes=lanes), side_by_side)] if side_by_side.plates else []
    if rest:
        found.append(_alone(replace(group, demands=rest), _on_offer(group, taken), job, desk))
    if side_by_side.plates and _missing(found):
        single = [_alone(group, plates, job, desk)]
        if _missing(single) < _missing(found):
            words = f"planned for one torch of {group.lanes.torches}: in step not all of it fits the plates on offer"
            return single, [*told, (_about(group), Finding("warning", words))]
    return found, told


def _alone(group: Group, plates: Sequence[Plate], job: Job, desk: Desk) -> tuple[Group, Nest]:
    """Nest a group for one torch."""
    group = replace(group, lanes=ONE_TORCH)
    if plates:
        return group, _nest_group(replace(group, plates=tuple(plates)), job, desk)
    missing = tuple(Unplaced(d.part.name, d.quantity, "out of plate") for d in group.demands)
    return group, Nest((), missing)


def _missing(found: _Nested) -> int:
    """How many copies found no place, fillers left out."""
    fillers = {d.part.name for group, _ in found for d in group.demands if d.filler}
    return sum(u.quantity for _, nested in found for u in nested.unplaced if u.part not in fillers)


def _about(group: Group) -> str:
    return f"{group.data.thickness:g} mm {group.data.title}"


def _on_offer(group: Group, used: Counter[str]) -> tuple[Plate, ...]:
    left = (replace(plate, quantity=plate.quantity - used[plate.id]) for plate in group.plates)
    return tuple(plate for plate in left if plate.quantity > 0)


def _counted(nested: Nest, used: Counter[str], copies: Counter[str]) -> Nest:
    """Number sheets and copies on from those of the nests before."""
    sheets = []
    before = dict(used)
    for sheet in nested.plates:
        placements = []
        for placement in sheet.placements:
            copies[placement.part.name] += 1
            placements.append(replace(placement, copy=copies[placement.part.name]))
        number = sheet.sheet + before.get(sheet.plate.id, 0)
        sheets.append(NestedPlate(sheet.plate, number, tuple(placements)))
        used[sheet.plate.id] += 1
    return replace(nested, plates=tuple(sheets))


def _in_step(demands: Sequence[Demand], torches: int) -> list[Demand]:
    """Return what each torch cuts as often as the others."""
    each = (replace(demand, quantity=demand.quantity // torches) for demand in demands)
    return [demand for demand in each if demand.quantity]


def _side_by_side(
    group: Group, job: Job, desk: Desk, plates: Sequence[Plate]
) -> tuple[Lanes, Nest, tuple[Demand, ...], list[tuple[str, Finding]]]:
    """Nest what torches side by side cut in step, and return what is left for one alone."""
    lanes = group.lanes
    marked = [d.part.name for d in group.demands if needs_marker(d.part, group.data, cutting_options(job))]
    able = [demand for demand in group.demands if demand.part.name not in marked]
    each = _in_step(able, lanes.torches)
    strips = lane_plates(plates, lanes)
    about, told = _about(group), []
    if marked:
        words = f"cut by one torch of {lanes.torches}, since the marker stands beside one only: "
        told = [(about, Finding("warning", words + ", ".join(marked)))]
    if all(demand.filler for demand in each):
        each = []
    if each and not strips:
        words = (
            f"planned for one torch of {lanes.torches}: no plate is a whole rectangle that holds their lanes"
        )
        told.append((about, Finding("warning", words)))
    if not each or not strips:
        return lanes, Nest(()), group.demands, told
    lanes, in_lane = _in_lanes(replace(group, demands=tuple(each), plates=tuple(plates)), job, desk)
    whole = {plate.id: plate for plate in plates}
    sheets = tuple(repeated(lane, whole[lane.plate.id], lanes) for lane in in_lane.plates)
    placed = Counter(placement.part.name for sheet in sheets for placement in sheet.placements)
    rest = []
    for demand in group.demands:
        quantity = demand.quantity - min(placed[demand.part.name], demand.quantity)
        placed[demand.part.name] -= demand.quantity - quantity
        if quantity:
            rest.append(replace(demand, quantity=quantity))
    return lanes, replace(in_lane, plates=sheets, unplaced=()), tuple(rest), told


def _in_lanes(group: Group, job: Job, desk: Desk) -> tuple[Lanes, Nest]:
    """Nest what the first torch cuts, in as many bands as takes the fewest plates, and those bands."""
    best: tuple[tuple[int, int], Lanes, Nest] | None = None
    for lanes in _banded(group):
        strips = replace(group, plates=lane_plates(group.plates, lanes))
        nested = _nest_group(strips, job, desk, refuse_large=False)
        nested = replace(nested, plates=tuple(in_bands(nested.plates, lanes)))
        rank = sum(item.quantity for item in nested.unplaced), len(nested.plates)
        if best is None or rank < best[0]:
            best = rank, lanes, nested
    assert best is not None
    return best[1], best[2]


def _banded(group: Group) -> list[Lanes]:
    """Return the ways in which torches may go across the plates: in one band, or in as many as have room."""
    boxes = [bounds(demand.part.outer) for demand in group.demands]
    narrowest = min(min(x1 - x0, y1 - y0) for x0, y0, x1, y1 in boxes)
    widest = max(y1 - y0 for _, y0, _, y1 in (bounds(plate.outline) for plate in group.plates))
    ways = [
        way
        for bands in range(2, 2 + int(widest // group.lanes.band_mm))
        if any(
            strip_width(plate, way := replace(group.lanes, bands=bands)) >= narrowest
            for plate in group.plates
        )
    ]
    return [group.lanes, *ways[-2:]]


def strips_of(
    groups: Sequence[Group], job: Job, width: float, tell: Progress, engine: Engine
) -> list[tuple[Group, StripNest]]:
    """Answer for each group how long a plate of a width must be ordered for it."""
    tasks = [_StripTask(group, job, width) for group in groups]
    return list(zip(groups, engine.map(_strip, tasks, tell, searches=True), strict=True))


@dataclass(frozen=True)
class _StripTask:
    """A group to be laid on a strip."""

    group: Group
    job: Job
    width: float


def _strip(task: _StripTask, desk: Desk) -> StripNest:
    group, job = task.group, task.job
    stage = f"nesting {group.data.thickness:g} mm {group.demands[0].grade}"
    desk.tell(stage, None)
    return nest_strip(
        group.demands,
        task.width,
        rules_of(group, job),
        seed=job.seed,
        stop=MaxSeconds(job.nesting.seconds) if job.nesting.seconds else None,
        workers=desk.threads,
        progress=lambda what, done, total, best: desk.look_up(),
    )


def as_plate(group: Group, strip: StripNest) -> NestedPlate:
    """Return a plate as it would be ordered, with what lies on it.

    Parameters
    ----------
    group : Group
        What was nested.
    strip : StripNest
        How.

    Returns
    -------
    NestedPlate
    """
    length, demand = math.ceil(strip.length), group.demands[0]
    corners = [(0.0, 0.0), (length, 0.0), (length, strip.width), (0.0, strip.width)]
    words = f"{demand.thickness:g}mm-{demand.grade}-{group.data.title}"
    name = file_stem(words)
    plate = Plate(name, polygon(corners), demand.thickness, demand.grade, group.data.material)
    return NestedPlate(plate, 1, strip.placements)


def rules_of(group: Group, job: Job) -> NestGaps:
    """Gaps of the process, wider where the job says so."""
    return gaps_of(group.data, job, lanes=group.lanes != ONE_TORCH)


def overridden(group: Group, job: Job) -> list[tuple[str, Finding]]:
    """Tell where the process needs a wider gap or edge than the job asks for."""
    room, asked = gaps_for(group.data), job.nesting
    told = []
    for key, wish, needed in (("gap", asked.gap, room.gap), ("edge", asked.edge, room.edge)):
        if wish is not None and wish < needed:
            words = f"[nesting] {key} = {wish:g} is less than the process needs here: {needed:g} mm is kept"
            told.append((_about(group), Finding("warning", words)))
    return told


def _nest_group(group: Group, job: Job, desk: Desk, *, refuse_large: bool = True) -> Nest:
    data = group.data
    asked = group.demands[0].grade
    stage = f"nesting {data.thickness:g} mm {asked}"

    def told(what: str, done: int, total: int, best: float) -> None:
        if total:
            desk.tell(stage, done / total)
        else:
            desk.tell(f"{stage}: making it tighter, round {done}", None)
            desk.look_up()

    # The nest knows one grade; plates of another serve, and keep their own name.
    own = {plate.id: plate.grade for plate in group.plates}

    def laid(demands: Sequence[Demand]) -> Nest:
        return nest(
            demands,
            [replace(plate, grade=asked) for plate in group.plates],
            rules_of(group, job),
            seed=job.seed,
            stop=MaxSeconds(job.nesting.seconds) if job.nesting.seconds else None,
            workers=desk.threads,
            progress=told,
        )

    nested = _nest_blocks(group, job, laid)
    for item in nested.unplaced:
        if refuse_large and item.reason.startswith("too large"):
            raise JobError(
                f"part {item.part!r} is {item.reason}",
                where=str(job.file),
                remedy="offer a larger plate, within the table's travel, allow more rotations, "
                "let it be split ([splices]), or take the part out",
            )
    sheets = tuple(
        replace(sheet, plate=replace(sheet.plate, grade=own[sheet.plate.id])) for sheet in nested.plates
    )
    return replace(nested, plates=sheets)


def _nest_blocks(group: Group, job: Job, laid: Callable[[Sequence[Demand]], Nest]) -> Nest:
    """Nest a group, parts that share cuts in blocks; part by part where a block finds no place."""
    wishes = {
        d.part.name: group.of_parts.get(d.part.name, job.techniques).shared_asked for d in group.demands
    }
    shared = {name: wish for name, wish in wishes.items() if wish is not None}
    data = group.data
    if not shared or data.rules.square_side != "both" or data.thickness > data.rules.edge_start_above:
        return laid(group.demands)
    blocks = lay_blocks(group.demands, shared, group.plates, data.kerf)
    nested = blocks.taken_apart(laid(blocks.demands))
    if not nested.unplaced or not blocks.members:
        return nested
    single = laid(group.demands)

    def missing(found: Nest) -> tuple[int, int]:
        return sum(item.quantity for item in found.unplaced), len(found.plates)

    return min(nested, single, key=missing)


def scattered_kits(answers: Sequence[tuple[Group, Nest]]) -> list[tuple[str, Finding]]:
    """Tell which kits come off more than one sheet, so that their parts are held together."""
    kits: dict[str, dict[str, None]] = {}
    for group, nested in answers:
        kit_of = {demand.part.name: demand.kit for demand in group.demands}
        for sheet in nested.plates:
            for kit in {kit_of[placement.part.name] for placement in sheet.placements} - {None}:
                kits.setdefault(str(kit), {})[f"{sheet.plate.id}-{sheet.sheet}"] = None
    return [
        (f"kit {kit}", Finding("warning", f"comes off {', '.join(sheets)}: hold its parts until the last"))
        for kit, sheets in sorted(kits.items())
        if len(sheets) > 1
    ]
