"""From an exact path to the moves that a number format can write.

Each end point is rounded once, from its exact place, so no error adds up along the way; an
arc's centre is solved anew for its rounded ends, with the included angle kept.  Whole text
and modal words are left to `blocks`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

import numpy as np

from cutplan.base.errors import ProgramError
from cutplan.geometry import Path
from cutplan.program.numbers import NumberFormat
from cutplan.program.postfile import Arcs

__all__ = ["Arc", "Move", "Side", "has_wide_arcs", "rounded_arc", "rounded_moves", "without_wide_arcs"]

# NISTIR 6556, 3.5.3.2: radii at the two ends of an arc that differ by more are an error.
RADIUS_TOLERANCE_MM, RADIUS_TOLERANCE_IN = 0.002, 0.0002
# Neighbouring arcs whose centres are closer than this, mm, are one arc.
_SAME_CENTRE_MM = 1e-6
_FULL_TURN_SLACK = 1e-9  # rad
_WIDEST_CHORD = math.radians(60.0)

Side = Literal["left", "right", "on"]
Steps = tuple[int, int]


class Arc(NamedTuple):
    """How far an arc turns (rad, positive counter-clockwise), and its centre and radius.

    `centre` is given from the arc's start, `absolute` in plate coordinates, both in steps of
    the centre's decimals; `radius` is in steps of the coordinates.
    """

    sweep: float
    centre: Steps
    absolute: Steps
    radius: int


class Move(NamedTuple):
    """A feed move to (x, y), in whole steps of the format; a line where `arc` is None."""

    x: int
    y: int
    arc: Arc | None = None

    def length(self, start: Steps) -> float:
        """Return the way from a place in steps, in steps."""
        if self.arc is None:
            return math.dist(start, (self.x, self.y))
        return self.arc.radius * abs(self.arc.sweep)


class _Run(NamedTuple):
    """A line (sweep 0) or an arc, which may go round more than once, in mm."""

    start: tuple[float, float]
    end: tuple[float, float]
    sweep: float
    centre: tuple[float, float]

    @property
    def radius(self) -> float:
        return math.dist(self.start, self.centre)

    def at(self, fraction: float) -> tuple[float, float]:
        """Point of an arc at a fraction of its sweep."""
        if fraction >= 1.0:
            return self.end
        c, s = math.cos(fraction * self.sweep), math.sin(fraction * self.sweep)
        dx, dy = self.start[0] - self.centre[0], self.start[1] - self.centre[1]
        return self.centre[0] + c * dx - s * dy, self.centre[1] + s * dx + c * dy


def rounded_moves(path: Path, start: Steps, numbers: NumberFormat, arcs: Arcs, scrap: Side) -> list[Move]:
    """Return the feed moves along a path.

    Parameters
    ----------
    path : Path
        Exact path, mm.
    start : tuple of int
        Where the torch stands, in steps: the rounded start of the path.
    numbers : NumberFormat
    arcs : Arcs
        The form of arcs.
    scrap : {"left", "right", "on"}
        Side of the travel on which there is no part; chords are laid there.  "on" lays them
        between points of the arc.

    Raises
    ------
    ProgramError
        An arc cannot be written within the standard's tolerance.
    """
    moves: list[Move] = []
    here = start
    for run in _merged(path, math.inf if arcs.full_circles else math.radians(arcs.sweep_deg)):
        for place, sweep in _pieces(run, arcs, scrap):
            there = numbers.steps(place[0]), numbers.steps(place[1])
            whole = abs(sweep) >= 2.0 * math.pi - _FULL_TURN_SLACK
            if there == here and not whole:
                continue
            arc = _arc(run, here, there, sweep, numbers) if sweep else None
            moves.append(Move(*there, arc))
            here = there
    return moves


def has_wide_arcs(path: Path, arcs: Arcs) -> bool:
    """Return whether a path has arcs that are too wide to be written as arcs.

    Parameters
    ----------
    path : Path
    arcs : Arcs

    Returns
    -------
    bool
    """
    rows = path.segments
    return bool((rows.radius[rows.is_arc] > arcs.largest_radius_mm).any())


def without_wide_arcs(path: Path, arcs: Arcs, scrap: Side) -> Path:
    """Return an open path with lines in place of the arcs that are too wide to be written.

    Parameters
    ----------
    path : Path
    arcs : Arcs
        With the widest radius and the tolerance of lines.
    scrap : {"left", "right", "on"}
        Side of the travel on which the lines are laid; "on" lays them between points of the arc.

    Returns
    -------
    Path
        Starting and ending as the other does.
    """
    if not has_wide_arcs(path, arcs):
        return path
    rows = path.segments
    vertices: list[tuple[float, float, float]] = []
    for k, (x, y, bulge) in enumerate(path.vertices[: len(path)].tolist()):
        if not bulge or rows.radius[k] <= arcs.largest_radius_mm:
            vertices.append((x, y, bulge))
            continue
        run = _Run((x, y), tuple(rows.end[k].tolist()), float(rows.sweep[k]), tuple(rows.centre[k].tolist()))
        corners = list(_chords(run, arcs.chord_tolerance_mm, scrap))[:-1]
        vertices += [(x, y, 0.0), *((cx, cy, 0.0) for cx, cy in corners)]
    return Path(np.array([*vertices, (*path.end.tolist(), 0.0)]), closed=False)


def rounded_arc(
    start: tuple[float, float], end: tuple[float, float], centre: tuple[float, float], sweep: float,
    here: Steps, there: Steps, numbers: NumberFormat,
) -> Arc | None:  # fmt: skip
    """Return an arc between its rounded ends; None where it is as good as a line.

    Parameters
    ----------
    start, end, centre : (x, y)
        Exact, mm.
    sweep : float
        rad, positive counter-clockwise.
    here, there : tuple of int
        The rounded ends, in steps.
    numbers : NumberFormat

    Raises
    ------
    ProgramError
        It cannot be written within the standard's tolerance.
    """
    return _arc(_Run(start, end, sweep, centre), here, there, sweep, numbers)


def _merged(path: Path, widest: float) -> list[_Run]:
    """Return a path's segments, neighbouring arcs of one circle joined up to a widest turn, rad."""
    rows = path.segments
    runs: list[_Run] = []
    for start, end, sweep, centre in zip(
        rows.start.tolist(), rows.end.tolist(), rows.sweep.tolist(), rows.centre.tolist(), strict=True
    ):
        run = _Run(tuple(start), tuple(end), sweep, tuple(centre))
        last = runs[-1] if runs else None
        if (
            last is not None
            and sweep * last.sweep > 0.0
            and abs(sweep + last.sweep) <= widest + _FULL_TURN_SLACK
            and math.dist(centre, last.centre) <= _SAME_CENTRE_MM
        ):
            runs[-1] = _Run(last.start, run.end, last.sweep + sweep, last.centre)
        else:
            runs.append(run)
    return runs


