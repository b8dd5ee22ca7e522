"""Pierces held clear of parts, of the plate's edge and of all that was cut before them.

A pierce blows metal about and melts a hole wider than the kerf: near an edge it takes the edge
along, and near a kerf or another pierce's slag the torch finds no sound metal to start on.
Edge starts pierce nothing; metal that came loose is left to `loose`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from cutplan.geometry import FloatArray, to_polygon
from cutplan.process import CutData
from cutplan.stock import NestedPlate
from cutplan.verification.burns import Runs
from cutplan.verification.measure import BoxIndex
from cutplan.verification.model import Fault
from cutplan.verification.placed import PlacedParts
from cutplan.verification.strokes import BoolArray, IntArray, Strokes, distance_to, strokes_of

__all__ = ["pierce_faults"]

# Coordinates are rounded to steps of the program, and the width of a hole is measured so closely, mm.
SLACK = 0.02
HOLE_TOLERANCE = 0.005


@dataclass(frozen=True, eq=False)
class _Nearest:
    """What lies nearest to each pierce: how far off its edge is, mm, and what it is."""

    gap: FloatArray
    what: list[str]

    def offer(self, pierce: IntArray, gaps: FloatArray, what: list[str]) -> None:
        """Take over what lies nearer than what was known."""
        for row, gap, name in zip(pierce.tolist(), gaps.tolist(), what, strict=True):
            if gap < self.gap[row]:
                self.gap[row] = gap
                self.what[row] = name


def pierce_faults(
    runs: Runs, parts: PlacedParts, data: CutData, over_edge: BoolArray, shifts: tuple[float, ...] = (0.0,)
) -> Iterator[Fault]:
    """Yield the pierces that come too near to something.

    Parameters
    ----------
    runs : Runs
        The torch's, in the order they burn.
    parts : PlacedParts
    data : CutData
        Its clearance, its kerf and the slag of its pierces.
    over_edge : ndarray of bool
        Runs that begin beside the plate.
    shifts : tuple of float
        How far each torch that burns stands from the first, mm in y.
    """
    pierces: FloatArray = np.array([burn.pierce for burn in runs.burns], dtype=np.float64).reshape(-1, 2)
    near = _Nearest(np.full(len(pierces), np.inf), [""] * len(pierces))
    reach = data.rules.pierce_clearance
    for shift in sorted({a - b for a in shifts for b in shifts}):
        _against_edges(near, pierces + np.array([0.0, shift]), parts, reach)
    _against_plate(near, pierces, parts.sheet, reach)
    for shift in sorted({a - b for a in shifts for b in shifts}):
        _against_cuts(near, pierces + np.array([0.0, shift]), runs, data, shift)
    short = (near.gap < reach - SLACK) & ~over_edge
    holes = _holes_around(pierces[short], parts)
    for row, half_width in zip(np.flatnonzero(short).tolist(), holes, strict=True):
        needed = data.rules.pierce_clearance_in(half_width) if half_width is not None else reach
        if near.gap[row] < needed - SLACK:
            burn = runs.burns[row]
            yield Fault(
                "pierce-clearance", _told(near.gap[row], near.what[row], needed), burn.line, burn.pierce
            )


def _told(gap: float, what: str, needed: float) -> str:
    if gap < 0.0:
        return f"a pierce where no metal is: in {what}"
    return f"a pierce {gap:.2f} mm from {what}; the cutting data ask for {needed:.2f} mm"


def _against_edges(near: _Nearest, pierces: FloatArray, parts: PlacedParts, reach: float) -> None:
    pierce, edge = _pairs(pierces, parts.edges, reach)
    gaps = distance_to(pierces[pierce], parts.edges[edge])
    placements = parts.contour_placement[parts.edge_contour[edge]].tolist()
    placed = parts.sheet.placements
    near.offer(pierce, gaps, [f"{placed[p].part.name!r} copy {placed[p].copy}" for p in placements])


def _against_plate(near: _Nearest, pierces: FloatArray, sheet: NestedPlate, reach: float) -> None:
    outline = strokes_of(sheet.plate.outline)
    voids = [strokes_of(void) for void in sheet.plate.voids]
    for strokes, name in ((outline, "the plate's edge"), (Strokes.joined(voids), "a hole in the plate")):
        pierce, stroke = _pairs(pierces, strokes, reach)
        near.offer(pierce, distance_to(pierces[pierce], strokes[stroke]), [name] * len(pierce))
    if not len(pierces):
        return
    for void in sheet.plate.voids:
        inside = np.flatnonzero(shapely.contains_xy(to_polygon(void, tolerance=SLACK), *pierces.T))
        near.offer(inside, np.full(len(inside), -1.0), ["a hole in the plate"] * len(inside))


def _against_cuts(near: _Nearest, pierces: FloatArray, runs: Runs, data: CutData, shift: float) -> None:
    """Hold pierces against the kerfs and the pierces before them, by a torch a shift further in y."""
    reach, radius, mound = data.rules.pierce_clearance, 0.5 * data.kerf, data.mound_radius
    pierce, stroke = _pairs(pierces, runs.strokes, reach + radius)
    before = runs.owner[stroke] < pierce
    pierce, stroke = pierce[before], stroke[before]
    gaps = distance_to(pierces[pierce], runs.strokes[stroke]) - radius
    cuts = [_cut_of(runs, k) for k in runs.owner[stroke].tolist()]
    near.offer(pierce, gaps, [f"the kerf of {cut}" for cut in cuts])
    spots = np.array([burn.pierce for burn in runs.burns], dtype=np.float64).reshape(-1, 2)
    points = Strokes(spots, spots, np.zeros_like(spots), np.zeros(len(spots)), np.zeros(len(spots)))
    pierce, spot = _pairs(pierces, points, reach + mound)
    # Torches side by side pierce at once: then it is no earlier pierce, but as near.
    before = (spot < pierce) | ((spot == pierce) & (shift != 0.0))
    pierce, spot = pierce[before], spot[before]
    gaps = distance_to(pierces[pierce], points[spot]) - mound
    near.offer(pierce, gaps, [f"the slag of the pierce of {_cut_of(runs, k)}" for k in spot.tolist()])


def _cut_of(runs: Runs, number: int) -> str:
    line = runs.burns[number].line
    return f"the cut on line {line}" if line >= 0 else f"the cut on line {-line} of the program before"


def _pairs(pierces: FloatArray, strokes: Strokes, reach: float) -> tuple[IntArray, IntArray]:
    return BoxIndex(strokes.boxes()).pairs(np.column_stack([pierces, pierces]), reach)


def _holes_around(pierces: FloatArray, parts: PlacedParts) -> list[float | None]:
    """Return half the width of the drawn hole that each pierce lies in, None outside all."""
    holes: list[Any] = [shapely.Polygon(ring) for metal in parts.metal for ring in metal.interiors]
    found: list[float | None] = [None] * len(pierces)
    if not holes or not len(pierces):
        return found
    point, hole = shapely.STRtree(holes).query(shapely.points(pierces), predicate="within")
    for p, h in sorted(zip(point.tolist(), hole.tolist(), strict=True), key=lambda ph: -holes[ph[1]].area):
        # The smallest hole around a pierce is the one it lies in.
        found[p] = float(shapely.maximum_inscribed_circle(holes[h], tolerance=HOLE_TOLERANCE).length)
    return found
