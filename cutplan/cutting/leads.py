"""Starts and ends of a cut that keep off their own part; other parts are left to `obstacles`.

Terminology
-----------
station : a place of the torch contour where a lead may join it.
approach : the lead-in, from the pierce to the station.
departure : the lead-out, from where the torch leaves the contour.
depth : how far into the scrap, square from the torch contour, a lead's far end lies.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.cutting.lead_shapes import arc_in, arc_out, points_along, segment_lengths, straight, straight_in
from cutplan.cutting.model import CuttingOptions
from cutplan.cutting.stations import Station, choose_stations, stations_at
from cutplan.cutting.torch import TorchContour
from cutplan.geometry import FloatArray, chord_points, distance, length, nearest
from cutplan.process import CutData

__all__ = [
    "KEPT_EDGE_PENALTY_S",
    "LEAST_METAL",
    "ROUNDING",
    "Draft",
    "Lead",
    "LeadSizes",
    "candidate_leads",
    "finished_leads",
    "lead_sizes",
]

# Metal that must stay between the kerf of a lead and a finished edge, mm: less than this and
# the heat of the pierce takes the edge with it (common practice).
LEAST_METAL = 0.5
# Room for rounding between a clearance asked for and one tested, mm.
ROUNDING = 0.01
# A contour that finds few starts is offered so many times more stations.
WIDER = 4
# Added to the time of a poorer start, s: a mark on an edge; on a long straight one, which no travel
# is worth where a corner or a rounded end will do; and on an edge that is to be kept free of starts.
MID_EDGE_PENALTY_S, LONG_EDGE_PENALTY_S, KEPT_EDGE_PENALTY_S = 0.3, 20.0, 400.0
# A straight edge from this on is long, mm.
LONG_EDGE = 40.0
# A start so near to the end of a kept edge leaves its mark at the corner, mm.
KEPT_ENDS = 2.0
# Radius of lead-ins in round holes, in thicknesses, where the hole allows it: the lag of a thick cut
# straightens on the way (common practice).
HOLE_LEAD_THICKNESSES = 1.0
# Points at which a lead's distance to its own contour is measured, and the widest step between
# them for half a kerf of 1 mm: a corner that a lead passes half a kerf away comes at most
# step² / 8r nearer between two samples, 0.02 mm.
SAMPLES = 48
STEP = 0.4


@dataclass(frozen=True)
class LeadSizes:
    """Sizes of leads on one contour, mm.

    `clearance` is the pierce's least distance to finished edges, `hole_lead` the radius of arcs on to
    the wall of a round hole.
    """

    clearance: float
    lead_in: float
    lead_out: float
    overburn: float
    from_middle: bool
    hole_lead: float = 0.0

    def depth(self, radius: float) -> float:
        """Depth that keeps the pierce clear of the contour's own edge, half the kerf being `radius`."""
        return self.clearance - radius + ROUNDING


@dataclass(frozen=True, eq=False)
class Lead:
    """One start and end of a torch contour, in drawing coordinates.

    Attributes
    ----------
    station : int
        Leads of one station are alternatives, the best first.
    at : float
        Arc-length of the torch contour where the approach joins it.
    approach : ndarray, shape (2, 3)
        Stroke from the pierce to the station.
    departure : ndarray or None
        Stroke that leaves the contour `overburn` past the station.
    overburn : float
    lead_in, lead_out : float
        Lengths of approach and departure, mm.
    penalty_s : float
    """

    station: int
    at: float
    approach: FloatArray
    departure: FloatArray | None
    overburn: float
    lead_in: float
    lead_out: float
    penalty_s: float


@dataclass(frozen=True, eq=False)
class Draft:
    """An approach to a station, `index` in the order of travel, before it is tried."""

    index: int
    station: Station
    approach: FloatArray


def lead_sizes(torch: TorchContour, data: CutData) -> LeadSizes:
    """Return the sizes of leads for a contour; a narrow hole gets what its width allows."""
    rules, radius = data.rules, torch.radius
    least = radius + LEAST_METAL
    clearance = max(rules.pierce_clearance, least)
    if torch.kind == "outside":
        return LeadSizes(clearance, rules.lead_in, rules.lead_out, 0.0, False)
    half_width = torch.inscribed[2]
    narrow = half_width < clearance + 2.0 * ROUNDING
    return LeadSizes(
        clearance=max(rules.pierce_clearance_in(half_width), least) if narrow else clearance,
        lead_in=rules.lead_in,
        # An arc that goes out on the over-burn needs no way into the scrap.
        lead_out=0.0 if data.rules.arc_off_before > 0.0 else min(rules.lead_out, half_width - radius),
        overburn=min(rules.overburn, 0.5 * torch.length),
        from_middle=narrow or 2.0 * half_width < rules.small_hole,
        hole_lead=HOLE_LEAD_THICKNESSES * data.thickness,
    )


