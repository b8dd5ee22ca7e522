"""The entries of a job file, plates, parts and blanks, each validated on its own."""

from __future__ import annotations

import math
from datetime import date
from pathlib import Path
from typing import Any, Literal

from pydantic import ConfigDict, Field, field_validator, model_validator

from cutplan.base.files import FileModel, LengthUnit
from cutplan.base.names import Name, PathText
from cutplan.cutting import Chains, SharedCuts, Tabs
from cutplan.drawing import Attached, BevelKind, Choice, Part, PartSplices, StandardPlate
from cutplan.forming import FlangeProfile
from cutplan.planning.sections import (
    ColourRoles,
    LayerRoles,
    Millimetres,
    ProcessChoice,
    Quantity,
    TakenFromText,
    Thickness,
)

__all__ = ["BevelEntry", "BlankEntry", "KeepoutEntry", "PartEntry", "PartInHand", "PlateEntry", "WantedEntry"]

QUARTER_TURNS = (0.0, 90.0, 180.0, 270.0)


class KeepoutEntry(FileModel):
    """A box [x0, y0, x1, y1] on a plate that no part may touch.

    Attributes
    ----------
    box : tuple of float
        mm, plate coordinates.
    height : float or None
        How far it stands above the plate's face, mm; 0 for a defect.  Where it is not given
        the torch never passes over it.
    """

    box: tuple[float, float, float, float]
    height: float | None = Field(None, ge=0)


Box = tuple[float, float, float, float]


class PlateEntry(FileModel):
    """Plates or remnants on offer.

    Attributes
    ----------
    id : str
        Name of the plate; programs are named after it.
    length : float or None
        mm; with `width`, or else an outline.
    width : float or None
        mm.
    thickness : float
        mm.
    grade : str
        Designation as on the plate: "S355J2+N".
    material : {"mild steel", "stainless", "aluminium"} or None
        Material group, for a grade that the table does not know.
    quantity : int
        How many there are.
    heat : str or None
        Heat number, as stamped.
    outline : str or None
        Drawing of a remnant's outline, relative to the job.
    price_per_kg : float or None
        In the currency of the price file, instead of its price for the grade.
    rolling_direction : {"x", "y"}
        Along its length or across it.
    keepouts : tuple
        Places that nothing may be cut from: [x0, y0, x1, y1], or with what stands there and how high.
    face : {"checker", "coated", "brushed", "polished"} or None
        Its good face: no part is mirrored on it, and drawings show the side that lies up.
    face_side : {"up", "down"}
        Where the good face lies on the table.
    certificate : str or None
        Reference of the test certificate.
    location : str or None
        Where it lies.
    """

    id: str = Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$", max_length=60)
    length: Millimetres | None = None
    width: Millimetres | None = None
    thickness: Thickness
    grade: Name
    material: Literal["mild steel", "stainless", "aluminium"] | None = None
    quantity: Quantity = 1
    heat: Name | None = None
    outline: PathText | None = None
    price_per_kg: float | None = Field(None, ge=0)
    rolling_direction: Literal["x", "y"] = "x"
    keepouts: tuple[Box | KeepoutEntry, ...] = ()
    face: Literal["checker", "coated", "brushed", "polished"] | None = None
    face_side: Literal["up", "down"] = "up"
    certificate: Name | None = None
    location: Name | None = None

    @model_validator(mode="after")
    def _has_a_shape(self) -> PlateEntry:
        if self.outline is None and (self.length is None or self.width is None):
            raise ValueError(f"plate {self.id!r} needs length and width, or an outline drawing")
        if self.outline is not None and (self.length is not None or self.width is not None):
            raise ValueError(f"plate {self.id!r} has both an outline and a length or width; keep one")
        for x0, y0, x1, y1 in (entry.box for entry in self.keepout_entries):
            if x1 <= x0 or y1 <= y0:
                raise ValueError(f"keepout [{x0}, {y0}, {x1}, {y1}] must be [x0, y0, x1, y1] with x0 < x1")
        return self

    @property
    def keepout_entries(self) -> tuple[KeepoutEntry, ...]:
        """The keep-outs, bare boxes as those of an unknown height."""
        return tuple(k if isinstance(k, KeepoutEntry) else KeepoutEntry(box=k) for k in self.keepouts)


