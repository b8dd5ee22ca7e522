"""Outsides with tabs on a sheet: which parts get them, and where, as their neighbours leave room."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from cutplan.base.findings import Finding
from cutplan.cutting.leads import Lead
from cutplan.cutting.model import Cut, CuttingOptions, LeadChoice, Made, Tab
from cutplan.cutting.obstacles import Obstacles
from cutplan.cutting.part_cuts import ContourLeads, PartCuts
from cutplan.cutting.slender import is_slender, turns_between_sides
from cutplan.cutting.starts import PlacedContour, clear_starts
from cutplan.cutting.tabs import Seats, choose_seats, runs_between, seats_of, tabs_before
from cutplan.cutting.tabs_by_hand import Unmet, seats_by_hand
from cutplan.cutting.techniques import Tabs, tab_width
from cutplan.geometry import bounds, place
from cutplan.process import CutData
from cutplan.stock import NestedPlate, Placement

__all__ = ["Tabbed", "tabbed_outsides"]


@dataclass(frozen=True, eq=False)
class Tabbed:
    """The outsides of a sheet that are cut with tabs.

    Attributes
    ----------
    cuts : dict of int to list of Cut
        By placement, the runs of its outside.
    tabs : list of Tab
    findings : list of Finding
        Parts that get fewer tabs than asked for, or none.
    """

    cuts: dict[int, list[Cut]]
    tabs: list[Tab]
    findings: list[Finding]


@dataclass(frozen=True, eq=False)
class _Asked:
    """A placement that is to have tabs."""

    placement: int
    contour: ContourLeads
    seats: Seats
    count: int
    width: float
    in_turns: bool


def tabbed_outsides(
    sheet: NestedPlate,
    parts: Sequence[PartCuts],
    data: CutData,
    options: CuttingOptions,
    obstacles: Obstacles,
    untabbed: Collection[int] = (),
) -> Tabbed:
    """Return the outsides that are cut with tabs, where any are asked for.

    Parameters
    ----------
    sheet : NestedPlate
    parts : sequence of PartCuts
        Of each placement.
    data : CutData
    options : CuttingOptions
    obstacles : Obstacles
    untabbed : collection of int
        Placements whose runs between tabs found no clear starts: they get none, and it is told.
    """
    made = Tabbed({}, [], [])
    asked = list(_asked(sheet, parts, data, options, obstacles, made.findings))
    made.findings.extend(_without_starts(sheet, untabbed))
    asked = [each for each in asked if each.placement not in untabbed]
    placed = [
        PlacedContour(a.placement, a.contour, a.seats.field, sheet.placements[a.placement].pose)
        for a in asked
    ]
    short: dict[str, list[int]] = {}
    for a, on_plate, starts in zip(asked, placed, clear_starts(placed, obstacles, data), strict=True):
        placement = sheet.placements[a.placement]
        chosen, told = _chosen(a, on_plate, [start.lead for start in starts.clear], options)
        made.findings.extend(_not_met(told, placement))
        if len(chosen) < a.count:
            short.setdefault(placement.part.name, []).append(a.count - len(chosen))
        if not chosen:
            continue
        outside = Made(
            placement.part.name, placement.copy, a.placement, place(a.contour.torch.finished, on_plate.pose)
        )
        runs = runs_between(a.contour, a.seats, chosen, on_plate.pose, outside)
        made.cuts[a.placement] = list(_cuts(a, runs, outside))
        made.tabs.extend(tabs_before(a.contour, a.seats, chosen, on_plate.pose, outside, a.width))
    made.findings.extend(
        Finding(
            "warning",
            f"{sum(lost)} of the tabs of '{name}' find no place clear of corners, bend lines and "
            f"other parts, on {len(lost)} of its copies",
        )
        for name, lost in short.items()
    )
    return made


def _chosen(
    asked: _Asked, placed: PlacedContour, leads: Sequence[Lead], options: CuttingOptions
) -> tuple[list[list[Lead]], list[Unmet]]:
    """Return the leads behind the tabs of a placement, and which wishes cannot be met."""
    wanted = options.by_hand.tabs.get(asked.placement, ())
    barred = options.by_hand.no_tabs.get(asked.placement, ())
    torch = asked.contour.torch
    if wanted or barred:
        return seats_by_hand(torch, leads, asked.count, wanted, barred, placed.pose)
    return choose_seats(torch, leads, asked.count), []


def _not_met(told: Sequence[Unmet], placement: Placement) -> Iterator[Finding]:
    for words, at in told:
        yield Finding("refused", f"'{placement.part.name}' copy {placement.copy} {words}", at)


def _cuts(asked: _Asked, runs: Sequence[tuple[Made, tuple[LeadChoice, ...]]], outside: Made) -> Iterator[Cut]:
    """Yield the runs between tabs as cuts, those of a slender part with their turns."""
    turns: Sequence[int | None] = [None] * len(runs)
    if asked.in_turns:
        turns = turns_between_sides(outside.contour, [run.span for run, _ in runs if run.span is not None])
    for (run, choices), turn in zip(runs, turns, strict=True):
        yield Cut("outside", (run,), choices, turn=turn)


def _without_starts(sheet: NestedPlate, untabbed: Collection[int]) -> Iterator[Finding]:
    for index in sorted(untabbed):
        placement = sheet.placements[index]
        told = f"'{placement.part.name}' copy {placement.copy} gets no tabs: the runs between them "
        yield Finding("warning", told + "find no starts clear of what is cut before")


def _asked(
    sheet: NestedPlate,
    parts: Sequence[PartCuts],
    data: CutData,
    options: CuttingOptions,
    obstacles: Obstacles,
    findings: list[Finding],
) -> Iterator[_Asked]:
    """Yield the placements that are to have tabs, and say which cannot."""
    seats: dict[int, Seats] = {}
    told: set[str] = set()
    for index, (placement, cuts) in enumerate(zip(sheet.placements, parts, strict=True)):
        part = placement.part
        asked = options.of_parts.get(part.name, options.techniques)
        slender = is_slender(part)
        tabs = asked.tabs_of(slender=slender)
        here = len(options.by_hand.tabs.get(index, ()))
        if index in options.by_hand.untabbed and not here:
            continue
        by_hand = here and (tabs is None or index in options.by_hand.untabbed)
        tabs = Tabs(count=here) if by_hand else tabs
        outsides = [contour for contour in cuts.contours if contour.torch.kind == "outside"]
        if tabs is None or not outsides:
            continue
        contour = outsides[0]
        x0, y0, x1, y1 = bounds(part.outer)
        count = max(here, tabs.wanted(contour.torch.length, max(x1 - x0, y1 - y0)))
        if not count:
            continue
        reason = _barred(index, data, obstacles)
        if reason:
            if part.name not in told:
                findings.append(Finding("warning", f"'{part.name}' gets no tabs: {reason}"))
            told.add(part.name)
            continue
        width = tab_width(tabs, data)
        if id(contour) not in seats:
            seats[id(contour)] = seats_of(contour, part, width, count)
        yield _Asked(index, contour, seats[id(contour)], count, width, slender and asked.slender == "tabs")


def _barred(index: int, data: CutData, obstacles: Obstacles) -> str:
    """Return why a placement can have no tabs, an empty text where it can."""
    if data.thickness > data.rules.edge_start_above:
        return f"{data.thickness:g} mm plate is too thick to pierce behind each of them"
    if obstacles.hosts[index] is not None:
        return "it lies in a hole, whose slug falls with it"
    return ""
