"""The job file: what to cut, from which plates, on which machine, validated at the border.

Drawings are not read here; `cutplan.plan` does that.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator

from cutplan.drawing.standard_plates import StandardPlate
from cutplan.errors import JobError
from cutplan.files import FileModel, read_toml, validate
from cutplan.machine import Machine
from cutplan.partlist import read_part_list
from cutplan.stock import default_inventory

__all__ = ["CuttingSection", "DrawingsSection", "Job", "NestingSection", "OrderSection", "PartEntry",
           "PlateEntry", "load_job", "parse_job"]  # fmt: skip

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
    corner_deviation_mm: float = Field(0.05, gt=0)
    start: tuple[float, float] = (0.0, 0.0)
    torch_clearance_mm: float = Field(40.0, gt=0)
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

    name: str = Field(min_length=1)
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
    tolerance_mm: float = Field(0.05, gt=0)
    small_holes: Literal["cut", "mark", "refuse"] = "cut"
    corners: Literal["round", "loop", "plain"] = "round"
    data: tuple[str, ...] = ()
    postprocessors: tuple[str, ...] = ()


class DrawingsSection(FileModel):
    """How drawings are read: units, gap tolerance, and layers by role."""

    units: Literal["mm", "cm", "m", "in", "ft"] | None = None
    gap: float = Field(0.1, ge=0, le=5)
    tolerance: float = Field(0.01, gt=0, le=0.5)
    layers: LayerRoles | None = None


class NestingSection(FileModel):
    """How parts are laid out; gaps left out come from the process."""

    gap: float | None = Field(None, ge=0)
    edge: float | None = Field(None, ge=0)
    seconds: float | None = Field(None, gt=0)
    effort: float = Field(1.0, gt=0, le=1000)


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
    """What is marked beside the drawing's own marks: bend lines as ticks at the edges, or in full."""

    bends: Literal["ticks", "full", "none"] = "ticks"
    tick_mm: float = Field(15.0, gt=0)


class PressSection(FileModel):
    """The press brake that bends the blanks."""

    capacity_kn: float = Field(gt=0)
    bed_mm: float = Field(gt=0)
    dies_mm: tuple[Annotated[float, Field(gt=0)], ...] = ()


class StockSection(FileModel):
    """Whether plates come from the inventory too: the usual one, or a file beside the job."""

    inventory: bool | str = False


class PlateEntry(FileModel):
    """Plates or remnants on offer."""

    id: str = Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$", max_length=60)
    length: float | None = Field(None, gt=0)
    width: float | None = Field(None, gt=0)
    thickness: float = Field(gt=0)
    grade: str = Field(min_length=1)
    material: Literal["mild steel", "stainless", "aluminium"] | None = None
    quantity: int = Field(1, ge=1)
    heat: str | None = None
    outline: str | None = None
    price_per_kg: float | None = Field(None, ge=0)
    rolling_direction: Literal["x", "y"] = "x"
    keepouts: tuple[tuple[float, float, float, float], ...] = ()
    certificate: str | None = None
    location: str | None = None

    @model_validator(mode="after")
    def _has_a_shape(self) -> PlateEntry:
        if self.outline is None and (self.length is None or self.width is None):
            raise ValueError(f"plate {self.id!r} needs length and width, or an outline drawing")
        if self.outline is not None and (self.length is not None or self.width is not None):
            raise ValueError(f"plate {self.id!r} has both an outline and a length or width; keep one")
        for x0, y0, x1, y1 in self.keepouts:
            if x1 <= x0 or y1 <= y0:
                raise ValueError(f"keepout [{x0}, {y0}, {x1}, {y1}] must be [x0, y0, x1, y1] with x0 < x1")
        return self


class PartEntry(FileModel):
    """A part wanted."""

    drawing: str | None = Field(None, min_length=1)
    shape: StandardPlate | None = None
    quantity: int = Field(ge=1)
    thickness: float = Field(gt=0)
    grade: str = Field(min_length=1)
    material: Literal["mild steel", "stainless", "aluminium"] | None = None
    name: str | None = Field(None, min_length=1, max_length=60)
    rotations: tuple[float, ...] | Literal["any", "none", "quarter", "half"] = "quarter"
    mirror: bool = False
    priority: int = 0
    filler: bool = False
    rolling_direction: float | Literal["x", "y", "across bends"] | None = None
    process: ProcessChoice | None = None
    units: Literal["mm", "cm", "m", "in", "ft"] | None = None
    layers: LayerRoles | None = None
    tolerance_class: Literal[1, 2] | None = None
    due: date | None = None
    kit: str | None = Field(None, min_length=1, max_length=60)

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