def _pieces(run: _Run, arcs: Arcs, scrap: Side) -> Iterator[tuple[tuple[float, float], float]]:
    """Yield end points and sweeps of the blocks that a run is written in."""
    if run.sweep == 0.0:
        yield run.end, 0.0
        return
    if arcs.form == "lines":
        for place in _chords(run, arcs.chord_tolerance_mm, scrap):
            yield place, 0.0
        return
    done = 0.0
    total = abs(run.sweep)
    if arcs.full_circles and total >= 2.0 * math.pi - _FULL_TURN_SLACK:
        done = 2.0 * math.pi
        yield run.start, math.copysign(done, run.sweep)
    rest = total - done
    if rest <= _FULL_TURN_SLACK:
        return
    count = math.ceil(rest / math.radians(arcs.sweep_deg) - _FULL_TURN_SLACK)
    for k in range(1, count + 1):
        yield (
            run.at((done + rest * k / count) / total if k < count else 1.0),
            run.sweep / total * rest / count,
        )


def _chords(run: _Run, tolerance: float, scrap: Side) -> Iterator[tuple[float, float]]:
    """Yield corners of lines along an arc that keep to the scrap side, within the tolerance.

    Towards the centre the lines join points of the arc; away from it they touch the arc.
    """
    total, radius = abs(run.sweep), run.radius
    outward = scrap == ("right" if run.sweep > 0.0 else "left")
    ratio = radius / (radius + tolerance) if outward else max(1.0 - tolerance / radius, -1.0)
    count = max(1, math.ceil(total / min(2.0 * math.acos(ratio), _WIDEST_CHORD) - _FULL_TURN_SLACK))
    if not outward:
        yield from (run.at(k / count) for k in range(1, count + 1))
        return
    stretch = 1.0 / math.cos(total / count / 2.0)
    for k in range(count):
        x, y = run.at((k + 0.5) / count)
        cx, cy = run.centre
        yield cx + stretch * (x - cx), cy + stretch * (y - cy)
    yield run.end


def _arc(run: _Run, here: Steps, there: Steps, sweep: float, numbers: NumberFormat) -> Arc | None:
    """Return an arc between rounded ends; None where it is as good as a line.

    The centre is the true one where the rounded ends suit it, or else solved anew from them.
    """
    dx, dy = there[0] - here[0], there[1] - here[1]
    chord = math.hypot(dx, dy)
    bulge = math.tan(min(abs(sweep), math.pi) / 4.0)
    if here != there and bulge * chord / 2.0 < 0.5:
        return None
    finer = 10 ** (numbers.centre_decimals - numbers.decimals)
    ends = (here[0] * finer, here[1] * finer), (there[0] * finer, there[1] * finer)
    scale = 10**numbers.decimals / numbers.unit_mm
    allowed = (RADIUS_TOLERANCE_IN if numbers.inch else RADIUS_TOLERANCE_MM) * 10**numbers.centre_decimals
    centre = round(run.centre[0] * scale * finer), round(run.centre[1] * scale * finer)
    radius = run.radius * scale
    if _mismatch(ends, centre) > 0.5 * allowed:
        along = math.copysign((1.0 - bulge * bulge) / (4.0 * bulge), sweep)
        solved = here[0] + 0.5 * dx - along * dy, here[1] + 0.5 * dy + along * dx
        centre = _best_on_grid(ends, (solved[0] * finer, solved[1] * finer))
        radius = chord * (1.0 + bulge * bulge) / (4.0 * bulge)
    mismatch = _mismatch(ends, centre)
    if mismatch > allowed:
        raise ProgramError(
            f"an arc's two radii differ by {mismatch / 10**numbers.centre_decimals:.4f} after rounding",
            place=(here[0] * numbers.step_mm, here[1] * numbers.step_mm),
            remedy="give the post-processor more numbers.centre_decimals",
        )
    return Arc(sweep, (centre[0] - ends[0][0], centre[1] - ends[0][1]), centre, round(radius))


def _mismatch(ends: tuple[Steps, Steps], centre: Steps) -> float:
    """Return how far the radii at the two ends differ."""
    return abs(math.dist(ends[0], centre) - math.dist(ends[1], centre))


def _best_on_grid(ends: tuple[Steps, Steps], centre: tuple[float, float]) -> Steps:
    """Return the whole steps about a centre for which the radii agree best."""
    x, y = centre
    around = itertools.product((math.floor(x), math.ceil(x)), (math.floor(y), math.ceil(y)))
    return min(around, key=lambda place: (_mismatch(ends, place), math.dist(place, centre)))
