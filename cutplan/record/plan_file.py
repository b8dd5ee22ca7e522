"""plan.json read back: what was planned for each sheet, so that a program can be proved again."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path as FilePath
from typing import Any

from pydantic import Field, TypeAdapter, ValidationError

from cutplan.base.errors import InputError
from cutplan.base.files import FileModel, validate
from cutplan.base.machine import Machine
from cutplan.control import Dialect
from cutplan.drawing import Part, ReadOptions
from cutplan.geometry import Path, Pose
from cutplan.process import CutData
from cutplan.program import find_postprocessor
from cutplan.stock import ONE_TORCH, Keepout, Lanes, NestedPlate, Placement, Plate, first_lane
from cutplan.verification import TOLERANCE_MM

__all__ = [
    "SavedPlan",
    "SavedSheet",
    "data_record",
    "part_record",
    "path_record",
    "plate_record",
    "read_plan",
]

Vertices = tuple[tuple[float, float, float], ...]


@dataclass(frozen=True)
class SavedSheet:
    """One sheet of a plan read back.

    `programs` are its files, each with its digest, to be read in `dialect`; with `lanes`
    they are run by torches side by side, and `pierces` and `cut_length_mm` are those of one; `marks` those of its placements, empty in a
    plan written before parts were marked.
    """

    name: str
    programs: tuple[tuple[str, str], ...]
    postprocessor: str
    dialect: Dialect
    nested: NestedPlate
    data: CutData
    pierces: int
    cut_length_mm: float
    marks: tuple[str, ...] = ()
    lanes: Lanes = ONE_TORCH

    @property
    def run(self) -> NestedPlate:
        """What one torch cuts: all of the sheet, or the first of its lanes.

        Raises
        ------
        InputError
            If the lanes are not alike, so that torches side by side cannot cut them.
        """
        first = first_lane(self.nested, self.lanes)
        if first is None:
            raise InputError(f"the lanes of sheet {self.name} are not alike", remedy="plan the job again")
        return first


@dataclass(frozen=True)
class SavedPlan:
    """A plan read back from plan.json; `name` is what the inventory knows it by."""

    job: str
    machine: Machine
    sheets: tuple[SavedSheet, ...]
    name: str = ""
    tolerance_mm: float = TOLERANCE_MM

    def sheet(self, name: str | None) -> SavedSheet:
        """Return a sheet by its name, or the only one there is.

        Raises
        ------
        InputError
            If there is none of that name, or no name was given and there are several.
        """
        found = [sheet for sheet in self.sheets if name in (None, sheet.name)]
        if len(found) != 1:
            about = "has several sheets" if name is None else f"has no sheet {name!r}"
            names = ", ".join(sheet.name for sheet in self.sheets)
            raise InputError(f"plan {self.name or self.job!r} {about}", remedy=f"name one of {names}")
        return found[0]


def path_record(path: Path) -> list[list[float]]:
    """Return a path as plain data: x, y and bulge of each vertex."""
    return [[float(v) for v in row] for row in path.vertices]


def part_record(part: Part) -> dict[str, Any]:
    """Return a part's contours as plain data, drawing coordinates."""
    return {
        "source": FilePath(part.source).name,
        "outer": path_record(part.outer),
        "read_with": None if part.read_with is None else asdict(part.read_with),
        "holes": [path_record(hole) for hole in part.holes],
        "marks": [{"closed": mark.closed, "path": path_record(mark)} for mark in part.marks],
    }


def plate_record(plate: Plate) -> dict[str, Any]:
    """Return a plate's shape as plain data, plate coordinates."""
    return {
        "outline": path_record(plate.outline),
        "keepouts": [{"outline": path_record(k.outline), "height_mm": k.height_mm} for k in plate.keepouts],
        "voids": [path_record(void) for void in plate.voids],
        "material": plate.material,
        "density_kg_m3": plate.density_kg_m3,
        "price_per_kg": plate.price_per_kg,
        "rolling_direction": plate.rolling_direction,
    }


def data_record(data: CutData) -> dict[str, Any]:
    """Return cutting data as plain data; infinity is written as the text "inf"."""
    record = asdict(data)
    record["source"] = FilePath(data.source).name
    return {key: _finite(value) for key, value in record.items()}


