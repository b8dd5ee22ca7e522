"""Turns cuts, machine and demands into the plain arrays that the search works on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from cutplan.compiled import njit
from cutplan.cutting import Cut
from cutplan.machine import Machine
from cutplan.sequencing.model import SequenceOptions
from cutplan.sequencing.problem import (
    ACCELERATION,
    ARRIVE_X,
    ARRIVE_Y,
    DEPART_X,
    DEPART_Y,
    GROUP,
    GROUP_COST,
    LIFT,
    MOTION_SIZE,
    NEAR_STOPS,
    PENALTY,
    SITE_COLUMNS,
    SPEED,
    WEIGHT,
    FloatArray,
    IntArray,
    Problem,
    compressed,
)

__all__ = ["formulate", "motion_of", "near_stops"]

SEPARATE_COST_S = 1000.0
"""Cost of leaving a part for another, s: above any travel, so no part is left and come back to."""


def motion_of(machine: Machine) -> FloatArray:
    """Return the machine's speeds and fixed times as `Problem.motion`."""
    motion = np.zeros(MOTION_SIZE)
    motion[SPEED] = machine.rapid_mm_min / 60.0
    motion[ACCELERATION] = machine.acceleration_mm_s2
    motion[LIFT] = machine.raise_s + machine.lower_s
    return motion


def formulate(
    cuts: Sequence[Cut],
    machine: Machine,
    options: SequenceOptions,
    before: Sequence[set[int]],
    stages: IntArray,
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
        Stage of each cut; all of one stage come before any of the next.
    """
    counts = [len(cut.choices) for cut in cuts]
    first = np.zeros(len(cuts) + 3, dtype=np.int64)
    first[1:] = np.cumsum([*counts, 1, 1])
    sites = _sites(cuts, machine, options)
    owner = np.repeat(np.arange(len(cuts) + 2), np.diff(first)).astype(np.int64)
    after: list[list[int]] = [[] for _ in range(len(cuts) + 2)]
    for later, earlier in enumerate(before):
        for i in earlier:
            after[i].append(later)
    before_flat, before_at = compressed([*(sorted(row) for row in before), [], []])
    after_flat, after_at = compressed(after)
    motion = motion_of(machine)
    if not options.low_travel:
        motion[LIFT] = 0.0  # paid on every hop alike, so it would only blur the search
    motion[GROUP_COST] = SEPARATE_COST_S if options.parts_together else 0.0
    low, high = (int(stages.min()), int(stages.max())) if len(stages) else (0, 0)
    near = np.full((len(cuts) + 2, min(NEAR_STOPS, max(1, len(cuts) - 1))), -1, dtype=np.int64)
    near[: len(cuts)] = near_stops(first[: len(cuts) + 1], sites, near.shape[1])
    return Problem(
        first=first,
        owner=owner,
        sites=sites,
        motion=motion,
        matrix=np.zeros((0, 0)),
        stage=np.concatenate([stages, [low, high]]).astype(np.int64),
        before=before_flat,
        before_at=before_at,
        after=after_flat,
        after_at=after_at,
        near=near,
    )


def _sites(cuts: Sequence[Cut], machine: Machine, options: SequenceOptions) -> FloatArray:
    rows = [
        (*choice.pierce, *choice.end, choice.penalty_s, cut.placement)
        for cut in cuts
        for choice in cut.choices
    ]
    rows += [(*machine.start, *machine.start, 0.0, -1), (*machine.start, *machine.start, 0.0, -2)]
    table = np.array(rows, dtype=np.float64)
    sites = np.zeros((len(rows), SITE_COLUMNS))
    sites[:, [ARRIVE_X, ARRIVE_Y, DEPART_X, DEPART_Y, PENALTY, GROUP]] = table
    sites[:, WEIGHT] = 1.0
    sites[-1, WEIGHT] = 1.0 if options.return_home else 0.0
    return sites


def near_stops(first: IntArray, sites: FloatArray, count: int) -> IntArray:
    """Return for each stop the nearest others by the least distance between places.

    Parameters
    ----------
    first : int64, shape (n + 1,)
    sites : float64, shape (m, SITE_COLUMNS)
    count : int
        Neighbours wanted.

    Returns
    -------
    int64, shape (n, count)
        Nearest first, padded with −1.
    """
    stops = len(first) - 1
    points = np.ascontiguousarray(sites[: first[-1], [ARRIVE_X, ARRIVE_Y]])
    sizes = np.diff(first).astype(np.float64)
    centre = np.add.reduceat(points, first[:-1], axis=0) / sizes[:, None]
    reach = np.maximum.reduceat(np.hypot(*(points - np.repeat(centre, np.diff(first), axis=0)).T), first[:-1])
    near = np.full((stops, count), -1, dtype=np.int64)
    for i in range(stops):
        gap = np.hypot(centre[:, 0] - centre[i, 0], centre[:, 1] - centre[i, 1]) - reach - reach[i]
        gap[i] = np.inf
        by_gap = np.argsort(gap, kind="stable")[: stops - 1].astype(np.int64)
        _fill_near(first, points, i, by_gap, gap, near[i])
    return near


@njit
def _fill_near(first: Any, points: Any, i: Any, by_gap: Any, gap: Any, near: Any) -> Any:
    distance = np.full(near.shape[0], np.inf)
    for j in by_gap:
        if gap[j] > 0.0 and gap[j] * gap[j] >= distance[-1]:
            break
        least = np.inf
        for p in range(first[i], first[i + 1]):
            for q in range(first[j], first[j + 1]):
                dx, dy = points[q, 0] - points[p, 0], points[q, 1] - points[p, 1]
                least = min(least, dx * dx + dy * dy)
        at = near.shape[0] - 1
        if least >= distance[at]:
            continue
        while at > 0 and distance[at - 1] > least:
            distance[at], near[at] = distance[at - 1], near[at - 1]
            at -= 1
        distance[at], near[at] = least, j
