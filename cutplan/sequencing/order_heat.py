"""How hot an order makes the plate, and how to order cooler; how it spreads is told in `heat`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import shapely

from cutplan.base.compiled import njit
from cutplan.base.randomness import below, new_stream
from cutplan.cutting import Cut, CutTime
from cutplan.geometry import FloatArray, Path, to_polygon
from cutplan.process import CutData
from cutplan.sequencing.begun import OVER_COST_S, overs
from cutplan.sequencing.heat import (
    FORGET_K,
    PlateHeat,
    Sources,
    pieces_of,
    temperature_rise,
)
from cutplan.sequencing.model import SequenceOptions, Step
from cutplan.sequencing.problem import IntArray, Problem, hop

__all__ = ["HeatReport", "HeatSource", "cooler_order", "heat_report", "laid_down"]

SAMPLES = 16
"""Places on a part where its temperature is looked at."""
RIM_THICKNESSES = 2.0
"""They lie so many plate thicknesses inside its edges: at the edge itself the source is a point."""
OVER_LIMIT_COST = 10.0
"""Seconds that each K over the limit counts: more than any detour is worth."""
YIELDING_COST_S = 1.0
"""What a part too many, begun and not finished, still counts on each way where heat asks for it, s."""
FEWEST_PROPOSALS, PROPOSALS_PER_CUT = 2_000, 15
MOST_LOOKED_AT = 500_000
"""Cuts looked at in all proposals together, at most: each proposal runs through the whole order."""


class HeatSource(NamedTuple):
    """What warms a plate: how long each cut takes, by which data it is cut, and how heat spreads."""

    cut_times: Sequence[CutTime]
    data: CutData
    heat: PlateHeat


@dataclass(frozen=True, eq=False)
class HeatReport:
    """What the heat model says of an order.

    Attributes
    ----------
    start_rises : float64, shape (n,)
        Rise over the ambient temperature at each pierce point when the torch arrives, K.
    greatest_difference : float
        Greatest difference of temperature across a part when its outside is begun or done, K.
    """

    start_rises: FloatArray
    greatest_difference: float


def heat_report(
    steps: Sequence[Step], source: HeatSource, torch_shifts: Sequence[float] = (0.0,)
) -> HeatReport:
    """Run the heat model along an order.

    Of torches side by side, each a shift in y from the first, the hottest counts.

    Parameters
    ----------
    steps : sequence of Step
        In the order of cutting.
    source : HeatSource
        Its times are those of the steps.
    torch_shifts : sequence of float, optional
        How far each torch stands from the first, mm in y.

    Returns
    -------
    HeatReport
    """
    heat = source.heat
    if not steps:
        return HeatReport(np.zeros(0), 0.0)
    single, begins, ends = laid_down(steps, source)
    shifts = np.array([(0.0, shift) for shift in torch_shifts])
    sources = Sources(
        (single.place[:, None] + shifts).reshape(-1, 2),
        np.repeat(single.time, len(shifts)),
        np.repeat(single.energy, len(shifts)),
    )
    pierces = np.array([step.lead.pierce for step in steps])
    rises = [temperature_rise(heat, sources, pierces + shift, np.array(begins)) for shift in shifts]
    differences = [_greatest_difference(steps, sources, heat, begins, ends, shift) for shift in shifts]
    return HeatReport(np.max(rises, axis=0), max(differences))


def laid_down(steps: Sequence[Step], source: HeatSource) -> tuple[Sources, list[float], list[float]]:
    """Return the heat that one torch lays down along an order, and when each step begins and ends, s.

    Parameters
    ----------
    steps : sequence of Step
        At least one, in the order of cutting.
    source : HeatSource
        Its times are those of the steps.
    """
    places, times, energies, begins, ends = [], [], [], [], []
    clock = 0.0
    for step, time in zip(steps, source.cut_times, strict=True):
        clock += step.travel.seconds
        begins.append(clock)
        piece, after, energy = pieces_of(step.cut, step.lead, time, source.data)
        places.append(piece)
        times.append(clock + after)
        energies.append(energy)
        clock += time.seconds
        ends.append(clock)
    return Sources(np.vstack(places), np.concatenate(times), np.concatenate(energies)), begins, ends


def _greatest_difference(
    steps: Sequence[Step],
    sources: Sources,
    heat: PlateHeat,
    begins: list[float],
    ends: list[float],
    shift: FloatArray,
) -> float:
    holes: dict[int, list[Any]] = {}
    for step in steps:
        for made in step.cut.makes if step.cut.kind == "hole" else ():
            holes.setdefault(made.placement, []).append(made.contour)
    outers = {
        (k, made.placement): made.contour
        for k, step in enumerate(steps)
        if step.cut.kind == "outside"
        for made in step.cut.makes
    }
    places, times, part = [], [], []
    for (k, placement), contour in outers.items():
        samples = _samples(contour, holes.get(placement, []), heat.thickness) + shift
        for when in (begins[k], ends[k]):
            places.append(samples)
            times.append(np.full(len(samples), when))
            part.append(len(samples))
    if not part:
        return 0.0
    rises = temperature_rise(heat, sources, np.vstack(places), np.concatenate(times))
    at = np.concatenate([[0], np.cumsum(part)[:-1]])
    return float((np.maximum.reduceat(rises, at) - np.minimum.reduceat(rises, at)).max())


def _samples(contour: Path, holes: Sequence[Any], thickness: float) -> FloatArray:
    """Return places on a part, well inside its edges."""
    part = to_polygon(contour, holes, tolerance=0.5)
    rim = RIM_THICKNESSES * thickness
    inner = part.buffer(-rim)
    while inner.is_empty and rim > 0.1:
        rim *= 0.5
        inner = part.buffer(-rim)
    if inner.is_empty:
        return np.array([part.representative_point().coords[0]])
    line = inner.boundary
    points = line.interpolate(np.arange(SAMPLES) / SAMPLES, normalized=True)
    return np.asarray(shapely.get_coordinates(points))


def cooler_order(
    problem: Problem,
    cuts: Sequence[Cut],
    order: IntArray,
    place: IntArray,
    source: HeatSource,
    options: SequenceOptions,
    *,
    seed: int,
    lift_s: float,
) -> IntArray:
    """Return an order with cooler starts for the travel it costs.

    Single cuts and short runs of cuts are moved to other places in the order, hot starts
    first; a move stays where travel, weighted heat and the excess over the limit come to less.

    Parameters
    ----------
    problem : Problem
    cuts : sequence of Cut
    order : int64, shape (n + 2,)
        Start and end included.
    place : int64, shape (n + 2,)
    source : HeatSource
        Its times are those of the cuts, each from the place chosen.
    options : SequenceOptions
        `hottest_start_c`, `heat_weight_s` and `ambient_c` are looked at.
    seed : int
    lift_s : float
        Time to raise and lower, s, not in the problem's hops.
    """
    cut_times, data, heat = source
    limit = math.inf if options.hottest_start_c is None else options.hottest_start_c - options.ambient_c
    chosen = place - problem.first[:-1]
    pieces = [pieces_of(cut, cut.choices[chosen[i]], cut_times[i], data) for i, cut in enumerate(cuts)]
    at = np.concatenate([[0], np.cumsum([len(piece[0]) for piece in pieces])]).astype(np.int64)
    burden = (
        np.vstack([piece[0] for piece in pieces]),
        np.concatenate([piece[1] for piece in pieces]),
        np.concatenate([piece[2] for piece in pieces]),
        at,
        np.array([time.seconds for time in cut_times]),
        np.array([cut.choices[chosen[i]].pierce for i, cut in enumerate(cuts)]),
        np.array([heat.thickness * heat.conductivity, heat.diffusivity, 1.0 / heat.loss_time_s]),
        np.array([options.heat_weight_s / 100.0**2, limit, OVER_LIMIT_COST, lift_s, OVER_COST_S]),
    )
    best = order.copy()
    hottest = _cool(problem, best, place, burden, _proposals(len(cuts)), new_stream(seed))
    if hottest > limit:
        # The limit cannot be kept with so few parts begun: it is asked for, the cap gives way.
        burden[-1][-1] = YIELDING_COST_S
        _cool(problem, best, place, burden, _proposals(len(cuts)), new_stream(seed))
    return best


def _proposals(cuts: int) -> int:
    return min(FEWEST_PROPOSALS + PROPOSALS_PER_CUT * cuts, MOST_LOOKED_AT // max(1, cuts))


@njit
def _burden(problem: Any, order: Any, place: Any, burden: Any, rises: Any) -> Any:
    """Return travel, weighted heat and excess of an order in seconds, and set the rise of each stop's start."""
    matrix, links, sites, motion = problem.matrix, problem.links, problem.sites, problem.motion
    piece, after, energy, at, duration, pierce, plate, prices = burden
    count = order.shape[0] - 2
    begin = np.empty(count + 1)
    clock = 0.0
    cost = 0.0
    for k in range(1, count + 1):
        stop = order[k]
        travel = hop(matrix, links, sites, motion, place[order[k - 1]], place[stop])
        cost += travel
        clock += travel + prices[3]
        begin[k] = clock
        rise = 0.0
        for i in range(k - 1, 0, -1):
            other = order[i]
            first, last = at[other], at[other + 1]
            oldest = clock - begin[i]
            if energy[first] / (4.0 * math.pi * plate[0] * (oldest - duration[other] + 1e-3)) <= FORGET_K:
                continue
            for j in range(first, last):
                age = oldest - after[j]
                height = energy[j] / (4.0 * math.pi * plate[0] * age)
                dx, dy = pierce[stop, 0] - piece[j, 0], pierce[stop, 1] - piece[j, 1]
                fall = (dx * dx + dy * dy) / (4.0 * plate[1] * age) + age * plate[2]
                if fall < 20.0:
                    rise += height * math.exp(-fall)
        rises[stop] = rise
        cost += prices[0] * rise * rise
        if rise > prices[1]:
            cost += prices[2] * (rise - prices[1])
        clock += duration[stop]
    cost += prices[4] * overs(problem, order, np.empty(problem.members_at.shape[0] - 1, dtype=np.int64))
    return cost + hop(matrix, links, sites, motion, place[order[count]], place[order[count + 1]])


