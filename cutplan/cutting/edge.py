"""Starts over the plate's edge, for plate too thick to pierce."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely

from cutplan.cutting.leads import Draft, Lead, finished_leads
from cutplan.cutting.plans import ContourPlan
from cutplan.cutting.stations import Station, choose_stations
from cutplan.cutting.strokes import straight, stroke_lengths
from cutplan.cutting.torch import TorchContour
from cutplan.geometry import FloatArray, Pose, place

__all__ = ["edge_leads", "placed_plan"]

# How far outside the plate an edge start begins beyond half the kerf, mm: the flame or arc
# stands beside the edge and takes it from the side (common practice).
RUN_UP = 3.0


def placed_plan(plan: ContourPlan, pose: Pose) -> ContourPlan:
    """Return a contour's plan in plate coordinates."""
    torch = plan.torch
    moved = replace(
        torch,
        finished=place(torch.finished, pose),
        path=place(torch.path, pose),
        scrap_left=torch.scrap_left != pose.mirrored,
    )
    return replace(plan, torch=moved)


def edge_leads(plan: ContourPlan, edge: shapely.Geometry) -> list[Lead]:
    """Return straight leads from outside the plate's edge to an outside contour.

    Parameters
    ----------
    plan : ContourPlan
        In plate coordinates.
    edge : shapely geometry
        Lines of the plate's edge.

    Returns
    -------
    list of Lead
        Those that keep off the contour's own part, by station, the shortest first.
    """
    torch = plan.torch
    drafts: list[Draft] = []
    for index, station in enumerate(choose_stations(torch, 4 * plan.options.candidates, extremes=True)):
        ways = [_from_edge(station, way, edge, torch) for way in _ways_out(station)]
        met = [way for way in ways if way is not None]
        met.sort(key=lambda stroke: float(stroke_lengths(stroke[None])[0]))
        drafts += [Draft(index, station, way) for way in met]
    return finished_leads(torch, plan.data, drafts, torch.radius)


def _ways_out(station: Station) -> list[FloatArray]:
    """Return the directions in which a way to the edge is looked for."""
    axes = [np.array(axis, dtype=np.float64) for axis in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    outward = [axis for axis in axes if np.dot(axis, station.scrap) > 1e-6]
    return [station.scrap, -station.tangent, *outward]


def _from_edge(
    station: Station, way: FloatArray, edge: shapely.Geometry, torch: TorchContour
) -> FloatArray | None:
    """Return the straight lead from outside the first edge met, None where none is met."""
    x0, y0, x1, y1 = edge.bounds
    far = math.hypot(x1 - x0, y1 - y0)
    ray = shapely.LineString([station.point, station.point + far * way])
    hits = shapely.get_coordinates(shapely.intersection(ray, edge))
    if not len(hits):
        return None
    reach = float(np.min((hits - station.point) @ way))
    return straight(station.point + (reach + torch.radius + RUN_UP) * way, station.point)
