"""Which leads of a contour are clear of everything else on its sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.leads import LEAST_METAL, Lead
from cutplan.cutting.obstacles import NOTHING, Obstacles, points_of, strings
from cutplan.cutting.part_cuts import LEAD_POINTS, ContourLeads, LeadField
from cutplan.geometry import FloatArray, Pose, place_points
from cutplan.process import CutData

__all__ = ["PlacedContour", "Start", "Starts", "Turns", "clear_starts"]


@dataclass(frozen=True, eq=False)
class PlacedContour:
    """One contour of one placement, with the leads to choose from and where they are placed."""

    placement: int
    contour: ContourLeads
    leads: LeadField
    pose: Pose


@dataclass(frozen=True, eq=False)
class Start:
    """A lead that is clear on the sheet.

    Attributes
    ----------
    lead : Lead
    depart : bool
        Whether its lead-out is clear too.
    before : frozenset of int
        Placements that must be cut later: near their kerf the start would not be clear.
    """

    lead: Lead
    depart: bool
    before: frozenset[int] = frozenset()


@dataclass(eq=False)
class Starts:
    """The starts of a contour, at most one a station, and what stood in the way of the others.

    `clear` ones may come at any time, `early` ones only before some other placements.
    """

    clear: list[Start] = field(default_factory=list)
    early: list[Start] = field(default_factory=list)
    blocked_by: list[int] = field(default_factory=list)

    def add(self, more: Starts) -> None:
        """Take in what a wider search found."""
        self.clear += more.clear
        self.early += more.early
        self.blocked_by += more.blocked_by


def clear_starts(
    contours: Sequence[PlacedContour], obstacles: Obstacles, data: CutData, *, over_edge: bool = False
) -> list[Starts]:
    """Return the clear starts of each contour.

    A pierce keeps its clearance from other parts, the plate's edge, keep-outs and the kerfs
    around other parts, as if all of them were cut before; a lead stays out of those kerfs.

    Parameters
    ----------
    contours : sequence of PlacedContour
    obstacles : Obstacles
    data : CutData
    over_edge : bool
        The approaches come in over the plate's edge, without a pierce.
    """
    margin = 0.5 * data.kerf + LEAST_METAL
    clearance = margin if over_edge else max(data.rules.pierce_clearance, margin)
    approaches, owners = _placed(contours, [contour.leads.approaches for contour in contours])
    departures, leavers = _placed(contours, [contour.leads.departures for contour in contours])
    ways, pierces = strings(approaches), points_of(approaches[:, 0])
    in_way = obstacles.near(ways, owners, margin, edge_clearance=None if over_edge else margin)
    away = obstacles.near(strings(departures), leavers, margin, edge_clearance=margin)
    near_pierce = obstacles.near(pierces, owners, clearance, edge_clearance=None if over_edge else clearance)
    in_way = np.where(in_way == NOTHING, near_pierce, in_way)
    before: dict[int, set[int]] = {}
    if not over_edge:
        for geometries, reach in ((ways, margin + data.kerf), (pierces, clearance + data.kerf)):
            rows, placements = obstacles.kerfs_near(geometries, owners, reach)
            for row, placement in zip(rows.tolist(), placements.tolist(), strict=True):
                before.setdefault(row, set()).add(placement)
    made = []
    first, first_departure = 0, 0
    for contour in contours:
        rows_of = range(first, first + len(contour.leads.leads))
        out = slice(first_departure, first_departure + len(contour.leads.departures))
        made.append(_starts(contour.leads, rows_of, in_way, before, away[out]))
        first, first_departure = rows_of.stop, out.stop
    return made


def _placed(
    contours: Sequence[PlacedContour], points: list[FloatArray]
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return lead points of all contours on the plate, and the placement of each row."""
    placed = [
        place_points(p.reshape(-1, 2), contour.pose).reshape(p.shape)
        for contour, p in zip(contours, points, strict=True)
    ]
    owners = np.repeat([contour.placement for contour in contours], [len(p) for p in points]).astype(np.int64)
    return np.concatenate([np.zeros((0, LEAD_POINTS, 2)), *placed]), owners


def _starts(
    found: LeadField,
    rows: range,
    in_way: NDArray[np.int64],
    before: Mapping[int, set[int]],
    away: NDArray[np.int64],
) -> Starts:
    starts = Starts()
    clear: set[int] = set()
    early: dict[int, Start] = {}
    for row, lead, leaving in zip(rows, found.leads, found.leaving.tolist(), strict=True):
        if lead.station in clear:
            continue
        if in_way[row] != NOTHING:
            starts.blocked_by.append(int(in_way[row]))
            continue
        start = Start(lead, bool(leaving >= 0 and away[leaving] == NOTHING), frozenset(before.get(row, ())))
        if not start.before:
            clear.add(lead.station)
            starts.clear.append(start)
        elif lead.station not in early or len(start.before) < len(early[lead.station].before):
            early[lead.station] = start
    starts.early = [start for station, start in early.items() if station not in clear]
    return starts


class Turns:
    """Which placements must be cut before which, so that starts which need it stay clear.

    Parameters
    ----------
    hosts : sequence of int or None
        For each placement the one in whose hole it lies, which is cut after it.
    """

    def __init__(self, hosts: Sequence[int | None]) -> None:
        self._later: dict[int, set[int]] = {
            placement: {host} for placement, host in enumerate(hosts) if host is not None
        }

    def starts_of(self, placement: int, starts: Starts) -> tuple[list[Start], tuple[int, ...]]:
        """Return the starts to offer, and the placements that must be cut after them.

        Those are none where any start is clear at all times; else those of the start that
        asks for the fewest, if that goes round in no circle with what was asked before.
        """
        if starts.clear:
            return starts.clear, ()
        for before in sorted({start.before for start in starts.early}, key=lambda b: (len(b), sorted(b))):
            if not any(self._comes_before(other, placement) for other in before):
                self._later.setdefault(placement, set()).update(before)
                return [s for s in starts.early if s.before <= before], tuple(sorted(before))
        return [], ()

    def _comes_before(self, first: int, then: int) -> bool:
        seen, rest = {first}, [first]
        while rest:
            here = rest.pop()
            if here == then:
                return True
            fresh = self._later.get(here, set()) - seen
            seen |= fresh
            rest += fresh
        return False
