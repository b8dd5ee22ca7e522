"""Starts over the plate's edge, for plate too thick to pierce."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely

from cutplan.cutting.lead_shapes import straight
from cutplan.cutting.leads import Draft, Lead, finished_leads
from cutplan.cutting.part_cuts import ContourLeads
from cutplan.cutting.stations import Station, choose_stations
from cutplan.geometry import FloatArray, Pose, place

__all__ = ["RUN_UP", "edge_leads", "placed_contour"]

# How far outside the plate an edge start begins beyond half the kerf, mm: the flame or arc
# stands beside the edge and takes it from the side (common practice).
RUN_UP = 3.0
# Slopes against the edge at which ways are looked for, degrees.
SLOPES = (0.0, 1.5, 3.0, 4.5, 7.0, 10.0, 15.0, 22.5, 30.0, 45.0, 60.0, 75.0)


def placed_contour(contour: ContourLeads, pose: Pose) -> ContourLeads:
    """Return a contour with its leads, in plate coordinates."""
    torch = contour.torch
    moved = replace(
        torch,
        finished=place(torch.finished, pose),
        path=place(torch.path, pose),
        kept=tuple(place(edge, pose) for edge in torch.kept),
        scrap_left=torch.scrap_left != pose.mirrored,
    )
    return replace(contour, torch=moved)


def edge_leads(contour: ContourLeads, edge: shapely.Geometry) -> list[Lead]:
    """Return straight leads from outside the plate's edge to an outside contour.

    Parameters
    ----------
    contour : ContourLeads
        In plate coordinates.
    edge : shapely geometry
        Lines of the plate's edge.

    Returns
    -------
    list of Lead
        Those that keep off the contour's own part, by station, the shortest first.
    """
    torch = contour.torch
    stations = choose_stations(torch, 4 * contour.options.candidates, extremes=True)
    rays = [(index, station, way) for index, station in enumerate(stations) for way in _ways_out(station)]
    reach = _reach(np.array([s.point for _, s, _ in rays]), np.array([way for _, _, way in rays]), edge)
    ways = [(*ray, far) for ray, far in zip(rays, reach.tolist(), strict=True) if math.isfinite(far)]
    if not ways:
        return []
    run_up = torch.radius + RUN_UP
    starts = np.array([station.point + (far + run_up) * way for _, station, way, far in ways])
    # A way that crosses the edge too slantwise would begin with the kerf still on the plate.
    beside = shapely.distance(shapely.points(starts), edge) > run_up - 0.5 * RUN_UP
    order = sorted(np.flatnonzero(beside).tolist(), key=lambda i: (ways[i][0], ways[i][3]))
    drafts = [Draft(ways[i][0], ways[i][1], straight(starts[i], ways[i][1].point)) for i in order]
    return finished_leads(torch, contour.data, drafts, torch.radius)


def _ways_out(station: Station) -> list[FloatArray]:
    """Return the directions in which a way to the edge is looked for.

    Gaps between parts run along edges, so most look back along the travel or ahead of it,
    a little into the scrap.
    """
    slopes = np.radians(SLOPES)
    back = [np.sin(slope) * station.scrap - np.cos(slope) * station.tangent for slope in slopes]
    ahead = [np.sin(slope) * station.scrap + np.cos(slope) * station.tangent for slope in slopes[1:]]
    return [station.scrap, *back, *ahead]


def _reach(points: FloatArray, ways: FloatArray, edge: shapely.Geometry) -> FloatArray:
    """Return how far each way runs from its point to the first edge it meets, inf where it meets none."""
    x0, y0, x1, y1 = edge.bounds
    far = math.hypot(x1 - x0, y1 - y0)
    rays = shapely.linestrings(np.stack([points, points + far * ways], axis=1))
    hits, which = shapely.get_coordinates(shapely.intersection(rays, edge), return_index=True)
    reach = np.full(len(points), np.inf)
    np.minimum.at(reach, which, np.sum((hits - points[which]) * ways[which], axis=1))
    return reach
