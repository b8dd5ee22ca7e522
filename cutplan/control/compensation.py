"""Cutter radius compensation, G41 and G42, as the control carries it out.

After NISTIR 6556, appendix B: the first move ends tangent to the offset contour, convex
corners are rounded about the corner, arcs change their radius.  At concave corners, which the
standard refuses, both blocks are trimmed where their offsets meet, if the dialect says so.

Terminology
-----------
programmed : the path as the program states it, on the edge of the material.
actual : the path of the torch centre.
side : +1 where the torch runs left of the programmed path (G41), -1 right of it (G42).
corner : the programmed point between two blocks.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from cutplan.control.arcs import arc_turn
from cutplan.control.motions import ARC_CCW, ARC_CW, LINE, RAPID
from cutplan.control.rows import Place
from cutplan.control.words import BlockError

__all__ = ["Compensator", "Segment"]

Point = tuple[float, float]

STANDARD_CORNER_RAD = 0.01  # NISTIR 6556's interpreter treats smaller turns as none
STRAIGHT_RAD = 1e-6
SAME_PLACE_MM = 1e-9


@dataclass(frozen=True)
class Segment:
    """A rapid, line or arc with its feed and line; `turn` is 0 and `centre` idle for lines."""

    kind: int
    start: Place
    end: Place
    feed: float
    line: int
    column: int
    centre: Point = (math.nan, math.nan)
    turn: float = 0.0

    @property
    def radius(self) -> float:
        """Radius at the start of an arc, mm."""
        return math.hypot(self.start[0] - self.centre[0], self.start[1] - self.centre[1])

    def direction(self, at_end: bool) -> float:
        """Direction of travel at one end, rad."""
        if self.turn == 0.0:
            return math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0])
        x, y, _ = self.end if at_end else self.start
        spoke = math.atan2(y - self.centre[1], x - self.centre[0])
        return spoke + math.copysign(0.5 * math.pi, self.turn)

    def with_ends(self, start: Place, end: Place) -> Segment:
        """Return the segment cut to new ends; an arc keeps its centre."""
        if self.turn == 0.0:
            return replace(self, start=start, end=end)
        turn = arc_turn(start[:2], end[:2], self.centre, self.turn < 0.0)
        if math.hypot(start[0] - end[0], start[1] - end[1]) < SAME_PLACE_MM:
            turn = 0.0 if abs(self.turn) < math.pi else self.turn
        return replace(self, start=start, end=end, turn=turn)


class Compensator:
    """Turns programmed segments into actual ones, one block behind.

    Parameters
    ----------
    side : int
        +1 or -1.
    radius : float
        mm.
    trim : bool
        Trim at concave corners instead of refusing them.
    emit : callable
        Takes each actual segment when it is known.
    """

    def __init__(self, side: int, radius: float, trim: bool, emit: Callable[[Segment], None]) -> None:
        self.side = side
        self.radius = radius
        self.trim = trim
        self.emit = emit
        self.pending: Segment | None = None
        self.entered = False
        self._waiting: list[Callable[[Place], None]] = []

    def wait(self, action: Callable[[Place], None], here: Place) -> None:
        """Carry out a dwell or switch at the place where the block before it ends."""
        if self.pending is None:
            action(here)
        else:
            self._waiting.append(action)

    def finish(self, here: Place) -> Place:
        """Carry out what is pending, and return where the torch stands."""
        if self.pending is None:
            return here
        place = self.pending.end
        self._release(self.pending)
        return place

    def move(self, segment: Segment, actual: Place) -> Place:
        """Take the next programmed segment, and return where its actual one ends for now.

        Raises
        ------
        BlockError
            If the offset blocks do not meet, or an arc is too small for the radius.
        """
        if segment.turn == 0.0 and segment.start[:2] == segment.end[:2]:
            return self._move_upright(segment, actual)
        if not self.entered:
            self.pending = self._entry(segment, actual)
            self.entered = True
        elif self.pending is not None:
            self.pending = self._follow(self.pending, segment)
        return actual if self.pending is None else self.pending.end

    def _release(self, segment: Segment) -> None:
        self.pending = None
        self.emit(segment)
        for action in self._waiting:
            action(segment.end)
        self._waiting = []

    def _move_upright(self, segment: Segment, actual: Place) -> Place:
        height = segment.end[2]

        def lift(place: Place) -> None:
            self.emit(replace(segment, start=place, end=(place[0], place[1], height)))

        self.wait(lift, actual)
        return (actual[0], actual[1], height)

    def _entry(self, segment: Segment, actual: Place) -> Segment:
        if segment.turn != 0.0:
            return self._entry_arc(segment, actual)
        (x, y, z), r = segment.end, self.radius
        distance = math.hypot(x - actual[0], y - actual[1])
        if distance <= r:
            raise BlockError(
                f"the entry move of {distance:.3f} mm is not longer than the radius {r:.3f} mm",
                segment.column,
                "start the compensation further from the contour",
            )
        spoke = math.atan2(actual[1] - y, actual[0] - x) - self.side * math.acos(r / distance)
        end = (x + r * math.cos(spoke), y + r * math.sin(spoke), z)
        return replace(segment, start=actual, end=end)

    def _entry_arc(self, segment: Segment, actual: Place) -> Segment:
        """Return the arc from the actual place to the offset end, tangent there (appendix B)."""
        end = self._beside(segment, at_end=True)
        spoke = segment.direction(at_end=True) + self.side * 0.5 * math.pi
        ux, uy = math.cos(spoke), math.sin(spoke)
        dx, dy = end[0] - actual[0], end[1] - actual[1]
        across = 2.0 * (dx * ux + dy * uy)
        gap = math.hypot(dx, dy)
        if segment.radius <= self.radius or gap == 0.0 or abs(across) < 1e-9 * gap:
            raise BlockError(
                f"the entry arc cannot be offset by {self.radius:.3f} mm",
                segment.column,
                "use a wider arc or a line to enter",
            )
        # The centre lies on the spoke through the end, as far from the start as from the end.
        along = -(gap * gap) / across
        centre = (end[0] + along * ux, end[1] + along * uy)
        turn = arc_turn(actual[:2], end[:2], centre, segment.turn < 0.0)
        return replace(segment, start=actual, end=end, centre=centre, turn=turn)

    def _beside(self, segment: Segment, at_end: bool) -> Place:
        """Return the torch centre beside an end of a programmed segment."""
        x, y, z = segment.end if at_end else segment.start
        normal = segment.direction(at_end) + self.side * 0.5 * math.pi
        return (x + self.radius * math.cos(normal), y + self.radius * math.sin(normal), z)

    def _offset(self, segment: Segment) -> Segment:
        if segment.turn != 0.0:
            inside = (segment.turn > 0.0) == (self.side > 0)
            if inside and segment.radius <= self.radius:
                raise BlockError(
                    f"the arc's radius {segment.radius:.3f} mm is not larger than the "
                    f"compensation radius {self.radius:.3f} mm",
                    segment.column,
                    "the kerf does not fit into the arc",
                )
        return replace(
            segment, start=self._beside(segment, at_end=False), end=self._beside(segment, at_end=True)
        )

    def _follow(self, before: Segment, segment: Segment) -> Segment:
        following = self._offset(segment)
        turn = math.remainder(segment.direction(at_end=False) - before.direction(at_end=True), 2.0 * math.pi)
        if abs(abs(turn) - math.pi) < STRAIGHT_RAD:
            turn = -self.side * math.pi  # straight back: round the corner
        if abs(turn) <= STRAIGHT_RAD:
            self._release(before)
            return following.with_ends(_level(before.end, following.start), following.end)
        if turn * self.side < 0.0:
            self._release(before)
            self._round(before, segment, following.start, turn)
            return following
        return self._trimmed(before, following, segment, turn)

    def _round(self, before: Segment, segment: Segment, end: Place, turn: float) -> None:
        kind = ARC_CCW if turn > 0.0 else ARC_CW
        feed = before.feed if segment.kind == RAPID else segment.feed
        start, corner = _level(before.end, end), segment.start[:2]
        self.emit(replace(segment, kind=kind, start=start, end=end, centre=corner, turn=turn, feed=feed))

    def _trimmed(self, before: Segment, following: Segment, programmed: Segment, turn: float) -> Segment:
        corner = programmed.start[:2]
        if not self.trim and abs(turn) > STANDARD_CORNER_RAD:
            raise BlockError(
                f"a concave corner at ({corner[0]:.3f}, {corner[1]:.3f}) mm under compensation",
                programmed.column,
                "the standard refuses it; round the corner by more than the compensation radius",
            )
        meeting = _meeting(before, following, corner)
        if meeting is not None:
            self._release(before.with_ends(before.start, _level(meeting, before.end)))
            return following.with_ends(_level(meeting, following.start), following.end)
        if abs(turn) > STANDARD_CORNER_RAD:
            raise BlockError(
                f"the compensated blocks do not meet at the corner ({corner[0]:.3f}, {corner[1]:.3f}) mm",
                programmed.column,
                "the compensation radius is larger than the contour allows there",
            )
        self._release(before)
        kind = RAPID if following.kind == RAPID else LINE
        self.emit(Segment(kind, before.end, following.start, following.feed, following.line, 1))
        return following


def _level(place: Place | Point, like: Place) -> Place:
    """Return a place at another one's height."""
    return (place[0], place[1], like[2])


