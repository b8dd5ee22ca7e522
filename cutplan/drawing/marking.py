"""The strokes that the marker must make on a placed part: marks, letters, crosses to drill at.

One placing for program, proof and drawings of the nest.  What is cut is left to others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from cutplan.drawing.lettering import letter_paths, text_width
from cutplan.drawing.measure import inscribed_circle
from cutplan.drawing.model import MarkText, Part
from cutplan.geometry import (
    FloatArray,
    Path,
    Pose,
    bounds,
    contains,
    crossings,
    length,
    nearest,
    place,
    place_points,
    point_at,
    polyline,
    subpath,
)

__all__ = ["WantedStroke", "drill_mark", "marks_off_metal", "placed_text", "wanted_strokes"]

# Arms of the cross that marks a hole for drilling: at most this long, mm, and a third of the hole.
DRILL_MARK_ARM = 2.0
# Pieces of a mark shorter than this are not worth bringing the marker down, mm.
SHORTEST_STROKE = 0.2
_TURNED = Pose(mirrored=True)


@dataclass(frozen=True, eq=False)
class WantedStroke:
    """A line that the marker runs along, on the plate; `hole` is set where it marks one to drill."""

    path: Path
    hole: int | None = None


def placed_text(text: MarkText, pose: Pose) -> MarkText:
    """Return a text as it is marked on the plate: readable even where its part is turned over.

    Parameters
    ----------
    text : MarkText
    pose : Pose

    Returns
    -------
    MarkText
    """
    angle = np.radians(text.rotation_deg)
    start = np.array(text.place)
    end = start + text_width(text.text, text.height) * np.array([np.cos(angle), np.sin(angle)])
    first, last = place_points([end, start] if pose.mirrored else [start, end], pose)
    rotation = np.degrees(np.arctan2(*(last - first)[::-1]))
    return replace(text, place=(float(first[0]), float(first[1])), rotation_deg=float(rotation))


def drill_mark(contour: Path) -> Path:
    """Return a small cross at a hole's middle, in one stroke.

    Parameters
    ----------
    contour : Path

    Returns
    -------
    Path
    """
    middle = inscribed_circle(contour)
    (x, y), radius = middle.place, 0.5 * middle.value
    arm = min(DRILL_MARK_ARM, radius / 1.5)
    steps = arm * np.array([[-1, 0], [1, 0], [0, 0], [0, 1], [0, -1]])
    return polyline(steps + np.array([x, y]))


def wanted_strokes(part: Part, pose: Pose, drilled: Iterable[int] = ()) -> list[WantedStroke]:
    """Return the strokes to mark on a placed part, in the order of marks, texts and holes.

    Where a mark would run over a hole or off the part it is left out: there is no metal.

    Parameters
    ----------
    part : Part
    pose : Pose
    drilled : iterable of int
        Holes that are marked for drilling.

    Returns
    -------
    list of WantedStroke
    """
    strokes = [WantedStroke(place(path, pose)) for path in _drawn_strokes(part, pose.mirrored)]
    strokes += [WantedStroke(place(drill_mark(part.holes[hole]), pose), hole) for hole in drilled]
    return strokes


def marks_off_metal(part: Part) -> float:
    """Return the length of marks and letters that lie over holes or off the part, mm.

    Parameters
    ----------
    part : Part

    Returns
    -------
    float
    """
    drawn = sum(length(path) for path in _all_strokes(part, False))
    return drawn - sum(length(path) for path in _drawn_strokes(part, False))


@lru_cache(maxsize=512)
def _drawn_strokes(part: Part, mirrored: bool) -> tuple[Path, ...]:
    """Return the strokes on a part's metal in drawing coordinates, for a part that lies so."""
    return tuple(piece for path in _all_strokes(part, mirrored) for piece in _on_metal(path, part))


def _all_strokes(part: Part, mirrored: bool) -> list[Path]:
    strokes = list(part.marks)
    for text in (*part.texts, *part.trace):
        if mirrored:
            # On the plate the letters are readable, so on the drawing they stand mirrored.
            strokes += [place(path, _TURNED) for path in letter_paths(placed_text(text, _TURNED))]
        else:
            strokes += letter_paths(text)
    return strokes


def _on_metal(path: Path, part: Part) -> list[Path]:
    """Return the pieces of a line that lie on metal."""
    total = length(path)
    stops = np.array([0.0, total])
    for contour in (part.outer, *part.holes):
        if _apart(path, contour):
            continue
        places = crossings(path, contour)
        if len(places):
            stops = np.concatenate([stops, nearest(path, places)[1]])
    stops = np.unique(stops)
    stops = stops[np.append(True, np.diff(stops) > 1e-6)]
    inside = _in_metal(part, point_at(path, 0.5 * (stops[:-1] + stops[1:])))
    if inside.all():
        return [path]
    pieces = zip(stops[:-1].tolist(), stops[1:].tolist(), inside.tolist(), strict=True)
    return [subpath(path, a, b) for a, b, on in pieces if on and b - a >= SHORTEST_STROKE]


def _apart(path: Path, contour: Path) -> bool:
    ax0, ay0, ax1, ay1 = bounds(path)
    bx0, by0, bx1, by1 = bounds(contour)
    return bool(ax1 < bx0 or bx1 < ax0 or ay1 < by0 or by1 < ay0)


def _in_metal(part: Part, points: FloatArray) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    inside = contains(part.outer, points)
    for hole in part.holes:
        inside &= ~contains(hole, points)
    return inside
