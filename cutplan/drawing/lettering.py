"""Single-stroke letters for the marker: text as open lines, a stroke each.

The letters are this project's own, drawn on a grid four wide and six high; lower case is
marked as capitals, which is what a scriber makes legible.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from cutplan.drawing.model import MarkText, Part
from cutplan.geometry import Path, Pose, chord_points, place, place_points, polyline, to_polygon

__all__ = ["letter_paths", "name_to_mark", "text_width", "trace_to_mark"]

GRID_HEIGHT = 6.0
LETTER_WIDTH = 4.0
ADVANCE = 5.5
"""From one letter's left edge to the next, grid units."""

# Blanks part the strokes; each pair of digits is x and y on the grid.
LETTERS = {
    " ": "",
    "A": "002640 1232", "B": "00063645443303 3342413000", "C": "453616050110304041",
    "D": "00062645412000", "E": "46060040 0333", "F": "460600 0333", "G": "45361605011030414323",
    "H": "0006 4046 0343", "I": "1636 2620 1030", "J": "464130100102", "K": "0006 4602 1340", "L": "060040",
    "M": "0006234640", "N": "00064046", "O": "10304145361605011010", "P": "00063645443303",
    "Q": "103041453616050110 2240", "R": "00063645443303 2340", "S": "453616050413334241301001",
    "T": "0646 2620", "U": "060110304146", "V": "062046", "W": "0610233046", "X": "0046 0640",
    "Y": "062346 2320", "Z": "06460040",
    "0": "103041453616050110 0145", "1": "152620 1030", "2": "051636454401000040",
    "3": "051636454433 1333 334241301001", "4": "30360242", "5": "460604344341301001",
    "6": "453616050110304142331302", "7": "064620", "8": "13334445361605041302011030414233",
    "9": "011030414536160504133344",
    "-": "1333", ".": "2021", "/": "0046", ":": "2122 2425", "+": "1333 2224", "_": "0040",
    "#": "1016 3036 0242 0444", "(": "30222436", ")": "10222416", ",": "2110", "'": "2625", "=": "0242 0444",
}  # fmt: skip
LEAST_HEIGHT = 4.0
"""Letters lower than this, mm, cannot be read on scaled plate (common practice)."""
CLEARANCE = 3.0
"""Metal that letters keep from edges, bends and other marks, mm."""
Place = tuple[float, float]
SAME_HEIGHT = 0.05
"""Heights of letters that differ by less, mm, are one."""
LINE_STEP = 1.7
"""From one line of a text to the next, heights of its letters."""
UNKNOWN = "0006464000"
"""A box, so that a letter without strokes is seen and not lost."""


def letter_paths(text: MarkText) -> tuple[Path, ...]:
    """Return the strokes of a text to mark, in the coordinates of its place.

    Parameters
    ----------
    text : MarkText
        `place` is the lower left of the first letter.

    Returns
    -------
    tuple of Path
        Open paths, in writing order.
    """
    scale = text.height / GRID_HEIGHT
    pose = Pose(x=text.place[0], y=text.place[1], rotation_deg=text.rotation_deg)
    strokes = []
    for column, letter in enumerate(text.text.upper()):
        for stroke in LETTERS.get(letter, UNKNOWN).split():
            grid = np.array([[float(x), float(y)] for x, y in zip(stroke[::2], stroke[1::2], strict=True)])
            keep = np.append(True, np.any(np.diff(grid, axis=0) != 0.0, axis=1))
            points = (grid[keep] + (column * ADVANCE, 0.0)) * scale
            strokes.append(place(polyline(points), pose))
    return tuple(strokes)


def text_width(letters: str, height: float) -> float:
    """Return the width of a text of that letter height, mm."""
    if not letters:
        return 0.0
    return ((len(letters) - 1) * ADVANCE + LETTER_WIDTH) * height / GRID_HEIGHT


def name_to_mark(part: Part, tallest: float) -> MarkText | None:
    """Return the part's name as a text in the widest stretch of its metal.

    Kept off edges, bends and other marks; None where no legible letters fit.

    Parameters
    ----------
    part : Part
    tallest : float
        Height of the letters at most, mm.

    Returns
    -------
    MarkText or None
    """
    texts = trace_to_mark(part, [part.name], tallest)
    return texts[0] if texts else None


