"""What is left of a cut on which the torch stopped part way, begun again in its own kerf.

Terminology
-----------
place : how far along the cut's path, leads included, the torch had come when it stopped, mm.
over-run : how far before that place the torch begins again; it runs there in the kerf that it has
    cut, so that nothing is pierced and the drag of the lost cut's lower edge is cut through.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from cutplan.cutting.model import Cut, FeedSpan, LeadChoice, Made
from cutplan.geometry import Path, direction_at, length, nearest, point_at, subpath

__all__ = ["on_placements", "taken_up"]

DONE_MM = 0.05
"""A cut that lacks less is done: the round jet leaves a hundredth of a millimetre there."""


def taken_up(cut: Cut, place: float, over_run: float) -> Cut | None:
    """Return what is left of a cut with one lead, begun again in its kerf; None where nothing is.

    Parameters
    ----------
    cut : Cut
        Of one lead, the one that ran.
    place : float
        How far along it the torch had come, mm.
    over_run : float
        How far before that it begins again, mm.

    Returns
    -------
    Cut or None
        What it makes no longer lists contours that were made whole.
    """
    lead = cut.choices[0]
    total = float(length(lead.path))
    end = total if cut.kind == "mark" else lead.made_along[-1][1]
    if place >= end - DONE_MM:
        return None
    begin = max(0.0, place - over_run)
    stretches = zip(cut.makes, lead.made_along, strict=True) if cut.makes else ()
    left = [(made, first, last) for made, (first, last) in stretches if last > place + DONE_MM]
    makes = tuple(
        _rest_of(made, lead.path, place, begin, last) if first < place and cut.kind != "mark" else made
        for made, first, last in left
    )
    path = subpath(lead.path, begin, total)
    along = tuple((max(first - begin, 0.0), last - begin) for _, first, last in left)
    over_burn = lead.lead_out_length if cut.kind == "hole" else 0.0
    again = LeadChoice(
        path=path,
        pierce=(float(path.start[0]), float(path.start[1])),
        end=lead.end,
        lead_in_length=along[0][0] if along else max(lead.lead_in_length - begin, 0.0),
        lead_out_length=lead.lead_out_length,
        spans=_later_spans(lead, begin),
        edge_start=cut.kind != "mark",
        along=along if len(along) > 1 else (),
        over_run_mm=place - begin,
        again_mm=place - begin + over_burn,
    )
    if cut.kind == "mark":
        makes = tuple(replace(made, contour=path) for made in makes)
    # Parts that it made whole before came loose then.
    frees = tuple(p for p in cut.frees if any(made.placement == p for made in makes))
    return replace(cut, makes=makes, choices=(again,), frees=frees, starts_before=())


def _later_spans(lead: LeadChoice, begin: float) -> tuple[FeedSpan, ...]:
    return tuple(
        FeedSpan(max(span.start - begin, 0.0), span.end - begin, span.factor)
        for span in lead.spans
        if span.end > begin
    )


def _rest_of(made: Made, path: Path, place: float, begin: float, last: float) -> Made:
    """Return what is left to make of a contour, from where the torch begins again."""
    begin = min(begin, place)
    places = point_at(path, np.array([begin, last]))
    _, (first_on, last_on) = nearest(made.contour, places)
    ahead = direction_at(path, np.array([place]))[0]
    along = direction_at(made.contour, nearest(made.contour, point_at(path, np.array([place])))[1])[0]
    forward = float(ahead @ along) > 0.0
    ends = (float(first_on), float(last_on))
    if made.span is not None:
        ends = (ends[0], made.span[1] if forward else made.span[0])
    return replace(made, span=ends if forward else (ends[1], ends[0]))


def on_placements(cut: Cut, number: Mapping[int, int]) -> Cut | None:
    """Return a cut on a sheet with fewer placements; None where it makes something of none of them.

    Parameters
    ----------
    cut : Cut
        Of one lead.
    number : mapping of int to int
        The new number of each placement that stays, by its old one.

    Returns
    -------
    Cut or None
    """
    kept = [k for k, made in enumerate(cut.makes) if made.placement in number]
    if cut.makes and not kept:
        return None
    lead = cut.choices[0]
    if len(kept) < len(cut.makes):
        lead = replace(lead, along=tuple(lead.made_along[k] for k in kept))
    return replace(
        cut,
        makes=tuple(replace(cut.makes[k], placement=number[cut.makes[k].placement]) for k in kept),
        choices=(lead,),
        frees=tuple(number[p] for p in cut.frees if p in number),
        inside_of=number.get(cut.inside_of) if cut.inside_of is not None else None,
        starts_before=tuple(number[p] for p in cut.starts_before if p in number),
    )