def _meeting(a: Segment, b: Segment, corner: Point) -> Point | None:
    """Return where two segments meet, nearest to a corner; None where they do not."""
    if a.turn == 0.0 and b.turn == 0.0:
        places = _line_line(a, b)
    elif a.turn == 0.0:
        places = _line_circle(a, b)
    elif b.turn == 0.0:
        places = _line_circle(b, a)
    else:
        places = _circle_circle(a, b)
    places = [place for place in places if _is_on(a, place) and _is_on(b, place)]
    return min(places, key=lambda p: math.hypot(p[0] - corner[0], p[1] - corner[1]), default=None)


def _is_on(segment: Segment, place: Point) -> bool:
    """Tell whether a place on a segment's line or circle lies between its ends."""
    (x0, y0, _), (x1, y1, _) = segment.start, segment.end
    if segment.turn == 0.0:
        dx, dy = x1 - x0, y1 - y0
        along = (place[0] - x0) * dx + (place[1] - y0) * dy
        return -SAME_PLACE_MM <= along <= dx * dx + dy * dy + SAME_PLACE_MM
    if math.hypot(place[0] - x0, place[1] - y0) < SAME_PLACE_MM:
        return True
    turn = arc_turn((x0, y0), place, segment.centre, segment.turn < 0.0)
    return abs(turn) <= abs(segment.turn) + SAME_PLACE_MM


