"""Links along a settled order held against every lead, pierce and other link, and against heat."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from cutplan.cutting import Links
from cutplan.geometry import Path, chord_points, length, point_at, subpath
from cutplan.process import CutData
from cutplan.sequencing.heat import temperature_rise
from cutplan.sequencing.model import Step
from cutplan.sequencing.order_heat import HeatSource, laid_down

__all__ = ["hot_links", "spoilt_links"]

CHORD_MM = 0.01
HEAT_SAMPLES = 12
LEAST_METAL = 0.5
"""Metal that stays between a link's kerf and another's, mm (common practice)."""

Pair = tuple[int, int]


def spoilt_links(steps: Sequence[Step], members: Sequence[Sequence[int]], data: CutData) -> set[Pair]:
    """Return the pairs of cuts whose link comes too near a lead, a pierce or another link.

    Parameters
    ----------
    steps : sequence of Step
        In the order of cutting.
    members : sequence of sequence of int
        By step, the numbers of the cuts that it joins.
    data : CutData
    """
    ways, pairs, steps_of, numbers = [], [], [], []
    near, owners, pierces = [], [], []
    for k, (step, own) in enumerate(zip(steps, members, strict=True)):
        if step.cut.kind == "mark":
            continue
        pierces.append(shapely.Point(step.lead.pierce))
        links = [_line(subpath(step.lead.path, *link)) for link in step.lead.links]
        total = float(length(step.lead.path))
        for first, last in ((0.0, step.lead.lead_in_length), (total - step.lead.lead_out_length, total)):
            if last - first > CHORD_MM:
                near.append(_line(subpath(step.lead.path, first, last)))
                owners.append((k, -1 if first == 0.0 else len(links)))
        for m, (pair, link) in enumerate(zip(pairwise(own), links, strict=True)):
            ways.append(link)
            pairs.append(pair)
            steps_of.append(k)
            numbers.append(m)
            near.append(link)
            owners.append((k, m))
    if not ways:
        return set()
    spoilt: set[Pair] = set()
    way, other = shapely.STRtree(near).query(ways, predicate="dwithin", distance=data.kerf + LEAST_METAL)
    for w, o in zip(way.tolist(), other.tolist(), strict=True):
        k, m = owners[o]
        # Of its own run, what comes right before or behind it was looked at when it was found.
        if k != steps_of[w] or abs(m - numbers[w]) > 1:
            spoilt.add(pairs[w])
    reach = data.mound_radius + 0.5 * data.kerf
    way, _ = shapely.STRtree(pierces).query(ways, predicate="dwithin", distance=reach)
    return spoilt | {pairs[w] for w in way.tolist()}


def _line(path: Path) -> Any:
    return shapely.LineString(chord_points(path, CHORD_MM))


def hot_links(
    steps: Sequence[Step],
    members: Sequence[Sequence[int]],
    links: Links,
    source: HeatSource | None,
    ambient_c: float,
) -> set[Pair]:
    """Return the pairs of cuts whose link comes to a part that is hotter than it allows.

    Parameters
    ----------
    steps : sequence of Step
        In the order of cutting.
    members : sequence of sequence of int
        By step, the numbers of the cuts that it joins.
    links : Links
        Its limits are looked at.
    source : HeatSource or None
        With the times of the steps; None where the model is not run: nothing is then too hot.
    ambient_c : float
        Before the first cut.

    Notes
    -----
    How hot a part is, is the mean along its outside when the torch comes to it: at the torch
    itself it is always hot.
    """
    if source is None or not np.isfinite(links.hottest_c).any():
        return set()
    sources, begins, _ = laid_down(steps, source)
    hot: set[Pair] = set()
    for step, own, begin, time in zip(steps, members, begins, source.cut_times, strict=True):
        for pair, (start, end) in zip(pairwise(own), step.lead.made_along[1:], strict=False):
            if not np.isfinite(links.hottest_c[pair[1]]):
                continue
            places = point_at(step.lead.path, np.linspace(start, end, HEAT_SAMPLES, endpoint=False))
            when = np.full(HEAT_SAMPLES, begin + time.start_s + float(time.run.at(np.array([start]))[0]))
            rise = float(temperature_rise(source.heat, sources, places, when).mean())
            if ambient_c + rise > links.hottest_c[pair[1]]:
                hot.add(pair)
    return hot
