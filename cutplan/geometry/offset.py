"""Offset of contours: exact parallel curves of lines and arcs, round at convex corners."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import GeometryError
from cutplan.geometry.index import SWEEP, SegmentIndex, index_of, points_on
from cutplan.geometry.loops import Pieces, chain
from cutplan.geometry.measures import area, length, oriented, require_closed
from cutplan.geometry.path import FloatArray, Path
from cutplan.geometry.proximity import is_simple, self_crossings
from cutplan.geometry.raw_offset import raw_curves, surviving_pieces

__all__ = ["offset"]

# Nearer than this, mm, raw curves touch and their ends are one: the one tolerance by which
# all coincidences are decided, a tenth of the accuracy promised.
TOUCH = 1e-7
# Arcs that rise less than this over their chord, mm, are lines.
_FLAT = 0.1 * TOUCH
# Where a touch leaves a knot, the distance gives way by so much, mm.
_NUDGES = (0.0, TOUCH, -TOUCH, 3.0 * TOUCH, -3.0 * TOUCH)


def offset(path: Path, distance: float) -> list[Path]:
    """Return the contours at a constant distance from a closed contour.

    Lines give lines and arcs give arcs: the result is exact to rounding.  Growing rounds
    convex corners, shrinking rounds re-entrant ones.

    Parameters
    ----------
    path : Path
        Simple closed contour, either direction.
    distance : float
        Offset in mm; positive grows the area enclosed, negative shrinks it.

    Returns
    -------
    list of Path
        Closed contours, largest first: outer boundaries counter-clockwise, voids that
        growing encloses clockwise.  Empty where the area vanishes.

    Raises
    ------
    GeometryError
        If the contour is open, or crosses or touches itself; the message gives the place.

    Notes
    -----
    Every point of the result lies at the distance from the contour to 1e-6 mm, in all but
    exact touches to 1e-9 mm.  Necks and slots of exactly twice the distance close.
    """
    require_closed(path, "an offset")
    if not np.isfinite(distance):
        raise GeometryError(f"an offset needs a finite distance, got {distance}")
    touches = self_crossings(path)
    if len(touches):
        raise GeometryError(
            "a contour that crosses or touches itself has no offset",
            place=(float(touches[0, 0]), float(touches[0, 1])),
            remedy="mend the contour there",
        )
    source = oriented(path)
    if abs(distance) <= TOUCH:
        return [source]
    index = _source_index(source)
    touching = None
    for nudge in _NUDGES:
        contours, plain = _offset_index(index, distance + nudge)
        if contours is not None and (plain or all(is_simple(contour) for contour in contours)):
            return contours
        touching = touching if contours is None else contours
    if touching is not None:
        return touching
    raise GeometryError(
        f"the offset by {distance} mm touches itself in a knot that cannot be resolved",
        place=(float(path.start[0]), float(path.start[1])),
        remedy="try a distance that differs by 0.001 mm",
    )


def _source_index(path: Path) -> SegmentIndex:
    """Index the segments of a contour without those too short or too flat to matter."""
    segments = path.segments
    rise = 0.5 * np.abs(segments.bulge) * np.hypot(*(segments.end - segments.start).T)
    flat = segments.is_arc & (rise <= _FLAT)
    if flat.any():
        vertices = np.array(path.vertices)
        vertices[flat, 2] = 0.0
        path = Path(vertices)
    return index_of(path) if segments.length.min() > TOUCH else SegmentIndex.of(path, shortest=TOUCH)


def _offset_index(source: SegmentIndex, distance: float) -> tuple[list[Path] | None, bool]:
    """Offset a counter-clockwise contour; None where the pieces do not close.

    Also return whether no touch had to be decided on the way.
    """
    raw = raw_curves(source.table, distance, TOUCH)
    if len(raw) == 0:
        return [], True
    pieces, starts = surviving_pieces(source, raw, distance, TOUCH)
    loops, plain = chain(pieces, 3.0 * TOUCH)
    if loops is None:
        return None, False
    contours = [_contour(pieces, starts, loop) for loop in loops]
    sized = [(area(contour), contour) for contour in contours if contour is not None]
    # What encloses less than its own border's inaccuracy is a touch, not a contour.
    sized = [(size, contour) for size, contour in sized if abs(size) > TOUCH * length(contour)]
    return [contour for _, contour in sorted(sized, key=lambda item: -abs(item[0]))], plain


def _contour(pieces: Pieces, starts: FloatArray, loop: NDArray[np.int64]) -> Path | None:
    """Make a contour of a loop of pieces, the pieces of one curve joined again.

    Arcs of more than half a turn are halved; None where fewer than two segments are left.
    """
    curve, begin, end = pieces.curve[loop], pieces.begin[loop], pieces.end[loop]
    goes_on = (np.roll(curve, 1) == curve) & (np.roll(end, 1) == begin) & (begin > 0.0)
    shift = -int(np.argmin(goes_on))
    loop, goes_on, end = np.roll(loop, shift), np.roll(goes_on, shift), np.roll(end, shift)
    first = np.flatnonzero(~goes_on)
    heads, ends = loop[first], end[np.append(first[1:], len(loop)) - 1]
    carrier = pieces.curve[heads]
    sweep = pieces.curves[carrier, SWEEP] * (ends - pieces.begin[heads])
    halves = np.where(np.abs(sweep) > np.pi * (1.0 + 1e-12), 2, 1)
    rows = np.repeat(np.column_stack([starts[heads], np.tan(0.25 * sweep / halves)]), halves, axis=0)
    wide = halves == 2
    if wide.any():
        middles = points_on(pieces.curves[carrier[wide]], 0.5 * (pieces.begin[heads] + ends)[wide])
        rows[np.cumsum(halves)[wide] - 1, :2] = middles
    return Path(rows) if len(rows) > 1 else None
