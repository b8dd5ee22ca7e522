"""Turns cuts, machine and demands into the plain arrays that the search works on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from cutplan.base.machine import Machine
from cutplan.cutting import Cut
from cutplan.geometry import nearest, point_at
from cutplan.sequencing.begun import units_of
from cutplan.sequencing.model import SequenceOptions
from cutplan.sequencing.problem import (
    ARRIVE_X,
    ARRIVE_Y,
    AWAY_X,
    AWAY_Y,
    DEPART_X,
    DEPART_Y,
    GROUP,
    GROUP_COST,
    LIFT,
    LOW_REACH,
    NEAR_STOPS,
    NO_LINKS,
    PENALTY,
    SITE_ROWS,
    STUCK,
    WEIGHT,
    FloatArray,
    IntArray,
    LinkTable,
    Problem,
    compressed,
    motion_array,
)

LOW_REACH_MM = 300.0
"""Hops longer than this are taken as raised during the search: something freed will lie in between."""
LIKELY_FACTOR = 3
"""Stops looked at closely for each neighbour wanted, by the gap between the rings around them."""

__all__ = ["SEPARATE_COST_S", "formulate", "motion_of", "near_stops"]

SEPARATE_COST_S = 1000.0
"""Cost of leaving a part for another, s: above any travel, so no part is left and come back to."""
START, END, NO_PART = -1, -2, -3
"""Groups of the way's two ends, and of cuts that make no part."""


def motion_of(machine: Machine) -> FloatArray:
    """Return the machine's speeds and fixed times as `Problem.motion`."""
    motion = motion_array(machine.rapid_mm_min / 60.0, machine.acceleration_mm_s2)
    motion[LIFT] = machine.raise_s + machine.lower_s
    return motion


def formulate(
    cuts: Sequence[Cut],
    machine: Machine,
    options: SequenceOptions,
    before: Sequence[set[int]],
    stages: IntArray,
    wide_hole: NDArray[np.bool_],
    links: LinkTable = NO_LINKS,
) -> Problem:
    """Return the ordering problem of the cuts.

    Parameters
    ----------
    cuts : sequence of Cut
    machine : Machine
    options : SequenceOptions
    before : sequence of set of int
        For each cut all that must come before it.
    stages : int64, shape (n,)
        All cuts of one stage come before any of the next.
    wide_hole : bool, shape (n,)
        Cuts that leave the torch over an open hole, which it cannot leave low.
    links : LinkTable, optional
    """
    first = np.zeros(len(cuts) + 3, dtype=np.int64)
    first[1:] = np.cumsum([*(len(cut.choices) for cut in cuts), 1, 1])
    sites = _sites(cuts, machine, options)
    if options.low_travel:
        _low_leaving(sites, cuts, first, wide_hole)
    owner = np.repeat(np.arange(len(cuts) + 2), np.diff(first)).astype(np.int64)
    before_flat, before_at = compressed([*map(sorted, before), [], []])
    after_flat, after_at = compressed([*_turned_round(before), [], []])
    low, high = (int(stages.min()), int(stages.max())) if len(stages) else (0, 0)
    near = np.full((len(cuts) + 2, min(NEAR_STOPS, max(1, len(cuts) - 1))), -1, dtype=np.int64)
    near[: len(cuts)] = near_stops(first[: len(cuts) + 1], sites, near.shape[1])
    unit, members, members_at, most_open = units_of(cuts, options.most_open)
    return Problem(
        first=first,
        owner=owner,
        sites=sites,
        motion=_motion(machine, options),
        matrix=np.zeros((0, 0)),
        stage=np.concatenate([stages, [low, high]]).astype(np.int64),
        before=before_flat,
        before_at=before_at,
        after=after_flat,
        after_at=after_at,
        near=near,
        ring=_rings(first, sites),
        unit=unit,
        members=members,
        members_at=members_at,
        most_open=most_open,
        links=links,
    )


def _turned_round(before: Sequence[set[int]]) -> list[list[int]]:
    """Return for each cut all that must come after it."""
    after: list[list[int]] = [[] for _ in before]
    for later, earlier in enumerate(before):
        for i in earlier:
            after[i].append(later)
    return after