class BevelEntry(FileModel):
    """A weld preparation of an edge, found by a place on it.

    Attributes
    ----------
    at : tuple of float
        A place on the edge, drawing coordinates, mm.
    kind : {"V", "Y", "X", "double Y", "K"}
        A V and a Y are bevelled on one side, the others on both; a K meets a square edge.
    angle_deg : float
        From the plate's normal: half the groove angle between two bevelled edges.
    land_mm : float
        Height of the upright face at the nose.
    side : {"top", "bottom", "both"} or None
        Of the plate as it lies on the table; without it the top, or both where the kind says so.
    depth_mm : float or None
        Of the slope above where both sides are bevelled; without it half of what the land leaves.
    below_deg : float or None
        Angle of the slope below, where it differs.
    between : two places, or None
        The stretch from one to the other by way of `at`, instead of the edge from corner to corner.
    all_round : bool
        The whole contour.
    elsewhere : bool
        It is made off the table: the edge is cut square here, and the bevel told and listed.
    """

    at: tuple[float, float]
    kind: BevelKind
    angle_deg: float = Field(gt=0, lt=90)
    land_mm: float = Field(0.0, ge=0)
    side: Literal["top", "bottom", "both"] | None = None
    depth_mm: float | None = Field(None, gt=0)
    below_deg: float | None = Field(None, gt=0, lt=90)
    between: tuple[tuple[float, float], tuple[float, float]] | None = None
    all_round: bool = False
    elsewhere: bool = False


class AssemblyEntry(FileModel):
    """A drawing of the assembly, from which what is welded on a part is marked.

    Attributes
    ----------
    drawing : str
        Relative to the job file.
    outline : list of str
        Patterns of the layers that hold the part's own contours there.
    marks : list of str
        Patterns of the layers whose lines are marked where they lie on it.
    units : str or None
        Of the drawing, instead of those of [drawings].
    """

    drawing: PathText
    outline: tuple[str, ...] = Field(min_length=1)
    marks: tuple[str, ...] = Field(min_length=1)
    units: LengthUnit | None = None


class WantedEntry(FileModel):
    """What holds of everything wanted, wherever its shape comes from.

    Attributes
    ----------
    quantity : int
        How many; of a drawing with equal parts, so many of each that is drawn.
    thickness : float
        mm.
    grade : str
        Designation that is asked for; plates that promise at least that serve.
    material : str or None
        Material group of a grade that is not known.
    rotations : list of float or {"any", "none", "quarter", "half"}
        "any", "none", "quarter" or "half" turns, or the angles allowed, degrees.
    mirror : bool
        Whether mirrored copies will do.
    priority : int
        Higher is placed first.
    filler : bool
        Nested only where room is left over.
    rolling_direction : float, "x", "y", "across bends" or None
        Direction of the drawing that lies along the rolling: degrees, "x", "y" or "across bends".
    process : {"plasma", "oxyfuel", "auto"} or None
        Instead of the process of the job.
    tolerance_class : {1, 2} or None
        Of ISO 9013 for the size, that must be reached.
    due : date or None
        Day it is wanted; the earliest is placed first.
    kit : str or None
        Parts that must come off together.
    tabs : bool, table or None
        Instead of those of [techniques]: true, false, or a table of the same keys.
    chains : bool, table or None
        Instead of those of [techniques], in the same way.
    shared_cuts : bool, table or None
        Instead of those of [techniques], in the same way.
    slender : {"warn", "tabs", "leave"} or None
        Instead of that of [techniques].
    bevels : list of tables
        Edges to prepare for welding.
    attached : list of tables
        What is welded on it, marked by outline or centre lines.
    assembly : table or None
        A drawing of the assembly, whose lines are marked where they lie on it.
    splice : bool, table or None
        Whether a part longer than every plate may be split: true, false, or a table of the keys
        of [splices] and the part's place in a beam.
    no_starts : list of (float, float)
        A place on each edge on which no cut should start, drawing coordinates, mm: faces that are
        seen, edges that are welded.  Edges to be bevelled are kept free without it.
    """

    quantity: Quantity
    thickness: Thickness
    grade: Name
    material: Literal["mild steel", "stainless", "aluminium"] | None = None
    name: Name | None = Field(None, max_length=60)
    rotations: tuple[float, ...] | Literal["any", "none", "quarter", "half"] = "quarter"
    mirror: bool = False
    priority: int = 0
    filler: bool = False
    rolling_direction: float | Literal["x", "y", "across bends"] | None = None
    process: ProcessChoice | None = None
    tolerance_class: Literal[1, 2] | None = None
    due: date | None = None
    kit: Name | None = Field(None, max_length=60)
    tabs: bool | Tabs | None = None
    chains: bool | Chains | None = None
    shared_cuts: bool | SharedCuts | None = None
    slender: Literal["warn", "tabs", "leave"] | None = None
    bevels: tuple[BevelEntry, ...] = ()
    attached: tuple[Attached, ...] = ()
    assembly: AssemblyEntry | None = None
    splice: bool | PartSplices | None = None
    no_starts: tuple[tuple[float, float], ...] = ()

    @field_validator("rotations")
    @classmethod
    def _rotations_are_distinct(cls, rotations: Any) -> Any:
        if isinstance(rotations, tuple):
            turns = [r % 360 for r in rotations]
            if not turns:
                raise ValueError("rotations is empty; leave it out, or list at least one angle")
            if len(set(turns)) != len(turns):
                raise ValueError(f"rotations {list(rotations)} names an angle twice")
        return rotations

    @property
    def rotations_deg(self) -> tuple[float, ...] | None:
        """The rotations allowed, None for any."""
        named: dict[str, tuple[float, ...] | None] = {
            "any": None, "none": (0.0,), "half": (0.0, 180.0), "quarter": QUARTER_TURNS,
        }  # fmt: skip
        if isinstance(self.rotations, str):
            return named[self.rotations]
        return tuple(math.fmod(r, 360.0) % 360.0 for r in self.rotations)

    @property
    def label(self) -> str:
        """The part's name."""
        return self.name or ""