def _line_line(a: Segment, b: Segment) -> list[Point]:
    ax, ay = a.end[0] - a.start[0], a.end[1] - a.start[1]
    bx, by = b.end[0] - b.start[0], b.end[1] - b.start[1]
    cross = ax * by - ay * bx
    if cross == 0.0:
        return []
    along = ((b.start[0] - a.start[0]) * by - (b.start[1] - a.start[1]) * bx) / cross
    return [(a.start[0] + along * ax, a.start[1] + along * ay)]


def _line_circle(line: Segment, arc: Segment) -> list[Point]:
    dx, dy = line.end[0] - line.start[0], line.end[1] - line.start[1]
    length = math.hypot(dx, dy)
    if length == 0.0:
        return []
    ux, uy = dx / length, dy / length
    foot = (arc.centre[0] - line.start[0]) * ux + (arc.centre[1] - line.start[1]) * uy
    fx, fy = line.start[0] + foot * ux, line.start[1] + foot * uy
    inside = arc.radius**2 - (fx - arc.centre[0]) ** 2 - (fy - arc.centre[1]) ** 2
    if inside < 0.0:
        return []
    half = math.sqrt(inside)
    return [(fx - half * ux, fy - half * uy), (fx + half * ux, fy + half * uy)]


def _circle_circle(a: Segment, b: Segment) -> list[Point]:
    dx, dy = b.centre[0] - a.centre[0], b.centre[1] - a.centre[1]
    gap = math.hypot(dx, dy)
    if gap == 0.0:
        return []
    along = (gap * gap + a.radius**2 - b.radius**2) / (2.0 * gap)
    inside = a.radius**2 - along * along
    if inside < 0.0:
        return []
    half = math.sqrt(inside)
    fx, fy = a.centre[0] + along * dx / gap, a.centre[1] + along * dy / gap
    return [
        (fx - half * dy / gap, fy + half * dx / gap),
        (fx + half * dy / gap, fy - half * dx / gap),
    ]
