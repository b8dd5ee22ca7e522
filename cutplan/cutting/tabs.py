"""Tabs: where an outside may be left uncut, and the runs of the torch between them.

The torch goes out before a tab and is lit again behind it, from scrap, on a way that comes
square to the edge or leans away from the tab: so neither kerf nor slag touches the metal left.

Terminology
-----------
tab : a stretch of an outside that is left uncut.
gap : along the torch contour, from where a run ends to where the next begins.  The kerf's round
    ends take half a kerf of it each, so the narrowest metal is the ends' distance less a kerf.
seat : a place of the torch contour where a run may begin behind a tab.
run : what is cut from behind one tab to before the next.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.feeds import path_spans
from cutplan.cutting.lead_shapes import straight
from cutplan.cutting.leads import ROUNDING, Draft, Lead, finished_leads, lead_sizes
from cutplan.cutting.model import FeedSpan, LeadChoice, Made, Tab
from cutplan.cutting.part_cuts import ContourLeads, LeadField, lead_field
from cutplan.cutting.stations import Station, stations_at
from cutplan.cutting.torch import TorchContour
from cutplan.drawing import Part
from cutplan.geometry import (
    FloatArray,
    Path,
    Pose,
    direction_at,
    distance,
    nearest,
    place,
    place_points,
    point_at,
    subpath,
)
from cutplan.process import CutData

BoolArray = NDArray[np.bool_]

__all__ = ["SHAPES", "Seats", "choose_seats", "runs_between", "seats_of", "tabs_before"]

# Seats looked at for each tab, and at most for a contour.
SEATS_PER_TAB, MOST_SEATS = 24, 240
# From a tab to a sharp corner, and to where a bend line meets the edge, at least so many
# thicknesses: the corner's heat, and the pull of the bend, would be the tab's (common practice).
CORNER_THICKNESSES, BEND_THICKNESSES = 1.0, 3.0
# The edge turns by no more than this along a tab, rad: its ends are then cut alike.
MOST_TURN = math.radians(20.0)
# A tab may stand this share of the even distance off its even place.
MOST_OFF = 0.4
# Phases in which evenly spread tabs are tried.
PHASES = 12
# Places along the kerfs beside a tab whose distance from each other is looked at, and how far
# from the tab, in gaps.
LOOKED_AT, LOOKED_FAR = 24, 3.0
GAP_PASSES = 20
# Ways to a seat; seats and ways are numbered together.
SHAPES = 6


@dataclass(frozen=True, eq=False)
class Seats:
    """Where tabs may sit on one torch contour.

    Attributes
    ----------
    field : LeadField
        Leads that begin a run behind a tab, `SHAPES` numbers for each seat.
    at : dict of int to float
        By seat, where the run begins on the torch contour, mm.
    before : dict of int to float
        By seat, where the run before it ends, mm.
    """

    field: LeadField
    at: dict[int, float]
    before: dict[int, float]


def seats_of(contour: ContourLeads, part: Part, width: float, count: int) -> Seats:
    """Return where tabs of a width may sit on an outside.

    Parameters
    ----------
    contour : ContourLeads
        Of the outside.
    part : Part
    width : float
        Of the metal left, mm.
    count : int
        How many tabs are wanted.

    Returns
    -------
    Seats
        None at corners, bend lines, in sharp curves or on edges to be kept clean; their leads keep
        off the part itself.
    """
    torch, data = contour.torch, contour.data
    chord = width + data.kerf
    offers = min(MOST_SEATS, SEATS_PER_TAB * count, max(1, int(torch.length / (0.5 * chord))))
    at = torch.length * np.arange(offers) / offers
    gap = _gaps(torch, at, chord)
    fine = _off_corners(torch, at, gap, data) & _off_bends(torch, at, gap, part, data)
    fine &= _keeps_straight(torch, at, gap) & _off_kept(torch, at, gap)
    at, gap = at[fine], gap[fine]
    stations = stations_at(torch, at.tolist(), [False] * len(at))
    drafts = [
        Draft(SHAPES * seat + shape, station, approach)
        for seat, station in enumerate(stations)
        for shape, approach in enumerate(_approaches(station, torch, data, chord))
        if _leaves_metal(torch, at[seat], gap[seat], approach, chord)
    ]
    sizes = lead_sizes(torch, data)
    leads = [
        replace(lead, departure=None, lead_out=0.0)
        for lead in finished_leads(torch, data, drafts, sizes.clearance)
        if lead.lead_in >= data.moving_pierce_mm - ROUNDING
    ]
    return Seats(
        lead_field(leads),
        {seat: float(value) for seat, value in enumerate(at)},
        {seat: float(value) for seat, value in enumerate((at - gap) % torch.length)},
    )


def _gaps(torch: TorchContour, at: FloatArray, chord: float) -> FloatArray:
    """Return how far along the contour the run before must end for the ends to be a chord apart."""
    gap = np.full(len(at), chord)
    ends = point_at(torch.path, at)
    for _ in range(GAP_PASSES):
        apart = np.hypot(*(point_at(torch.path, (at - gap) % torch.length) - ends).T)
        gap = np.minimum(gap * chord / np.maximum(apart, 1e-9), 0.5 * torch.length)
    return gap


def _off_corners(torch: TorchContour, at: FloatArray, gap: FloatArray, data: CutData) -> BoolArray:
    """Return which seats keep off sharp corners, the tab and its leads taken together."""
    room = CORNER_THICKNESSES * data.thickness + lead_sizes(torch, data).depth(torch.radius)
    fine = np.ones(len(at), dtype=np.bool_)
    for corner in torch.corners:
        # How far behind the corner's start the seat lies, round the contour.
        past = (at - corner.start) % torch.length
        size = corner.end - corner.start
        fine &= (past >= size + gap + room) & (past <= torch.length - room)
    return fine


def _off_bends(torch: TorchContour, at: FloatArray, gap: FloatArray, part: Part, data: CutData) -> BoolArray:
    """Return which seats keep off the places where bend lines meet the edge."""
    fine = np.ones(len(at), dtype=np.bool_)
    middle = point_at(torch.path, (at - 0.5 * gap) % torch.length)
    for bend in part.bends:
        for end in (bend.start, bend.end):
            away = np.hypot(*(middle - np.asarray(end)).T)
            fine &= away >= BEND_THICKNESSES * data.thickness + 0.5 * gap + torch.radius
    return fine


def _off_kept(torch: TorchContour, at: FloatArray, gap: FloatArray) -> BoolArray:
    """Return which seats keep off edges that the next operation needs clean: welded, bevelled or seen."""
    fine = np.ones(len(at), dtype=np.bool_)
    for edge in torch.kept:
        for share in (0.0, 0.5, 1.0):
            away = distance(edge, point_at(torch.path, (at - share * gap) % torch.length))
            fine &= away > torch.radius + ROUNDING
    return fine


def _keeps_straight(torch: TorchContour, at: FloatArray, gap: FloatArray) -> BoolArray:
    """Return at which seats the torch contour hardly turns along the tab, and runs beside the edge."""
    ahead = direction_at(torch.path, at)
    fine = gap < 0.25 * torch.length
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        places = (at - share * gap) % torch.length
        turned = np.sum(direction_at(torch.path, places) * ahead, axis=1)
        away = distance(torch.finished, point_at(torch.path, places))
        fine &= (turned >= math.cos(MOST_TURN)) & (away <= torch.radius + ROUNDING)
    return fine


def _approaches(station: Station, torch: TorchContour, data: CutData, chord: float) -> list[FloatArray]:
    """Return straight ways to a seat, square or leaning away from the tab, the best first.

    Every pierce keeps its clearance from the end of the run before the tab as well.
    """
    sizes = lead_sizes(torch, data)
    depth = sizes.depth(torch.radius)
    long = max(depth, sizes.lead_in, data.moving_pierce_mm)
    off_kerf = data.rules.pierce_clearance + torch.radius + 2.0 * ROUNDING
    ways = []
    for deep in (long, 0.5 * (long + depth), depth):
        lean = max(0.0, math.sqrt(max(off_kerf**2 - deep**2, 0.0)) - chord)
        lean = max(lean, math.sqrt(max(data.moving_pierce_mm**2 - deep**2, 0.0)))
        for more in (lean, lean + 0.5 * deep):
            start = station.point + deep * station.scrap + more * station.tangent
            ways.append(straight(start, station.point))
    return ways


def _leaves_metal(torch: TorchContour, at: float, gap: float, approach: FloatArray, chord: float) -> bool:
    """Return whether the kerfs on the two sides of a tab come nowhere nearer than at its neck."""
    reach = LOOKED_FAR * chord
    ahead = np.linspace(0.0, min(reach, 0.25 * torch.length), LOOKED_AT)
    before = point_at(torch.path, (at - gap - ahead) % torch.length)
    behind = point_at(torch.path, (at + ahead) % torch.length)
    share = np.linspace(0.0, 1.0, LOOKED_AT)[:, None]
    lead = approach[1, :2] + share * (approach[0, :2] - approach[1, :2])
    others = np.vstack([behind, lead])
    apart = np.hypot(*(before[:, None] - others[None]).transpose(2, 0, 1))
    return bool(apart.min() >= chord - 1e-6)


def choose_seats(torch: TorchContour, clear: Sequence[Lead], count: int) -> list[list[Lead]]:
    """Return the clear leads behind `count` tabs, spread as evenly along the contour as they can be.

    Parameters
    ----------
    torch : TorchContour
    clear : sequence of Lead
    count : int

    Returns
    -------
    list of list of Lead
        Those of each seat, seats in the order of travel; fewer where no clear seat lies near an
        even place.
    """
    by_seat: dict[int, list[Lead]] = {}
    for lead in clear:
        by_seat.setdefault(lead.station // SHAPES, []).append(lead)
    best: list[list[Lead]] = []
    # A seat with few ways in may lose them to a neighbour's leads: those with room come first.
    for least in (SHAPES, 2, 1):
        roomy = [leads for leads in by_seat.values() if len(leads) >= least]
        found = _spread(torch, roomy, count) if roomy else []
        if len(found) > len(best):
            best = found
    return best


def _spread(torch: TorchContour, seats: list[list[Lead]], count: int) -> list[list[Lead]]:
    """Return the seats nearest to evenly spread places, in the order of travel."""
    places = np.array([leads[0].at for leads in seats])
    even = torch.length / count
    best: tuple[int, float, list[int]] = (0, -math.inf, [])
    for phase in range(PHASES):
        targets = (np.arange(count) + phase / PHASES) * even
        apart = np.abs(places[None] - targets[:, None])
        off = np.minimum(apart, torch.length - apart)
        near = off.min(axis=1) <= (MOST_OFF * even if count > 1 else torch.length)
        found = sorted(set(off.argmin(axis=1)[near].tolist()), key=lambda i: places[i])
        rank = (len(found), -float((off.min(axis=1)[near] ** 2).sum()), found)
        best = max(best, rank, key=lambda r: r[:2])
    return [seats[i] for i in best[2]]


def runs_between(
    contour: ContourLeads, seats: Seats, chosen: Sequence[Sequence[Lead]], pose: Pose, made: Made
) -> list[tuple[Made, tuple[LeadChoice, ...]]]:
    """Return the runs between chosen tabs, on the plate: what each makes, and its ways in.

    Parameters
    ----------
    contour : ContourLeads
    seats : Seats
    chosen : sequence of sequence of Lead
        Behind each tab, in the order of travel.
    pose : Pose
    made : Made
        The whole outside, placed.
    """
    torch = contour.torch
    runs = []
    for leads, following in zip(chosen, [*chosen[1:], chosen[0]], strict=True):
        start = leads[0].at
        size = (seats.before[following[0].station // SHAPES] - start) % torch.length
        stretch = subpath(torch.path, start, start + size)
        choices = tuple(_choice(contour, lead, stretch, size, pose) for lead in leads)
        runs.append((replace(made, span=_span(torch, start, start + size)), choices))
    return runs


def _choice(contour: ContourLeads, lead: Lead, stretch: Path, size: float, pose: Pose) -> LeadChoice:
    path = place(Path(np.vstack([lead.approach[:1], stretch.vertices]), closed=False), pose)
    return LeadChoice(
        path=path,
        pierce=(float(path.start[0]), float(path.start[1])),
        end=(float(path.end[0]), float(path.end[1])),
        lead_in_length=lead.lead_in,
        lead_out_length=0.0,
        spans=_spans(contour, lead, size),
        penalty_s=lead.penalty_s,
    )


def _spans(contour: ContourLeads, lead: Lead, size: float) -> tuple[FeedSpan, ...]:
    """Return the slower stretches of a run."""
    data, end = contour.data, lead.lead_in + size
    creep: tuple[FeedSpan, ...] = ()
    if data.moving_pierce_mm > 0.0:
        creep = (FeedSpan(0.0, min(data.moving_pierce_mm, lead.lead_in), data.moving_pierce_feed),)
    whole = path_spans(contour.spans, contour.torch.length, at=lead.at, lead_in=lead.lead_in, overburn=0.0)
    return creep + tuple(replace(s, end=min(s.end, end)) for s in whole if s.start < end)


def _span(torch: TorchContour, start: float, end: float) -> tuple[float, float]:
    """Return from where to where along the finished edge a stretch of the torch contour runs beside it."""
    points = point_at(torch.path, np.array([start, end]) % torch.length)
    feet = nearest(torch.finished, points)[1]
    along = direction_at(torch.path, np.array([start % torch.length]))[0]
    edge = direction_at(torch.finished, feet[:1])[0]
    first, last = float(feet[0]), float(feet[1])
    return (first, last) if float(along @ edge) > 0.0 else (last, first)


def tabs_before(
    contour: ContourLeads,
    seats: Seats,
    chosen: Sequence[Sequence[Lead]],
    pose: Pose,
    made: Made,
    width: float,
) -> list[Tab]:
    """Return the tabs before chosen leads, on the plate.

    Parameters
    ----------
    contour : ContourLeads
    seats : Seats
    chosen : sequence of sequence of Lead
    pose : Pose
    made : Made
        The whole outside, placed.
    width : float
        Of the metal left, mm.
    """
    torch = contour.torch
    tabs = []
    for lead, *_ in chosen:
        ends = np.array([seats.before[lead.station // SHAPES], lead.at])
        x, y = place_points([point_at(torch.path, ends).mean(axis=0)], pose)[0]
        span = _span(torch, *ends.tolist())
        tabs.append(Tab(made.part, made.copy, made.placement, (float(x), float(y)), span, width))
    return tabs