def candidate_leads(
    torch: TorchContour, data: CutData, options: CuttingOptions, *, wide: bool = False
) -> list[Lead]:
    """Return leads that lie in the contour's own scrap, by station and preference.

    Parameters
    ----------
    torch : TorchContour
    data : CutData
    options : CuttingOptions
    wide : bool
        Offer more stations, the outermost points among them, and more shapes.

    Returns
    -------
    list of Lead
        Every approach and departure keeps half the kerf from the finished edge, and every
        pierce the clearance of `lead_sizes`.
    """
    sizes = lead_sizes(torch, data)
    count = WIDER * options.candidates if wide else options.candidates
    drafts: list[Draft] = []
    for index, station in enumerate(choose_stations(torch, count, extremes=wide)):
        shapes = _shapes(station, torch, sizes, options, wide=wide)
        drafts += [Draft(index, station, approach) for approach in shapes]
    leads = finished_leads(torch, data, drafts, sizes.clearance)
    if sizes.from_middle:
        return leads
    # A torch that creeps while it pierces must be through before it comes to the part.
    return [lead for lead in leads if lead.lead_in >= data.moving_pierce_mm - ROUNDING]


def finished_leads(torch: TorchContour, data: CutData, drafts: Sequence[Draft], least: float) -> list[Lead]:
    """Return the drafts that keep off the finished edge as leads, with their departures.

    Parameters
    ----------
    torch : TorchContour
    data : CutData
    drafts : sequence of Draft
    least : float
        Least distance from a pierce to the contour's own finished edge, mm.
    """
    if not drafts:
        return []
    sizes = lead_sizes(torch, data)
    approaches = np.stack([draft.approach for draft in drafts])
    clear, away = _keeps_off(torch, [draft.station for draft in drafts], approaches, at_start=True)
    departures = _departures(torch, {draft.index: draft.station for draft in drafts}, sizes)
    lengths = segment_lengths(approaches).tolist()
    leads = []
    for i in np.flatnonzero(clear & (away >= least - 1e-6)).tolist():
        draft, lead_in = drafts[i], lengths[i]
        departure, lead_out = departures.get(draft.index, (None, 0.0))
        penalty = max(0.0, lead_in - sizes.lead_in) * 60.0 / data.feed_mm_min
        penalty += _place_penalty(torch, draft.station)
        leads.append(
            Lead(
                station=draft.index,
                at=draft.station.at,
                approach=draft.approach,
                departure=departure,
                overburn=sizes.overburn,
                lead_in=lead_in,
                lead_out=lead_out,
                penalty_s=penalty,
            )
        )
    return leads


def _place_penalty(torch: TorchContour, station: Station) -> float:
    """Return the seconds that a start counts longer for where it leaves its mark."""
    for edge in torch.kept:
        away, at = nearest(edge, station.point[None])
        inside = KEPT_ENDS < float(at[0]) < float(length(edge)) - KEPT_ENDS or edge.closed
        if inside and float(away[0]) <= torch.radius + ROUNDING:
            return KEPT_EDGE_PENALTY_S
    if torch.kind == "hole" or station.corner:
        return 0.0
    row = int(np.searchsorted(torch.starts, station.at + 1e-9, side="right")) - 1
    segments = torch.path.segments
    straight_on = not segments.is_arc[row] and segments.length[row] >= LONG_EDGE
    return LONG_EDGE_PENALTY_S if straight_on else MID_EDGE_PENALTY_S


def _shapes(
    station: Station, torch: TorchContour, sizes: LeadSizes, options: CuttingOptions, *, wide: bool
) -> Iterator[FloatArray]:
    """Yield approaches that keep the full clearance, the best first."""
    depth = sizes.depth(torch.radius)
    if sizes.from_middle:
        yield _from_middle(station, torch)
    if station.corner:
        yield straight(station.point - max(sizes.lead_in, sizes.clearance) * station.tangent, station.point)
    if torch.circle is not None and torch.kind == "hole":
        yield from _on_to_the_round(station, torch, sizes)
        return
    if options.lead == "arc":
        yield arc_in(station, max(depth, 2.0 * sizes.lead_in / math.pi), sizes.lead_in)
        yield arc_in(station, depth, sizes.lead_in)
    yield straight_in(station, depth, max(sizes.lead_in, 1.25 * depth))
    yield straight_in(station, depth, depth)
    if wide:
        yield straight_in(station, depth, 1.25 * depth)
        if torch.kind == "hole" and not sizes.from_middle:
            yield _from_middle(station, torch)


