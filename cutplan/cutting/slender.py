"""Long slender parts: which they are, how far the heat of one long side bows them, and how that is kept small.

Okerblom's rule for welds holds for a cut as well: heat along an edge shrinks the metal beside it by a
volume that grows with the heat alone, and that shrinkage out of the middle bends the part.  (N. O.
Okerblom, The calculations of deformations of welded metal structures, 1955; from memory.)

Terminology
-----------
camber : the rise of a bowed edge over the line between its ends.
turn : the place of a run among those of its part, so that the two long sides are cut in turns.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutplan.drawing import Part
from cutplan.geometry import FloatArray, Path, bounds, chord_points, subpath

__all__ = ["camber_mm", "is_slender", "turns_between_sides"]

# From this length on, mm, and so many times as long as wide, a part bows (common practice).
LONG_MM, SLENDER = 500.0, 8.0
# Shrinkage of mild steel by volume for each joule, mm³/J: 0.335 times expansion over heat capacity.
SHRINKAGE_MM3_J = 0.335 * 12e-6 / 3.7e-3
# Half of a cut's heat goes into the part, half into the skeleton.
PART_SHARE = 0.5
CHORD = 0.5


def is_slender(part: Part) -> bool:
    """Return whether the heat of one long side may bow a part.

    Parameters
    ----------
    part : Part

    Returns
    -------
    bool
    """
    long, wide = _sides(part)
    return long >= LONG_MM and long >= SLENDER * wide


def camber_mm(part: Part, thickness: float, heat_j_mm: float) -> float:
    """Return by how much a part bows where one of its long sides is cut after the other, mm.

    Parameters
    ----------
    part : Part
    thickness : float
        mm.
    heat_j_mm : float
        That a cut leaves in the plate, J for each mm of it.

    Returns
    -------
    float
        An upper figure: what the second side bends back is not taken off.
    """
    long, wide = _sides(part)
    return 0.75 * SHRINKAGE_MM3_J * PART_SHARE * heat_j_mm * long**2 / (thickness * wide**2)


def turns_between_sides(contour: Path, spans: Sequence[tuple[float, float]]) -> tuple[int, ...]:
    """Return the turn of each run of an outside: from side to side, and not beside what was cut last.

    Parameters
    ----------
    contour : Path
        Of a slender part.
    spans : sequence of (float, float)
        From where to where along it each run goes, mm.

    Returns
    -------
    tuple of int
    """
    points = chord_points(contour, CHORD)
    middle = points.mean(axis=0)
    axis = np.linalg.svd(points - middle, full_matrices=False)[2][0]
    whole = float(contour.segments.length.sum())
    middles: FloatArray = (
        np.array(
            [
                chord_points(subpath(contour, start, start + ((end - start) % whole or whole)), CHORD).mean(
                    axis=0
                )
                for start, end in spans
            ]
        )
        - middle
    )
    along, across = middles @ axis, middles @ np.array([-axis[1], axis[0]])
    sides = [
        _skipping(sorted(np.flatnonzero(side).tolist(), key=lambda run: along[run]))
        for side in (across > 0.0, across <= 0.0)
    ]
    order: list[int] = []
    while any(sides):
        order += [side.pop(0) for side in sides if side]
    turns = [0] * len(spans)
    for turn, run in enumerate(order):
        turns[run] = turn
    return tuple(turns)


def _skipping(runs: list[int]) -> list[int]:
    """Return every other run first, then those that were skipped."""
    return [*runs[::2], *runs[1::2]]


def _sides(part: Part) -> tuple[float, float]:
    """Return length and width of a part as drawn, by its narrowest box along its length."""
    points = chord_points(part.outer, CHORD)
    centred = points - points.mean(axis=0)
    turned = centred @ np.linalg.svd(centred, full_matrices=False)[2].T
    x0, y0, x1, y1 = bounds(part.outer)
    boxes = [tuple(np.ptp(turned, axis=0)), (x1 - x0, y1 - y0)]
    a, b = min(boxes, key=lambda box: float(box[0] * box[1]))
    return max(float(a), float(b)), min(float(a), float(b))
