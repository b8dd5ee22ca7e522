"""Offset of contours: exact parallel curves of lines and arcs, round at convex corners."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from cutplan.errors import GeometryError
from cutplan.geometry.index import SegmentIndex
from cutplan.geometry.measures import area, length, oriented, require_closed
from cutplan.geometry.path import FloatArray, Path
from cutplan.geometry.proximity import self_crossings

if TYPE_CHECKING:
    from cutplan.geometry.loops import IntArray, Pieces

__all__ = ["offset"]

# Nearer than this, mm, raw curves touch and their ends are one: the one tolerance by which
# all coincidences are decided, a tenth of the accuracy promised.
TOUCH = 1e-7
# A piece whose distance from the contour is right to this, mm, is beyond doubt; coordinates
# and radii add their own rounding (four units in the last place).
_SURE = 1e-9
_ROUNDING = 4.0 * np.finfo(np.float64).eps
# Arcs that rise less than this over their chord, mm, are lines.
_FLAT = 0.1 * TOUCH
# Where exact touches leave a knot that does not close, the distance gives way by so much, mm.
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
    table = _source_table(source)
    for nudge in _NUDGES:
        contours = _offset_table(table, distance + nudge)
        if contours is not None:
            return contours
    raise GeometryError(
        f"the offset by {distance} mm touches itself in a knot that cannot be resolved",
        place=(float(path.start[0]), float(path.start[1])),
        remedy="try a distance that differs by 0.001 mm",
    )


def _source_table(path: Path) -> FloatArray:
    """Segments of a contour without those too short or too flat to matter."""
    rise = 0.5 * np.abs(path.segments.bulge) * np.hypot(*(path.segments.end - path.segments.start).T)
    flat = path.segments.is_arc & (rise <= _FLAT)
    if flat.any():
        vertices = np.array(path.vertices)
        vertices[flat, 2] = 0.0
        path = Path(vertices)
    return SegmentIndex.of(path, shortest=TOUCH).table


def _offset_table(table: FloatArray, distance: float) -> list[Path] | None:
    """Offset a counter-clockwise contour; None where the pieces do not close."""
    from cutplan.geometry import kernels, loops, meeting, raw_offset

    raw = raw_offset.raw_curves(table, distance, TOUCH)
    if len(raw) == 0:
        return []
    boxes = kernels.segment_boxes(raw)
    raw_tree = kernels.build_tree(boxes)
    places, pairs = meeting.crossing_hits(raw, boxes, raw_tree, raw, boxes, raw_tree, True, True, TOUCH)
    sure = _SURE + _ROUNDING * float(np.abs(raw[:, :7]).max())
    tree = kernels.build_tree(kernels.segment_boxes(table))
    labels, ends = raw_offset.cut_and_keep(
        raw, places, pairs, table, tree, abs(distance), TOUCH, min(sure, 0.5 * TOUCH)
    )
    if len(labels) == 0:
        return []
    # Cuts may stand off by the tolerance from both curves that they cut.
    nodes = raw_offset.cluster(np.concatenate([ends[:, 2:4], ends[:, 4:6]]), 3.0 * TOUCH)
    single = _without_doubles(nodes[: len(ends)], nodes[len(ends) :], raw, labels, ends)
    labels, ends = labels[single], ends[single]
    tail, head = nodes[: len(nodes) // 2][single], nodes[len(nodes) // 2 :][single]
    pieces = loops.Pieces(tail, head, labels[:, 1] == 1, raw, labels[:, 0], ends[:, 0], ends[:, 1])
    chains = loops.chain(pieces, 3.0 * TOUCH)
    if chains is None:
        return None
    contours = [_contour(pieces, chain, ends) for chain in chains]
    sized = [(area(contour), contour) for contour in contours if contour is not None]
    # What encloses less than its own border's inaccuracy is a touch, not a contour.
    sized = [(size, contour) for size, contour in sized if abs(size) > TOUCH * length(contour)]
    return [contour for _, contour in sorted(sized, key=lambda item: -abs(item[0]))]


def _without_doubles(
    tail: IntArray, head: IntArray, raw: FloatArray, labels: IntArray, ends: FloatArray
) -> NDArray[np.bool_]:
    """Tell the pieces to keep where curves that meet almost in one direction share a stretch.

    Within the tolerance both run there; of pieces between the same two nodes with the same
    middle one stays.
    """
    from cutplan.geometry import kernels

    keep = np.ones(len(tail), dtype=np.bool_)
    order = np.lexsort((head, tail))
    same = (tail[order][1:] == tail[order][:-1]) & (head[order][1:] == head[order][:-1])
    for k in np.flatnonzero(same):
        i, j = int(order[k]), int(order[k + 1])
        middles = [
            kernels.point_on(raw, int(labels[p, 0]), 0.5 * float(ends[p, 0] + ends[p, 1])) for p in (i, j)
        ]
        if tail[i] != head[i] and math.dist(*middles) <= TOUCH:
            keep[j] = False
    return keep


def _contour(pieces: Pieces, chain: IntArray, ends: FloatArray) -> Path | None:
    """Make a contour of a loop of pieces, the pieces of one curve joined again.

    Arcs of more than half a turn are halved; None where fewer than two segments are left.
    """
    from cutplan.geometry import kernels

    curve, begin, end = pieces.curve[chain], pieces.begin[chain], pieces.end[chain]
    goes_on = (np.roll(curve, 1) == curve) & (np.roll(end, 1) == begin) & (begin > 0.0)
    shift = int(np.argmin(goes_on))
    chain, curve, goes_on = np.roll(chain, -shift), np.roll(curve, -shift), np.roll(goes_on, -shift)
    begin, end = np.roll(begin, -shift), np.roll(end, -shift)
    first = np.flatnonzero(~goes_on)
    last = np.append(first[1:], len(chain)) - 1
    sweep = pieces.curves[curve[first], kernels.SWEEP] * (end[last] - begin[first])
    halves = np.where(np.abs(sweep) > np.pi * (1.0 + 1e-12), 2, 1)
    rows = np.repeat(
        np.column_stack([ends[chain[first], 2:4], np.tan(0.25 * sweep / halves)]), halves, axis=0
    )
    if len(rows) < 2:
        return None
    for k in np.flatnonzero(halves == 2):
        middle = 0.5 * (begin[first[k]] + end[last[k]])
        rows[int(halves[: k + 1].sum()) - 1, :2] = kernels.point_on(pieces.curves, curve[first[k]], middle)
    return Path(rows)
