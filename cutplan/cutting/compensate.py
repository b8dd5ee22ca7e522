"""From a finished edge to the torch contour, and what of the edge the kerf cannot reach.

Terminology
-----------
reach : the edge that the kerf really leaves when the torch runs the torch contour.
loss : a stretch of the finished edge that the reach does not touch: metal stays on it.

A round jet leaves a fillet in every re-entrant corner; only losses beyond that are worth a word.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from cutplan.cutting.model import CornerStyle
from cutplan.cutting.torch import SAME, TorchContour, end_directions, style_corners
from cutplan.drawing import inscribed_circle
from cutplan.geometry import (
    FloatArray,
    Path,
    area,
    chord_points,
    direction_at,
    distance,
    length,
    offset,
    oriented,
    path_distance,
    point_at,
)

__all__ = ["Compensation", "Loss", "circle_in", "compensate", "narrow_places"]

# Metal thinner than this left on an edge is no loss, mm.
LEAST_LOSS = 0.05
# An edge nearer to the reach than this touches it, mm.
CONTACT = 1e-4
# Area by which the reach may differ from the edge and its fillets before it is looked at, mm².
AREA_ROUNDING = 0.01
# A re-entrant corner that turns by more keeps metal thicker than half the kerf, rad.
DEEP_CORNER = 2.0 * math.pi / 3.0 + 1e-6
# Walls that turn back by more are those of a slot, rad.
STRAIGHT_BACK = 0.99 * math.pi
# Where the sides of a corner are arcs, it may be this much deeper than between straight sides.
CURVED_CORNER = 1.25
# Steps in which an edge is searched for losses, as a share of half the kerf.
SEARCH_STEP = 0.125
# How far chords may stray where two ways are held against each other, mm.
CHORD_TOLERANCE = 0.02
# Compensations that are kept for whoever asks for the same contour again.
KEPT = 4096


@dataclass(frozen=True)
class Loss:
    """Metal that stays on a finished edge.

    Attributes
    ----------
    kind : {"corner", "slot", "neck"}
        In a re-entrant corner, in a slot narrower than the kerf, or in a neck between two
        parts of a hole.
    place : tuple of float
        Deepest place, drawing coordinates.
    width : float
        Width of the slot or neck there, mm.
    depth : float
        Thickest metal left, mm.
    """

    kind: Literal["corner", "slot", "neck"]
    place: tuple[float, float]
    width: float
    depth: float


@dataclass(frozen=True, eq=False)
class Compensation:
    """The torch contour of a finished edge, None where the kerf has no room, and its losses."""

    torch: TorchContour | None
    losses: tuple[Loss, ...] = ()


def compensate(
    finished: Path,
    kerf: float,
    *,
    hole: int | None,
    part_on_right: bool,
    corners: CornerStyle = "round",
) -> Compensation:
    """Return the torch contour of an outer contour or a hole.

    Parameters
    ----------
    finished : Path
        Closed contour, either direction.
    kerf : float
        Full width of the cut, mm.
    hole : int or None
        Index of the hole; None for an outer contour.
    part_on_right : bool
        Whether the part is to lie on the right of the travel: outsides run clockwise then,
        and holes counter-clockwise.
    corners : {"round", "loop", "plain"}
        How sharp corners of an outer contour are run.

    Notes
    -----
    A contour is compensated once, for the check of its part and for every sheet that it lies on.
    """
    return _compensated(finished, kerf, hole, part_on_right, corners)


@lru_cache(maxsize=KEPT)
def _compensated(
    finished: Path, kerf: float, hole: int | None, part_on_right: bool, corners: CornerStyle
) -> Compensation:
    radius = 0.5 * kerf
    is_hole = hole is not None
    way, losses = _way_and_losses(finished, radius, is_hole)
    if way is None:
        return Compensation(None)
    travel = oriented(way, counter_clockwise=part_on_right == is_hole)
    if not is_hole:
        styled = style_corners(travel, radius, part_on_right, corners)
        # A loop may run out into another limb of its own part.
        if path_distance(styled, finished) > radius - SAME:
            travel = styled
    torch = TorchContour(
        kind="hole" if is_hole else "outside",
        hole=hole,
        finished=finished,
        path=travel,
        scrap_left=part_on_right,
        kerf=kerf,
        inscribed=circle_in(finished) if is_hole else (0.0, 0.0, math.inf),
    )
    return Compensation(torch, losses)


@lru_cache(maxsize=KEPT)
def _way_and_losses(finished: Path, radius: float, is_hole: bool) -> tuple[Path | None, tuple[Loss, ...]]:
    """Return the torch's way round an edge, None where it has no room, and what it does not reach.

    Worked out once for each edge: the part is checked with it, and then cut on every sheet.
    """
    edge = oriented(finished)
    ways = offset(edge, -radius if is_hole else radius)
    if not ways:
        return None, ()
    back = [offset(oriented(way), radius if is_hole else -radius) for way in (ways if is_hole else ways[:1])]
    reach = [contour for contours in back for contour in contours]
    losses = _losses(edge if is_hole else oriented(edge, False), reach, radius)
    if is_hole and len(ways) > 1 and not any(loss.kind == "neck" for loss in losses):
        losses += (_barely_closed(edge, ways),)
    return ways[0], losses


@lru_cache(maxsize=KEPT)
def circle_in(contour: Path) -> tuple[float, float, float]:
    """Return x, y and radius of the largest circle inside a contour, mm."""
    width = inscribed_circle(contour)
    return (*width.place, 0.5 * float(width.value))


def narrow_places(contour: Path, width: float) -> list[tuple[float, tuple[float, float]]]:
    """Return width and place where the inside of a contour is narrower than `width`, mm.

    Corners, and tabs that stand out less than half the width, do not count.
    """
    # Just what is asked for is wide enough.
    edge, radius = oriented(contour), 0.5 * (width - LEAST_LOSS)
    ways = offset(edge, -radius)
    if not ways:
        widest = inscribed_circle(contour)
        return [(float(widest.value), widest.place)]
    reach = [back for way in ways for back in offset(oriented(way), radius)]
    losses = _losses(edge, reach, radius)
    if len(ways) > 1 and not any(loss.kind == "neck" for loss in losses):
        losses += (_barely_closed(edge, ways),)
    return [
        (loss.width, loss.place)
        for loss in losses
        if loss.kind == "neck" or (loss.kind == "slot" and loss.depth > radius)
    ]


def _losses(edge: Path, reach: list[Path], radius: float) -> tuple[Loss, ...]:
    """Return the losses of an edge that has its scrap on the left."""
    missing = abs(abs(area(edge)) - sum(abs(area(contour)) for contour in reach))
    fillets, sharpest = _fillets(edge, radius)
    if len(reach) == 1 and abs(missing - fillets) <= AREA_ROUNDING and sharpest < DEEP_CORNER:
        return ()
    vertices = np.cumsum(edge.segments.length) - edge.segments.length
    steps = max(int(length(edge) / (SEARCH_STEP * radius)), 8)
    at = np.union1d(vertices, np.linspace(0.0, length(edge), steps, endpoint=False))
    turns = np.zeros(len(at))
    turns[np.searchsorted(at, vertices)] = _turns(edge)
    points = point_at(edge, at)
    depth = np.min([distance(contour, points) for contour in reach], axis=0)
    # From where the edge leaves the kerf to where it meets it again, however little it does.
    runs = [run for run in _runs(depth > CONTACT) if depth[run].max() > LEAST_LOSS]
    told = [(points[run], _loss(edge, at[run], points[run], depth[run], turns[run], radius)) for run in runs]
    losses = [(wall, loss) for wall, loss in told if loss is not None]
    if len(reach) == 1:
        return tuple(loss for _, loss in losses)
    walls = [wall for wall, loss in losses if loss.kind == "slot"]
    return (*(loss for _, loss in losses if loss.kind != "slot"), *_necks(walls, radius))


def _loss(
    edge: Path, at: FloatArray, points: FloatArray, depth: FloatArray, turns: FloatArray, radius: float
) -> Loss | None:
    """Return what one run of unreached points is, None where it is an ordinary fillet.

    The edge turns by `turns` at each point.
    """
    deepest = int(np.argmax(depth))
    place = float(points[deepest, 0]), float(points[deepest, 1])
    worst = float(depth[deepest])
    first, last = direction_at(edge, at[[0, -1]])
    turn = abs(math.atan2(first[0] * last[1] - first[1] * last[0], float(np.dot(first, last))))
    width = float(np.hypot(*(points[0] - points[-1])))
    # The corner is as sharp as the walls where the kerf leaves them, or sharper at its tip.
    sharpest = max(turn if turn < STRAIGHT_BACK else 0.0, min(float(turns.max()), STRAIGHT_BACK))
    # A corner whose sides go straight on to their meeting point is never deeper than this.
    corner_depth = radius * (1.0 / math.cos(0.5 * sharpest) - 1.0)
    if worst <= CURVED_CORNER * corner_depth + LEAST_LOSS:
        return Loss("corner", place, width, worst) if worst > radius else None
    return Loss("slot", place, width, worst)


def _necks(walls: list[FloatArray], radius: float) -> list[Loss]:
    """Return the necks between the parts of a hole from the points of their walls."""
    necks = []
    for one, other in itertools.combinations(walls, 2):
        between = np.hypot(*(one[:, None, :] - other[None, :, :]).transpose(2, 0, 1))
        i, j = np.unravel_index(np.argmin(between), between.shape)
        width = float(between[i, j])
        if width < 2.0 * radius:
            middle = 0.5 * (one[i] + other[j])
            necks.append(Loss("neck", (float(middle[0]), float(middle[1])), width, width))
    return necks


def _barely_closed(edge: Path, ways: list[Path]) -> Loss:
    """Return the neck where two parts of a hole's torch contour come nearest each other."""
    one, other = (chord_points(way, CHORD_TOLERANCE) for way in ways[:2])
    between = np.hypot(*(one[:, None, :] - other[None, :, :]).transpose(2, 0, 1))
    i, j = np.unravel_index(np.argmin(between), between.shape)
    middle = 0.5 * (one[i] + other[j])
    width = 2.0 * float(distance(edge, middle[None, :])[0])
    return Loss("neck", (float(middle[0]), float(middle[1])), width, width)


