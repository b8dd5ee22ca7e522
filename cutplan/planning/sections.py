"""The sections and entries of a job file, each validated on its own."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, field_validator, model_validator

from cutplan.base.files import FileModel, LengthUnit
from cutplan.base.names import Name
from cutplan.drawing import Part, StandardPlate

__all__ = [
    "CutName",
    "CuttingSection",
    "DrawingsSection",
    "JobSection",
    "KeepoutEntry",
    "MachineSection",
    "MarkingSection",
    "NestingSection",
    "OrderSection",
    "PartEntry",
    "PartInHand",
    "PinEntry",
    "PlateEntry",
    "PressSection",
    "StockSection",
]

ProcessChoice = Literal["plasma", "oxyfuel", "auto"]
LayerRoles = Mapping[Literal["cut", "mark", "bend", "ignore"], tuple[str, ...]]
QUARTER_TURNS = (0.0, 90.0, 180.0, 270.0)


class MachineSection(FileModel):
    """The cutting table; the fields are those of `cutplan.machine.Machine`."""

    table: tuple[float, float] = (6000.0, 2000.0)
    rapid_mm_min: float = Field(20000.0, gt=0)
    acceleration_mm_s2: float = Field(500.0, gt=0)
    water_table: bool = False
    marker: bool = False
    postprocessor: str = Field("rs274-metric", min_length=1)
    postprocessor_oxyfuel: str | None = None
    torches: int = Field(1, ge=1, le=16)
    torch_spacing_mm: float | None = Field(None, gt=0)
    raise_s: float = Field(1.0, ge=0)
    lower_s: float = Field(2.0, ge=0)
    probe_s: float = Field(0.0, ge=0)
    corner_deviation_mm: float = Field(0.05, gt=0)
    start: tuple[float, float] = (0.0, 0.0)
    torch_clearance_mm: float = Field(40.0, gt=0)
    torch_radius_mm: float = Field(25.0, ge=0)
    travel_height_mm: float = Field(30.0, gt=0)
    low_travel_height_mm: float = Field(10.0, gt=0)
    plate_margin_mm: float = Field(100.0, ge=0)
    ignition_s: float = Field(0.5, ge=0)

    @field_validator("table")
    @classmethod
    def _table_has_size(cls, table: tuple[float, float]) -> tuple[float, float]:
        if min(table) <= 0:
            raise ValueError("the table's travel must be above zero in x and y")
        return table

    @model_validator(mode="after")
    def _start_is_on_the_table(self) -> MachineSection:
        if not all(0 <= s <= t for s, t in zip(self.start, self.table, strict=True)):
            raise ValueError(f"start {list(self.start)} lies off the table {list(self.table)}")
        return self


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


class DrawingsSection(FileModel):
    """How drawings are read: units, gap tolerance, and layers by role."""

    units: LengthUnit | None = None
    gap: float = Field(0.1, ge=0, le=5)
    tolerance: float = Field(0.01, gt=0, le=0.5)
    layers: LayerRoles | None = None


class NestingSection(FileModel):
    """How parts are laid out; gaps left out come from the process."""

    gap: float | None = Field(None, ge=0)
    edge: float | None = Field(None, ge=0)
    seconds: float | None = Field(None, gt=0)


class CutName(FileModel):
    """Names cuts in a pin; what is left out matches all."""

    part: str | None = None
    copy_: int | None = Field(None, ge=1, alias="copy")
    kind: Literal["mark", "hole", "outer"] | None = None
    hole: int | None = Field(None, ge=1)


class PinEntry(FileModel):
    """All cuts named by `first` come before all named by `then`."""

    first: CutName
    then: CutName


class OrderSection(FileModel):
    """How the cuts are ordered; see `cutplan.sequencing.SequenceOptions`."""

    pin: tuple[PinEntry, ...] = ()
    marks: Literal["sheet", "part"] = "sheet"
    parts_together: bool = False
    low_travel: bool = False
    hottest_start_c: float | None = Field(None, gt=20)
    heat_weight_s: float = Field(0.0, ge=0)
    towards: Literal["x+", "x-", "y+", "y-"] | None = None
    narrow_webs_last: bool = False
    effort: float = Field(1.0, gt=0, le=100)


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


class PressSection(FileModel):
    """The press brake that bends the blanks."""

    capacity_kn: float = Field(gt=0)
    bed_mm: float = Field(gt=0)
    dies_mm: tuple[Annotated[float, Field(gt=0)], ...] = ()


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
    length: float | None = Field(None, gt=0)
    width: float | None = Field(None, gt=0)
    thickness: float = Field(gt=0)
    grade: Name
    material: Literal["mild steel", "stainless", "aluminium"] | None = None
    quantity: int = Field(1, ge=1)
    heat: Name | None = None
    outline: str | None = None
    price_per_kg: float | None = Field(None, ge=0)
    rolling_direction: Literal["x", "y"] = "x"
    keepouts: tuple[Box | KeepoutEntry, ...] = ()
    certificate: Name | None = None
    location: str | None = None

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
    """A part wanted."""

    drawing: str | None = Field(None, min_length=1)
    shape: StandardPlate | None = None
    quantity: int = Field(ge=1)
    thickness: float = Field(gt=0)
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