class PartEntry(WantedEntry):
    """A part wanted, from a drawing or as a standard plate.

    Attributes
    ----------
    drawing : str or None
        Its drawing, relative to the job file; one with several parts gives each of them.
    shape : table or None
        A standard plate in place of a drawing.
    from_text : list of {"quantity", "thickness", "grade", "name", "bevel"}
        What the texts of the drawing say goes before what this entry says; `quantity` is then
        how many times over, and a `bevel` is that of the edge that its text stands beside.
    name : str or None
        Instead of the drawing's file name.
    units, layers, colours, open, frames, choose, leave_out
        As under [drawings], for this drawing alone.
    units : str or None
        Units of its drawing, instead of those of [drawings].
    layers : mapping or None
        Roles of its layers, instead of those of [drawings].
    """

    drawing: PathText | None = None
    shape: StandardPlate | None = None
    units: LengthUnit | None = None
    layers: LayerRoles | None = None
    colours: ColourRoles | None = None
    open: Literal["refuse", "leave out"] | None = None
    frames: Literal["ask", "leave out", "cut"] | None = None
    choose: tuple[Choice, ...] = ()
    leave_out: tuple[Choice, ...] = ()
    from_text: tuple[TakenFromText, ...] = ()

    @model_validator(mode="after")
    def _has_one_source(self) -> PartEntry:
        if (self.drawing is None) == (self.shape is None):
            raise ValueError("a part needs a drawing, or a shape, and not both")
        if self.shape is not None and self.name is None:
            raise ValueError("a part made from a shape needs a name")
        return self

    @property
    def label(self) -> str:
        """The part's name, or its drawing's file name without the ending."""
        return self.name or Path(self.drawing or "").stem


class BlankEntry(WantedEntry, FlangeProfile):
    """A bent part wanted, given by its flanges: its flat blank is cut.

    Attributes
    ----------
    name : str
        Of the blank.
    """

    name: Name = Field(max_length=60)


class PartInHand(PartEntry):
    """A part wanted that was made or read in Python, rather than named by its drawing."""

    model_config = ConfigDict(arbitrary_types_allowed=True)

    part: Part

    @model_validator(mode="after")
    def _has_one_source(self) -> PartInHand:
        if self.drawing is not None or self.shape is not None:
            raise ValueError("a part in hand has no drawing or shape beside it")
        return self

    @property
    def label(self) -> str:
        """The entry's name, or the part's own."""
        return self.name or self.part.name
