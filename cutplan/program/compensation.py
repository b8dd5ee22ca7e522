"""The path to program where the control offsets by the kerf itself (G41, G42).

The planned torch path is taken back by the radius, towards the part: round a part this gives
the part's own contour, so the operator can correct the kerf in the offset register.  The
control's path is then the planned one, but for two places.

- The standard refuses concave corners under an offset, and arcs not wider than its radius
  (NISTIR 6556, appendix B).  Where the torch turns away from the part on the spot, it is led
  round a circle of `reserve` instead, so that the programmed arc is wider than the radius by
  that much.  The reserve is also how far the register may be raised.
- The first move is a line that ends at a corner turned a little towards the part, so that a
  smaller radius in the register still enters as the standard asks.  A lead-in that begins
  with an arc is entered along a chord of its first half.

Places are complex numbers here, x + iy in mm.
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutplan.base.errors import ProgramError
from cutplan.geometry import Path
from cutplan.program.rounding import Side
from cutplan.program.stretches import Stretch

__all__ = ["LOWER_BY_MM", "programmed_stretches"]

# How much lower than planned the register's radius may be set, mm.
LOWER_BY_MM = 0.2
# Smaller turns, rad, count as none; the standard's interpreter takes less than 0.01 as none.
_TANGENT = 1e-3
# An arc whose radius, or a line whose length, becomes smaller than this, mm, is a corner.
_POINT_MM = 1e-4
# Widest gap between neighbours that turn by less than `_TANGENT` on the offset's scale, mm.
_GAP_MM = 5e-3
# How far the entry line turns towards the part, rad, at most; and turn times length, mm.
_ENTRY_TURN, _ENTRY_LEEWAY_MM = 0.15, 0.5


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

    def trimmed(self, *, start: complex | None = None, end: complex | None = None) -> tuple[_Piece, float]:
        """Return the piece cut to a new start or end on it, and the length left, below 0 if overrun."""
        start = self.start if start is None else start
        end = self.end if end is None else end
        if self.sweep == 0.0:
            forward = ((end - start) * self.heading(at_end=False).conjugate()).real
            return replace(self, start=start, end=end), forward
        turned = cmath.phase((start - self.centre) / (self.start - self.centre)) + cmath.phase(
            (self.end - self.centre) / (end - self.centre)
        )
        sweep = self.sweep - turned
        return replace(self, start=start, end=end, sweep=sweep), self.radius * math.copysign(
            sweep, sweep * self.sweep
        )

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
    planned = _entered(_torch_pieces(pieces), left, radius)
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


def _entered(pieces: list[_Piece], left: float, radius: float) -> list[_Piece]:
    """Return the path entered along a line that then turns a little towards the part.

    With another radius in the register the entry line ends elsewhere and so points elsewhere;
    thanks to the turn it still meets the next block at a convex corner, as the standard asks.
    """
    first, *rest = pieces
    if first.sweep != 0.0:
        middle = first.centre + (first.start - first.centre) * cmath.exp(0.5j * first.sweep)
        rest = [replace(first, start=middle, sweep=0.5 * first.sweep), *rest]
        first = _Piece(first.start, middle, first.stretch)
    span = abs(first.end - first.start)
    turn = left * min(_ENTRY_TURN, _ENTRY_LEEWAY_MM / span)
    aside = first.heading(at_end=False) * cmath.exp(0.4j * turn)
    back = aside * cmath.exp(-1j * turn)
    # The torch's arc about the programmed corner, on the part's side, and what is left to cover.
    across = left * 1j * radius * (back - aside)
    rest_of_way = first.end - first.start - across
    ahead = (rest_of_way * back.conjugate()).imag / (aside * back.conjugate()).imag
    behind = (rest_of_way * aside.conjugate()).imag / (back * aside.conjugate()).imag
    if ahead <= 0.0 or behind <= 0.0:
        return [first, *rest]
    corner = first.start + ahead * aside
    knee = _Piece(corner, corner + across, first.stretch, corner - left * 1j * radius * aside, -turn)
    return [replace(first, end=corner), knee, replace(first, start=knee.end), *rest]


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
        if centre is None:
            raise _refusal("turns in too short a stretch to be led round", before.end)
        head, before_left = before.trimmed(end=before.foot(centre))
        tail, after_left = after.trimmed(start=after.foot(centre))
        if min(before_left, after_left) <= 0.0:
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
            if corner is None:
                raise _refusal("turns towards the part in too short a stretch", piece.start)
            head, head_left = done.pop().trimmed(end=corner)
            beside, tail_left = beside.trimmed(start=corner)
            if min(head_left, tail_left) < -_POINT_MM:
                raise _refusal("turns towards the part in too short a stretch", piece.start)
            if head_left > _POINT_MM:
                done.append(head)
            if tail_left <= _POINT_MM:
                last = None
                continue
        if done and abs(beside.start - done[-1].end) > _GAP_MM:
            raise _refusal("turns towards the part in too short a stretch", piece.start)
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
