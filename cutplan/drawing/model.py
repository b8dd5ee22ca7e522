"""What a drawing yields: parts with their contours, marks and bends."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from cutplan.base.findings import Finding
from cutplan.base.pictures import Pictured
from cutplan.drawing.options import ReadOptions
from cutplan.geometry import Path, bounds

__all__ = ["BendLine", "Drawing", "MarkText", "Part"]


@dataclass(frozen=True)
class BendLine:
    """A bend line: where, how far and how sharp the blank is bent.

    Attributes
    ----------
    start, end : tuple of float
        End points, mm, drawing coordinates.
    angle_deg : float
        Bend angle (0 is flat, 90 is square).
    radius_mm : float or None
        Inside radius wanted; None for what air bending gives.
    direction : {"up", "down"} or None
        Which way the flange goes, seen on the drawing; None where the drawing does not say.
    """

    start: tuple[float, float]
    end: tuple[float, float]
    angle_deg: float = 90.0
    radius_mm: float | None = None
    direction: Literal["up", "down"] | None = None


@dataclass(frozen=True)
class MarkText:
    """A text to mark on the part: words, lower left place, height in mm and rotation."""

    text: str
    place: tuple[float, float]
    height: float
    rotation_deg: float = 0.0


@dataclass(frozen=True, repr=False)
class Part(Pictured):
    """A part as drawn, in drawing coordinates and mm.

    Attributes
    ----------
    name : str
        Unique in a job.
    outer : Path
        Outer contour, counter-clockwise.
    holes : tuple of Path
        Holes, clockwise.
    marks : tuple of Path
        Lines to mark, open or closed.
    bends : tuple of BendLine
    texts : tuple of MarkText
    source : str
        File it was read from.
    findings : tuple of Finding
        What was mended or warned of on the way.
    read_with : ReadOptions or None
        How the drawing was read, where it has to be read again.
    """

    name: str
    outer: Path
    holes: tuple[Path, ...] = ()
    marks: tuple[Path, ...] = ()
    bends: tuple[BendLine, ...] = ()
    texts: tuple[MarkText, ...] = ()
    source: str = ""
    findings: tuple[Finding, ...] = ()
    read_with: ReadOptions | None = None

    def __repr__(self) -> str:
        x0, y0, x1, y1 = bounds(self.outer)
        counts = {"holes": self.holes, "marks": self.marks, "bends": self.bends, "texts": self.texts}
        rest = "".join(f", {name}: {len(things)}" for name, things in counts.items() if things)
        return f"<Part {self.name!r}: {x1 - x0:.1f} × {y1 - y0:.1f} mm{rest}>"


@dataclass(frozen=True, repr=False)
class Drawing(Pictured):
    """All that one DXF file holds for the cutting table.

    Attributes
    ----------
    source : str
        File name.
    parts : tuple of Part
    units : str
        Units the coordinates were read in ("mm", "in", …), before conversion to mm.
    findings : tuple of Finding
    ignored : mapping
        How many entities were left out, by reason ("layer TITLE", "DIMENSION", …).
    """

    source: str
    parts: tuple[Part, ...]
    units: str = "mm"
    findings: tuple[Finding, ...] = field(default=())
    ignored: Mapping[str, int] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"<Drawing {self.source!r} in {self.units}: {list(self.parts)}, {len(self.findings)} findings>"
