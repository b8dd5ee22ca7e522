"""What a job says of torch paths and techniques, for the room that lays them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from cutplan.base.findings import Finding
from cutplan.cutting import ByHand, CuttingOptions, Techniques, gaps_for
from cutplan.nesting import NestGaps
from cutplan.planning.intake import Wanted
from cutplan.planning.job import Job
from cutplan.process import CutData
from cutplan.stock import ONE_TORCH, Lanes

__all__ = ["cutting_options", "gaps_of", "left_out", "techniques_of_parts"]

PER_PART = ("tabs", "chains", "shared_cuts", "slender")
"""Keys of [techniques] that a part may set otherwise."""


def cutting_options(
    job: Job,
    of_parts: Mapping[str, Techniques] | None = None,
    lanes: Lanes = ONE_TORCH,
    by_hand: ByHand = ByHand(),
) -> CuttingOptions:
    """Return what the job says about torch paths; `of_parts` about those of single parts, by name.

    Torches side by side do the same each: none of them can part the rest of the whole plate.
    """
    techniques = job.techniques
    if lanes.torches > 1:
        techniques = replace(techniques, rest_cut=False)
    return CuttingOptions(
        corners=job.cutting.corners,
        small_holes=job.cutting.small_holes,
        marker=job.machine.marker,
        torch_radius_mm=job.machine.torch_radius_mm,
        table_mm=job.machine.table,
        techniques=techniques,
        of_parts=of_parts or {},
        by_hand=by_hand,
    )


def left_out(job: Job, lanes: Lanes) -> tuple[Finding, ...]:
    """Tell which techniques torches side by side do without."""
    if lanes.torches == 1 or job.techniques.rest_asked is None:
        return ()
    told = f"the rest stays on the skeleton: {lanes.torches} torches side by side cannot part it"
    return (Finding("warning", told),)


def techniques_of_parts(wanted: Iterable[Wanted], job: Job) -> dict[str, Techniques]:
    """Return the techniques of the parts that are held otherwise than the job's, by name."""
    return {
        each.part.name: replace(job.techniques, **asked)
        for each in wanted
        if (asked := {key: value for key in PER_PART if (value := getattr(each.entry, key)) is not None})
    }


def gaps_of(data: CutData, job: Job, *, lanes: bool = False) -> NestGaps:
    """Return the gaps of the process, wider where the job says so.

    Parameters
    ----------
    data : CutData
    job : Job
    lanes : bool
        Torches side by side share the plate.

    Returns
    -------
    NestGaps
    """
    room = gaps_for(data, job.machine.torch_radius_mm)
    gap, edge = max(room.gap, job.nesting.gap or 0.0), max(room.edge, job.nesting.edge or 0.0)
    # Lanes lie side by side: the gap between their parts is twice the edge of each.
    return NestGaps(gap=gap, edge=max(edge, 0.5 * gap) if lanes else edge, clamp_gap=room.clamp_gap)
