"""Parts longer than every plate, split where the job allows it; where it does not they are refused with the rule.

The places are searched in `cutplan.nesting.best_splits`, the pieces made by `cutplan.drawing.split_part`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from pydantic import ValidationError

from cutplan.base.errors import CutplanError
from cutplan.base.findings import Finding
from cutplan.drawing import (
    PartSplices,
    Rule,
    Splices,
    Split,
    barred_stretches,
    extent_along,
    long_direction,
    open_stretches,
    split_part,
)
from cutplan.nesting import LongPart, NestGaps, PlateRows, best_splits, plate_rows, splits_of
from cutplan.planning.cutting_wishes import gaps_of
from cutplan.planning.entries import WantedEntry
from cutplan.planning.intake import Intake, Wanted
from cutplan.planning.job import Job
from cutplan.planning.rolling import rolling_direction
from cutplan.process import CutData
from cutplan.stock import Plate, shortfall

__all__ = ["split_long_parts"]

# How far off an axis of the plate a part counts as along it, degrees.
ALONG_DEG = 0.5
FIT = 1e-6
# Rules in the order in which they are tried for what stands in the way, and their keys.
TRIED: tuple[Rule, ...] = ("zones", "clearance", "bend_clearance")


@dataclass(frozen=True)
class _Long:
    """A part longer than every plate, how it is to be split and what the plates offer it."""

    wanted: Wanted
    rules: PartSplices
    direction_deg: float
    length: float
    rows: tuple[PlateRows, ...]
    between: float

    @property
    def name(self) -> str:
        return self.wanted.part.name

    def problem(self, without: Sequence[Rule] = (), **other: float) -> LongPart:
        """Return it for the search; `without` leaves rules out, `other` gives other values."""
        rules = self.rules
        barred = barred_stretches(self.wanted.part, self.direction_deg, rules)
        opened = open_stretches(barred, self.length, without)
        if rules.at:
            opened = [(at, at) for at in rules.at if any(a - FIT <= at <= b + FIT for a, b in opened)]
        given = LongPart(
            self.name,
            self.length,
            tuple(opened),
            self.rows,
            self.wanted.quantity,
            rules.gap,
            self.between,
            rules.least_piece,
            len(rules.at) or rules.most,
            rules.beam or "",
            rules.member,
            rules.offset,
            rules.stagger,
            len(rules.at) or 1,
        )
        return replace(given, **other)  # type: ignore[arg-type]


def split_long_parts(
    intake: Intake, plates: Sequence[Plate], job: Job, data_of: Callable[[Wanted], CutData]
) -> None:
    """Put pieces in place of the parts that are longer than every plate, where the job allows it.

    Parameters
    ----------
    intake : Intake
        Its parts wanted are changed, and what was done or cannot be is noted.
    plates : sequence of Plate
        On offer.
    job : Job
    data_of : callable
        The cutting data of a part wanted; parts for which it raises are left as they are.
    """
    long = [found for each in intake.wanted if (found := _long(each, plates, job, data_of, intake))]
    if not long:
        return
    if job.reopen:
        _ask_for_places(long, intake)
    splits = best_splits([each.problem() for each in long])
    pieces: dict[str, list[Wanted]] = {}
    for each in long:
        if each.name not in splits:
            intake.take(each.name, [_refusal(each, splits, long)])
            continue
        pieces[each.name] = _pieces(each, splits[each.name], job)
        intake.take(each.name, [_told(each, splits[each.name], pieces[each.name])])
        if not job.machine.marker and each.rules.fit_up_mm:
            words = "the machine has no marker: the lines for fit-up are left out"
            intake.take(each.name, [Finding("warning", words)])
    intake.wanted = [piece for each in intake.wanted for piece in pieces.get(each.part.name, [each])]


def _ask_for_places(long: Sequence[_Long], intake: Intake) -> None:
    """Ask where parts were split when some of their pieces may be cut already: plates may be others now."""
    for each in long:
        if not each.rules.at:
            told = "some of its pieces may be cut already, and other plates may split it elsewhere"
            remedy = "say where it was split, as joints.csv has it: splice = { at = [...] }"
            intake.take(each.name, [Finding("question", told, None, remedy, "splices")])


def _long(
    wanted: Wanted, plates: Sequence[Plate], job: Job, data_of: Callable[[Wanted], CutData], intake: Intake
) -> _Long | None:
    """Return what is to be split of a part wanted; None where it fits, or is not to be split."""
    entry, part = wanted.entry, wanted.part
    try:
        rules = _rules(entry, job)
        if rules is None:
            return None
        gaps = gaps_of(data_of(wanted), job)
    except ValidationError as problem:
        words = "; ".join(str(error["msg"]).removeprefix("Value error, ") for error in problem.errors())
        intake.take(
            part.name, [Finding("refused", f"its splices: {words}", None, "mend the keys", "splices")]
        )
        return None
    except CutplanError:
        # Told where the cutting data are looked up.
        return None
    serving = [
        p for p in plates if p.thickness == wanted.thickness and shortfall(p.grade, wanted.grade) is None
    ]
    direction = long_direction(part)
    _, length, height = extent_along(part, direction)
    rows: list[PlateRows] = []
    for plate in serving:
        rows += _best_rows(plate, wanted, direction, height, gaps)
        if any(row.length + FIT >= length for row in rows):
            return None
    if not rows:
        return None
    return _Long(wanted, rules, direction, length, tuple(rows), gaps.gap)


def _rules(entry: WantedEntry, job: Job) -> PartSplices | None:
    """Return how a part may be split, its own keys over the job's; None where it may not."""
    if entry.splice is False or (entry.splice is None and job.splices is None):
        return None
    own = entry.splice if isinstance(entry.splice, PartSplices) else PartSplices()
    return own.over(job.splices or Splices())