def trace_to_mark(part: Part, words: Sequence[str], tallest: float) -> tuple[MarkText, ...]:
    """Return words as a text of one or more lines in the widest stretch of a part's metal.

    Kept off edges, bends, marks and texts; the lines are broken where letters come out tallest.

    Parameters
    ----------
    part : Part
    words : sequence of str
        Each stays on one line.
    tallest : float
        Height of the letters at most, mm.

    Returns
    -------
    tuple of MarkText
        From the top line down; empty where no legible letters fit.
    """
    free = _free_metal(part)
    if free.is_empty:
        return ()
    seats = _seats(free)
    best: tuple[float, tuple[str, ...], float, Place] = (0.0, (), 0.0, seats[0])
    for lines in _broken(words):
        # The text's box for letters of a height of one, as wide as its longest line.
        wide = max(text_width(line, 1.0) for line in lines)
        high = 1.0 + (len(lines) - 1) * LINE_STEP
        for turn, box in ((0.0, (wide, high)), (90.0, (high, wide))):
            for seat in seats:
                height = _tallest(free, seat, box, tallest)
                if height > best[0] + SAME_HEIGHT:
                    best = (height, lines, turn, seat)
    height, lines, turn, seat = best
    if height < LEAST_HEIGHT:
        return ()
    pose = Pose(x=seat[0], y=seat[1], rotation_deg=turn)
    top = 0.5 * height * (1.0 + (len(lines) - 1) * LINE_STEP) - height
    feet = [(-0.5 * text_width(line, height), top - n * LINE_STEP * height) for n, line in enumerate(lines)]
    return tuple(
        MarkText(line, (float(px), float(py)), height, turn)
        for line, (px, py) in zip(lines, place_points(feet, pose), strict=True)
    )


def _seats(free: BaseGeometry) -> list[Place]:
    """Return middles that a text may have: that of the widest metal, and of the ways along and up through it."""
    x, y = shapely.maximum_inscribed_circle(free, tolerance=0.5).coords[0]
    x0, y0, x1, y1 = free.bounds
    seats = [(float(x), float(y))]
    for line in (shapely.LineString([(x0, y), (x1, y)]), shapely.LineString([(x, y0), (x, y1)])):
        runs = [
            run
            for run in shapely.get_parts(free.intersection(line))
            if run.distance(shapely.Point(x, y)) < 1e-6
        ]
        for run in runs[:1]:
            middle = run.interpolate(0.5, normalized=True)
            seats.append((float(middle.x), float(middle.y)))
    return seats


def _tallest(free: BaseGeometry, middle: Place, box: tuple[float, float], most: float) -> float:
    """Return the greatest height of letters, up to `most`, for which a text's box round a place lies in free metal."""

    def fits(height: float) -> bool:
        a, b = 0.5 * height * box[0], 0.5 * height * box[1]
        return bool(free.contains(shapely.box(middle[0] - a, middle[1] - b, middle[0] + a, middle[1] + b)))

    if fits(most):
        return most
    low, high = 0.0, most
    while high - low > SAME_HEIGHT:
        half = 0.5 * (low + high)
        low, high = (half, high) if fits(half) else (low, half)
    return low


def _broken(words: Sequence[str]) -> list[tuple[str, ...]]:
    """Return the ways to break words into lines, those with fewer lines first."""
    ways: list[tuple[str, ...]] = [(" ".join(words),)]
    for lines in range(2, len(words) + 1):
        for cuts in itertools.combinations(range(1, len(words)), lines - 1):
            ends = [0, *cuts, len(words)]
            ways.append(tuple(" ".join(words[a:b]) for a, b in itertools.pairwise(ends)))
    return ways


def _free_metal(part: Part) -> BaseGeometry:
    """Return the metal that is free of edges, bends, marks and texts."""
    metal = to_polygon(part.outer, part.holes, tolerance=0.1, side="inside")
    lines = [shapely.LineString([bend.start, bend.end]) for bend in part.bends]
    lines += [shapely.LineString(chord_points(mark, 0.1)) for mark in part.marks]
    lines += [shapely.LineString(path.points) for text in part.texts for path in letter_paths(text)]
    return metal.buffer(-CLEARANCE).difference(shapely.union_all(lines).buffer(CLEARANCE))
