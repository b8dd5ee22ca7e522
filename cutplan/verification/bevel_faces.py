"""Bevelled faces held against the drawing: angle, land, place and length, on planes from top to bottom.

Terminology
-----------
row : places of a face at one depth, along the whole of its edge.
off : how far the swept kerf's side lies outside the drawn face there, mm, across the face; below
    zero where it has cut into the part.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from cutplan.drawing import PreparedEdge, Slope, edge_points, faces_of, prepared_edges, section_at
from cutplan.geometry import FloatArray, length, nearest, place_points, point_at
from cutplan.stock import NestedPlate, Placement
from cutplan.verification.jets import Jets
from cutplan.verification.model import Fault, PlannedMake

__all__ = ["Face", "face_faults", "faces_asked"]

ANGLE_DEG, LAND_MM = 0.5, 0.3
"""How far a face's angle and its land may be off the drawing's."""
# Depths of a face that are looked at, its two ends among them, and from place to place along it, mm.
ROWS, STEP = 7, 2.0
# A place this near to the section's edge lies on the finished face, mm.
ON_FACE = 0.02
# A face farther from the kerf than this is not cut at all, mm.
NOT_CUT = 1.0
# Jets farther from an edge than this have nothing to do with it, in thicknesses.
REACH = 2.5


@dataclass(frozen=True, eq=False)
class Face:
    """A slope of an edge of a placed part."""

    placement: Placement
    edge: PreparedEdge
    slope: Slope
    upper: bool

    def depths(self, thickness: float) -> FloatArray:
        """Return the depths of its rows, mm, from the plate's face to the land."""
        if self.upper:
            return np.linspace(0.0, self.slope.depth, ROWS)
        return np.linspace(thickness, thickness - self.slope.depth, ROWS)


def faces_asked(sheet: NestedPlate, slope: str, makes: list[PlannedMake]) -> Iterator[Face | PlannedMake]:
    """Yield the faces that planned runs are to make; a make that no drawing asks for comes back itself."""
    thickness = sheet.plate.thickness
    placed = {(p.part.name, p.copy): p for p in sheet.placements}
    for make in makes:
        placement = placed.get((make.part, make.copy))
        face = None if placement is None else _face_of(placement, make, slope, thickness)
        yield make if face is None else face


def _face_of(placement: Placement, make: PlannedMake, slope: str, thickness: float) -> Face | None:
    part = placement.part
    for asked in part.bevelled_here:
        if asked.hole != make.hole:
            continue
        faces = faces_of(asked, thickness)
        wanted = faces.upper if slope == "upper" else faces.lower
        if wanted is None:
            continue
        contour = part.outer if asked.hole is None else part.holes[asked.hole]
        for edge in prepared_edges(part, asked):
            if edge.path.closed and make.span is None:
                return Face(placement, edge, wanted, slope == "upper")
            if edge.path.closed or make.span is None:
                continue
            size, whole = float(length(edge.path)), float(length(contour))
            middle = float(nearest(contour, point_at(edge.path, np.array([0.5 * size])))[1][0])
            half = 0.5 * ((make.span[1] - make.span[0]) % whole)
            apart = (middle - make.span[0] - half + 0.5 * whole) % whole - 0.5 * whole
            if abs(apart) < 0.01 and abs(2.0 * half - size) < 0.02:
                return Face(placement, edge, wanted, slope == "upper")
    return None


def face_faults(face: Face, jets: Jets, thickness: float, tolerance: float) -> tuple[list[Fault], FloatArray]:
    """Return what is wrong with a face, and how far off it is at each place looked at, mm.

    Parameters
    ----------
    face : Face
    jets : Jets
    thickness : float
        mm.
    tolerance : float
        Faces farther off are faults, mm.
    """
    off, valid, places = _off(face, jets, thickness)
    if not valid.any():
        return [], np.zeros(0)
    part, copy = face.placement.part.name, face.placement.copy
    worst = np.unravel_index(np.argmax(np.where(valid, np.abs(off), -1.0)), off.shape)
    x, y = places[worst].tolist()
    seen = np.where(valid, off, np.nan)
    told: list[tuple[str, str]] = []
    if float(np.nanmax(seen)) > NOT_CUT:
        told.append(
            ("bevel-missing", f"{_slope_name(face)} of {part!r} is not cut, or not all along its edge")
        )
    else:
        told += _told(face, seen, thickness, tolerance)
    return [Fault(code, message, None, (x, y), part, copy) for code, message in told], off[valid]


def _told(face: Face, seen: FloatArray, thickness: float, tolerance: float) -> Iterator[tuple[str, str]]:
    """Yield the faults of a face that is cut: its angle, its land, or else its place."""
    part, name = face.placement.part.name, _slope_name(face)
    slant = face.slope.depth / math.cos(math.radians(face.slope.angle_deg))
    whole = np.isfinite(seen[[0, -1]]).all(axis=0)
    lean = np.degrees(np.arctan((seen[0] - seen[-1]) / slant))[whole]
    sine = math.sin(math.radians(face.slope.angle_deg))
    land = (seen[-1] / sine)[np.isfinite(seen[-1])]
    found = False
    if len(lean) and np.abs(lean).max() > ANGLE_DEG:
        found = True
        wrong = float(lean[np.argmax(np.abs(lean))])
        yield "bevel-angle", f"{name} of {part!r} is {abs(wrong):.2f}° off its {face.slope.angle_deg:g}°"
    if len(land) and np.abs(land).max() > LAND_MM:
        found = True
        wrong = float(land[np.argmax(np.abs(land))])
        more = "higher" if wrong > 0.0 else "lower"
        yield "bevel-land", f"the land under {name} of {part!r} is {abs(wrong):.2f} mm {more} than drawn"
    if not found and float(np.nanmax(np.abs(seen))) > tolerance:
        yield "bevel-face", f"{name} of {part!r} lies {np.nanmax(np.abs(seen)):.2f} mm off"


def _slope_name(face: Face) -> str:
    return f"the {'upper' if face.upper else 'lower'} bevel"


def _off(face: Face, jets: Jets, thickness: float) -> tuple[FloatArray, Any, FloatArray]:
    """Return how far off a face is, row by row from the plate's face to the land, and where it is one.

    Shapes (rows, places), (rows, places), (rows, places, 2).
    """
    part, pose = face.placement.part, face.placement.pose
    along = edge_points(face.edge.path, 0.0, STEP)
    faces = faces_of(face.edge.asked, thickness)
    placed, valid = [], []
    depths = face.depths(thickness)
    for depth in depths.tolist():
        inside = min(max(depth, 1e-6), thickness - 1e-6)
        points = along.points + faces.setback_at(depth, thickness) * along.inward
        rim = section_at(part, inside, thickness).boundary
        valid.append(shapely.distance(shapely.points(points), rim) <= ON_FACE)
        placed.append(place_points(points, pose))
    places = np.array(placed)
    flat = places.reshape(-1, 2)
    z = np.repeat(-depths, len(along.points))
    near = _near(jets, flat, REACH * thickness)
    off = near.clearance(np.column_stack([flat, z])).reshape(len(depths), -1)
    return off, np.array(valid), places


def _near(jets: Jets, points: FloatArray, reach: float) -> Jets:
    low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
    least, most = np.minimum(jets.start, jets.end), np.maximum(jets.start, jets.end)
    return jets[(least <= high).all(axis=1) & (most >= low).all(axis=1)]
