"""The path to program where the control offsets by the kerf itself (G41, G42).

The planned torch path is taken back by the radius, towards the part: round a part this gives
the part's own contour, so the operator can correct the kerf in the offset register.  The
control's path is then the planned one, but for two places.

- The standard refuses concave corners under an offset, and arcs not wider than its radius
  (NISTIR 6556, appendix B).  Where the torch turns away from the part on the spot, it is led
  round a circle of `reserve` instead, so that the programmed arc is wider than the radius by
  that much.  The reserve is also how far the register may be raised.
- The first move must be a line: a lead-in that begins with an arc is entered along a chord of
  its first half, on the scrap's side.

Places are complex numbers here, x + iy in mm.
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutplan.errors import ProgramError
from cutplan.geometry import Path
from cutplan.program.moves import Side
from cutplan.program.stretches import Stretch

__all__ = ["programmed_stretches"]

# Smaller turns, rad, count as none; the standard's interpreter takes less than 0.01 as none.
_TANGENT = 1e-3
# An arc whose radius becomes smaller than this, mm, is a corner.
_POINT_MM = 1e-4


@dataclass(frozen=True)
class _Piece:
    """A line or arc (sweep other than 0) of the torch path, and the stretch it belongs to."""

    start: complex
    end: complex
    stretch: int
    centre: complex = 0j
    sweep: float = 0.0

    @property
    def radius(self) -> float:
        return abs(self.start - self.centre)

    def heading(self, *, at_end: bool) -> complex:
        """Unit vector along the travel at one end."""
        if self.sweep == 0.0:
            return (self.end - self.start) / abs(self.end - self.start)
        spoke = (self.end if at_end else self.start) - self.centre
        return spoke / abs(spoke) * math.copysign(1.0, self.sweep) * 1j

    def foot(self, place: complex) -> complex:
        """Nearest point of the endless line or the whole circle."""
        if self.sweep == 0.0:
            along = self.heading(at_end=False)
            return self.start + along * ((place - self.start) * along.conjugate()).real
        spoke = place - self.centre
        return self.centre + self.radius * spoke / abs(spoke)

    def trimmed(self, *, start: complex | None = None, end: complex | None = None) -> _Piece | None:
        """Return the piece cut to a new start or end on it; None where nothing is left."""
        start = self.start if start is None else start
        end = self.end if end is None else end
        if self.sweep == 0.0:
            forward = ((end - start) * self.heading(at_end=False).conjugate()).real
            return replace(self, start=start, end=end) if forward > 0.0 else None
        turned = cmath.phase((start - self.centre) / (self.start - self.centre)) + cmath.phase(
            (self.end - self.centre) / (end - self.centre)
        )
        sweep = self.sweep - turned
        return replace(self, start=start, end=end, sweep=sweep) if sweep * self.sweep > 0.0 else None

    def beside(self, left: float) -> _Piece | None:
        """Return the piece moved to the left by a distance; None where an arc becomes a corner.

        Raises
        ------
        ProgramError
            If the arc is too tight for it.
        """
        if self.sweep == 0.0:
            shift = left * 1j * self.heading(at_end=False)
            return replace(self, start=self.start + shift, end=self.end + shift)
        radius = _moved_radius(self, left)
        if radius < -_POINT_MM:
            raise _refusal(f"turns on {self.radius:.3f} mm, tighter than the offset", self.start)
        if radius < _POINT_MM:
            return None
        scale = radius / self.radius
        spokes = self.start - self.centre, self.end - self.centre
        return replace(self, start=self.centre + scale * spokes[0], end=self.centre + scale * spokes[1])


def programmed_stretches(
    pieces: Sequence[Stretch], torch: Side, radius: float, reserve: float
) -> list[Stretch]:
    """Return the stretches to program so that the control's offset gives the planned ones.

    Parameters
    ----------
    pieces : sequence of Stretch
        The planned torch path.
    torch : {"left", "right"}
        Side of the programmed path on which the torch runs: the scrap's.
    radius : float
        Radius in the control's register, mm.
    reserve : float
        Radius, mm, that concave corners of the torch path are led round.

    Raises
    ------
    ProgramError
        The path has a corner that the control would refuse; the message gives the place.
    """
    left = 1.0 if torch == "left" else -1.0
    planned = _entered_straight(_torch_pieces(pieces))
    rounded = _concave_rounded(planned, left, reserve)
    moved = _moved(rounded, -left * radius)
    return _regrouped(moved, pieces, rounded[0].start)


def _torch_pieces(stretches: Sequence[Stretch]) -> list[_Piece]:
    found: list[_Piece] = []
    for k, stretch in enumerate(stretches):
        rows = stretch.path.segments
        for n in range(len(rows)):
            ends = complex(*rows.start[n]), complex(*rows.end[n])
            centre = complex(*rows.centre[n]) if rows.sweep[n] else 0j
            if ends[0] != ends[1]:
                found.append(_Piece(*ends, k, centre, float(rows.sweep[n])))
    return found


def _entered_straight(pieces: list[_Piece]) -> list[_Piece]:
    first = pieces[0]
    if first.sweep == 0.0:
        return pieces
    middle = first.centre + (first.start - first.centre) * cmath.exp(0.5j * first.sweep)
    rest = replace(first, start=middle, sweep=0.5 * first.sweep)
    return [_Piece(first.start, middle, first.stretch), rest, *pieces[1:]]


def _turn(before: _Piece, after: _Piece) -> float:
    return cmath.phase(after.heading(at_end=False) / before.heading(at_end=True))


def _concave_rounded(pieces: list[_Piece], left: float, reserve: float) -> list[_Piece]:
    """Return the torch path led round a circle wherever it turns towards the torch's side."""
    done = [pieces[0]]
    for after in pieces[1:]:
        before = done[-1]
        if _turn(before, after) * left <= _TANGENT:
            done.append(after)
            continue
        centre = _meeting(before, after, left * reserve)
        head = before.trimmed(end=before.foot(centre)) if centre is not None else None
        tail = after.trimmed(start=after.foot(centre)) if centre is not None else None
        if centre is None or head is None or tail is None:
            raise _refusal("turns in too short a stretch to be led round", before.end)
        sweep = cmath.phase((tail.start - centre) / (head.end - centre))
        if sweep * left < 0.0:
            sweep += left * 2.0 * math.pi
        done[-1:] = [head, _Piece(head.end, tail.start, after.stretch, centre, sweep), tail]
    return done