def _fillets(edge: Path, radius: float) -> tuple[float, float]:
    """Return the metal that the round jet leaves in re-entrant corners and arcs, and the sharpest turn.

    A corner turning by φ keeps r²·(tan(φ/2) − φ/2), an arc of radius ρ (r² − ρ²) times the same.
    """
    breaks, segments = _turns(edge), edge.segments
    # The scrap is on the left: left turns are re-entrant ones of the metal.
    tight = (segments.sweep > 0.0) & (segments.radius < radius)
    turn = np.concatenate([np.clip(breaks, 0.0, None), segments.sweep[tight]])
    rounding = np.concatenate([np.zeros(len(breaks)), segments.radius[tight]])
    half = 0.5 * np.minimum(turn, 0.95 * math.pi)
    kept = (radius**2 - rounding**2) * (np.tan(half) - half)
    return float(kept.sum()), float(turn.max(initial=0.0))


def _turns(edge: Path) -> FloatArray:
    """Return the breaks of direction at the vertices, rad, positive to the left, shape (n,)."""
    begin, finish = end_directions(edge)
    before = np.roll(finish, 1, axis=0)
    cross = before[:, 0] * begin[:, 1] - before[:, 1] * begin[:, 0]
    return np.asarray(np.arctan2(cross, np.sum(before * begin, axis=1)))


def _runs(lost: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Return the index runs of True round a closed contour; all of it is one run."""
    if lost.all():
        return [np.arange(len(lost))]
    start = int(np.argmin(lost))
    order = np.roll(np.arange(len(lost)), -start)
    marks = np.flatnonzero(np.diff(np.concatenate([[0], lost[order].astype(np.int8), [0]])))
    return [order[a:b] for a, b in marks.reshape(-1, 2)]