def inputs_digest(nested: NestedPlate, data: CutData) -> str:
    """Return the SHA-256 of what a sheet's program has to cut: plate, placements, parts, data."""
    content = {
        "plate": plate_record(nested.plate),
        "parts": {p.part.name: part_record(p.part) for p in nested.placements},
        "placements": [[p.part.name, p.copy, asdict(p.pose)] for p in nested.placements],
        "cut_data": data_record(data),
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return "inf" if isinstance(value, float) and math.isinf(value) else value


class _Mark(FileModel):
    closed: bool
    path: Vertices


class _Part(FileModel):
    source: str
    read_with: Mapping[str, Any] | None = None
    outer: Vertices
    holes: tuple[Vertices, ...]
    marks: tuple[_Mark, ...]


class _Keepout(FileModel):
    outline: Vertices
    height_mm: float | None


class _PlateShape(FileModel):
    outline: Vertices
    keepouts: tuple[_Keepout | Vertices, ...]
    voids: tuple[Vertices, ...] = ()
    material: str
    density_kg_m3: float
    price_per_kg: float | None
    rolling_direction: str


class _Placement(FileModel):
    part: str
    copy_: int = Field(alias="copy")
    x_mm: float
    y_mm: float
    rotation_deg: float
    mirrored: bool
    mark: str | None = None


class _Program(FileModel):
    file: str
    digest: str


class _Totals(FileModel, extra="ignore"):
    pierces: int
    cut_length_mm: float


class _Sheet(FileModel, extra="ignore"):
    id: str
    sheet: int
    programs: tuple[_Program, ...]
    postprocessor: str
    dialect: Mapping[str, Any] | None = None
    torches: int = Field(1, ge=1)
    torch_spacing_mm: float | None = None
    thickness_mm: float
    grade: str
    heat: str | None
    plate: _PlateShape
    placements: tuple[_Placement, ...]
    cut_data: Mapping[str, Any]
    verification: _Totals


class _PlanFile(FileModel, extra="ignore"):
    # `schema` would hide a method of the base.
    form: str = Field(alias="schema", pattern=r"^cutplan\.plan/1$")
    job: str
    plan: str = ""
    tolerance_mm: float = Field(TOLERANCE_MM, gt=0)
    machine: Mapping[str, Any]
    parts: Mapping[str, _Part]
    plates: tuple[_Sheet, ...]


def read_plan(file: FilePath) -> SavedPlan:
    """Return a plan from its plan.json.

    Raises
    ------
    InputError
        If the file is missing, not JSON, or no plan of this schema.
    """
    try:
        content = json.loads(file.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise InputError("no such file", where=str(file), remedy="check the path") from None
    except (OSError, ValueError) as problem:
        raise InputError(f"is no readable plan: {problem}", where=str(file)) from None
    model = validate(_PlanFile, content, str(file))
    try:
        machine = TypeAdapter(Machine).validate_python(dict(model.machine))
        parts = {name: _part(name, record) for name, record in model.parts.items()}
        sheets = tuple(_sheet(record, parts) for record in model.plates)
    except (ValidationError, KeyError) as problem:
        remedy = "plan the job again"
        raise InputError(
            f"holds values of another version: {problem}", where=str(file), remedy=remedy
        ) from None
    return SavedPlan(model.job, machine, sheets, model.plan, model.tolerance_mm)


def _part(name: str, record: _Part) -> Part:
    return Part(
        name=name,
        outer=_path(record.outer),
        holes=tuple(_path(hole) for hole in record.holes),
        marks=tuple(_path(mark.path, mark.closed) for mark in record.marks),
        source=record.source,
        read_with=None if record.read_with is None else ReadOptions(**record.read_with),
    )


def _sheet(record: _Sheet, parts: Mapping[str, Part]) -> SavedSheet:
    shape = record.plate
    plate = Plate(
        id=record.id,
        outline=_path(shape.outline),
        thickness=record.thickness_mm,
        grade=record.grade,
        material=shape.material,
        heat=record.heat,
        price_per_kg=shape.price_per_kg,
        density_kg_m3=shape.density_kg_m3,
        rolling_direction=shape.rolling_direction,
        keepouts=tuple(_keepout(k) for k in shape.keepouts),
        voids=tuple(_path(void) for void in shape.voids),
    )
    placements = tuple(
        Placement(parts[p.part], p.copy_, Pose(p.x_mm, p.y_mm, p.rotation_deg, p.mirrored))
        for p in record.placements
    )
    data = TypeAdapter(CutData).validate_python(dict(record.cut_data))
    return SavedSheet(
        name=f"{record.id}-{record.sheet}",
        programs=tuple((p.file, p.digest) for p in record.programs),
        postprocessor=record.postprocessor,
        dialect=_dialect(record, data),
        nested=NestedPlate(plate, record.sheet, placements),
        data=data,
        pierces=record.verification.pierces,
        cut_length_mm=record.verification.cut_length_mm,
        marks=tuple(p.mark for p in record.placements if p.mark is not None),
        lanes=Lanes(record.torches, record.torch_spacing_mm or 0.0),
    )


def _dialect(record: _Sheet, data: CutData) -> Dialect:
    """Return how a sheet's programs are to be read; plans once left that to the post-processor's name."""
    if record.dialect is None:
        return find_postprocessor(record.postprocessor).dialect_for(data)
    return TypeAdapter(Dialect).validate_python(dict(record.dialect))


def _keepout(record: _Keepout | Vertices) -> Keepout:
    """Return a keep-out; in plans written before heights were known it is a contour alone."""
    if isinstance(record, _Keepout):
        return Keepout(_path(record.outline), record.height_mm)
    return Keepout(_path(record))


def _path(vertices: Vertices, closed: bool = True) -> Path:
    import numpy as np

    return Path(np.array(vertices), closed=closed)
