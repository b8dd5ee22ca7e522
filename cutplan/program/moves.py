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

from cutplan.errors import ProgramError
from cutplan.geometry import Path
from cutplan.program.numbers import NumberFormat
from cutplan.program.postfile import Arcs

__all__ = ["Arc", "Move", "Side", "rounded_moves"]

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
    for run in _merged(path):
        for place, sweep in _pieces(run, arcs, scrap):
            there = numbers.steps(place[0]), numbers.steps(place[1])
            whole = abs(sweep) >= 2.0 * math.pi - _FULL_TURN_SLACK
            if there == here and not whole:
                continue
            arc = _full_circle(run, here, sweep, numbers) if whole else _arc(here, there, sweep, numbers)
            moves.append(Move(*there, arc))
            here = there
    return moves


def _merged(path: Path) -> list[_Run]:
    """Return a path's segments with neighbouring arcs of one circle joined."""
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
    count = math.ceil(total / min(2.0 * math.acos(ratio), _WIDEST_CHORD) - _FULL_TURN_SLACK)
    if not outward:
        yield from (run.at(k / count) for k in range(1, count + 1))
        return
    stretch = 1.0 / math.cos(total / count / 2.0)
    for k in range(count):
        x, y = run.at((k + 0.5) / count)
        cx, cy = run.centre
        yield cx + stretch * (x - cx), cy + stretch * (y - cy)
    yield run.end


def _arc(here: Steps, there: Steps, sweep: float, numbers: NumberFormat) -> Arc | None:
    """Return an arc between rounded ends; None where it is as good as a line."""
    if sweep == 0.0:
        return None
    bulge = math.tan(sweep / 4.0)
    dx, dy = there[0] - here[0], there[1] - here[1]
    chord = math.hypot(dx, dy)
    if abs(bulge) * chord / 2.0 < 0.5:
        return None
    along = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = here[0] + 0.5 * dx - along * dy, here[1] + 0.5 * dy + along * dx
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    return _solved(here, there, sweep, centre, radius, numbers)


def _full_circle(run: _Run, here: Steps, sweep: float, numbers: NumberFormat) -> Arc:
    scale = 10**numbers.decimals / numbers.unit_mm
    centre = run.centre[0] * scale, run.centre[1] * scale
    return _solved(here, here, sweep, centre, run.radius * scale, numbers)


def _solved(
    here: Steps, there: Steps, sweep: float, centre: tuple[float, float], radius: float, numbers: NumberFormat
) -> Arc:
    """Return the arc with the centre on its grid for which the two radii agree best."""
    finer = 10 ** (numbers.centre_decimals - numbers.decimals)
    fx, fy = centre[0] * finer, centre[1] * finer
    ax, ay, bx, by = (value * finer for value in (*here, *there))
    best: tuple[float, float, int, int] | None = None
    for cx, cy in itertools.product((math.floor(fx), math.ceil(fx)), (math.floor(fy), math.ceil(fy))):
        mismatch = abs(math.hypot(ax - cx, ay - cy) - math.hypot(bx - cx, by - cy))
        found = (mismatch, math.hypot(fx - cx, fy - cy), cx, cy)
        best = found if best is None or found < best else best
    assert best is not None
    allowed = RADIUS_TOLERANCE_IN if numbers.inch else RADIUS_TOLERANCE_MM
    if best[0] > allowed * 10**numbers.centre_decimals:
        raise ProgramError(
            f"an arc's two radii differ by {best[0] / 10**numbers.centre_decimals:.4f} after rounding",
            place=(here[0] * numbers.step_mm, here[1] * numbers.step_mm),
            remedy="give the post-processor more numbers.centre_decimals",
        )
    cx, cy = best[2], best[3]
    return Arc(sweep, (cx - round(ax), cy - round(ay)), (cx, cy), round(radius))
