"""Where along a part a splice may lie: clear of holes, cut-outs, corners and bends, and square to its edges.

Terminology
-----------
along : distance from the part's start in the direction of the split, mm.
barred : stretches along that no splice may lie in, each with the rule that bars it.
pocket : what an opening in the outline takes away from the part's convex hull.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np
import shapely

from cutplan.drawing.model import BendLine, Part
from cutplan.drawing.splice_rules import Splices
from cutplan.drawing.splitting import extent_along
from cutplan.geometry import Path, Pose, bounds, chord_points, crossings, place, place_points, polyline

__all__ = ["Rule", "barred_stretches", "open_stretches"]

Rule = Literal["zones", "clearance", "bend_clearance", "shape"]
Stretch = tuple[float, float]

# The outline turns by more than this at a corner, or on an arc that counts as one.
CORNER_DEG = 5.0
# An edge that a splice meets runs within this angle of the part's direction.
SQUARE_DEG = 30.0
CHORD = 0.05  # mm, of the pictures of contours that openings are looked for in
TOUCH = 1e-6


def barred_stretches(part: Part, direction_deg: float, rules: Splices) -> list[tuple[Rule, float, float]]:
    """Return the stretches along a part that no splice may lie in.

    Parameters
    ----------
    part : Part
    direction_deg : float
        In which it is split.
    rules : Splices

    Returns
    -------
    list of (rule, from, to)
        mm from the part's start; ends belong to what is open.
    """
    start, length, _ = extent_along(part, direction_deg)
    pose = Pose(x=-start, rotation_deg=-direction_deg)
    outer = place(part.outer, pose)
    barred: list[tuple[Rule, float, float]] = []
    for low, high in [*_corners(outer), *_openings(outer, rules.least_piece)]:
        barred.append(("clearance", low - rules.clearance, high + rules.clearance))
    for hole in part.holes:
        low, _, high, _ = bounds(place(hole, pose))
        barred.append(("clearance", low - rules.clearance, high + rules.clearance))
        barred.append(("shape", low, high))
    for low, high in _bends(part.bends, pose):
        barred.append(("bend_clearance", low - rules.bend_clearance, high + rules.bend_clearance))
    barred += [("shape", low, high) for low, high in _not_met_twice(outer, length)]
    if rules.zones:
        ends = [-TOUCH, *(edge for zone in _united(rules.zones) for edge in zone), length + TOUCH]
        barred += [("zones", a, b) for a, b in zip(ends[::2], ends[1::2], strict=True) if b > a]
    return barred


def _united(zones: Sequence[Stretch]) -> list[Stretch]:
    """Return zones in order, those that overlap as one."""
    united: list[Stretch] = []
    for low, high in sorted(zones):
        if united and low <= united[-1][1]:
            united[-1] = (united[-1][0], max(high, united[-1][1]))
        else:
            united.append((low, high))
    return united


def open_stretches(
    barred: Iterable[tuple[Rule, float, float]], length: float, without: Sequence[Rule] = ()
) -> list[Stretch]:
    """Return what is left open along a part, in order; `without` leaves rules out.

    Parameters
    ----------
    barred : iterable of (rule, from, to)
    length : float
        Of the part, mm.
    without : sequence of {"zones", "clearance", "bend_clearance", "shape"}

    Returns
    -------
    list of (from, to)
        mm from the part's start.
    """
    at = 0.0
    opened: list[Stretch] = []
    ordered = sorted((low, high) for rule, low, high in barred if rule not in without)
    for low, high in [*ordered, (length, length)]:
        if low >= at:
            # What bars a single place bars nothing.
            joined = bool(opened) and opened[-1][1] >= at
            opened[-1:] = [(opened[-1][0], low)] if joined else [*opened[-1:], (at, low)]
        at = max(at, high)
    return opened


def _corners(outer: Path) -> list[Stretch]:
    """Return where the outline has corners, short arcs, or edges too steep to be met squarely."""
    segments = outer.segments
    chords = segments.end - segments.start
    heading = np.arctan2(chords[:, 1], chords[:, 0])
    leaving, arriving = heading - 0.5 * segments.sweep, heading + 0.5 * segments.sweep
    stretches = []
    for k in range(len(outer)):
        turn = math.degrees(math.remainder(leaving[k] - arriving[k - 1], math.tau))
        x = float(segments.start[k, 0])
        if abs(turn) > CORNER_DEG:
            stretches.append((x, x))
        steepest = max(abs(_off_axis(leaving[k])), abs(_off_axis(heading[k])), abs(_off_axis(arriving[k])))
        if abs(math.degrees(segments.sweep[k])) > CORNER_DEG or steepest > SQUARE_DEG:
            low, _, high, _ = bounds(_alone(outer, k))
            stretches.append((float(low), float(high)))
    return stretches


def _off_axis(angle: float) -> float:
    """Return an angle from the part's direction, either way along it, degrees."""
    return math.degrees(math.remainder(angle, math.pi))


def _alone(outer: Path, k: int) -> Path:
    rows = outer.vertices[[k, (k + 1) % len(outer)]].copy()
    return Path(rows, closed=False)


def _openings(outer: Path, narrower: float) -> list[Stretch]:
    """Return the openings in the outline that are narrower along than a piece may be short."""
    picture = shapely.Polygon(chord_points(outer, CHORD))
    pockets = shapely.get_parts(shapely.convex_hull(picture).difference(picture.buffer(CHORD)))
    boxes = [pocket.bounds for pocket in pockets]
    return [(low, high) for low, _, high, _ in boxes if high - low <= narrower]


def _bends(bends: Sequence[BendLine], pose: Pose) -> list[Stretch]:
    """Return where bends lie that run across; one along the part is parted with it."""
    stretches = []
    for bend in bends:
        (x0, y0), (x1, y1) = place_points([bend.start, bend.end], pose).tolist()
        if abs(_off_axis(math.atan2(y1 - y0, x1 - x0))) > SQUARE_DEG:
            stretches.append((min(x0, x1), max(x0, x1)))
    return stretches


def _not_met_twice(outer: Path, length: float) -> list[Stretch]:
    """Return the stretches in which a line across meets the outline more than twice."""
    _, y0, _, y1 = bounds(outer)
    stations = {0.0, length}
    for k in range(len(outer)):
        low, _, high, _ = bounds(_alone(outer, k))
        stations |= {float(low), float(high)}
    ordered = sorted(x for x in stations if 0.0 <= x <= length)
    stretches = []
    for a, b in itertools.pairwise(ordered):
        if b - a > TOUCH:
            line = polyline([(0.5 * (a + b), y0 - 10.0), (0.5 * (a + b), y1 + 10.0)])
            if len(crossings(outer, line)) != 2:
                stretches.append((a - TOUCH, b + TOUCH))
    return stretches
