"""A remnant's outline from a drawing; what a drawing is made of is left to `drawing`."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path as FilePath
from typing import TYPE_CHECKING

from cutplan.base.errors import StockError
from cutplan.geometry import Path, Pose, bounds, oriented, place

if TYPE_CHECKING:
    from cutplan.drawing import ReadOptions

__all__ = ["read_outline"]


def read_outline(file: FilePath, options: ReadOptions | None = None) -> tuple[Path, tuple[Path, ...]]:
    """Return a remnant's contour and its holes, the lower left corner of its box at the origin.

    Parameters
    ----------
    file : Path
        A DXF file of one contour, with or without holes.
    options : ReadOptions, optional
        How it is read.

    Returns
    -------
    Path, and tuple of Path
        The contour and its holes.

    Raises
    ------
    DrawingError
        If the drawing cannot be read, or the outline is open or crosses itself.
    StockError
        If it is not one contour.
    """
    from cutplan.drawing import ReadOptions, read_drawing

    # A remnant is a rectangle as often as not, with its mark written on it.
    drawing = read_drawing(file, replace(options or ReadOptions(), frames="cut", equal="apart"))
    if len(drawing.parts) != 1:
        raise StockError(
            f"holds {len(drawing.parts)} contours where a remnant has one outline",
            where=str(file),
            remedy="draw one closed outline, with cut-outs as holes inside it",
        )
    part = drawing.parts[0]
    x0, y0, _, _ = bounds(part.outer)
    home = Pose(x=-x0, y=-y0)
    return place(part.outer, home), tuple(oriented(place(hole, home)) for hole in part.holes)
