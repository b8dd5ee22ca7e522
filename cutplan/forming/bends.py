"""Bend lines held against the blank and the press: what bends, what does not, what to scribe."""

from __future__ import annotations

import itertools
import math

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import DrawingError
from cutplan.base.findings import Finding
from cutplan.drawing import BendLine, Part
from cutplan.forming.air_bending import (
    die_opening,
    force_kn_per_m,
    inside_radius,
    shortest_flange,
    tensile_strength_mpa,
)
from cutplan.forming.model import BendCheck, Press
from cutplan.geometry import FloatArray, Path, bounds, contains, crossings, path_distance, polyline

__all__ = ["check_bends", "scribe_lines"]

SAMPLES = 33
"""Places along a bend where the flange is measured."""
ALONG_ROLLING_DEG = 30.0
NEAREST_SHARE = 1e-6


def check_bends(
    part: Part,
    thickness: float,
    grade: str,
    material: str,
    press: Press | None = None,
    rolling_deg: float | None = None,
) -> tuple[BendCheck, ...]:
    """Check every bend line of a part.

    Parameters
    ----------
    part : Part
    thickness : float
        mm.
    grade, material : str
        Grade and material group, for the tensile strength.
    press : Press, optional
        The press brake; without one only the blank is checked.
    rolling_deg : float, optional
        Direction of rolling in the drawing, degrees.

    Returns
    -------
    tuple of BendCheck

    Raises
    ------
    DrawingError
        If a bend line lies off the part.
    """
    return tuple(_check(part, bend, thickness, grade, material, press, rolling_deg) for bend in part.bends)


def _check(
    part: Part,
    bend: BendLine,
    thickness: float,
    grade: str,
    material: str,
    press: Press | None,
    rolling_deg: float | None,
) -> BendCheck:
    length = sum(math.dist(a, b) for a, b in metal_along(part, bend))
    dies = press.dies_mm if press else ()
    die = die_opening(thickness, dies, bend.radius_mm)
    force = force_kn_per_m(thickness, die, tensile_strength_mpa(grade, material)) * length / 1000.0
    along = None if rolling_deg is None else _is_along(bend, rolling_deg)
    check = BendCheck(
        bend=bend,
        length_mm=length,
        die_mm=die,
        force_kn=force,
        inside_radius_mm=inside_radius(die),
        shortest_flange_mm=shortest_flange(die),
        flange_mm=flange_beside(part, bend),
        along_rolling=along,
    )
    findings = (*_press_findings(check, press, thickness), *_blank_findings(part, check, thickness))
    return BendCheck(**{**check.__dict__, "findings": findings})


