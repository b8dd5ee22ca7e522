"""Punch, die and the machine's beams in section, and what of them a bent part would hit."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.affinity import translate

from cutplan.forming.model import Press
from cutplan.forming.section import body
from cutplan.geometry import FloatArray

__all__ = ["Tools", "hits", "itself", "tools_of"]

BEAM_MM = 2000.0  # of the ram and the table, as far as a section may reach
SLACK_SHARE = 0.1  # of the thickness: touching is no hit
MOST_SLACK = 0.3  # mm


@dataclass(frozen=True)
class Tools:
    """The section of what stands about the bend, the die's shoulders at y = 0, the punch's edge at (0, 0).

    Attributes
    ----------
    punch, ram : Polygon
        Which move together, their place that of the punch's edge.
    die, table : Polygon
    passing : Polygon
        What punch and ram sweep when they are raised.
    """

    punch: shapely.Polygon
    ram: shapely.Polygon
    die: shapely.Polygon
    table: shapely.Polygon
    passing: shapely.Polygon


@lru_cache(maxsize=64)
def tools_of(press: Press, opening: float) -> Tools:
    """Return the tools of a press about one die opening.

    Parameters
    ----------
    press : Press
    opening : float
        mm.

    Returns
    -------
    Tools
    """
    punch = shapely.Polygon(press.punch_outline or _straight_punch(press))
    top = punch.bounds[3]
    ram = shapely.box(-press.ram_width_mm / 2, top, press.ram_width_mm / 2, top + BEAM_MM)
    height = press.die_height_mm
    depth = min(opening / 2.0 / math.tan(math.radians(press.die_angle_deg) / 2.0), 0.9 * height)
    half = opening / 2.0 + press.die_shoulder_mm
    die = shapely.Polygon(
        [
            (-half, -height),
            (half, -height),
            (half, 0),
            (opening / 2, 0),
            (0, -depth),
            (-opening / 2, 0),
            (-half, 0),
        ]
    )
    beam = press.table_width_mm / 2
    table = shapely.box(-beam, -height - BEAM_MM, beam, -height)
    return Tools(punch, ram, die, table, shapely.union_all([_raised(punch), ram]))


def _straight_punch(press: Press) -> list[tuple[float, float]]:
    half = press.punch_width_mm / 2.0
    shoulder = min(half / math.tan(math.radians(press.punch_angle_deg) / 2.0), press.punch_height_mm)
    top = press.punch_height_mm
    return [(0.0, 0.0), (half, shoulder), (half, top), (-half, top), (-half, shoulder)]


def _raised(outline: shapely.Polygon) -> shapely.Polygon:
    """Return what an outline sweeps on its way straight up."""
    swept = [outline]
    for (ax, ay), (bx, by) in itertools.pairwise(outline.exterior.coords):
        swept.append(
            shapely.MultiPoint([(ax, ay), (bx, by), (ax, ay + BEAM_MM), (bx, by + BEAM_MM)]).convex_hull
        )
    return shapely.union_all(swept)


def slack_of(thickness: float) -> float:
    """Return how far a part may overlap a tool and still only touch it, mm."""
    return min(SLACK_SHARE * thickness, MOST_SLACK)


def hits(tools: Tools, lines: Sequence[FloatArray], edge_height: float, thickness: float) -> str:
    """Return what a section would hit; empty where nothing.

    Parameters
    ----------
    tools : Tools
    lines : sequence of array
        Middle lines of its stretches, straights and rounds in turn.
    edge_height : float
        Where the punch's edge stands, mm over the die's shoulders.
    thickness : float
        mm.

    Returns
    -------
    str
        "the punch", "the ram", "the die", "the table" or "itself".
    """
    shape = body(lines, thickness - 2.0 * slack_of(thickness))
    for name, tool in (("the die", tools.die), ("the table", tools.table)):
        if tool.intersects(shape):
            return name
    for name, tool in (("the punch", tools.punch), ("the ram", tools.ram)):
        if translate(tool, 0.0, edge_height).intersects(shape):
            return name
    return itself(lines, thickness)


def itself(lines: Sequence[FloatArray], thickness: float) -> str:
    """Return "itself" where two straights of a section meet that no round joins; else empty."""
    straights = [shapely.LineString(line) for line in lines[::2]]
    for k, one in enumerate(straights):
        for other in straights[k + 2 :]:
            if one.distance(other) < thickness - 2.0 * slack_of(thickness):
                return "itself"
    return ""


def passes(tools: Tools, lines: Sequence[FloatArray], edge_height: float, thickness: float) -> bool:
    """Return whether the punch can be raised straight up past a section."""
    shape = body(lines, thickness - 2.0 * slack_of(thickness))
    return not translate(tools.passing, 0.0, edge_height).intersects(shape)
