"""A replay of programs that shares no code with the package."""

from __future__ import annotations

import math
import re

import numpy as np

CHORD_MM = 0.001


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