def metal_along(part: Part, bend: BendLine) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Return the stretches of a bend line that lie in the part's metal, drawing coordinates.

    Raises
    ------
    DrawingError
        If there are none.
    """
    line = polyline([bend.start, bend.end])
    start, end = np.array(bend.start), np.array(bend.end)
    length = float(np.hypot(*(end - start)))
    cuts = [0.0, length]
    for contour in (part.outer, *part.holes):
        for hit in crossings(line, contour):
            cuts.append(float(np.dot(hit - start, end - start) / length))
    stations = np.unique(np.clip(cuts, 0.0, length))
    spans = [(a, b) for a, b in itertools.pairwise(stations) if b - a > NEAREST_SHARE * length]
    middles = np.array([start + (end - start) * (a + b) / 2 / length for a, b in spans]).reshape(-1, 2)
    inside = _in_metal(part, middles)
    metal = [span for span, is_in in zip(spans, inside, strict=True) if is_in]
    if not metal:
        raise DrawingError(
            "a bend line lies off the part",
            where=f"{part.source}, part {part.name}",
            place=bend.start,
            remedy="move the line onto the part, or off the bend layer",
        )
    return [(_at(bend, a / length), _at(bend, b / length)) for a, b in metal]


def flange_beside(part: Part, bend: BendLine) -> float:
    """Return the shortest flange beside a bend line, to the outer edge or the next bend, mm."""
    spans = metal_along(part, bend)
    normal = _normal(bend)
    x0, y0, x1, y1 = bounds(part.outer)
    reach = math.hypot(x1 - x0, y1 - y0)
    stops = [part.outer, *(polyline([b.start, b.end]) for b in part.bends if b is not bend)]
    shortest = math.inf
    for share in np.linspace(0.04, 0.96, SAMPLES):
        for a, b in (spans[0], spans[-1]) if len(spans) > 1 else spans:
            point = np.array(a) + (np.array(b) - np.array(a)) * share
            for side in (1.0, -1.0):
                ray = polyline([point + side * NEAREST_SHARE * normal, point + side * reach * normal])
                hits = np.vstack([crossings(ray, stop) for stop in stops])
                if len(hits):
                    shortest = min(shortest, float(np.hypot(*(hits - point).T).min()))
    return shortest


def _press_findings(check: BendCheck, press: Press | None, thickness: float) -> list[Finding]:
    if press is None:
        return []
    place = check.bend.start
    findings = []
    if check.force_kn > press.capacity_kn:
        words = f"the bend takes {check.force_kn:.0f} kN, the press has {press.capacity_kn:.0f} kN"
        findings.append(Finding("refused", f"{words}; take a wider die or a larger press", place))
    if check.length_mm > press.bed_mm:
        words = f"the bend is {check.length_mm:.0f} mm long, the bed {press.bed_mm:.0f} mm"
        findings.append(Finding("refused", f"{words}; split the part or take a larger press", place))
    usual = die_opening(thickness)
    if check.die_mm < usual - 1e-9:
        words = f"the widest die on hand is {check.die_mm:g} mm, {usual:g} mm is usual for {thickness:g} mm"
        findings.append(Finding("warning", f"{words}; the force is high and the radius sharp", place))
    return findings


def _blank_findings(part: Part, check: BendCheck, thickness: float) -> list[Finding]:
    bend, place = check.bend, check.bend.start
    findings = []
    if check.flange_mm < check.shortest_flange_mm:
        words = (
            f"the flange of {check.flange_mm:.1f} mm is shorter than the die of {check.die_mm:g} mm carries"
        )
        remedy = f"make it {check.shortest_flange_mm:.1f} mm, or bend over a narrower die"
        findings.append(Finding("refused", f"{words}; {remedy}", place))
    line = polyline([bend.start, bend.end])
    for hole in part.holes:
        gap = path_distance(line, hole)
        if 0.0 < gap < check.die_mm / 2.0:
            at = hole.points[0]
            words = f"a hole stands {gap:.1f} mm from a bend, over the die of {check.die_mm:g} mm"
            remedy = "it will be drawn oval; move it or drill it after bending"
            findings.append(Finding("warning", f"{words}: {remedy}", (float(at[0]), float(at[1]))))
    if bend.radius_mm is not None and check.inside_radius_mm > 1.25 * bend.radius_mm:
        words = f"air bending gives R{check.inside_radius_mm:.1f}, the drawing asks R{bend.radius_mm:g}"
        findings.append(Finding("warning", f"{words}; a narrower die costs force", place))
    if check.along_rolling:
        words = "the bend runs along the rolling direction; turn the part, or take a larger radius"
        findings.append(Finding("warning", words, place))
    return findings


def scribe_lines(part: Part, *, tick: float | None = 15.0, clearance: float = 2.0) -> tuple[Path, ...]:
    """Return the lines to scribe for a part's bends, drawing coordinates.

    Parameters
    ----------
    part : Part
    tick : float or None
        Length of a tick at each end of every stretch of metal, mm; None scribes in full.
    clearance : float
        Distance kept from edges, mm, so that the marker never runs off the metal.

    Returns
    -------
    tuple of Path
    """
    lines: list[Path] = []
    for bend in part.bends:
        for a, b in metal_along(part, bend):
            start, end = np.array(a), np.array(b)
            length = float(np.hypot(*(end - start)))
            way = (end - start) / length
            first, last = start + clearance * way, end - clearance * way
            usable = length - 2.0 * clearance
            if usable <= 0.0:
                continue
            if tick is None or 2.0 * tick >= usable:
                lines.append(polyline([first, last]))
            else:
                lines += [polyline([first, first + tick * way]), polyline([last - tick * way, last])]
    return tuple(lines)


def _in_metal(part: Part, points: FloatArray) -> NDArray[np.bool_]:
    inside = contains(part.outer, points)
    for hole in part.holes:
        inside &= ~contains(hole, points)
    return inside


def _at(bend: BendLine, share: float) -> tuple[float, float]:
    (x0, y0), (x1, y1) = bend.start, bend.end
    return (x0 + (x1 - x0) * share, y0 + (y1 - y0) * share)


def _normal(bend: BendLine) -> FloatArray:
    along = np.array(bend.end) - np.array(bend.start)
    normal: FloatArray = np.array([-along[1], along[0]]) / np.hypot(*along)
    return normal


def _is_along(bend: BendLine, rolling_deg: float) -> bool:
    (x0, y0), (x1, y1) = bend.start, bend.end
    angle = math.degrees(math.atan2(y1 - y0, x1 - x0)) - rolling_deg
    return abs(math.remainder(angle, 180.0)) < ALONG_ROLLING_DEG
