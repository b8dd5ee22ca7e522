"""A bent part in section, across its bend lines: flat, half bent or bent, between the tools.

The section is taken over the whole width of the blank, so a flange that is there at one end of
the bend counts everywhere.

Terminology
-----------
share : how far a bend is done, 0 to 1 of its angle.
up : bent towards the face that lies up on the press.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from cutplan.drawing import BendLine, Part
from cutplan.forming.development import bend_allowance
from cutplan.geometry import FloatArray, chord_points

__all__ = ["Section", "SectionBend", "body", "section_of"]

PARALLEL_DEG = 0.1
SAME_LINE = 0.05  # mm: bend lines in one line, as where a hole parts them
ARC_STEP_DEG = 7.5
CHORD = 0.05  # mm


@dataclass(frozen=True)
class SectionBend:
    """A bend in section.

    Attributes
    ----------
    at : float
        Its middle along the flat section, mm.
    angle : float
        Radians, above zero for up.
    radius : float
        Inside, mm.
    allowance : float
        Flat plate that becomes its round, mm.
    lines : tuple of int
        The part's bend lines that it stands for.
    """

    at: float
    angle: float
    radius: float
    allowance: float
    lines: tuple[int, ...]


@dataclass(frozen=True)
class Section:
    """A part's section, flat.

    Attributes
    ----------
    start, end : float
        Edges A and B, mm along the section.
    thickness : float
    bends : tuple of SectionBend
        As they lie from A to B.
    direction : tuple of float
        Of the section on the drawing, from A to B.
    """

    start: float
    end: float
    thickness: float
    bends: tuple[SectionBend, ...]
    direction: tuple[float, float]

    def laid(self, *, turned_over: bool, reversed_: bool) -> Section:
        """Return the section as it lies on the press: turned over, or with B at the operator's side."""
        bends = tuple(replace(b, angle=-b.angle) for b in self.bends) if turned_over else self.bends
        if not reversed_:
            return replace(self, bends=bends)
        swapped = tuple(replace(b, at=-b.at) for b in reversed(bends))
        return replace(self, start=-self.end, end=-self.start, bends=swapped)

    def on_press(self, bend: int, shares: Sequence[float], opening: float) -> list[FloatArray]:
        """Return the middle lines of the stretches, from the operator to the back, over a die.

        Parameters
        ----------
        bend : int
            The bend under the punch, which must go up.
        shares : sequence of float
            How far each bend is done.
        opening : float
            Of the die, mm; its shoulders lie at y = 0, its middle at x = 0.

        Returns
        -------
        list of array of shape (n, 2)
            Straights and rounds in turn; a round under the punch is one.
        """
        own = self.bends[bend]
        half = own.angle * shares[bend] / 2.0
        bottom = np.array([0.0, seat(half, own.radius, self.thickness, opening)])
        right = self._walk(bend, shares, bottom)
        other = self.laid(turned_over=False, reversed_=True)
        back = len(self.bends) - 1 - bend
        left = [line[::-1] * np.array([-1.0, 1.0]) for line in other._walk(back, list(shares)[::-1], bottom)]
        middle = np.vstack([left[0], right[0][1:]])
        return [*left[:0:-1], middle, *right[1:]]

    def _walk(self, bend: int, shares: Sequence[float], start: FloatArray) -> list[FloatArray]:
        """Return half a round and all stretches behind it, to the end of the section."""
        own = self.bends[bend]
        place, heading, lines = start, 0.0, []
        line, place, heading = self._arc(own, own.angle * shares[bend] / 2.0, place, heading)
        lines.append(line)
        done, spare = own.at + own.allowance / 2.0, own.allowance * (1.0 - shares[bend]) / 2.0
        for later, share in zip(self.bends[bend + 1 :], shares[bend + 1 :], strict=True):
            slack = later.allowance * (1.0 - share) / 2.0
            line, place = _straight(place, heading, spare + later.at - later.allowance / 2.0 - done + slack)
            lines.append(line)
            line, place, heading = self._arc(later, later.angle * share, place, heading)
            lines.append(line)
            done, spare = later.at + later.allowance / 2.0, slack
        line, _ = _straight(place, heading, spare + self.end - done)
        return [*lines, line]

    def _arc(
        self, bend: SectionBend, angle: float, place: FloatArray, heading: float
    ) -> tuple[FloatArray, FloatArray, float]:
        """Return a round's middle line from a place and heading, and where it ends."""
        radius = bend.radius + self.thickness / 2.0
        steps = max(1, math.ceil(abs(math.degrees(angle)) / ARC_STEP_DEG))
        turns = heading + np.linspace(0.0, angle, steps + 1)
        side = math.copysign(1.0, angle)
        centre = place + side * radius * np.array([-math.sin(heading), math.cos(heading)])
        line = centre + side * radius * np.column_stack([np.sin(turns), -np.cos(turns)])
        return line, line[-1], heading + angle


