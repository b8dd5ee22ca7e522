"""A replay of programs that shares no code with the package."""

from __future__ import annotations

import math
import re

import numpy as np
import shapely

CHORD_MM = 0.001
# Coordinates in programs are rounded, and the ways here are chorded.
REPLAY_SLACK_MM = 0.01


def arc_points(start, end, centre, clockwise):
    radius = math.dist(start, centre)
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    last = math.atan2(end[1] - centre[1], end[0] - centre[0])
    sweep = (first - last if clockwise else last - first) % math.tau or math.tau
    steps = max(2, math.ceil(sweep / (2 * math.acos(1 - min(CHORD_MM / radius, 0.5)))))
    angles = first + (-1 if clockwise else 1) * sweep * np.arange(1, steps + 1) / steps
    points = [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]
    return [*points[:-1], end]


def replay(text: str) -> list[list[tuple[float, float]]]:
    """Return the torch's way in each cut; fails on a rapid with the torch lit."""
    cuts: list[list[tuple[float, float]]] = []
    at, motion, lit = (0.0, 0.0), "0", False
    for line in text.splitlines():
        words = dict()
        for letter, value in re.findall(r"([A-Z])\s*([-+.\d]+)", re.sub(r"\(.*?\)", "", line)):
            if letter == "G" and value.lstrip("0") in ("", "1", "2", "3"):
                motion = value.lstrip("0") or "0"
            elif letter == "M" and float(value) == 3:
                lit = True
                cuts.append([at])
            elif letter == "M" and float(value) == 5:
                lit = False
            elif letter in "XYIJ":
                words[letter] = float(value)
        if not words:
            continue
        to = (words.get("X", at[0]), words.get("Y", at[1]))
        assert not (lit and motion == "0"), f"lit in a rapid: {line}"
        if lit:
            if motion in "23":
                centre = (at[0] + words.get("I", 0.0), at[1] + words.get("J", 0.0))
                cuts[-1] += arc_points(at, to, centre, motion == "2")
            else:
                cuts[-1].append(to)
        at = to
    return cuts


def pierces_too_near(cuts, kerf, mound, clearance, parts, plate):
    """Return what is wrong with each pierce, held by shapely against all that was there before it.

    `parts` are the finished parts on the plate, `plate` its metal; a hole too narrow for the
    clearance is pierced at nine tenths of its half width from its edge, or further in.
    """
    ways = [shapely.LineString(cut) for cut in cuts]
    spots = [shapely.Point(cut[0]) for cut in cuts]
    kerfs, slag = shapely.STRtree(ways), shapely.STRtree(spots)
    edges = shapely.STRtree([part.boundary for part in parts])
    holes = [shapely.Polygon(ring) for part in parts for ring in part.interiors]
    wrong = []
    for n, spot in enumerate(spots):
        gaps = {"the plate's edge": plate.boundary.distance(spot)}
        for k in kerfs.query(spot, predicate="dwithin", distance=clearance + kerf / 2):
            if k < n:
                gaps[f"the kerf of cut {k + 1}"] = ways[k].distance(spot) - kerf / 2
        for k in slag.query(spot, predicate="dwithin", distance=clearance + mound):
            if k < n:
                gaps[f"the slag of pierce {k + 1}"] = spots[k].distance(spot) - mound
        for k in edges.query(spot, predicate="dwithin", distance=clearance):
            gaps[f"part {k + 1}"] = edges.geometries[k].distance(spot)
        what = min(gaps, key=gaps.get)
        needed = clearance
        if gaps[what] < needed - REPLAY_SLACK_MM:
            around = [hole for hole in holes if hole.contains(spot)]
            if around:
                tightest = min(around, key=lambda hole: hole.area)
                half = shapely.maximum_inscribed_circle(tightest, tolerance=0.002).length
                needed = min(needed, 0.9 * half)
        if not plate.contains(spot) or gaps[what] < needed - REPLAY_SLACK_MM:
            wrong.append(f"pierce {n + 1} at {cuts[n][0]}: {gaps[what]:.3f} of {needed:.3f} mm from {what}")
    return wrong