@njit
def _may_stand(problem: Any, order: Any, position: Any) -> Any:
    """Whether the precedences and stages hold along the whole order."""
    for k in range(order.shape[0]):
        position[order[k]] = k
    for k in range(1, order.shape[0] - 1):
        stop = order[k]
        if problem.stage[order[k - 1]] > problem.stage[stop]:
            return False
        for i in range(problem.before_at[stop], problem.before_at[stop + 1]):
            if position[problem.before[i]] > k:
                return False
    return True


@njit
def _cool(problem: Any, order: Any, place: Any, burden: Any, proposals: Any, stream: Any) -> Any:
    n = order.shape[0] - 2
    rises = np.zeros(n + 2)
    tried_rises = np.zeros(n + 2)
    tried = order.copy()
    position = np.zeros(n + 2, dtype=np.int64)
    cost = _burden(problem, order, place, burden, rises)
    for _ in range(proposals):
        # The hotter of a few starts drawn by chance is the one to move.
        source = 1 + below(stream, n)
        for _ in range(below(stream, 6)):
            other = 1 + below(stream, n)
            if rises[order[other]] > rises[order[source]]:
                source = other
        size = min(1 + below(stream, 3), n + 1 - source)
        target = 1 + below(stream, n + 1 - size)
        k = 1
        for i in range(1, n + 1):
            if k == target:
                for j in range(size):
                    tried[k] = order[source + j]
                    k += 1
            if i < source or i >= source + size:
                tried[k] = order[i]
                k += 1
        if k <= n:
            for j in range(size):
                tried[k] = order[source + j]
                k += 1
        if target == source or not _may_stand(problem, tried, position):
            continue
        other_cost = _burden(problem, tried, place, burden, tried_rises)
        if other_cost < cost - 1e-9:
            cost = other_cost
            for i in range(n + 2):
                order[i] = tried[i]
                rises[i] = tried_rises[i]
    return rises[:n].max()
