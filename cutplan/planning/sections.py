"""The sections and entries of a job file, each validated on its own."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, field_validator, model_validator

from cutplan.base.errors import InputError
from cutplan.base.files import FileModel, LengthUnit
from cutplan.base.names import Name, PathText
from cutplan.drawing import Choice, Limits, Part, ReadOptions, StandardPlate

__all__ = [
    "CuttingSection",
    "DrawingsSection",
    "JobSection",
    "KeepoutEntry",
    "MarkingSection",
    "NestingSection",
    "PartEntry",
    "PartInHand",
    "PlateEntry",
    "StockSection",
]

ProcessChoice = Literal["plasma", "oxyfuel", "auto"]
LayerRoles = Mapping[Literal["cut", "mark", "bend", "ignore"], tuple[str, ...]]
ColourRoles = Mapping[Literal["cut", "mark", "bend", "ignore"], tuple[str | int, ...]]
TextMeaning = Literal["quantity", "thickness", "grade", "name"]
# Beyond these a figure is a slip of the unit or of the column, and is refused before memory is spent.
LARGEST_MM = 50_000.0  # no mill delivers longer plate
THICKEST_MM = 500.0  # beyond what ISO 9013 knows: 300 mm
MOST_COPIES = 100_000
MOST_GAP = 1_000.0  # mm
Millimetres = Annotated[float, Field(gt=0, le=LARGEST_MM)]
Thickness = Annotated[float, Field(gt=0, le=THICKEST_MM)]
Quantity = Annotated[int, Field(ge=1, le=MOST_COPIES)]
QUARTER_TURNS = (0.0, 90.0, 180.0, 270.0)


class JobSection(FileModel):
    """Name and seed."""

    name: Name
    seed: int = Field(0, ge=0)
    warnings_are_errors: bool = False


class CuttingSection(FileModel):
    """How the plates are cut.

    Attributes
    ----------
    process : {"plasma", "oxyfuel", "auto"}
    current_a : float or None
        Ask for one arc current instead of the one the data would choose.
    setting : str or None
        Ask for one torch or tip setting by name.
    quality : int or None
        Perpendicularity range of ISO 9013 that must be reached, 1 the finest.
    max_current_a : float or None
        What the power source gives at most.
    under_water : bool
        The plate lies under water: the data's feed for that is taken.
    tolerance_mm : float
        The proof fails above this bite or left metal.
    small_holes : {"cut", "mark", "refuse"}
        What becomes of holes under the process's smallest.
    corners : {"round", "loop", "plain"}
        How the torch takes sharp outer corners.
    data : tuple of str
        Folders or files with the shop's own cutting data, relative to the job file.
    postprocessors : tuple of str
        Folders with the shop's own post-processors, relative to the job file.
    """

    process: ProcessChoice = "auto"
    current_a: float | None = Field(None, gt=0)
    setting: str | None = None
    quality: int | None = Field(None, ge=1, le=5)
    max_current_a: float | None = Field(None, gt=0)
    under_water: bool = False
    tolerance_mm: float = Field(0.05, gt=0)
    small_holes: Literal["cut", "mark", "refuse"] = "cut"
    corners: Literal["round", "loop", "plain"] = "round"
    data: tuple[str, ...] = ()
    postprocessors: tuple[str, ...] = ()


class ChoiceEntry(FileModel):
    """Which parts of a drawing are meant; all that is given must hold.

    Attributes
    ----------
    name, layer, text : str or None
        Patterns with ``*`` and ``?``: the part's name, the layer of its outside, a text on it
        or beside it.
    at : tuple of float or None
        A place on the part, mm.
    within : tuple of float or None
        xmin, ymin, xmax, ymax that hold the part, mm.
    larger_than, smaller_than : float or None
        Bounds on the longer side of its box, mm.
    """

    name: str | None = None
    layer: str | None = None
    text: str | None = None
    at: tuple[float, float] | None = None
    within: tuple[float, float, float, float] | None = None
    larger_than: float | None = Field(None, gt=0)
    smaller_than: float | None = Field(None, gt=0)

    @model_validator(mode="after")
    def _names_something(self) -> ChoiceEntry:
        self.choice()
        return self

    def choice(self) -> Choice:
        """Return the choice that the reader knows."""
        try:
            return Choice(**self.model_dump())
        except InputError as problem:
            raise ValueError(str(problem)) from None


class LimitsSection(FileModel):
    """What reading one drawing may take; see `cutplan.drawing.Limits`.

    Attributes
    ----------
    seconds : float
        Time to read a file.
    memory_mb : float
        Memory to read a file, MiB.
    file_mb : float
        Size of a file, MiB.
    entities : int
        Entities, block references unfolded.
    depth : int
        Contours that lie inside each other.
    """

    seconds: float = Field(Limits().seconds, gt=0, le=86_400)
    memory_mb: float = Field(Limits().memory_mb, ge=100, le=1e6)
    file_mb: float = Field(Limits().file_mb, gt=0, le=1e5)
    entities: int = Field(Limits().entities, ge=1, le=10**8)
    depth: int = Field(Limits().depth, ge=1, le=10_000)


class DrawingsSection(FileModel):
    """How drawings are read; see `cutplan.drawing.ReadOptions`.

    Attributes
    ----------
    units : str or None
        Units of the coordinates, instead of the header's.
    gap : float
        Widest gap between ends that is closed, mm.
    tolerance : float
        How far lines and arcs may stray from a curve that they stand for, mm.
    layers : mapping or None
        Role ("cut", "mark", "bend" or "ignore") to layer names, with ``*`` and ``?``.
    colours : mapping or None
        Role to colours, by number or name, where a drawing tells edges apart by colour.
    open : {"refuse", "leave out"}
        What becomes of strokes that close no contour.
    frames : {"ask", "leave out", "cut"}
        What becomes of a sheet's border or a title block's frame.
    equal : {"one part", "apart"}
        Whether equal parts of a drawing are one part, counted.
    choose, leave_out : list of tables
        Parts to take, and parts not to take, of a drawing with several.
    texts : mapping or None
        Patterns that find a quantity, thickness, grade or name in a text.
    limits : table
        What reading one drawing may take.
    """

    units: LengthUnit | None = None
    gap: float = Field(0.1, ge=0, le=5)
    tolerance: float = Field(0.01, gt=0, le=0.5)
    layers: LayerRoles | None = None
    colours: ColourRoles | None = None
    open: Literal["refuse", "leave out"] = "refuse"
    frames: Literal["ask", "leave out", "cut"] = "ask"
    equal: Literal["one part", "apart"] = "one part"
    choose: tuple[ChoiceEntry, ...] = ()
    leave_out: tuple[ChoiceEntry, ...] = ()
    texts: Mapping[TextMeaning, tuple[str, ...]] | None = None
    limits: LimitsSection = LimitsSection()

    @model_validator(mode="after")
    def _patterns_are_sound(self) -> DrawingsSection:
        try:
            self.options()
        except InputError as problem:
            raise ValueError(str(problem)) from None
        return self

    def options(self) -> ReadOptions:
        """Return what the reader is told."""
        as_given = {
            name: getattr(self, name) for name in ("units", "gap", "tolerance", "open", "frames", "equal")
        }
        return ReadOptions(
            **as_given,
            layers=_plain_roles(self.layers),
            colours=_plain_roles(self.colours),
            choose=[each.choice() for each in self.choose],
            leave_out=[each.choice() for each in self.leave_out],
            texts=_plain_roles(self.texts),
            limits=Limits(**self.limits.model_dump()),
        )


def _plain_roles(roles: Mapping[Any, Any] | None) -> dict[str, Any] | None:
    return {str(role): patterns for role, patterns in roles.items()} if roles else None


class NestingSection(FileModel):
    """How parts are laid out; gaps left out come from the process."""

    gap: float | None = Field(None, ge=0, le=MOST_GAP)
    edge: float | None = Field(None, ge=0, le=MOST_GAP)
    seconds: float | None = Field(None, gt=0, le=86_400)


class MarkingSection(FileModel):
    """What is marked beside the drawing's own marks.

    Attributes
    ----------
    bends : {"ticks", "full", "none"}
        Bend lines as ticks at the edges, or in full.
    tick_mm : float
    names : bool
        Each part's name, where it has room, off edges and bends.
    letters_mm : float
        Height of the letters at most.
    """

    bends: Literal["ticks", "full", "none"] = "ticks"
    tick_mm: float = Field(15.0, gt=0)
    names: bool = False
    letters_mm: float = Field(12.0, ge=4)


class StockSection(FileModel):
    """Whether plates come from the inventory too: the usual one, or a file beside the job."""

    inventory: bool | str = False


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
    """Plates or remnants on offer."""

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


class PartEntry(FileModel):
    """A part wanted.

    Attributes
    ----------
    drawing : str or None
        Its drawing, relative to the job file; one with several parts gives each of them.
    shape : table or None
        A standard plate in place of a drawing.
    quantity : int
        How many; of a drawing with equal parts, so many of each that is drawn.
    thickness : float
        mm.
    grade : str
    from_text : list of {"quantity", "thickness", "grade", "name"}
        What the texts of the drawing say goes before what this entry says; `quantity` is then
        how many times over.
    material : str or None
        Material group of a grade that is not known.
    name : str or None
        Instead of the drawing's file name.
    rotations : list of float or {"any", "none", "quarter", "half"}
    mirror : bool
        Whether mirrored copies will do.
    priority : int
    filler : bool
        Nested only where room is left over.
    rolling_direction : float, "x", "y", "across bends" or None
    process : {"plasma", "oxyfuel", "auto"} or None
    units, layers, colours, open, frames, choose, leave_out
        As under [drawings], for this drawing alone.
    tolerance_class : {1, 2} or None
    due : date or None
    kit : str or None
        Parts that must come off together.
    """

    drawing: PathText | None = None
    shape: StandardPlate | None = None
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
    units: LengthUnit | None = None
    layers: LayerRoles | None = None
    colours: ColourRoles | None = None
    open: Literal["refuse", "leave out"] | None = None
    frames: Literal["ask", "leave out", "cut"] | None = None
    choose: tuple[ChoiceEntry, ...] = ()
    leave_out: tuple[ChoiceEntry, ...] = ()
    from_text: tuple[TextMeaning, ...] = ()
    tolerance_class: Literal[1, 2] | None = None
    due: date | None = None
    kit: Name | None = Field(None, max_length=60)

    @model_validator(mode="after")
    def _has_one_source(self) -> PartEntry:
        if (self.drawing is None) == (self.shape is None):
            raise ValueError("a part needs a drawing, or a shape, and not both")
        if self.shape is not None and self.name is None:
            raise ValueError("a part made from a shape needs a name")
        return self

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
        """The part's name, or its drawing's file name without the ending."""
        return self.name or Path(self.drawing or "").stem


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
