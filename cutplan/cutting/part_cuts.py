"""What every copy of a part shares: its torch contours with leads, marks and findings.

All of it is in drawing coordinates; placing it on a sheet is left to `sheet`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cutplan.base.findings import Finding
from cutplan.cutting.compensate import compensate
from cutplan.cutting.cuttable import hole_fate, loss_findings
from cutplan.cutting.feeds import contour_spans, is_small_hole, path_spans, slowest
from cutplan.cutting.kept import kept_edges
from cutplan.cutting.lead_shapes import points_along
from cutplan.cutting.leads import Lead, candidate_leads
from cutplan.cutting.model import CornerStyle, CuttingOptions, FeedSpan
from cutplan.cutting.rounds import once_round
from cutplan.cutting.torch import TorchContour
from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Path
from cutplan.process import CutData

__all__ = ["LEAD_POINTS", "ContourLeads", "LeadField", "PartCuts", "cuts_of_part", "lead_field"]

# Points at which a lead is looked at for other parts near it; between them a quarter arc
# of a usual lead stands out by less than the margin of metal kept.
LEAD_POINTS = 13


@dataclass(frozen=True, eq=False)
class LeadField:
    """Leads of one contour with the points at which other parts are looked for.

    Attributes
    ----------
    leads : list of Lead
        By station and preference.
    approaches : ndarray, shape (n, LEAD_POINTS, 2)
        Along each lead's approach, the pierce first.
    departures : ndarray, shape (m, LEAD_POINTS, 2)
        Along the departures, one for each station that has one.
    leaving : ndarray, shape (n,)
        Row of `departures` for each lead, −1 where it has none.
    """

    leads: list[Lead]
    approaches: FloatArray
    departures: FloatArray
    leaving: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class ContourLeads:
    """A torch contour with the leads that suit its own part."""

    torch: TorchContour
    data: CutData
    options: CuttingOptions
    _paths: dict[tuple[Lead, bool], Path] = field(default_factory=dict, init=False, repr=False)
    _spans: dict[tuple[Lead, bool], tuple[FeedSpan, ...]] = field(
        default_factory=dict, init=False, repr=False
    )

    @cached_property
    def full_field(self) -> LeadField:
        """The leads that most places need."""
        return lead_field(candidate_leads(self.torch, self.data, self.options))

    @cached_property
    def wide_field(self) -> LeadField:
        """Leads for tight places: more stations and shapes."""
        return lead_field(candidate_leads(self.torch, self.data, self.options, wide=True))

    @cached_property
    def spans(self) -> tuple[FeedSpan, ...]:
        """Slower stretches of the torch contour."""
        return contour_spans(self.torch, self.data.rules)

    def path(self, lead: Lead, *, depart: bool) -> Path:
        """Return the whole torch path of a lead, with its lead-out or without."""
        key = lead, depart
        if key not in self._paths:
            self._paths[key] = self._whole_path(lead, depart)
        return self._paths[key]

    def _whole_path(self, lead: Lead, depart: bool) -> Path:
        rows = [lead.approach[:1], once_round(self.torch, lead.at, lead.overburn)]
        if depart and lead.departure is not None:
            rows[1] = rows[1][:-1]
            rows.append(lead.departure)
        return Path(np.vstack(rows), closed=False)

    def feed_spans(self, lead: Lead, *, depart: bool) -> tuple[FeedSpan, ...]:
        """Return the feed spans along a lead's whole torch path."""
        key = lead, depart
        if key not in self._spans:
            self._spans[key] = self._whole_spans(lead, depart)
        return self._spans[key]

    def _whole_spans(self, lead: Lead, depart: bool) -> tuple[FeedSpan, ...]:
        data, contour = self.data, self.torch.length
        creep: tuple[FeedSpan, ...] = ()
        if data.moving_pierce_mm > 0.0:
            creep = (FeedSpan(0.0, min(data.moving_pierce_mm, lead.lead_in), data.moving_pierce_feed),)
        if is_small_hole(self.torch, data.rules) and data.rules.small_hole_feed < 1.0:
            total = lead.lead_in + contour + lead.overburn + (lead.lead_out if depart else 0.0)
            return slowest([*creep, FeedSpan(0.0, total, data.rules.small_hole_feed)])
        return creep + path_spans(
            self.spans, contour, at=lead.at, lead_in=lead.lead_in, overburn=lead.overburn
        )


@dataclass(frozen=True, eq=False)
class PartCuts:
    """What to do with one part.

    Attributes
    ----------
    contours : tuple of ContourLeads
        Holes, then the outside; those that cannot be cut are missing.
    drills : tuple of int
        Holes to mark for drilling.
    findings : tuple of Finding
        Places in drawing coordinates.
    """

    contours: tuple[ContourLeads, ...]
    drills: tuple[int, ...]
    findings: tuple[Finding, ...]


def cuts_of_part(part: Part, data: CutData, options: CuttingOptions, *, mirrored: bool) -> PartCuts:
    """Return the torch contours of a part, for copies that lie as drawn or turned over.

    Parameters
    ----------
    part : Part
    data : CutData
    options : CuttingOptions
    mirrored : bool
        Turning the part over turns the direction of travel round as well.
    """
    part_on_right = (data.rules.square_side != "left") != mirrored
    contours: list[ContourLeads] = []
    drills: list[int] = []
    findings: list[Finding] = []
    for index, contour in [*enumerate(part.holes), (None, part.outer)]:
        style: CornerStyle = options.corners if index is None else "round"
        made = compensate(contour, data.kerf, hole=index, part_on_right=part_on_right, corners=style)
        if index is not None:
            fate, told = hole_fate(part.name, index, contour, made, data, options)
            findings += told
            if fate == "mark":
                drills.append(index)
            if fate != "cut":
                continue
        told = loss_findings(part.name, index, made, data)
        findings += told
        if made.torch is not None and not any(finding.kind == "refused" for finding in told):
            torch = replace(made.torch, kept=kept_edges(part, index))
            contours.append(ContourLeads(torch, data, options))
    return PartCuts(tuple(contours), tuple(drills), tuple(findings))


def lead_field(leads: list[Lead]) -> LeadField:
    """Return leads with the points at which other parts are looked for."""
    stations = {lead.station: lead.departure for lead in leads if lead.departure is not None}
    row = {station: i for i, station in enumerate(stations)}
    approaches = [lead.approach for lead in leads]
    departures = [segment for segment in stations.values() if segment is not None]
    return LeadField(
        leads,
        points_along(np.reshape(approaches, (-1, 2, 3)), LEAD_POINTS),
        points_along(np.reshape(departures, (-1, 2, 3)), LEAD_POINTS),
        np.array([row.get(lead.station, -1) for lead in leads], dtype=np.int64),
    )
