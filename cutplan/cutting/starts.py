"""Which leads of a contour are clear of everything else on its sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.leads import LEAST_METAL, SHORT_CLEARANCE_PENALTY_S, Lead
from cutplan.cutting.plans import LEAD_POINTS, ContourPlan, LeadField
from cutplan.cutting.scrap import NOTHING, Scrap, points_of, strings
from cutplan.geometry import FloatArray, Pose, place_points
from cutplan.process import CutData

__all__ = ["Job", "Start", "Starts", "clear_starts"]


@dataclass(frozen=True, eq=False)
class Job:
    """One contour of one placement, with the leads to choose from and where they are placed."""

    placement: int
    plan: ContourPlan
    leads: LeadField
    pose: Pose


@dataclass(frozen=True, eq=False)
class Start:
    """A lead that is clear on the sheet; `depart` tells whether its lead-out is clear too."""

    lead: Lead
    depart: bool
    penalty_s: float


@dataclass(eq=False)
class Starts:
    """The clear starts of a job, one a station, and what stood in the way of the others."""

    clear: list[Start] = field(default_factory=list)
    blocked_by: list[int] = field(default_factory=list)


def clear_starts(
    jobs: Sequence[Job], scrap: Scrap, data: CutData, *, reduced: bool = False, over_edge: bool = False
) -> list[Starts]:
    """Return the clear starts of each job.

    Parameters
    ----------
    jobs : sequence of Job
    scrap : Scrap
    data : CutData
    reduced : bool
        Take pierces down to half the kerf and `LEAST_METAL` from other parts, with a penalty.
    over_edge : bool
        The approaches come in over the plate's edge, without a pierce.
    """
    margin = 0.5 * data.kerf + LEAST_METAL
    clearance = margin if over_edge else max(data.rules.pierce_clearance, margin)
    approaches, owners = _placed(jobs, [job.leads.approaches for job in jobs])
    departures, leavers = _placed(jobs, [job.leads.departures for job in jobs])
    in_way = scrap.near(strings(approaches), owners, margin, edge_clearance=None if over_edge else margin)
    away = scrap.near(strings(departures), leavers, margin, edge_clearance=margin)
    near_pierce = scrap.near(points_of(approaches[:, 0]), owners, clearance)
    if not reduced:
        in_way = np.where(in_way == NOTHING, near_pierce, in_way)
    made = []
    first, first_departure = 0, 0
    for job in jobs:
        rows = slice(first, first + len(job.leads.leads))
        out = slice(first_departure, first_departure + len(job.leads.departures))
        made.append(_starts(job.leads, in_way[rows], near_pierce[rows], away[out]))
        first, first_departure = rows.stop, out.stop
    return made


def _placed(jobs: Sequence[Job], points: list[FloatArray]) -> tuple[FloatArray, NDArray[np.int64]]:
    """Return lead points of all jobs on the plate, and the placement of each row."""
    placed = [
        place_points(p.reshape(-1, 2), job.pose).reshape(p.shape) for job, p in zip(jobs, points, strict=True)
    ]
    owners = np.repeat([job.placement for job in jobs], [len(p) for p in points]).astype(np.int64)
    return np.concatenate([np.zeros((0, LEAD_POINTS, 2)), *placed]), owners


def _starts(
    found: LeadField, in_way: NDArray[np.int64], near_pierce: NDArray[np.int64], away: NDArray[np.int64]
) -> Starts:
    starts = Starts()
    served: set[int] = set()
    for lead, obstacle, near, leaving in zip(
        found.leads, in_way.tolist(), near_pierce.tolist(), found.leaving.tolist(), strict=True
    ):
        if lead.station in served:
            continue
        if obstacle != NOTHING:
            starts.blocked_by.append(obstacle)
            continue
        served.add(lead.station)
        depart = leaving >= 0 and away[leaving] == NOTHING
        crowded = SHORT_CLEARANCE_PENALTY_S if near != NOTHING else 0.0
        starts.clear.append(Start(lead, bool(depart), lead.penalty_s + crowded))
    return starts