def _moved(pieces: list[_Piece], left: float) -> list[_Piece]:
    """Return the path moved to the left by a distance, trimmed where it then crosses itself."""
    done: list[_Piece] = []
    last: _Piece | None = None  # the piece of the torch path that done[-1] comes from
    for piece in pieces:
        beside = piece.beside(left)
        if beside is None:
            last = None
            continue
        if last is not None and _turn(last, piece) * math.copysign(1.0, left) > _TANGENT:
            corner = _meeting(last, piece, left)
            head = done[-1].trimmed(end=corner) if corner is not None else None
            tail = beside.trimmed(start=corner) if corner is not None else None
            if head is None or tail is None:
                raise _refusal("turns towards the part in too short a stretch", piece.start)
            done[-1], beside = head, tail
        done.append(beside)
        last = piece
    return done


def _meeting(a: _Piece, b: _Piece, left: float) -> complex | None:
    """Return where two neighbours meet when both are moved to the left, nearest their corner."""
    corner = a.end
    if a.sweep == 0.0 and b.sweep == 0.0:
        return _line_line(a, b, left)
    if a.sweep == 0.0 or b.sweep == 0.0:
        line, arc = (a, b) if a.sweep == 0.0 else (b, a)
        places = _line_circle(line, arc, left)
    else:
        places = _circle_circle(a, b, left)
    return min(places, key=lambda place: abs(place - corner), default=None)


def _line_line(a: _Piece, b: _Piece, left: float) -> complex | None:
    u, v = a.heading(at_end=True), b.heading(at_end=False)
    cross = (u.conjugate() * v).imag
    if cross == 0.0:
        return None
    gap = left * 1j * (v - u)
    return a.end + left * 1j * u + u * ((gap.conjugate() * v).imag / cross)


def _moved_radius(arc: _Piece, left: float) -> float:
    return arc.radius - left * math.copysign(1.0, arc.sweep)


def _line_circle(line: _Piece, arc: _Piece, left: float) -> list[complex]:
    along = line.heading(at_end=False)
    foot = line.foot(arc.centre) + left * 1j * along
    inside = _moved_radius(arc, left) ** 2 - abs(foot - arc.centre) ** 2
    if inside < 0.0:
        return []
    return [foot - math.sqrt(inside) * along, foot + math.sqrt(inside) * along]


def _circle_circle(a: _Piece, b: _Piece, left: float) -> list[complex]:
    ra, rb = _moved_radius(a, left), _moved_radius(b, left)
    gap = b.centre - a.centre
    if gap == 0j:
        return []
    along = (abs(gap) ** 2 + ra**2 - rb**2) / (2.0 * abs(gap))
    inside = ra**2 - along**2
    if inside < 0.0:
        return []
    axis = gap / abs(gap)
    return [a.centre + axis * complex(along, side * math.sqrt(inside)) for side in (-1.0, 1.0)]


def _regrouped(pieces: list[_Piece], stretches: Sequence[Stretch], pierce: complex) -> list[Stretch]:
    """Return the moved pieces as stretches again; the first begins at the pierce itself."""
    found: list[Stretch] = []
    here = pierce
    for k, group in itertools.groupby(pieces, key=lambda piece: piece.stretch):
        members = list(group)
        rows = [[here.real, here.imag, math.tan(members[0].sweep / 4.0)]]
        for piece, after in zip(members, [*members[1:], None], strict=True):
            bulge = 0.0 if after is None else math.tan(after.sweep / 4.0)
            rows.append([piece.end.real, piece.end.imag, bulge])
        found.append(replace(stretches[k], path=Path(np.array(rows), closed=False)))
        here = members[-1].end
    return found


def _refusal(reason: str, place: complex) -> ProgramError:
    return ProgramError(
        f"the control cannot offset this path, which {reason}",
        place=(place.real, place.imag),
        remedy="use a post-processor that writes compensated paths",
    )
