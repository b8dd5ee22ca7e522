"""Marks on a part for what is welded on it: outlines and centre lines where the other part will stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Annotated, Literal

from pydantic import Field, model_validator

from cutplan.base.files import FileModel
from cutplan.base.names import Name
from cutplan.drawing.lettering import text_width
from cutplan.drawing.model import MarkText, Part
from cutplan.geometry import Path, Pose, bounds, place, place_points, polygon, polyline

__all__ = ["Attached", "with_attached"]

Place = tuple[Annotated[float, Field(ge=-1e6, le=1e6)], Annotated[float, Field(ge=-1e6, le=1e6)]]
Size = Annotated[float, Field(gt=0, le=50_000)]


class Attached(FileModel):
    """Something that is welded on a part, and what of it is marked there.

    Attributes
    ----------
    part : str or None
        A part of the job that lies flat on it; `at` is where its drawing's origin comes to lie.
    footprint : [length, width] or None
        Of what stands upright on it, mm; `at` is its middle.
    at : [x, y]
        In the drawing of the part that is marked, mm.
    rotation : float
        Counter-clockwise, degrees.
    mirror : bool
        It lies turned over.
    show : {"outline", "centre", "both"}
        What is marked: its outline, its two centre lines, or both.
    count : int
        How many in a row.
    pitch : [x, y]
        From one of the row to the next, mm.
    name : str or None
        Marked in the middle of each.
    letters_mm : float
        Height of its letters.
    """

    part: Name | None = None
    footprint: tuple[Size, Size] | None = None
    at: Place
    rotation: Annotated[float, Field(ge=-360, le=360)] = 0.0
    mirror: bool = False
    show: Literal["outline", "centre", "both"] = "outline"
    count: Annotated[int, Field(ge=1, le=1000)] = 1
    pitch: Place = (0.0, 0.0)
    name: Annotated[Name, Field(max_length=40)] | None = None
    letters_mm: Annotated[float, Field(ge=4, le=100)] = 8.0

    @model_validator(mode="after")
    def _is_one_thing(self) -> Attached:
        if (self.part is None) == (self.footprint is None):
            raise ValueError("what is attached needs a part or a footprint, and not both")
        if self.count > 1 and self.pitch == (0.0, 0.0):
            raise ValueError("a row of several needs a pitch")
        return self

    def marks(self, outline: Path | None = None) -> tuple[list[Path], list[MarkText]]:
        """Return the lines and texts to mark.

        Parameters
        ----------
        outline : Path, optional
            Of the part that is attached, in its own drawing.

        Returns
        -------
        (list of Path, list of MarkText)
            In the drawing of the part that is marked.
        """
        if self.footprint is not None:
            a, b = 0.5 * self.footprint[0], 0.5 * self.footprint[1]
            outline = polygon([(-a, -b), (a, -b), (a, b), (-a, b)])
        assert outline is not None
        x0, y0, x1, y1 = bounds(outline)
        mx, my = 0.5 * (x0 + x1), 0.5 * (y0 + y1)
        centres = [polyline([(x0, my), (x1, my)]), polyline([(mx, y0), (mx, y1)])]
        own = [outline] if self.show != "centre" else []
        own += centres if self.show != "outline" else []
        lines, texts = [], []
        for n in range(self.count):
            pose = Pose(
                self.at[0] + n * self.pitch[0], self.at[1] + n * self.pitch[1], self.rotation, self.mirror
            )
            lines += [place(path, pose) for path in own]
            if self.name is not None:
                turned = Pose(rotation_deg=self.rotation)
                (cx, cy), (dx, dy) = (
                    place_points([(mx, my)], pose)[0],
                    place_points(
                        [(0.5 * text_width(self.name, self.letters_mm), 0.5 * self.letters_mm)], turned
                    )[0],
                )
                spot = (float(cx - dx), float(cy - dy))
                texts.append(MarkText(self.name, spot, self.letters_mm, self.rotation))
        return lines, texts


def with_attached(part: Part, attached: tuple[Attached, ...], outlines: Mapping[str, Path]) -> Part:
    """Return a part with the marks of what is welded on it.

    Parameters
    ----------
    part : Part
    attached : tuple of Attached
    outlines : mapping of str to Path
        Outer contours of the parts that they name.

    Returns
    -------
    Part
    """
    for each in attached:
        lines, texts = each.marks(outlines[each.part] if each.part is not None else None)
        part = replace(part, marks=(*part.marks, *lines), texts=(*part.texts, *texts))
    return part
