"""Where the numbers of cuts stand in a picture: on no edge, and on no other number.

The picture is a grid of small cells; what is drawn in it takes cells, and each number takes the
nearest free place about its pierce, with a line back to it where that is not close by.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

__all__ = ["axis_ticks", "number_places"]

Point = tuple[float, float]
Box = tuple[float, float, float, float]

CELLS_IN_HEIGHT = 6
"""Cells in the height of a number: so finely are edges told from free ground."""
RINGS, DIRECTIONS = 14, 16
"""Places tried about a pierce: rings, half a height apart, and directions in each."""
CLOSE_BY = 1.6
"""Heights from its pierce up to which a number needs no line back to it."""


class _Grid:
    """The cells of a picture, and which of them are taken."""

    def __init__(self, box: Box, cell: float) -> None:
        self.x0, self.y0, self.cell = box[0], box[1], cell
        columns = math.ceil((box[2] - box[0]) / cell) + 1
        rows = math.ceil((box[3] - box[1]) / cell) + 1
        self.taken: NDArray[np.bool_] = np.zeros((rows, columns), dtype=np.bool_)

    def draw(self, points: NDArray[np.float64]) -> None:
        """Take the cells under a line of points."""
        if len(points) < 2:
            return
        steps = np.hypot(*np.diff(points, axis=0).T)
        counts = np.maximum(1, np.ceil(2.0 * steps / self.cell).astype(int))
        step = np.repeat(np.arange(len(counts)), counts)
        share = (np.arange(len(step)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[step]
        places = np.vstack([points[step] + share[:, None] * np.diff(points, axis=0)[step], points[-1:]])
        columns = ((places[:, 0] - self.x0) / self.cell).astype(int)
        rows = ((places[:, 1] - self.y0) / self.cell).astype(int)
        inside = (columns >= 0) & (rows >= 0) & (columns < self.taken.shape[1]) & (rows < self.taken.shape[0])
        self.taken[rows[inside], columns[inside]] = True

    def window(self, centre: Point, size: Point) -> tuple[slice, slice] | None:
        """Return the cells of a box, None where it leaves the picture."""
        left = math.floor((centre[0] - 0.5 * size[0] - self.x0) / self.cell)
        top = math.floor((centre[1] - 0.5 * size[1] - self.y0) / self.cell)
        right = math.ceil((centre[0] + 0.5 * size[0] - self.x0) / self.cell)
        bottom = math.ceil((centre[1] + 0.5 * size[1] - self.y0) / self.cell)
        if left < 0 or top < 0 or right >= self.taken.shape[1] or bottom >= self.taken.shape[0]:
            return None
        return slice(top, bottom + 1), slice(left, right + 1)


def number_places(
    anchors: Sequence[Point],
    sizes: Sequence[Point],
    lines: Iterable[NDArray[np.float64]],
    box: Box,
    boxes: Iterable[tuple[Point, Point]] = (),
) -> list[tuple[Point, bool] | None]:
    """Return where each number stands, and whether a line must lead back to its pierce.

    Parameters
    ----------
    anchors : sequence of (x, y)
        The pierces.
    sizes : sequence of (width, height)
        Of each number.
    lines : iterable of ndarray, shape (n, 2)
        What is drawn: no number stands on it.
    box : (x0, y0, x1, y1)
        The picture.
    boxes : iterable of (centre, size)
        Other words in the picture.

    Returns
    -------
    list of ((x, y), bool) or None
        Middle of each number; None where there is no room for it.
    """
    if not anchors:
        return []
    height = min(size[1] for size in sizes)
    grid = _Grid(box, height / CELLS_IN_HEIGHT)
    for points in lines:
        grid.draw(points)
    for centre, size in boxes:
        window = grid.window(centre, size)
        if window is not None:
            grid.taken[window] = True
    return [_place(grid, anchor, size) for anchor, size in zip(anchors, sizes, strict=True)]


def _place(grid: _Grid, anchor: Point, size: Point) -> tuple[Point, bool] | None:
    """Take the nearest free place for a number."""
    for ring in range(1, RINGS + 1):
        reach = 0.5 * ring * size[1]
        for turn in range(DIRECTIONS):
            angle = math.pi / 4.0 + 2.0 * math.pi * turn / DIRECTIONS
            centre = (
                anchor[0] + math.cos(angle) * (reach + 0.5 * size[0]),
                anchor[1] + math.sin(angle) * (reach + 0.5 * size[1]),
            )
            window = grid.window(centre, size)
            if window is not None and not grid.taken[window].any():
                grid.taken[window] = True
                return centre, reach > CLOSE_BY * size[1]
    return None


def axis_ticks(length: float, most: int = 12) -> list[float]:
    """Return places along an axis at round steps, 1, 2 or 5 times a power of ten, from 0."""
    base = 10.0 ** math.floor(math.log10(max(length, 1e-9) / most))
    step = next(base * factor for factor in (1.0, 2.0, 5.0, 10.0) if length / (base * factor) <= most)
    return [k * step for k in range(math.floor(length / step + 1e-9) + 1)]