def _best_rows(
    plate: Plate, wanted: Wanted, direction: float, height: float, gaps: NestGaps
) -> list[PlateRows]:
    """Return the rows of a plate along the axis that gives the longest of those a part may lie along."""
    found = [plate_rows(plate, gaps, height, axis) for axis in _axes(plate, wanted, direction)]
    return max(found, key=lambda rows: rows[0].length if rows else 0.0, default=[])


def _axes(plate: Plate, wanted: Wanted, direction: float) -> list[Literal["x", "y"]]:
    """Return the axes of a plate that a part's length may lie along."""
    entry, axes = wanted.entry, list[Literal["x", "y"]]()
    rolled = rolling_direction(entry, wanted.part)
    for axis, turned in (("x", 0.0), ("y", 90.0)):
        angles = entry.rotations_deg
        turns = [turned - direction, turned - direction + 180.0] if angles is None else angles
        along = [turn for turn in turns if _same_line(direction + turn, turned)]
        if rolled is not None:
            rolling = 0.0 if plate.rolling_direction == "x" else 90.0
            along = [turn for turn in along if _same_line(rolled + turn, rolling)]
        if along:
            axes.append(axis)  # type: ignore[arg-type]
    return axes


def _same_line(one_deg: float, other_deg: float) -> bool:
    return abs(math.remainder(one_deg - other_deg, 180.0)) <= ALONG_DEG


def _pieces(each: _Long, splices: tuple[float, ...], job: Job) -> list[Wanted]:
    """Return the pieces of a part as wanted; the way it lies to the rolling is that of the whole."""
    rules, wanted = each.rules, each.wanted
    split = Split(
        of=each.name,
        length_mm=each.length,
        splices_mm=splices,
        gap_mm=rules.gap,
        direction_deg=each.direction_deg,
        fit_up_mm=rules.fit_up_mm,
        preparation=rules.preparation,
        beam=rules.beam or "",
        offset_mm=rules.offset,
    )
    rolled = rolling_direction(wanted.entry, wanted.part)
    entry = wanted.entry.model_copy(update={"rolling_direction": rolled})
    pieces = split_part(wanted.part, split)
    if not job.machine.marker:
        pieces = tuple(replace(piece, marks=(), texts=()) for piece in pieces)
    return [replace(wanted, entry=entry, part=piece) for piece in pieces]


def _told(each: _Long, splices: tuple[float, ...], pieces: Sequence[Wanted]) -> Finding:
    longest = each.problem().longest
    places = ", ".join(f"{at:.1f}" for at in splices)
    names = ", ".join(piece.part.name for piece in pieces)
    words = f"{each.length:.1f} mm long, plates take {longest:.1f}: split at {places} mm into {names}"
    return Finding("taken", words, topic="splices")


def _refusal(each: _Long, splits: dict[str, tuple[float, ...]], long: Sequence[_Long]) -> Finding:
    """Name the rule that leaves a part without a split."""
    rules, problem = each.rules, each.problem()
    head = f"it is {each.length:.1f} mm long, plates take {problem.longest:.1f}, and no split keeps its rules"
    named = {
        "zones": f"zones = {[list(zone) for zone in rules.zones]}",
        "clearance": f"clearance = {rules.clearance:g} from holes, cut-outs and corners",
        "bend_clearance": f"bend_clearance = {rules.bend_clearance:g}",
    }
    if rules.at:
        head += f" at {', '.join(f'{at:g}' for at in rules.at)} mm"
    guilty = [named[rule] for rule in TRIED if splits_of(each.problem([rule]))]
    if not guilty and splits_of(each.problem(least=0.0)):
        guilty = [f"least_piece = {rules.least_piece:g}"]
    if not guilty and splits_of(each.problem(most=99)):
        guilty = [f"most = {rules.most}"]
    if splits_of(problem):
        others = ", ".join(o.name for o in long if o.rules.beam == rules.beam and o.name != each.name)
        guilty = [f"stagger = {rules.stagger:g} to the splices of {others}"]
    if guilty:
        told = f"{head}: {' or '.join(guilty)} stands in the way"
    elif splits_of(each.problem(TRIED, least=0.0, most=99)):
        told = f"{head}: zones, clearances and least_piece = {rules.least_piece:g} together leave no place"
    else:
        told = f"{head}: nowhere along it does a line across meet the outline squarely, twice and off holes"
    remedy = "ease the rule in [splices] or in the part, or offer a longer plate"
    return Finding("refused", told, None, remedy, "splices")
