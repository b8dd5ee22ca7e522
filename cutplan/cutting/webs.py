"""Metal of a part too narrow for the heat: between its contours, and in necks of its outline."""

from __future__ import annotations

import numpy as np
import shapely

from cutplan.base.findings import Finding
from cutplan.cutting.compensate import narrow_places
from cutplan.drawing import Part, inscribed_circle
from cutplan.geometry import path_distance, to_polygon
from cutplan.process import CutData

__all__ = ["web_findings"]

# Chords of the views in which neighbouring contours are looked for, mm.
VIEW_TOLERANCE = 0.05


def web_findings(part: Part, data: CutData) -> list[Finding]:
    """Return a warning for the narrowest web between contours, and one for each neck of the outline."""
    least = data.rules.thinnest_web
    if least <= 0.0:
        return []
    asked = f"under the {least:.1f} mm that stand the heat in {data.thickness:g} mm plate"
    remedy = "widen it, or expect it to warp and lose its edge"
    findings = []
    webs = _webs(part, least)
    if webs:
        width, place = min(webs)
        more = f" (and {len(webs) - 1} more)" if len(webs) > 1 else ""
        told = f"a web of '{part.name}' between two contours is {width:.2f} mm wide, {asked}{more}"
        findings.append(Finding("warning", told, place, remedy))
    widest, middle = inscribed_circle(part.outer)
    if widest < least:
        told = f"'{part.name}' is nowhere wider than {widest:.2f} mm, {asked}"
        return [*findings, Finding("warning", told, middle, remedy)]
    for width, place in narrow_places(part.outer, least):
        told = f"a neck of '{part.name}' is {width:.2f} mm wide, {asked}"
        findings.append(Finding("warning", told, place, remedy))
    return findings


def _webs(part: Part, least: float) -> list[tuple[float, tuple[float, float]]]:
    """Return width and place of the webs between contours that are narrower than `least`."""
    paths = [part.outer, *part.holes]
    edges = np.array(
        [to_polygon(path, tolerance=VIEW_TOLERANCE).exterior for path in paths], dtype=np.object_
    )
    reach = least + 2.0 * VIEW_TOLERANCE
    one, other = shapely.STRtree(edges).query(edges, predicate="dwithin", distance=reach)
    webs = []
    for i, j in zip(one.tolist(), other.tolist(), strict=True):
        if i >= j:
            continue
        width = path_distance(paths[i], paths[j])
        if width < least:
            middle = shapely.shortest_line(edges[i], edges[j]).interpolate(0.5, normalized=True)
            webs.append((width, (float(middle.x), float(middle.y))))
    return webs
