"""What a program's motions cut and mark, taken apart for comparison."""

from __future__ import annotations

import numpy as np
import shapely

from cutplan.control import ARC_CCW, ARC_CW, LINE, RAPID, Motions
from cutplan.geometry import FloatArray

FEED_KINDS = (LINE, ARC_CW, ARC_CCW)


def strokes(motions: Motions, *, marker: bool = False) -> list[FloatArray]:
    """The torch's (or marker's) paths, each from on to off, as points; chords err by 0.0005 mm at most."""
    lit = motions.marker if marker else motions.torch
    found: list[list[FloatArray]] = []
    before = False
    for k in range(len(motions)):
        if not lit[k]:
            before = False
            continue
        if not before:
            found.append([])
        before = True
        if motions.kind[k] in FEED_KINDS:
            found[-1].append(points_of(motions, k))
    return [np.vstack(stroke) for stroke in found if stroke]


def points_of(motions: Motions, k: int, tolerance: float = 5e-4) -> FloatArray:
    """Points along one motion, its ends among them."""
    start, end = motions.start[k, :2], motions.end[k, :2]
    turn = motions.turns[k]
    if turn == 0.0:
        return np.linspace(start, end, 9)
    spoke = start - motions.centre[k]
    widest = 2.0 * np.arccos(1.0 - min(1.0, tolerance / np.hypot(*spoke)))
    angles = np.linspace(0.0, turn, max(3, int(abs(turn) / widest) + 2))
    c, s = np.cos(angles), np.sin(angles)
    points = motions.centre[k] + np.column_stack([c * spoke[0] - s * spoke[1], s * spoke[0] + c * spoke[1]])
    points[-1] = end
    return np.asarray(points)


def furthest(points: FloatArray, path: FloatArray) -> float:
    """Greatest distance from points to a path given by points."""
    return float(shapely.distance(shapely.LineString(path), shapely.points(points)).max())


def apart(a: FloatArray, b: FloatArray) -> float:
    """Hausdorff distance of two paths given by points."""
    return max(furthest(a, b), furthest(b, a))


def is_lit_in_rapid(motions: Motions) -> bool:
    """Whether the torch or the marker is on in any rapid."""
    return bool(((motions.torch | motions.marker) & (motions.kind == RAPID)).any())


def motion_lengths(motions: Motions) -> FloatArray:
    """Length of each motion, mm."""
    chord = np.linalg.norm(motions.end - motions.start, axis=1)
    radius = np.hypot(*(motions.start[:, :2] - motions.centre).T)
    return np.asarray(np.where(motions.turns != 0.0, radius * np.abs(motions.turns), chord))