def _straight(place: FloatArray, heading: float, length: float) -> tuple[FloatArray, FloatArray]:
    end = place + length * np.array([math.cos(heading), math.sin(heading)])
    return np.vstack([place, end]), end


def seat(half_angle: float, radius: float, thickness: float, opening: float) -> float:
    """Return the height of the middle line under the punch, mm over the die's shoulders.

    The outside rests on both shoulders, on its straights or, over a wide round, on that.
    """
    outside = radius + thickness
    if opening / 2.0 <= outside * math.sin(half_angle):
        centre = math.sqrt(outside**2 - opening**2 / 4.0)
    else:
        centre = (outside - opening / 2.0 * math.sin(half_angle)) / math.cos(half_angle)
    return centre - radius - thickness / 2.0


def section_of(
    part: Part, thickness: float, radii: Sequence[float], k_factor: float | None = None
) -> Section | None:
    """Return the section across a part's bend lines; None where these are not parallel.

    Parameters
    ----------
    part : Part
        With one bend line or more.
    thickness : float
        mm.
    radii : sequence of float
        Inside radius of each bend line, mm.
    k_factor : float, optional
        As for `bend_allowance`.

    Returns
    -------
    Section or None
    """
    directions = [_along(bend) for bend in part.bends]
    first = directions[0]
    for other in directions[1:]:
        if abs(first[0] * other[1] - first[1] * other[0]) > math.sin(math.radians(PARALLEL_DEG)):
            return None
    across = np.array([first[1], -first[0]])
    # A is at the left of the drawing, or at its foot: whichever way the lines were drawn.
    if across[0] < -1e-9 or (abs(across[0]) <= 1e-9 and across[1] < 0.0):
        across = -across
    ends = chord_points(part.outer, CHORD) @ across
    found: list[SectionBend] = []
    order = sorted(range(len(part.bends)), key=lambda k: float(np.dot(part.bends[k].start, across)))
    for k in order:
        bend, at = part.bends[k], float(np.dot(part.bends[k].start, across))
        angle = math.radians(bend.angle_deg) * (-1.0 if bend.direction == "down" else 1.0)
        if found and at - found[-1].at < SAME_LINE and abs(found[-1].angle - angle) < 1e-9:
            found[-1] = replace(found[-1], lines=(*found[-1].lines, k))
            continue
        allowance = bend_allowance(bend.angle_deg, radii[k], thickness, k_factor)
        found.append(SectionBend(at, angle, radii[k], allowance, (k,)))
    return Section(
        float(ends.min()), float(ends.max()), thickness, tuple(found), (float(across[0]), float(across[1]))
    )


def _along(bend: BendLine) -> FloatArray:
    way = np.array(bend.end) - np.array(bend.start)
    result: FloatArray = way / np.hypot(*way)
    return result


def body(lines: Sequence[FloatArray], thickness: float) -> shapely.Polygon:
    """Return the metal of a section from its middle lines."""
    points = [lines[0][0], *itertools.chain.from_iterable(line[1:] for line in lines)]
    return shapely.LineString(points).buffer(thickness / 2.0, cap_style="flat", join_style="mitre")
