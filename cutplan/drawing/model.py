"""What a drawing yields: parts with their contours, marks, bends and notes, and what was left over.

Terminology
-----------
note : a text of the drawing with what it seems to order: a quantity, a thickness, a drilled hole.
drawn : how often a drawing shows a part; equal parts are one part, counted.
sketch : a line of the drawing that bounds no part: a stray, a frame, a contour that was refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from cutplan.base.findings import Finding
from cutplan.base.pictures import Pictured
from cutplan.drawing.options import ReadOptions
from cutplan.geometry import Path, bounds

__all__ = [
    "BendLine",
    "BevelKind",
    "BevelLine",
    "Drawing",
    "EdgePreparation",
    "MarkText",
    "Note",
    "Part",
    "Piece",
    "Sketch",
    "Split",
]

BevelKind = Literal["V", "Y", "X", "double Y", "K"]


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
class EdgePreparation:
    """A weld preparation of an edge, or of a stretch of one; `cutplan.drawing.bevels` has its words.

    Attributes
    ----------
    kind : {"V", "Y", "X", "double Y", "K"}
        A V and a Y are bevelled on one side, the others on both; a K meets a square edge.
    angle_deg : float
        From the plate's normal, of the slope above where there are two.
    hole : int or None
        Index of the hole; None for the outside.
    span : tuple of float or None
        From where to where along the contour, mm from its first vertex in its own direction;
        the second is the smaller where the stretch runs over that vertex.  None for all of it.
    land_mm : float
        Height of the upright face at the nose.
    side : {"top", "bottom", "both"}
        Of the plate as it lies on the table, top up.
    depth_mm : float or None
        Of the slope above where both sides are bevelled; None for half of what the land leaves.
    below_deg : float or None
        Of the slope below, where it differs.
    elsewhere : bool
        It is made off the table: here the edge is cut square.
    """

    kind: BevelKind
    angle_deg: float
    hole: int | None = None
    span: tuple[float, float] | None = None
    land_mm: float = 0.0
    side: Literal["top", "bottom", "both"] = "top"
    depth_mm: float | None = None
    below_deg: float | None = None
    elsewhere: bool = False


@dataclass(frozen=True)
class KeptEdge:
    """An edge, or a stretch of one, on which no cut should start: `hole` and `span` as of a preparation."""

    hole: int | None = None
    span: tuple[float, float] | None = None


@dataclass(frozen=True)
class BevelLine:
    """A line that shows a bevel: drawn on the edge or along it, on a layer whose name may say which.

    Attributes
    ----------
    path : Path
        Drawing coordinates, mm.
    layer : str
    """

    path: Path
    layer: str


@dataclass(frozen=True)
class MarkText:
    """A text to mark on the part: words, lower left place, height in mm and rotation."""

    text: str
    place: tuple[float, float]
    height: float
    rotation_deg: float = 0.0


@dataclass(frozen=True)
class Note:
    """A text of the drawing, and what it seems to say of a part.

    Attributes
    ----------
    text : str
    place : tuple of float
        Lower left, mm, drawing coordinates.
    values : mapping of meaning to value
        "quantity", "thickness", "grade" and "name" with what the text gives for them; orders such
        as "bevel", "drill", "tap", "countersink" and "hand" with the words that say so.
    beside : bool
        The text stands beside its part, not on it.
    sure : bool
        No other part is about as near.
    height : float
        Of its letters, mm; 0 where that is not known.
    line : tuple of places
        The ends and the middle of its base line.
    """

    text: str
    place: tuple[float, float]
    values: Mapping[str, str] = field(default_factory=dict, hash=False)
    beside: bool = False
    sure: bool = True
    height: float = 0.0
    line: tuple[tuple[float, float], ...] = ()

    def __str__(self) -> str:
        return f"{self.text!r} at ({self.place[0]:.1f}, {self.place[1]:.1f}) mm"


@dataclass(frozen=True)
class Sketch:
    """A line of the drawing that bounds no part of its own: a stray, a frame, a copy that was counted.

    Attributes
    ----------
    path : Path
    state : {"counted", "left out", "question", "refused"}
    """

    path: Path
    state: Literal["counted", "left out", "question", "refused"]


@dataclass(frozen=True)
class Split:
    """How a part longer than every plate is split into pieces that are welded again.

    Attributes
    ----------
    of : str
        Name of the whole part.
    length_mm : float
        Of the whole part, along the split.
    splices_mm : tuple of float
        Middles of the joints, along the part from its start, in order.
    gap_mm : float
        Between two pieces, for the weld.
    direction_deg : float
        In which the part is split, on its drawing.
    fit_up_mm : float
        From a splice to the lines to measure over on both pieces; 0 for none.
    preparation : str
        Of the edges, in words.
    beam : str
        The beam that the part belongs to; empty for none.
    offset_mm : float
        From the beam's start to the part's.
    """

    of: str
    length_mm: float
    splices_mm: tuple[float, ...]
    gap_mm: float
    direction_deg: float = 0.0
    fit_up_mm: float = 0.0
    preparation: str = ""
    beam: str = ""
    offset_mm: float = 0.0


@dataclass(frozen=True)
class Piece:
    """Which piece of a split part a part is, counted from 1."""

    split: Split
    number: int


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
    notes : tuple of Note
        Texts on the part or beside it.
    drawn : int
        How often the drawing shows it.
    bevels : tuple of EdgePreparation
        Edges to prepare for welding.
    bevel_lines : tuple of BevelLine
        Lines of its drawing that show where edges are prepared.
    piece : Piece or None
        Which piece it is of a part that was split.
    trace : tuple of MarkText
        What is marked on the copies of one sheet to trace them by: part, heat, plate.
    kept : tuple of KeptEdge
        Edges on which no cut should start: faces that are seen, edges that are welded.
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
    notes: tuple[Note, ...] = ()
    drawn: int = 1
    bevels: tuple[EdgePreparation, ...] = ()
    bevel_lines: tuple[BevelLine, ...] = ()
    piece: Piece | None = None
    trace: tuple[MarkText, ...] = ()
    kept: tuple[KeptEdge, ...] = ()

    @property
    def bevelled_here(self) -> tuple[EdgePreparation, ...]:
        """The preparations that are cut on the table."""
        return tuple(asked for asked in self.bevels if not asked.elsewhere)

    def __repr__(self) -> str:
        x0, y0, x1, y1 = bounds(self.outer)
        counts = {"holes": self.holes, "marks": self.marks, "bends": self.bends, "texts": self.texts}
        rest = "".join(f", {name}: {len(things)}" for name, things in counts.items() if things)
        return f"<Part {self.name!r}: {x1 - x0:.1f} × {y1 - y0:.1f} mm{rest}>"


@dataclass(frozen=True, repr=False)
class Drawing(Pictured):
    """All that one file holds for the cutting table.

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
    unused : mapping
        What had no part in the result, counted: entities by "layer NAME", "colour NAME" and
        kind, texts by "text".
    notes : tuple of Note
        Texts that belong to no part.
    sketches : tuple of Sketch
        Lines that bound no part, for pictures.
    """

    source: str
    parts: tuple[Part, ...]
    units: str = "mm"
    findings: tuple[Finding, ...] = field(default=())
    ignored: Mapping[str, int] = field(default_factory=dict)
    unused: Mapping[str, int] = field(default_factory=dict)
    notes: tuple[Note, ...] = ()
    sketches: tuple[Sketch, ...] = ()

    def __repr__(self) -> str:
        return f"<Drawing {self.source!r} in {self.units}: {list(self.parts)}, {len(self.findings)} findings>"
