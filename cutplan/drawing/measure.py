"""What a part measures: area, cut length, pierces, and how narrow it gets where."""

from __future__ import annotations

import math
from dataclasses import dataclass

from cutplan.drawing.model import Part
from cutplan.geometry import Path, Region, Width, area

__all__ = ["PartMeasures", "inscribed_circle", "measure_part", "metal_area"]

# How far the diameter of an inscribed circle may fall short of the largest, mm.
MIDDLE_TOLERANCE = 0.01
# Where one circle between facing contours is as wide as they are, to this, mm, they are the widest there.
ROUNDING = 1e-6


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
    diameters of round holes; the diameter of another hole's inscribed circle is never overstated,
    and understated by at most 0.01 mm.
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
    region = Region((part.outer, *part.holes))
    x0, y0, x1, y1 = region.bounds
    smallest = _smallest(part.holes)
    across = math.hypot(x1 - x0, y1 - y0)
    metal, scrap = region.narrowest(across, smallest.value if smallest else across)
    return PartMeasures(
        area=region.area,
        cut_length=region.length,
        pierces=1 + len(part.holes),
        bounds=region.bounds,
        smallest_hole=smallest,
        narrowest_gap=min((width for width in (scrap, smallest) if width is not None), default=None),
        thinnest_web=_web(region, metal),
    )


def _smallest(holes: tuple[Path, ...]) -> Width | None:
    """Return the largest circle of the hole where that is smallest."""
    best: Width | None = None
    shaped = []
    for hole in holes:
        diameter = _diameter(hole)
        if diameter is None:
            shaped.append(hole)
        elif best is None or diameter < best:
            best = diameter
    for hole in shaped:
        # A hole wider than one seen before is of no interest, however much wider.
        circle = _space(hole).largest_circle(MIDDLE_TOLERANCE, best.value if best else math.inf)
        best = circle if best is None else min(best, circle)
    return best


def _web(region: Region, facing: Width | None) -> Width:
    """Return the thinnest metal: between facing contours, or of the part as a whole."""
    if facing is None:
        return region.largest_circle(MIDDLE_TOLERANCE)
    # Most often a circle fits right between what faces each other.
    if 2.0 * region.clearance(facing.place) >= facing.value - ROUNDING:
        return facing
    return min(region.largest_circle(MIDDLE_TOLERANCE, facing.value), facing)


def inscribed_circle(contour: Path) -> Width:
    """Return diameter and centre of the largest circle inside a contour.

    Exact in a round one; else never too large, and at most `MIDDLE_TOLERANCE` too small.

    Parameters
    ----------
    contour : Path
        Closed.

    Returns
    -------
    Width
    """
    return _diameter(contour) or _space(contour).largest_circle(MIDDLE_TOLERANCE)


def _space(contour: Path) -> Region:
    """Return what a contour encloses, whichever way it runs."""
    # Neither containment nor distance, of which a circle takes heed, knows a direction.
    return Region([contour])


def _diameter(contour: Path) -> Width | None:
    """Return diameter and centre of a contour of two half circles."""
    if len(contour.vertices) != 2:
        return None
    (ax, ay, one), (bx, by, two) = contour.vertices.tolist()
    if abs(abs(one) - 1.0) > ROUNDING or abs(abs(two) - 1.0) > ROUNDING:
        return None
    return Width(math.hypot(bx - ax, by - ay), (0.5 * (ax + bx), 0.5 * (ay + by)))


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
