"""What a part measures: area, cut length, pierces, and how narrow it gets where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from cutplan.drawing.model import Part
from cutplan.drawing.widths import Width, narrowest
from cutplan.geometry import FloatArray, Path, area, bounds, distance, length, to_polygon

if TYPE_CHECKING:
    import shapely

__all__ = ["PartMeasures", "inscribed_circle", "measure_part", "metal_area"]

# How far the diameter of an inscribed circle may fall short of the largest, mm.
MIDDLE_TOLERANCE = 0.01
# Chord error of the views that the search for it starts from, mm.
VIEW_TOLERANCE = 0.005
# First tolerance of that search, as a share of the contour's size.
ROUGH = 0.005
# Step at which the search ends, mm.
ROUNDING = 1e-6
# Arcs whose centres and radii agree to this, mm, are one circle.
ROUND = 1e-6
_COMPASS = np.array([(np.cos(a), np.sin(a)) for a in np.arange(16) * np.pi / 8.0])


@dataclass(frozen=True)
class PartMeasures:
    """What a part measures, mm.

    Attributes
    ----------
    area : float
        mm², holes taken out.
    cut_length : float
        Length of all contours.
    pierces : int
        Contours to pierce for.
    bounds : tuple of float
        xmin, ymin, xmax, ymax.
    smallest_hole : Width or None
        Diameter of the largest circle in the hole where that is smallest, and its centre;
        None without holes.
    narrowest_gap : Width or None
        Least width of scrap: across a hole, or across a slot that opens into the outside;
        None where there is neither.
    thinnest_web : Width
        Least width of metal: between two contours, across a neck, or of the whole part.

    Notes
    -----
    Area, length and bounds are exact to rounding.  So are widths between facing contours and
    diameters of round and of convex holes; the diameter of another hole's inscribed circle is
    never overstated, and understated by at most 0.01 mm.
    """

    area: float
    cut_length: float
    pierces: int
    bounds: tuple[float, float, float, float]
    smallest_hole: Width | None
    narrowest_gap: Width | None
    thinnest_web: Width


def measure_part(part: Part) -> PartMeasures:
    """Return what a part measures.

    Parameters
    ----------
    part : Part

    Returns
    -------
    PartMeasures
    """
    contours = (part.outer, *part.holes)
    box = bounds(part.outer)
    smallest = min((inscribed_circle(hole) for hole in part.holes), default=None)
    across = float(np.hypot(box[2] - box[0], box[3] - box[1]))
    metal, scrap = narrowest(part.outer, part.holes, across, smallest.value if smallest else across)
    return PartMeasures(
        area=abs(area(part.outer)) - sum(abs(area(hole)) for hole in part.holes),
        cut_length=sum(length(contour) for contour in contours),
        pierces=len(contours),
        bounds=box,
        smallest_hole=smallest,
        narrowest_gap=min((width for width in (scrap, smallest) if width is not None), default=None),
        thinnest_web=_web(part, metal),
    )


def _web(part: Part, facing: Width | None) -> Width:
    """Return the thinnest metal: between facing contours, or of the part as a whole."""
    view = to_polygon(part.outer, part.holes, tolerance=VIEW_TOLERANCE)
    contours = (part.outer, *part.holes)
    rough = ROUGH * float(np.sqrt(view.area))
    if facing is not None:
        # Most often a rough circle is already wider than what faces each other.
        if facing.value <= 2.0 * (_spoke(view, rough)[1] - VIEW_TOLERANCE):
            return facing
        if facing.value <= _largest_circle(contours, view, rough).value + ROUNDING:
            return facing
    largest = _largest_circle(contours, view, MIDDLE_TOLERANCE)
    return largest if facing is None else min(largest, facing)


def inscribed_circle(contour: Path) -> Width:
    """Return diameter and centre of the largest circle inside a contour.

    Exact in round and in convex contours; else never too large, and at most
    `MIDDLE_TOLERANCE` too small.

    Parameters
    ----------
    contour : Path
        Closed.

    Returns
    -------
    Width
    """
    segments = contour.segments
    centres, radii = segments.centre, segments.radius
    if segments.is_arc.all() and np.ptp(centres, axis=0).max() < ROUND and np.ptp(radii) < ROUND:
        x, y = centres.mean(axis=0)
        return Width(2.0 * float(radii.min()), (float(x), float(y)))
    view = to_polygon(contour, tolerance=VIEW_TOLERANCE)
    # In a convex contour the distance from its edge has one summit, so a rough start will do.
    convex = view.convex_hull.area - view.area <= ROUND * view.area
    return _largest_circle(
        (contour,), view, ROUGH * float(np.sqrt(view.area)) if convex else MIDDLE_TOLERANCE
    )


def _largest_circle(contours: tuple[Path, ...], view: shapely.Polygon, tolerance: float) -> Width:
    """Return the largest circle between contours: found on chords, then moved on to its summit."""
    middle, step = _spoke(view, tolerance)[0], tolerance
    best = _clearance(contours, middle[None, :])[0]
    while step > ROUNDING:
        around = middle + step * _COMPASS
        clear = _clearance(contours, around)
        k = int(np.argmax(clear))
        if clear[k] > best:
            middle, best = around[k], clear[k]
        else:
            step *= 0.5
    return Width(2.0 * float(best), (float(middle[0]), float(middle[1])))


def _spoke(view: shapely.Polygon, tolerance: float) -> tuple[FloatArray, float]:
    """Return about the middle and the radius of the largest circle in a chorded view."""
    import shapely

    spoke = shapely.maximum_inscribed_circle(view, tolerance=0.5 * tolerance)
    return shapely.get_coordinates(spoke)[0], float(spoke.length)


def _clearance(contours: tuple[Path, ...], points: FloatArray) -> FloatArray:
    return np.asarray(np.min([distance(contour, points) for contour in contours], axis=0))


def metal_area(part: Part) -> float:
    """Return a part's true area, holes taken out, mm².

    Parameters
    ----------
    part : Part

    Returns
    -------
    float
        mm².
    """
    return abs(area(part.outer)) - sum(abs(area(hole)) for hole in part.holes)
