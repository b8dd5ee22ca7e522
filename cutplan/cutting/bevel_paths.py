"""The way of a leaning torch along one edge, and what its jet takes at each depth.

Terminology
-----------
axis : where the jet's middle meets the plate's top.
run-out : the straight way beyond the ends of the edge, where the jet is clear of the part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import shapely

from cutplan.drawing import Slope, edge_points
from cutplan.geometry import FloatArray, Path, direction_at, length, reverse
from cutplan.process import CutData

__all__ = ["Run", "run_of", "slices_of"]

# Metal between the run's kerf and the end of its edge, mm.
CLEAR = 1.0
# Depths at which a run's reach is looked at; between them it is straight.
CHORD = 0.02
# Round ends of slices.
QUARTER = 8


@dataclass(frozen=True, eq=False)
class Run:
    """A run along one slope of an edge, in the edge's coordinates.

    Attributes
    ----------
    path : Path
        Of the axis, open, from the pierce to where the torch goes out.
    left : bool
        As it goes down, the jet goes to the left of the travel.
    lead_in, lead_out : float
        Its run-outs, mm.
    radius : float
        Half the kerf, mm.
    tilt_deg : float
    """

    path: Path
    left: bool
    lead_in: float
    lead_out: float
    radius: float
    tilt_deg: float

    def slice_at(self, depth: float) -> Any:
        """Return what the jet takes at a depth under the plate's top, never less, as a shapely geometry."""
        places = edge_points(self.path, 0.0, chord=CHORD)
        side = 1.0 if self.left else -1.0
        moved = places.points + side * depth * math.tan(math.radians(self.tilt_deg)) * places.inward
        # Across the travel a leaning jet is this much wider in the plane.
        across = self.radius / math.cos(math.radians(self.tilt_deg))
        return shapely.LineString(moved).buffer(across, quad_segs=QUARTER)


def run_of(
    edge: Path,
    slope: Slope,
    name: Literal["upper", "lower"],
    thickness: float,
    data: CutData,
    turn_deg: float = 90.0,
) -> Run | None:
    """Return the run that makes a slope of an edge; None where an arc is too tight for the axis.

    Parameters
    ----------
    edge : Path
        Metal on its left; closed where a whole contour is one edge.
    slope : Slope
    name : {"upper", "lower"}
    thickness : float
        mm.
    data : CutData
        For the thickness along the jet.
    turn_deg : float
        How far the contour turns at the blunter of its ends: the next edge runs along beside a pierce.

    Returns
    -------
    Run or None
    """
    tan, cos = math.tan(math.radians(slope.angle_deg)), math.cos(math.radians(slope.angle_deg))
    across = 0.5 * data.kerf / cos
    below = (thickness - slope.depth) * tan
    outward = across - slope.setback if name == "upper" else across + below
    # How far out the kerf gets at the top or at the bottom.
    reach = below + 2.0 * across
    moved = _outward(edge, outward)
    if moved is None:
        return None
    over = across + slope.setback + CLEAR
    aside = math.sin(math.radians(min(turn_deg, 90.0)))
    ahead = max((data.rules.pierce_clearance + reach) / aside, data.rules.lead_in, over)
    path, lead_in, lead_out = _with_run_outs(edge, moved, ahead, over, data)
    # Metal on the right of the travel, where the arc's swirl or the shop's habit asks for it.
    metal_left = data.rules.square_side == "left"
    if metal_left:
        return Run(path, name == "lower", lead_in, lead_out, 0.5 * data.kerf, slope.angle_deg)
    path, lead_in, lead_out = _with_run_outs(edge, moved, over, ahead, data)
    return Run(reverse(path), name == "upper", lead_out, lead_in, 0.5 * data.kerf, slope.angle_deg)


def _outward(edge: Path, by: float) -> Path | None:
    """Return an edge moved out of the metal on its left by a distance, arcs about their centres."""
    segments = edge.segments
    rows: list[tuple[float, float, float]] = []
    for k in range(len(edge)):
        normal = _outward_normals(edge, k)
        start = segments.start[k] + by * normal[0]
        if segments.is_arc[k] and segments.radius[k] + math.copysign(by, segments.sweep[k]) <= 0.0:
            return None
        rows.append((float(start[0]), float(start[1]), float(segments.bulge[k])))
        last = segments.end[k] + by * normal[1]
    if not edge.closed:
        rows.append((float(last[0]), float(last[1]), 0.0))
    return Path(np.array(rows), closed=edge.closed)


def _outward_normals(edge: Path, k: int) -> FloatArray:
    """Return the unit normals out of the metal at a segment's start and end, shape (2, 2)."""
    segments = edge.segments
    if segments.is_arc[k]:
        spokes = np.array([segments.start[k], segments.end[k]]) - segments.centre[k]
        return np.asarray(spokes / np.hypot(*spokes.T)[:, None] * np.sign(segments.sweep[k]))
    chord = segments.end[k] - segments.start[k]
    unit = chord / np.hypot(*chord)
    return np.tile([unit[1], -unit[0]], (2, 1))


def _with_run_outs(
    edge: Path, moved: Path, before: float, behind: float, data: CutData
) -> tuple[Path, float, float]:
    """Return the axis with its straight run-outs, and how long they are."""
    vertices = moved.vertices
    if moved.closed:
        # Round once and on over the start; on and off along tangents, which stay outside of a convex edge.
        vertices = np.vstack([vertices, [[*vertices[0, :2], 0.0]]])
        size = max(float(np.hypot(*np.ptp(edge.points, axis=0))), 1.0)
        before, behind = (math.sqrt(each * each + size * each) for each in (before, behind))
    first, last = _directions(moved)
    head = [*(vertices[0, :2] - before * first), 0.0]
    tail = [*(vertices[-1, :2] + behind * last), 0.0]
    return Path(np.vstack([[head], vertices, [tail]]), closed=False), before, behind


def _directions(path: Path) -> tuple[FloatArray, FloatArray]:
    size = float(length(path))
    first, last = direction_at(path, np.array([1e-6, size - 1e-6]))
    return first, last


def slices_of(run: Run, thickness: float) -> Any:
    """Return what a run's jet takes at any depth of a plate, as one shapely geometry.

    Parameters
    ----------
    run : Run
    thickness : float
        mm.

    Returns
    -------
    shapely Polygon or MultiPolygon
    """
    shift = thickness * math.tan(math.radians(run.tilt_deg))
    looks = max(2, 1 + math.ceil(shift / run.radius))
    return shapely.union_all([run.slice_at(float(depth)) for depth in np.linspace(0.0, thickness, looks)])
