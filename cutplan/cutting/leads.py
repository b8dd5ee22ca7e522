"""Starts and ends of a cut that keep off their own part; other parts are left to `scrap`.

Terminology
-----------
station : a place of the torch contour where a lead may join it.
approach : the lead-in, from the pierce to the station.
departure : the lead-out, from where the torch leaves the contour.
depth : how far into the scrap, square from the torch contour, a lead's far end lies.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.model import CuttingOptions
from cutplan.cutting.stations import Station, choose_stations, station_at
from cutplan.cutting.torch import TorchContour, common_circle
from cutplan.geometry import FloatArray, Path, distance, length, point_at, polyline
from cutplan.process import CutData

__all__ = [
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
# Share of a narrow hole's half width at which it is pierced when not in its very middle.
NEAR_MIDDLE = 0.9
# Depths, as shares of the full one, that are tried where the full pierce clearance finds no room.
SHORTER_DEPTHS = (0.75, 0.5, 0.25)
# Added to the time of poorer starts, s: a mark on a straight edge, a pierce too near a finished edge.
MID_EDGE_PENALTY_S = 0.3
SHORT_CLEARANCE_PENALTY_S = 3.0
# Points at which a lead's distance to its own contour is measured.
SAMPLES = 48


@dataclass(frozen=True)
class LeadSizes:
    """Sizes of leads on one contour, mm: `clearance` is the pierce's least distance to finished edges."""

    clearance: float
    lead_in: float
    lead_out: float
    overburn: float
    from_middle: bool

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
    approach : Path
    departure : Path or None
        Leaves the contour `overburn` past the station.
    overburn : float
    lead_in, lead_out : float
        Lengths of approach and departure, mm.
    penalty_s : float
    """

    station: int
    at: float
    approach: Path
    departure: Path | None
    overburn: float
    lead_in: float
    lead_out: float
    penalty_s: float


@dataclass(frozen=True, eq=False)
class Draft:
    """An approach to a station, `index` in the order of travel, before it is tried."""

    index: int
    station: Station
    approach: Path


def lead_sizes(torch: TorchContour, data: CutData) -> LeadSizes:
    """Return the sizes of leads for a contour; a narrow hole gets what its width allows."""
    rules, radius = data.rules, torch.radius
    least = radius + LEAST_METAL
    clearance = max(rules.pierce_clearance, least)
    if torch.kind == "outer":
        return LeadSizes(clearance, rules.lead_in, rules.lead_out, 0.0, False)
    half_width = torch.inscribed[2]
    narrow = half_width < clearance + 2.0 * ROUNDING
    return LeadSizes(
        clearance=max(min(clearance, NEAR_MIDDLE * half_width), least) if narrow else clearance,
        lead_in=rules.lead_in,
        lead_out=min(rules.lead_out, half_width - radius),
        overburn=min(rules.overburn, 0.5 * torch.length),
        from_middle=narrow or 2.0 * half_width < rules.small_hole,
    )


def candidate_leads(
    torch: TorchContour, data: CutData, options: CuttingOptions, *, reduced: bool = False
) -> list[Lead]:
    """Return leads that lie in the contour's own scrap, by station and preference.

    Parameters
    ----------
    torch : TorchContour
    data : CutData
    options : CuttingOptions
    reduced : bool
        Offer more stations and pierces nearer the finished edges, with a penalty.

    Returns
    -------
    list of Lead
        Every approach and departure keeps half the kerf from the finished edge; every pierce
        keeps the clearance of `lead_sizes` (`reduced`: at least half the kerf and `LEAST_METAL`).
    """
    sizes = lead_sizes(torch, data)
    count = 4 * options.candidates if reduced else options.candidates
    drafts: list[Draft] = []
    for index, station in enumerate(choose_stations(torch, count, extremes=reduced)):
        shapes = _reduced(station, torch, sizes) if reduced else _shapes(station, torch, sizes, options)
        drafts += [Draft(index, station, approach) for approach in shapes]
    least = torch.radius + LEAST_METAL if reduced else min(sizes.clearance, torch.inscribed[2])
    return finished_leads(torch, data, drafts, least)


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
    sizes = lead_sizes(torch, data)
    clear, pierce_distance = _keeps_off(torch, [(d.station, d.approach) for d in drafts], at_start=True)
    stations = {draft.index: draft.station for draft in drafts}
    departures = {index: _departure(station, torch, sizes) for index, station in stations.items()}
    leads = []
    for draft, fine, away in zip(drafts, clear, pierce_distance, strict=True):
        if not fine or away < least - 1e-6:
            continue
        departure = departures[draft.index]
        lead_in = length(draft.approach)
        penalty = max(0.0, lead_in - sizes.lead_in) * 60.0 / data.feed_mm_min
        penalty += SHORT_CLEARANCE_PENALTY_S * max(0.0, 1.0 - away / sizes.clearance)
        if torch.kind == "outer" and not draft.station.corner:
            penalty += MID_EDGE_PENALTY_S
        leads.append(
            Lead(
                station=draft.index,
                at=draft.station.at,
                approach=draft.approach,
                departure=departure,
                overburn=sizes.overburn,
                lead_in=lead_in,
                lead_out=length(departure) if departure is not None else 0.0,
                penalty_s=penalty,
            )
        )
    return leads


def _shapes(
    station: Station, torch: TorchContour, sizes: LeadSizes, options: CuttingOptions
) -> Iterator[Path]:
    """Yield approaches that keep the full clearance, the best first."""
    depth = sizes.depth(torch.radius)
    if sizes.from_middle:
        yield _from_middle(station, torch)
    if torch.kind == "outer" and station.corner:
        yield polyline([station.point - max(sizes.lead_in, sizes.clearance) * station.tangent, station.point])
    deep = max(depth, 2.0 * sizes.lead_in / math.pi)
    if options.lead == "arc":
        yield _arc_in(station, torch, deep, sizes.lead_in)
        yield _arc_in(station, torch, depth, sizes.lead_in)
    yield _straight_in(station, depth, max(sizes.lead_in, 1.25 * depth))
    yield _straight_in(station, depth, depth)


def _reduced(station: Station, torch: TorchContour, sizes: LeadSizes) -> Iterator[Path]:
    full = sizes.depth(torch.radius)
    yield from (_straight_in(station, full, long * full) for long in (1.25, 1.0))
    for share in SHORTER_DEPTHS:
        depth = max(share * full, LEAST_METAL + ROUNDING)
        yield _arc_in(station, torch, depth, sizes.lead_in)
        yield _straight_in(station, depth, max(0.5 * sizes.lead_in, 1.25 * depth))
        yield _straight_in(station, depth, depth)


def _from_middle(station: Station, torch: TorchContour) -> Path:
    """Return a half circle from a round hole's centre, a straight line from another's middle."""
    middle = np.array(torch.inscribed[:2])
    if common_circle(torch.path) is None:
        return polyline([middle, station.point])
    bulge = 1.0 if torch.scrap_left else -1.0
    return Path(np.array([[*middle, bulge], [*station.point, 0.0]]), closed=False)


def _straight_in(station: Station, depth: float, long: float) -> Path:
    """Return a straight approach from `depth` in the scrap, coming along with the travel."""
    along = math.sqrt(max(long * long - depth * depth, 0.0))
    return polyline([station.point - along * station.tangent + depth * station.scrap, station.point])


def _arc_in(station: Station, torch: TorchContour, depth: float, long: float) -> Path:
    """Return a tangential arc from `depth` in the scrap: a quarter, or as shallow as `long` makes it."""
    far, bulge = _tangential(station, torch, depth, long, -1.0)
    return Path(np.array([[*far, bulge], [*station.point, 0.0]]), closed=False)


def _departure(station: Station, torch: TorchContour, sizes: LeadSizes) -> Path | None:
    """Return the lead-out from where the over-burn ends, None where there is no room for one."""
    long = sizes.lead_out
    if long < LEAST_METAL or sizes.from_middle:
        return None
    if station.corner and torch.kind == "outer" and station.breaks:
        way = polyline([station.point, station.point + long * station.arriving])
        leaving = station
    else:
        leaving = station_at(torch, station.at + sizes.overburn) if sizes.overburn else station
        depth = min(sizes.depth(torch.radius), 2.0 * long / math.pi)
        far, bulge = _tangential(leaving, torch, depth, long, 1.0)
        way = Path(np.array([[*leaving.point, bulge], [*far, 0.0]]), closed=False)
    clear, away = _keeps_off(torch, [(leaving, way)], at_start=False)
    return way if clear[0] and away[0] >= torch.radius + LEAST_METAL else None


def _tangential(
    station: Station, torch: TorchContour, depth: float, long: float, sense: float
) -> tuple[FloatArray, float]:
    """Return the far end and the bulge of an arc tangent to the contour at a station.

    `sense` is −1 for arriving arcs and 1 for leaving ones.
    """
    angle = _arc_angle(depth / long)
    radius = depth / (1.0 - math.cos(angle))
    far = station.point + sense * radius * math.sin(angle) * station.tangent + depth * station.scrap
    return far, math.tan(0.25 * angle) * (1.0 if torch.scrap_left else -1.0)


def _arc_angle(ratio: float) -> float:
    """Return the sweep, at most a quarter turn, whose depth is `ratio` of its length."""
    if ratio >= 2.0 / math.pi:
        return 0.5 * math.pi
    angle = 2.0 * ratio
    for _ in range(20):
        # Newton on (1 − cos ψ) / ψ = ratio.
        value = (1.0 - math.cos(angle)) / angle - ratio
        angle -= value * angle * angle / (angle * math.sin(angle) - (1.0 - math.cos(angle)))
    return angle


def _keeps_off(
    torch: TorchContour, ways: list[tuple[Station, Path]], *, at_start: bool
) -> tuple[NDArray[np.bool_], FloatArray]:
    """Return which leads stay half the kerf off the finished edge, and how far their free ends are.

    Parameters
    ----------
    torch : TorchContour
    ways : list of (Station, Path)
        Leads with the stations they join or leave at.
    at_start : bool
        Whether the free end is the first point (approaches) or the last (departures).
    """
    if not ways:
        return np.zeros(0, dtype=np.bool_), np.zeros(0)
    fractions = np.linspace(0.0, 1.0, SAMPLES)
    points = np.stack([point_at(way, fractions * length(way)) for _, way in ways])
    away = distance(torch.finished, points.reshape(-1, 2)).reshape(len(ways), SAMPLES)
    joins = np.array([station.point for station, _ in ways])
    scrap = np.array([station.scrap for station, _ in ways])
    depth = np.sum((points - joins[:, None, :]) * scrap[:, None, :], axis=2)
    # Away from the join, a little more than half the kerf makes up for what lies between samples.
    needed = torch.radius - 1e-6 + np.where(depth > 5.0 * ROUNDING, 2.0 * ROUNDING, 0.0)
    return np.all(away >= needed, axis=1), away[:, 0 if at_start else -1]
