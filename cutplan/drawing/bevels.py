"""Weld preparations of edges: what is asked for, the faces that it leaves, and what the weld must fill.

Terminology
-----------
nose : the outermost line of a prepared edge, where the drawing's outline runs.
land : the upright face at the nose (root face); of no height where two slopes meet in an edge.
slope : a bevelled face, above the land or below it.
setback : how far a slope lies behind the outline at the plate's face, mm.

Angles are those of one plate, from the plate's normal: half the groove angle of a V between two
bevelled edges, and the whole of it where the other edge is square (ISO 9692-1, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from cutplan.base.errors import DrawingError
from cutplan.drawing.model import EdgePreparation, KeptEdge, Part
from cutplan.geometry import Path, length, subpath

__all__ = [
    "BevelFaces",
    "Slope",
    "contour_of",
    "faces_of",
    "groove_mm3",
    "preparation_name",
    "prepared_length",
    "refusals_of",
    "remarks_on",
    "stretch_of",
]

# Steeper than this no torch leans, and the face is a feather; less is within what a square cut may lean.
LARGEST_ANGLE_DEG, SMALLEST_ANGLE_DEG = 60.0, 5.0
# Thickness, angle from the normal and land that each kind is usual for, by ISO 9692-1 (from memory).
_USUAL: dict[str, tuple[tuple[float, float], tuple[float, float], tuple[float, float]]] = {
    "V": ((3.0, 10.0), (20.0, 60.0), (0.0, 2.0)),
    "Y": ((5.0, 40.0), (20.0, 60.0), (2.0, 4.0)),
    "X": ((10.0, math.inf), (20.0, 60.0), (0.0, 2.0)),
    "double Y": ((10.0, math.inf), (20.0, 60.0), (2.0, 6.0)),
    "K": ((10.0, math.inf), (35.0, 60.0), (0.0, 2.0)),
}
# Lengths that differ by less are the same, mm.
SAME = 1e-6


@dataclass(frozen=True)
class Slope:
    """A bevelled face: `depth` from the plate's face to the land, mm, and its angle, degrees."""

    depth: float
    angle_deg: float

    @property
    def setback(self) -> float:
        """How far behind the outline it lies at the plate's face, mm."""
        return self.depth * math.tan(math.radians(self.angle_deg))


class BevelFaces(NamedTuple):
    """The faces of a prepared edge from the top down: a slope, the land's height in mm, a slope."""

    upper: Slope | None
    land: float
    lower: Slope | None

    def setback_at(self, depth: float, thickness: float) -> float:
        """Return how far behind the outline the edge lies at a depth under the plate's top, mm."""
        if self.upper is not None and depth < self.upper.depth:
            return (self.upper.depth - depth) * math.tan(math.radians(self.upper.angle_deg))
        if self.lower is not None and depth > thickness - self.lower.depth:
            return (depth - thickness + self.lower.depth) * math.tan(math.radians(self.lower.angle_deg))
        return 0.0


def faces_of(asked: EdgePreparation, thickness: float) -> BevelFaces:
    """Return the faces that a preparation leaves on a plate.

    Parameters
    ----------
    asked : EdgePreparation
    thickness : float
        mm; above the land.

    Returns
    -------
    BevelFaces
    """
    open_ = thickness - asked.land_mm
    if asked.side == "top":
        return BevelFaces(Slope(open_, asked.angle_deg), asked.land_mm, None)
    if asked.side == "bottom":
        return BevelFaces(None, asked.land_mm, Slope(open_, asked.angle_deg))
    upper = 0.5 * open_ if asked.depth_mm is None else asked.depth_mm
    below = asked.angle_deg if asked.below_deg is None else asked.below_deg
    return BevelFaces(Slope(upper, asked.angle_deg), asked.land_mm, Slope(open_ - upper, below))


def contour_of(part: Part, asked: EdgePreparation | KeptEdge) -> Path:
    """Return the contour that a preparation is on: the outside, or a hole.

    Parameters
    ----------
    part : Part
    asked : EdgePreparation

    Returns
    -------
    Path
    """
    return part.outer if asked.hole is None else part.holes[asked.hole]


def stretch_of(part: Part, asked: EdgePreparation | KeptEdge) -> Path:
    """Return the stretch of edge that is prepared; a closed path where it is a whole contour.

    Parameters
    ----------
    part : Part
    asked : EdgePreparation

    Returns
    -------
    Path
        In the contour's own direction: metal on the left.
    """
    contour = contour_of(part, asked)
    return contour if asked.span is None else subpath(contour, *asked.span)


def prepared_length(part: Part, asked: EdgePreparation) -> float:
    """Return the length of a prepared edge along its nose, mm.

    Parameters
    ----------
    part : Part
    asked : EdgePreparation

    Returns
    -------
    float
    """
    return float(length(stretch_of(part, asked)))


def groove_mm3(part: Part, asked: EdgePreparation, thickness: float) -> float:
    """Return the volume between a prepared edge and the upright plane through its nose.

    It is what the weld has to fill on this edge's side; gap and cap are the welding planner's.

    Parameters
    ----------
    part : Part
    asked : EdgePreparation
    thickness : float
        mm.

    Returns
    -------
    float
        mm³.

    Notes
    -----
    A slope of depth h and angle β is a triangle of h²·tan β / 2.  Along a line it counts its
    length; along an arc, by Pappus' second theorem, the way of its centroid, which lies a third
    of the setback behind the nose.
    """
    faces = faces_of(asked, thickness)
    segments = stretch_of(part, asked).segments
    volume = 0.0
    for slope in (faces.upper, faces.lower):
        if slope is None:
            continue
        # Metal lies on the left: left turns are convex, and the groove lies inside of them.
        inward = np.where(segments.sweep > 0.0, -1.0, 1.0) * slope.setback / 3.0
        radius = np.where(segments.is_arc, segments.radius, 0.0)
        way = np.where(segments.is_arc, (radius + inward) * np.abs(segments.sweep), segments.length)
        volume += 0.5 * slope.depth * slope.setback * float(way.sum())
    return volume