class _JobFile(FileModel):
    job: JobSection
    machine: MachineSection | str = MachineSection()
    cutting: CuttingSection = CuttingSection()
    drawings: DrawingsSection = DrawingsSection()
    nesting: NestingSection = NestingSection()
    order: OrderSection = OrderSection()
    marking: MarkingSection = MarkingSection()
    press: PressSection | None = None
    stock: StockSection = StockSection()
    plate: tuple[PlateEntry, ...] = ()
    part: tuple[PartEntry, ...] = Field(min_length=1)
    parts_list: str | None = None
    grades: Mapping[str, Literal["mild steel", "stainless", "aluminium"]] = {}
    prices: str | None = None

    @model_validator(mode="after")
    def _has_plates(self) -> _JobFile:
        if not self.plate and not self.stock.inventory:
            raise ValueError("there is no plate: add a [[plate]], or [stock] with inventory = true")
        return self


@dataclass(frozen=True)
class Job:
    """A validated job.

    Attributes
    ----------
    file : Path
        Where it was read from; drawings are relative to its folder.
    name : str
    seed : int
    machine : Machine
    cutting, drawings, nesting, order, marking, press
        The sections of the file.
    plates : tuple of PlateEntry
    parts : tuple of PartEntry
    grades : mapping
        Material group by grade, beyond the table that ships.
    prices : Path or None
        Price file.
    warnings_are_errors : bool
    inventory : Path or None
        The inventory that plates are drawn from, beside those of the file.
    """

    file: Path
    name: str
    seed: int
    machine: Machine
    cutting: CuttingSection
    drawings: DrawingsSection
    nesting: NestingSection
    order: OrderSection
    marking: MarkingSection
    plates: tuple[PlateEntry, ...]
    parts: tuple[PartEntry, ...]
    grades: Mapping[str, str]
    prices: Path | None = None
    press: PressSection | None = None
    warnings_are_errors: bool = False
    inventory: Path | None = None

    @property
    def folder(self) -> Path:
        """The folder that the job's paths are relative to."""
        return self.file.parent


def load_job(file: str | Path) -> Job:
    """Return the job of a TOML file.

    Raises
    ------
    JobError
        If the file is missing, not TOML, or wrong; the message names the key.
    """
    path = Path(file)
    return parse_job(read_toml(path, JobError), path)


def parse_job(data: Mapping[str, Any], file: Path) -> Job:
    """Return the job of data as a TOML file would hold it; `file` places relative paths."""
    whole = _with_part_list(_with_machine_file(data, file), file)
    model = validate(_JobFile, whole, str(file), JobError)
    _refuse_twins([p.id for p in model.plate], "plate id", "give each [[plate]] its own id", file)
    _refuse_twins([p.label for p in model.part], "part name", "give one of them a name of its own", file)
    assert isinstance(model.machine, MachineSection)
    return Job(
        file=file,
        name=model.job.name,
        seed=model.job.seed,
        machine=Machine(**{f.name: getattr(model.machine, f.name) for f in fields(Machine)}),
        cutting=model.cutting,
        drawings=model.drawings,
        nesting=model.nesting,
        order=model.order,
        marking=model.marking,
        press=model.press,
        plates=model.plate,
        parts=model.part,
        grades=dict(model.grades),
        prices=file.parent / model.prices if model.prices else None,
        warnings_are_errors=model.job.warnings_are_errors,
        inventory=_inventory(model.stock.inventory, file),
    )


def _inventory(named: bool | str, file: Path) -> Path | None:
    if isinstance(named, str):
        return file.parent / named
    return default_inventory() if named else None


def _with_machine_file(data: Mapping[str, Any], file: Path) -> dict[str, Any]:
    """Follow ``machine = "file.toml"``; the file may hold the keys bare or in a [machine] table."""
    machine = data.get("machine")
    if not isinstance(machine, str):
        return dict(data)
    path = file.parent / machine
    content = read_toml(path, JobError)
    section = content.get("machine", content)
    validate(MachineSection, section, str(path), JobError)
    return {**data, "machine": section}


def _with_part_list(data: dict[str, Any], file: Path) -> dict[str, Any]:
    """Follow ``parts_list = "file.csv"``: its rows are parts beside the [[part]] entries."""
    name = data.get("parts_list")
    if not isinstance(name, str):
        return data
    own = data.get("part", [])
    return {**data, "part": [*own, *read_part_list(file.parent / name)]} if isinstance(own, list) else data


def _refuse_twins(names: Sequence[str], what: str, remedy: str, file: Path) -> None:
    # Program files are named after these, and some file systems do not tell cases apart.
    twins = [name for name, count in Counter(n.casefold() for n in names).items() if count > 1]
    if twins:
        shown = next(n for n in names if n.casefold() == twins[0])
        raise JobError(f"{what} {shown!r} is used twice", where=str(file), remedy=remedy)
