"""A stopped program and its restart held against the plan by a replay that shares no code with the package.

Runs are those of the torch and of the marker in the order of the program.  What the torch did up to
a place, and what the restart does, must together be what was planned: every later run as it was,
and of the run that is taken up the rest, begun the stated over-run before the place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import shapely
from replay import Row, lit_runs, run
from replay_judge import sweep_of

SAME_MM = 0.015
"""Arcs rounded twice, from other ends, lie so near each other."""
Point = tuple[float, float]


@dataclass(frozen=True)
class Run:
    """A run of torch or marker as a line of close points."""

    is_mark: bool
    points: list[Point]
    rows: Sequence[Row] = ()

    @property
    def length(self) -> float:
        return sum(math.dist(a, b) for a, b in zip(self.points, self.points[1:], strict=False))

    def at(self, way: float) -> Point:
        """Return the place a way along the run."""
        for a, b in zip(self.points, self.points[1:], strict=False):
            size = math.dist(a, b)
            if way <= size:
                share = way / size if size else 0.0
                return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]))
            way -= size
        return self.points[-1]

    def rest(self, way: float) -> list[Point]:
        """Return the points of what lies behind a way along the run."""
        left, found = way, [self.at(way)]
        for a, b in zip(self.points, self.points[1:], strict=False):
            left -= math.dist(a, b)
            if left < 0.0:
                found.append(b)
        return found


def runs_of(texts: Sequence[str], dialect: Mapping[str, Any]) -> list[Run]:
    """Return the runs of torch and marker of a program, in order."""
    rows = run(list(texts), dialect)
    found: list[tuple[tuple[int, int, int], Run]] = []
    number = {id(row): k for k, row in enumerate(rows)}
    for what in ("torch", "marker"):
        for own in lit_runs(rows, what):
            moves = [row for row in own if row.moves and row.kind != "rapid"]
            if moves:
                found.append(((0, 0, number[id(own[0])]), Run(what == "marker", _points(moves), own)))
    return [each for _, each in sorted(found, key=lambda pair: pair[0])]


def _points(moves: Sequence[Row]) -> list[Point]:
    points: list[Point] = [moves[0].start[:2]]
    for row in moves:
        points += row.points()
    return points


def _apart(one: Sequence[Point], other: Sequence[Point]) -> float:
    """Return how far two lines of points lie from each other at most, from point to line."""
    lines = shapely.linestrings(one), shapely.linestrings(other)
    there = shapely.distance(lines[1], shapely.points(one)).max()
    return float(max(there, shapely.distance(lines[0], shapely.points(other)).max()))


def wrongs(
    planned: Sequence[Run],
    restart: Sequence[Run],
    first: int,
    place: float | None,
    over_run: float,
    chord: float = 0.0,
    offset: float = 0.0,
) -> list[str]:
    """Return what a restart does otherwise than the plan; empty where it is right.

    Parameters
    ----------
    planned, restart : sequence of Run
    first : int
        The planned run that the restart begins with, from 0.
    place : float or None
        How far along that run the torch had come, mm; None where it is made anew.
    over_run : float
        How far before it the restart is stated to begin, mm.
    chord : float
        Lines in place of arcs lie so far off these, mm.
    offset : float
        Radius by which the control offsets planned runs, mm; the one that is taken up it does not.
    """
    if len(restart) != len(planned) - first:
        return [f"{len(restart)} runs are left, not {len(planned) - first}"]
    found = []
    for k, (old, new) in enumerate(zip(planned[first:], restart, strict=True)):
        if k == 0 and place is not None and offset and not old.is_mark:
            found += _swept_otherwise(old, new, place - over_run, offset)
            continue
        wanted = old.points if k or place is None else old.rest(max(0.0, place - over_run))
        length = Run(old.is_mark, wanted).length
        slack = SAME_MM + 0.0005 * length + (0.05 if chord else 0.0)
        if old.is_mark != new.is_mark or abs(length - new.length) > slack:
            found.append(f"run {first + k + 1} is {new.length:.3f} mm long, not {length:.3f}")
        elif _apart(wanted, new.points) > SAME_MM + 2.0 * chord:
            found.append(f"run {first + k + 1} lies {_apart(wanted, new.points):.3f} mm off")
    return found


def _swept_otherwise(old: Run, new: Run, way: float, radius: float) -> list[str]:
    """Return where a run that is taken up removes what the planned one did not, or leaves too much of it."""
    # The replay's strips beside a programmed path have no round ends, at corners neither.
    planned, again = sweep_of(old.rows, radius), sweep_of(new.rows, radius)
    more, round_ends = again.difference(planned.buffer(0.05)), 6.0 * math.pi * radius * radius
    left = planned.difference(again).area
    found = []
    if more.area > round_ends:
        found.append(f"the run taken up removes {more.area:.2f} mm² more than planned")
    most = 2.0 * radius * (max(way, 0.0) + 4.0 * radius)
    return [*found, *([f"{left:.1f} mm² are left, not {most:.1f}"] if left > most else [])]