def preparation_name(asked: EdgePreparation) -> str:
    """Return what people call a preparation: "V 30°, land 2 mm, top".

    Parameters
    ----------
    asked : EdgePreparation

    Returns
    -------
    str
    """
    words = [f"{asked.kind} {asked.angle_deg:g}°"]
    if asked.below_deg is not None and asked.below_deg != asked.angle_deg:
        words[0] += f" above and {asked.below_deg:g}° below"
    if asked.land_mm:
        words.append(f"land {asked.land_mm:g} mm")
    if asked.depth_mm is not None:
        words.append(f"{asked.depth_mm:g} mm deep above")
    words.append("both sides" if asked.side == "both" else asked.side)
    return ", ".join(words)


def refusals_of(part: Part, asked: EdgePreparation, thickness: float) -> Iterator[DrawingError]:
    """Yield why a preparation cannot be on a part of a thickness, each with its place.

    Parameters
    ----------
    part : Part
    asked : EdgePreparation
    thickness : float
        mm.

    Yields
    ------
    DrawingError
    """
    at = stretch_of(part, asked).start
    place = float(at[0]), float(at[1])

    def refused(message: str, remedy: str) -> DrawingError:
        return DrawingError(f"{preparation_name(asked)}: {message}", place=place, remedy=remedy)

    for angle in {asked.angle_deg, asked.below_deg or asked.angle_deg}:
        if not SMALLEST_ANGLE_DEG <= angle <= LARGEST_ANGLE_DEG:
            yield refused(
                f"{angle:g}° from the plate's normal is no bevel to cut",
                f"give {SMALLEST_ANGLE_DEG:g} to {LARGEST_ANGLE_DEG:g} degrees",
            )
            return
    if asked.land_mm >= thickness:
        yield refused(
            f"the land of {asked.land_mm:g} mm leaves nothing to bevel on a plate of {thickness:g} mm",
            "mend the land, or leave the bevel out",
        )
        return
    double = asked.kind in ("X", "double Y", "K")
    if double != (asked.side == "both"):
        wanted = "both sides" if double else "the top or the bottom alone"
        yield refused(f"{asked.kind} is a preparation of {wanted}", "mend its kind or its side")
        return
    if asked.kind in ("Y", "double Y") and asked.land_mm <= 0.0:
        yield refused("a Y has a land", "give land_mm, or make it a V or an X")
        return
    if asked.depth_mm is not None and (not double or asked.depth_mm >= thickness - asked.land_mm):
        yield refused(
            f"{asked.depth_mm:g} mm above leaves nothing for the slope below",
            "give less depth_mm, and only where both sides are bevelled",
        )
        return
    yield from _too_tight(part, asked, thickness, place)


def _too_tight(
    part: Part, asked: EdgePreparation, thickness: float, place: tuple[float, float]
) -> Iterator[DrawingError]:
    """Yield arcs that the cone of the jet does not fit: a hole too small, a corner too round."""
    faces = faces_of(asked, thickness)
    segments = stretch_of(part, asked).segments
    for slope in (faces.upper, faces.lower):
        if slope is None:
            continue
        tan = math.tan(math.radians(slope.angle_deg))
        through = (thickness - slope.depth) * tan
        hollow = segments.radius[segments.sweep < 0.0]
        round_ = segments.radius[segments.sweep > 0.0]
        if len(hollow) and hollow.min() <= through:
            yield DrawingError(
                f"{preparation_name(asked)}: an edge of radius {hollow.min():.1f} mm is smaller than the jet's "
                f"cone, which reaches {through:.1f} mm into the hole",
                place=place,
                remedy="bevel it off the table, or from the other side",
            )
            return
        if len(round_) and round_.min() <= slope.setback:
            yield DrawingError(
                f"{preparation_name(asked)}: a round edge of radius {round_.min():.1f} mm is less than the "
                f"setback of {slope.setback:.1f} mm",
                place=place,
                remedy="take less angle or more land",
            )
            return


def remarks_on(asked: EdgePreparation, thickness: float) -> Iterator[str]:
    """Yield where a preparation lies outside of what ISO 9692-1 (from memory) gives for its kind.

    Parameters
    ----------
    asked : EdgePreparation
    thickness : float
        mm.

    Yields
    ------
    str
    """
    thick, angle, land = _USUAL[asked.kind]
    name = preparation_name(asked)
    if not thick[0] - SAME <= thickness <= thick[1] + SAME:
        to = f" to {thick[1]:g}" if math.isfinite(thick[1]) else " mm up"
        yield f"{name}: {asked.kind} is usual for plates of {thick[0]:g}{to}{' mm' if to[1] == 't' else ''}, this one has {thickness:g} mm"
    if not angle[0] - SAME <= asked.angle_deg <= angle[1] + SAME:
        yield f"{name}: {asked.kind} usually has {angle[0]:g}° to {angle[1]:g}° from the normal"
    if not land[0] - SAME <= asked.land_mm <= land[1] + SAME:
        yield f"{name}: {asked.kind} usually has a land of {land[0]:g} to {land[1]:g} mm"
