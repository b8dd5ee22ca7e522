"""Cuts joined into one run of the torch, and stretches that one run makes of two parts at once."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from cutplan.cutting.model import Cut, LeadChoice, Made
from cutplan.geometry import Path, length

__all__ = ["chained_cut", "shared_stretches"]

SAME_PLACE = 1e-6
LEAST_SHARED = 0.01
"""Stretches that meet are not shared, mm."""


def chained_cut(cuts: Sequence[Cut], choices: Sequence[int]) -> Cut:
    """Return several cuts as one run: from the end of each the torch goes straight on to the next.

    Parameters
    ----------
    cuts : sequence of Cut
        All of one kind, in the order cut.
    choices : sequence of int
        The choice of each.

    Returns
    -------
    Cut
        With one choice.
    """
    leads = [cut.choices[choice] for cut, choice in zip(cuts, choices, strict=True)]
    placements = {placement for cut in cuts for placement in cut.placements}
    later = {placement for cut in cuts for placement in cut.starts_before}
    return replace(
        cuts[0],
        makes=tuple(made for cut in cuts for made in cut.makes),
        choices=(_chained_lead(leads),),
        frees=tuple(placement for cut in cuts for placement in cut.frees),
        starts_before=tuple(sorted(later - placements)),
    )


def _chained_lead(leads: Sequence[LeadChoice]) -> LeadChoice:
    came = 0.0
    along: list[tuple[float, float]] = []
    spans = []
    for k, lead in enumerate(leads):
        if k:
            before = leads[k - 1].end
            came += float(np.hypot(lead.pierce[0] - before[0], lead.pierce[1] - before[1]))
        along += [(came + start, came + end) for start, end in lead.made_along]
        # Slower stretches of a lead-in are the moving pierce's: but for the first, nothing is pierced.
        slow = [span for span in lead.spans if k == 0 or span.end > lead.lead_in_length + SAME_PLACE]
        spans += [replace(span, start=came + span.start, end=came + span.end) for span in slow]
        came += float(length(lead.path))
    return LeadChoice(
        path=Path(np.vstack([lead.path.vertices for lead in leads]), closed=False),
        pierce=leads[0].pierce,
        end=leads[-1].end,
        lead_in_length=leads[0].lead_in_length,
        lead_out_length=leads[-1].lead_out_length,
        spans=tuple(spans),
        edge_start=leads[0].edge_start,
        penalty_s=sum(lead.penalty_s for lead in leads),
        along=tuple(along),
    )


def shared_stretches(cut: Cut, lead: LeadChoice) -> list[tuple[Made, Made, float, float]]:
    """Return where a cut makes two parts at once: both, and from where to where on its path, mm.

    Parameters
    ----------
    cut : Cut
    lead : LeadChoice
        One of its choices.

    Returns
    -------
    list of (Made, Made, float, float)
    """
    found = []
    rows = list(zip(cut.makes, lead.made_along, strict=True)) if cut.makes else []
    for (one, a), (other, b) in itertools.combinations(rows, 2):
        start, end = max(a[0], b[0]), min(a[1], b[1])
        if one.placement != other.placement and end - start > LEAST_SHARED:
            found.append((one, other, start, end))
    return found