def _on_to_the_round(station: Station, torch: TorchContour, sizes: LeadSizes) -> Iterator[FloatArray]:
    """Yield arcs on to the wall of a round hole, the widest first; none comes square on to it.

    They are as wide as the plate is thick, or come from the middle of a hole that is too small.
    """
    assert torch.circle is not None
    depth, room = sizes.depth(torch.radius), torch.circle[2]
    wide = max(sizes.hole_lead, depth, 2.0 * sizes.lead_in / math.pi)
    if 2.0 * wide >= room:
        yield _from_middle(station, torch)
    else:
        yield arc_in(station, wide, 0.5 * math.pi * wide)
    yield arc_in(station, max(depth, 2.0 * sizes.lead_in / math.pi), sizes.lead_in)
    yield arc_in(station, depth, 0.5 * math.pi * depth)


def _from_middle(station: Station, torch: TorchContour) -> FloatArray:
    """Return a half circle from a round hole's centre, a straight line from another's middle."""
    x, y, _ = torch.inscribed
    segment = straight(np.array([x, y]), station.point)
    if torch.circle is not None:
        segment[0, 2] = 1.0 if station.scrap_left else -1.0
    return segment


def _departures(
    torch: TorchContour, stations: Mapping[int, Station], sizes: LeadSizes
) -> dict[int, tuple[FloatArray, float]]:
    """Return the lead-outs from where the over-burn ends, with their length, by station with room for one."""
    long = sizes.lead_out
    if long < LEAST_METAL or sizes.from_middle:
        return {}
    leaving = list(stations.values())
    if sizes.overburn:
        at = [station.at + sizes.overburn for station in leaving]
        leaving = stations_at(torch, at, [False] * len(at))
    depth = min(sizes.depth(torch.radius), 2.0 * long / math.pi)
    segments = np.stack(
        [
            straight(station.point, station.point + long * station.arriving)
            if station.corner and station.breaks
            else arc_out(station, depth, long)
            for station in leaving
        ]
    )
    clear, away = _keeps_off(torch, leaving, segments, at_start=False)
    fine = clear & (away >= torch.radius + LEAST_METAL)
    rows = zip(stations, segments, segment_lengths(segments).tolist(), fine.tolist(), strict=True)
    return {index: (segment, size) for index, segment, size, good in rows if good}


def _keeps_off(
    torch: TorchContour, stations: Sequence[Station], segments: FloatArray, *, at_start: bool
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Return which leads stay half the kerf off the finished edge, and how far their free ends are.

    Parameters
    ----------
    torch : TorchContour
    stations : sequence of Station
        Where each joins or leaves.
    segments : ndarray, shape (n, 2, 3)
    at_start : bool
        Whether the free end is the first point (approaches) or the last (departures).

    Notes
    -----
    Near the join a lead is sampled; what is left of a long one, always straight, is measured
    as a whole.
    """
    joins = np.array([station.point for station in stations])
    scrap = np.array([station.scrap for station in stations])
    sampled = SAMPLES * STEP * math.sqrt(torch.radius)
    shares = np.minimum(1.0, sampled / segment_lengths(segments))
    free = segments[:, 0 if at_start else 1, :2]
    long = shares < 1.0
    near = segments.copy()
    split = joins + shares[:, None] * (free - joins)
    near[long, 0 if at_start else 1, :2] = split[long]
    points = points_along(near, SAMPLES)
    away = distance(torch.finished, points.reshape(-1, 2)).reshape(points.shape[:2])
    depth = np.sum((points - joins[:, None, :]) * scrap[:, None, :], axis=2)
    # Away from the join, a little more than half the kerf makes up for what lies between samples.
    needed = torch.radius - 1e-6 + np.where(depth > 5.0 * ROUNDING, 2.0 * ROUNDING, 0.0)
    clear = np.all(away >= needed, axis=1)
    rest = np.flatnonzero(clear & long)
    if len(rest):
        clear[rest] = _lines_keep_off(torch, np.stack([free[rest], split[rest]], axis=1))
    return clear, distance(torch.finished, free)


def _lines_keep_off(torch: TorchContour, lines: FloatArray) -> NDArray[np.bool_]:
    """Return which lines of shape (n, 2, 2) stay half the kerf and `ROUNDING` off the finished edge."""
    view = shapely.LinearRing(chord_points(torch.finished, ROUNDING))
    shapely.prepare(view)
    near = shapely.dwithin(view, shapely.linestrings(lines), torch.radius + 2.0 * ROUNDING)
    return ~np.asarray(near, dtype=np.bool_)