def _rings(first: IntArray, sites: FloatArray) -> FloatArray:
    """Return the middle and the radius of a circle around all places of each stop, shape (n + 2, 3)."""
    arrive, depart = sites[[ARRIVE_X, ARRIVE_Y]].T, sites[[DEPART_X, DEPART_Y]].T
    counts = np.diff(first)
    middle = np.add.reduceat(0.5 * (arrive + depart), first[:-1], axis=0) / counts[:, None]
    spread = np.repeat(middle, counts, axis=0)
    reach = np.maximum(np.hypot(*(arrive - spread).T), np.hypot(*(depart - spread).T))
    return np.column_stack([middle, np.maximum.reduceat(reach, first[:-1])])


def _motion(machine: Machine, options: SequenceOptions) -> FloatArray:
    motion = motion_of(machine)
    motion[LOW_REACH] = LOW_REACH_MM
    if options.low_travel:
        motion[LIFT] = max(0.0, motion[LIFT] - options.low_lift_s)  # what a raise costs more
    else:
        motion[LIFT] = 0.0  # paid on every hop alike, so it would only blur the search
    motion[GROUP_COST] = SEPARATE_COST_S if options.parts_together else 0.0
    return motion


def _sites(cuts: Sequence[Cut], machine: Machine, options: SequenceOptions) -> FloatArray:
    rows = [
        (*choice.pierce, *choice.end, choice.penalty_s, next(iter(cut.placements), NO_PART))
        for cut in cuts
        for choice in cut.choices
    ]
    rows += [(*machine.start, *machine.start, 0.0, START), (*machine.start, *machine.start, 0.0, END)]
    table = np.array(rows, dtype=np.float64)
    sites = np.zeros((SITE_ROWS, len(rows)))
    sites[[ARRIVE_X, ARRIVE_Y, DEPART_X, DEPART_Y, PENALTY, GROUP]] = table.T
    sites[WEIGHT] = 1.0
    sites[WEIGHT, -1] = 1.0 if options.return_home else 0.0
    return sites


def _low_leaving(
    sites: FloatArray, cuts: Sequence[Cut], first: IntArray, wide_hole: NDArray[np.bool_]
) -> None:
    """Note which way the torch can leave low: not over the part it has just freed, nor from a wide hole."""
    sites[STUCK, : first[len(cuts)]] = np.repeat(wide_hole, np.diff(first[: len(cuts) + 1]))
    sites[STUCK, first[len(cuts)]] = 1.0  # a program begins with the torch up
    for i, cut in enumerate(cuts):
        if cut.makes and cut.makes[-1].placement in cut.frees:
            contour = cut.makes[-1].contour
            ends = sites[[DEPART_X, DEPART_Y], first[i] : first[i + 1]].T
            edge = point_at(contour, nearest(contour, ends)[1])
            sites[[AWAY_X, AWAY_Y], first[i] : first[i + 1]] = (ends - edge).T


def near_stops(first: IntArray, sites: FloatArray, count: int) -> IntArray:
    """Return for each stop the nearest others by the least distance between places.

    Parameters
    ----------
    first : int64, shape (n + 1,)
    sites : float64, shape (SITE_ROWS, m)
    count : int
        Neighbours wanted.

    Returns
    -------
    int64, shape (n, count)
        Nearest first, padded with −1.
    """
    points = sites[[ARRIVE_X, ARRIVE_Y], : first[-1]].T
    counts = np.diff(first)
    centre = np.add.reduceat(points, first[:-1], axis=0) / counts[:, None]
    reach = np.maximum.reduceat(np.hypot(*(points - np.repeat(centre, counts, axis=0)).T), first[:-1])
    stops = len(counts)
    near = np.full((stops, count), -1, dtype=np.int64)
    for i in range(stops):
        gap = np.hypot(*(centre - centre[i]).T) - reach - reach[i]
        gap[i] = np.inf
        likely = np.sort(np.argsort(gap, kind="stable")[: min(LIKELY_FACTOR * count, stops - 1)])
        if len(likely) == 0:
            continue
        rows = np.concatenate([np.arange(first[j], first[j + 1]) for j in likely])
        mine = points[first[i] : first[i + 1]]
        distance = np.hypot(*(points[rows, None] - mine[None]).transpose(2, 0, 1)).min(axis=1)
        starts = np.concatenate([[0], np.cumsum(counts[likely])[:-1]])
        least = np.minimum.reduceat(distance, starts)
        nearest = likely[np.argsort(least, kind="stable")[:count]]
        near[i, : len(nearest)] = nearest
    return near
