"""The closed path of the torch's centre along one contour; leads and feeds are left to others.

Terminology
-----------
finished edge : a contour of the part as drawn.
torch contour : the finished edge offset by half the kerf into the scrap, in the direction
    of travel.
scrap side : the side of the travel on which the metal is waste.
sharp corner : a break of the finished edge's direction of `SHARP_CORNER` or more; convex
    where metal fills less than half the round, re-entrant otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from cutplan.cutting.model import CornerStyle
from cutplan.geometry import FloatArray, Path, length
from cutplan.process import SHARP_CORNER_DEG

__all__ = [
    "SAME",
    "SHARP_CORNER",
    "Corner",
    "TorchContour",
    "common_circle",
    "find_corners",
    "style_corners",
]

# Breaks under this are kinks of a smooth edge that the torch takes in its stride (common practice).
SHARP_CORNER = math.radians(SHARP_CORNER_DEG)
# A loop or a plain corner runs out beyond the edge; past these turns it would run out too far,
# and a blunt corner gains nothing from a loop.
LOOP_TURNS = (math.radians(45.0), math.radians(150.0))
PLAIN_TURNS = (0.0, math.radians(120.0))
# Straight run and radius of a loop, at most, in kerf widths: its slug stays wider than a kerf.
LOOP_KERFS = 2.0
# Two radii or places closer than this are the same, mm.
SAME = 1e-6


@dataclass(frozen=True)
class Corner:
    """A sharp corner: from `start` to `end` mm along the torch contour, turning by `turn` rad."""

    start: float
    end: float
    turn: float
    convex: bool


@dataclass(frozen=True, eq=False)
class TorchContour:
    """One contour compensated for the kerf, in the coordinates of the drawing.

    Attributes
    ----------
    kind : {"hole", "outside"}
    hole : int or None
        Index of the hole in its part.
    finished : Path
        The contour as drawn.
    path : Path
        Closed path of the torch's centre in its direction of travel.
    scrap_left : bool
        Whether the scrap lies on the left of the travel.
    kerf : float
        Full width of the cut, mm.
    inscribed : tuple of float
        Of a hole: x, y and radius of the largest circle in it; radius inf for an outside.
    kept : tuple of Path
        Stretches of the finished contour on which no cut should start.
    """

    kind: Literal["hole", "outside"]
    hole: int | None
    finished: Path
    path: Path
    scrap_left: bool
    kerf: float
    inscribed: tuple[float, float, float] = (0.0, 0.0, math.inf)
    kept: tuple[Path, ...] = ()

    @property
    def radius(self) -> float:
        """Half the kerf, mm."""
        return 0.5 * self.kerf

    @cached_property
    def length(self) -> float:
        """Length of the torch contour, mm."""
        return float(length(self.path))

    @cached_property
    def starts(self) -> FloatArray:
        """Arc-lengths at which the segments start, shape (n,)."""
        sizes = self.path.segments.length
        return np.asarray(np.cumsum(sizes) - sizes)

    @cached_property
    def circle(self) -> tuple[float, float, float] | None:
        """The x, y and radius of a torch contour that is a circle."""
        return common_circle(self.path)

    @cached_property
    def corners(self) -> tuple[Corner, ...]:
        """The sharp corners, in the order of travel."""
        return find_corners(self.path, self.radius, self.scrap_left)


def common_circle(path: Path) -> tuple[float, float, float] | None:
    """Return the x, y and radius of the circle a closed path follows, None for other shapes."""
    segments = path.segments
    if not path.closed or not segments.is_arc.all():
        return None
    if abs(abs(segments.sweep.sum()) - 2.0 * math.pi) > SAME:
        return None
    spread = max(np.ptp(segments.centre[:, 0]), np.ptp(segments.centre[:, 1]), np.ptp(segments.radius))
    if spread > SAME:
        return None
    x, y = segments.centre[0]
    return float(x), float(y), float(segments.radius[0])


def end_directions(path: Path) -> tuple[FloatArray, FloatArray]:
    """Return the unit tangents at the start and at the end of each segment, (n, 2) each."""
    segments = path.segments
    chord = segments.end - segments.start
    chord = chord / np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-300)[:, None]
    half = 0.5 * segments.sweep
    c, s = np.cos(half), np.sin(half)
    x, y = chord[:, 0], chord[:, 1]
    return np.column_stack([c * x + s * y, c * y - s * x]), np.column_stack([c * x - s * y, c * y + s * x])


def find_corners(path: Path, radius: float, scrap_left: bool) -> tuple[Corner, ...]:
    """Return the sharp corners of a torch contour.

    A convex corner of the finished edge shows as an arc of half the kerf about it, or as a
    break towards the metal where it was cut plain; a re-entrant one as a break towards the
    scrap.
    """
    segments = path.segments
    begin, finish = end_directions(path)
    toward_metal = -1.0 if scrap_left else 1.0
    before = np.roll(finish, 1, axis=0)
    cross = before[:, 0] * begin[:, 1] - before[:, 1] * begin[:, 0]
    dot = np.sum(before * begin, axis=1)
    turn = np.arctan2(cross, dot)
    round_corner = (
        segments.is_arc & (np.abs(segments.radius - radius) < SAME) & (segments.sweep * toward_metal > 0)
    )
    ends = np.cumsum(segments.length)
    corners = []
    for i in range(len(path)):
        s0 = float(ends[i] - segments.length[i])
        if abs(turn[i]) >= SHARP_CORNER:
            corners.append(Corner(s0, s0, abs(float(turn[i])), bool(turn[i] * toward_metal > 0)))
        if round_corner[i] and abs(segments.sweep[i]) >= SHARP_CORNER:
            corners.append(Corner(s0, float(ends[i]), abs(float(segments.sweep[i])), True))
    return tuple(corners)


def style_corners(path: Path, radius: float, scrap_left: bool, style: CornerStyle) -> Path:
    """Return a torch contour with its round corners run plain or by a loop.

    Both reach beyond the edges' ends on the edges' own lines, so the part comes out the same.

    Parameters
    ----------
    path : Path
        Closed exact offset in the direction of travel.
    radius : float
        Half the kerf, mm.
    scrap_left : bool
    style : {"round", "loop", "plain"}

    Returns
    -------
    Path
        The path itself where there is nothing to change.
    """
    least, most = LOOP_TURNS if style == "loop" else PLAIN_TURNS
    begin, finish = end_directions(path)
    # A corner trimmed by a narrow place nearby must stay as the offset left it.
    smooth_before = np.sum(np.roll(finish, 1, axis=0) * begin, axis=1) > 1.0 - 1e-9
    smooth_after = np.sum(np.roll(begin, -1, axis=0) * finish, axis=1) > 1.0 - 1e-9
    starts = np.concatenate([[0.0], np.cumsum(path.segments.length)[:-1]])
    chosen = {
        int(np.argmin(np.abs(starts - corner.start))): corner.turn
        for corner in find_corners(path, radius, scrap_left)
        if corner.convex and corner.end > corner.start and least <= corner.turn <= most
    }
    if style == "round" or not chosen:
        return path
    rows: list[tuple[float, float, float]] = []
    for i, (x, y, bulge) in enumerate(path.vertices.tolist()):
        if i in chosen and smooth_before[i] and smooth_after[i]:
            rows.append((x, y, 0.0))
            at = path.vertices[i, :2]
            rows += _corner_rows(at, begin[i], finish[i], radius, chosen[i], style, scrap_left)
        else:
            rows.append((x, y, bulge))
    return _without_straight_vertices(Path(np.array(rows), closed=True))


def _without_straight_vertices(path: Path) -> Path:
    begin, finish = end_directions(path)
    line = path.vertices[:, 2] == 0.0
    straight = np.sum(np.roll(finish, 1, axis=0) * begin, axis=1) > 1.0 - 1e-12
    keep = ~(line & np.roll(line, 1) & straight)
    return Path(path.vertices[keep], closed=True)


def _corner_rows(
    start: FloatArray,
    first: FloatArray,
    second: FloatArray,
    radius: float,
    turn: float,
    style: CornerStyle,
    scrap_left: bool,
) -> list[tuple[float, float, float]]:
    """Return the vertices that replace the arc of a corner, from the line before to the line after."""
    meeting = start + first * radius * math.tan(0.5 * turn)
    if style == "plain":
        return [(float(meeting[0]), float(meeting[1]), 0.0)]
    run = LOOP_KERFS * 2.0 * radius * min(1.0, math.tan(0.5 * turn))
    out, back = meeting + run * first, meeting - run * second
    # The loop turns away from the metal, the rest of a whole turn.
    sweep = (1.0 if scrap_left else -1.0) * (2.0 * math.pi - turn)
    bulge = math.tan(sweep / 8.0)
    bisector = first - second
    bisector = bisector / np.hypot(*bisector)
    centre = meeting + bisector * run / math.sin(0.5 * turn)
    top = centre + bisector * run / math.tan(0.5 * turn)
    return [
        (float(out[0]), float(out[1]), bulge),
        (float(top[0]), float(top[1]), bulge),
        (float(back[0]), float(back[1]), 0.0),
    ]
