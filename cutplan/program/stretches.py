"""A torch path taken apart where its feed, its height or the height control changes."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np

from cutplan.cutting import Cut, LeadChoice, Made
from cutplan.geometry import Path, area, direction_at, length, nearest, point_at, subpath, vertex_lengths
from cutplan.process import CutData
from cutplan.program.postfile import HeightControl, Heights
from cutplan.program.rounding import Side

__all__ = ["Stretch", "coasting_way", "contour_of", "lowering_way", "scrap_side", "stretches"]

# Changes closer together than this, mm, are one.
_SAME_PLACE_MM = 1e-3
# Places of a stretch at which the side of the finished edge is looked at.
_SIDE_SAMPLES = 16
Spans = list[tuple[float, float]]


@dataclass(frozen=True)
class Stretch:
    """A piece of the torch path with one feed factor, the height control on or off throughout.

    `heights` are those at its start and end, mm, where the torch comes down on it; it coasts where
    the arc is out already.
    """

    path: Path
    factor: float
    height_control: bool
    role: str
    heights: tuple[float, float] | None = None
    coasts: bool = False


def contour_of(lead: LeadChoice) -> Path:
    """Return the closed loop between lead-in and lead-out."""
    total = length(lead.path)
    loop = subpath(lead.path, lead.lead_in_length, total - lead.lead_out_length)
    return Path(loop.vertices[:-1], closed=True)


def scrap_side(cut: Cut, lead: LeadChoice) -> Side:
    """Return the side of the travel on which no part is; "on" for marks, and where that is no side."""
    if cut.kind == "mark" or not cut.makes:
        return "on"
    sides = {
        _part_side(made, lead.path, *stretch)
        for made, stretch in zip(cut.makes, lead.made_along, strict=True)
    }
    if len(sides) > 1:
        return "on"
    return "right" if sides == {"left"} else "left"


def _part_side(made: Made, path: Path, start: float, end: float) -> Side:
    """Return the side of the travel on which the finished edge lies along a stretch of a path."""
    places = start + (end - start) * (np.arange(_SIDE_SAMPLES) + 0.5) / _SIDE_SAMPLES
    points, ahead = point_at(path, places), direction_at(path, places)
    away, at = nearest(made.contour, points)
    to_edge = point_at(made.contour, at) - points
    left = ahead[:, 0] * to_edge[:, 1] - ahead[:, 1] * to_edge[:, 0]
    # Out on a corner's loop the edge may lie on either side.
    beside = away <= away.min() + _SAME_PLACE_MM
    return "left" if float(left[beside].sum()) > 0.0 else "right"


def lowering_way(cut: Cut, lead: LeadChoice, data: CutData, heights: Heights | None) -> float:
    """Return the way over which the program lowers the torch while it moves off, mm.

    0 where it comes down standing, or from nowhere: beside the plate's edge nothing is pierced.
    It is over before the torch comes to the part.
    """
    if heights is None or not heights.lowers_moving or lead.edge_start or cut.kind == "mark":
        return 0.0
    return min(data.lowering_mm, lead.lead_in_length)


def coasting_way(cut: Cut, lead: LeadChoice, data: CutData) -> float:
    """Return the way at the end of a hole on which the arc is out while the torch moves on, mm.

    0 where one burn cuts several contours.
    """
    alone = cut.kind == "hole" and not lead.links
    return min(data.rules.arc_off_before, lead.lead_out_length) if alone else 0.0


def stretches(
    cut: Cut, lead: LeadChoice, data: CutData, control: HeightControl | None, lowering: float = 0.0
) -> list[Stretch]:
    """Return the path of a cut in order, split where anything changes.

    Parameters
    ----------
    cut : Cut
    lead : LeadChoice
    data : CutData
    control : HeightControl or None
        When the height control is off; None where the program does not switch it.
    lowering : float
        Way from the pierce over which the torch comes down, mm.
    """
    total = length(lead.path)
    lead_in, lead_out = lead.lead_in_length, total - lead.lead_out_length
    off = [] if control is None else _height_off(cut, lead, data, control, total)
    arc_off = total - coasting_way(cut, lead, data)
    places = [0.0, lowering, lead_in, lead_out, arc_off, total, *itertools.chain(*lead.links)]
    places += [place for span in lead.spans for place in (span.start, span.end)]
    places += [place for span in off for place in span]
    stations = _distinct(places, total)
    pieces: list[Stretch] = []
    for s0, s1 in itertools.pairwise(stations):
        middle = 0.5 * (s0 + s1)
        slow = [span.factor for span in lead.spans if span.start <= middle <= span.end]
        role = "lead-in" if middle < lead_in else "lead-out" if middle > lead_out else "contour"
        role = "link" if any(a < middle < b for a, b in lead.links) else role
        pieces.append(
            Stretch(
                path=subpath(lead.path, s0, s1),
                factor=min(slow, default=1.0),
                height_control=control is not None
                and middle < arc_off
                and not any(a <= middle <= b for a, b in off),
                role="mark" if cut.kind == "mark" else role,
                heights=_heights_on(s0, s1, lowering, data),
                coasts=middle > arc_off,
            )
        )
    return pieces


def _heights_on(s0: float, s1: float, lowering: float, data: CutData) -> tuple[float, float] | None:
    """Return the heights at the ends of a stretch that lies in the way down."""
    if s1 > lowering + _SAME_PLACE_MM:
        return None
    drop = (data.pierce_height - data.cut_height) / lowering
    last = data.cut_height if s1 > lowering - _SAME_PLACE_MM else data.pierce_height - drop * s1
    return data.pierce_height - drop * s0, last


def _distinct(places: list[float], total: float) -> list[float]:
    stations = [0.0]
    for place in sorted(places):
        if stations[-1] + _SAME_PLACE_MM < place < total - _SAME_PLACE_MM:
            stations.append(place)
    return [*stations, total]


def _height_off(cut: Cut, lead: LeadChoice, data: CutData, control: HeightControl, total: float) -> Spans:
    """Return where the height control is off, as merged spans along the path."""
    if cut.kind == "mark":
        return [(0.0, total)]
    widest = max(map(_diameter, cut.makes)) if cut.kind == "hole" else math.inf
    if control.off_in_small_holes and widest <= data.rules.small_hole:
        return [(0.0, total)]
    spans: Spans = []
    # A cut through the plate itself begins and ends beside it, where nothing tells the height.
    if control.off_in_leads or not cut.makes:
        spans += [(0.0, lead.lead_in_length), (total - lead.lead_out_length, total)]
    if control.off_in_slow_spans:
        spans += [(span.start, span.end) for span in lead.spans if span.factor < 1.0]
    if control.corner_mm > 0.0:
        spans += [
            (max(0.0, s - control.corner_mm), min(total, s + control.corner_mm))
            for s in _corners(lead.path, math.radians(control.corner_deg))
        ]
    return _merged_spans(spans, control.least_run_mm, total)


def _merged_spans(spans: Spans, least_run: float, total: float) -> Spans:
    """Join spans that leave less than `least_run` between them, or before and after them."""
    merged: Spans = []
    for start, end in sorted(spans):
        start = 0.0 if start < least_run else start
        end = total if end > total - least_run else end
        if merged and start - merged[-1][1] <= least_run:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return merged


def _diameter(made: Made) -> float:
    """Diameter of the circle with the contour's area, mm."""
    return 2.0 * math.sqrt(abs(area(made.contour)) / math.pi)


def _corners(path: Path, least_turn: float) -> list[float]:
    """Arc-lengths at which an open path turns by more than an angle, rad."""
    stations = vertex_lengths(path)[1:-1]
    before = direction_at(path, stations - 1e-6)
    after = direction_at(path, stations)
    turn = np.arccos(np.clip((before * after).sum(axis=1), -1.0, 1.0))
    return [float(s) for s in stations[turn > least_turn]]
