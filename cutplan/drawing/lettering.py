"""Single-stroke letters for the marker: text as open lines, a stroke each.

The letters are this project's own, drawn on a grid four wide and six high; lower case is
marked as capitals, which is what a scriber makes legible.
"""

from __future__ import annotations

import numpy as np
import shapely

from cutplan.drawing.model import MarkText, Part
from cutplan.geometry import Path, Pose, chord_points, place, polyline, to_polygon

__all__ = ["letter_paths", "name_to_mark", "text_width"]

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
    metal = to_polygon(part.outer, part.holes, tolerance=0.1, side="inside")
    lines = [shapely.LineString([bend.start, bend.end]) for bend in part.bends]
    lines += [shapely.LineString(chord_points(mark, 0.1)) for mark in part.marks]
    free = metal.buffer(-CLEARANCE).difference(shapely.union_all(lines).buffer(CLEARANCE))
    if free.is_empty:
        return None
    seat = shapely.maximum_inscribed_circle(free, tolerance=0.5)
    (x, y), radius = seat.coords[0], seat.length
    # The text's box, as wide as its letters ask, with its corners on the circle.
    share = text_width(part.name, 1.0)
    height = min(tallest, 2.0 * radius / float(np.hypot(share, 1.0)))
    if height < LEAST_HEIGHT:
        return None
    return MarkText(part.name, (x - 0.5 * share * height, y - 0.5 * height), height)
