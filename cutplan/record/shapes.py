"""What plan.json says of paths, parts, plates and placements, each record in both directions.

A record's fields are the keys of the file in their order.  `of` makes it from what the planner
has, a method named after the thing makes that again.  To add a key: a field with a default (so
that older files are read), and a line in `of` and in the way back.
"""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import Annotated, Any, Self

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer, model_validator

from cutplan.drawing import BendLine, EdgePreparation, MarkText, Part, Piece, ReadOptions
from cutplan.geometry import Path, Pose
from cutplan.stock import Keepout, Placement, Plate

__all__ = [
    "MarkRecord",
    "PartRecord",
    "Place",
    "PlacementRecord",
    "PlateRecord",
    "Record",
    "Rounded1",
    "Rounded2",
    "Rounded3",
    "Rounded4",
    "Rounded5",
    "Rounded6",
    "Rounded9",
    "Vertices",
    "path_of",
    "vertices_of",
]

Vertices = tuple[tuple[float, float, float], ...]
"""A path: x, y and bulge of each vertex, mm."""


class Record(BaseModel):
    """Base of what plan.json holds: keys of later versions are passed over, nan is refused."""

    model_config = ConfigDict(frozen=True, extra="ignore", allow_inf_nan=False, populate_by_name=True)


def _rounding(digits: int) -> PlainSerializer:
    return PlainSerializer(lambda value: round(float(value), digits), return_type=float)


# Numbers that are written with so many decimal places at most.
Rounded1 = Annotated[float, _rounding(1)]
Rounded2 = Annotated[float, _rounding(2)]
Rounded3 = Annotated[float, _rounding(3)]
Rounded4 = Annotated[float, _rounding(4)]
Rounded5 = Annotated[float, _rounding(5)]
Rounded6 = Annotated[float, _rounding(6)]
Rounded9 = Annotated[float, _rounding(9)]


def _two(value: Any) -> Any:
    # Places come as arrays, lists and tuples; what is none of these the model refuses by its key.
    if value is None:
        return None
    try:
        return tuple(float(v) for v in value)
    except (TypeError, ValueError, OverflowError):
        return value


Place = Annotated[
    tuple[float, float],
    BeforeValidator(_two),
    PlainSerializer(lambda at: [round(v, 4) for v in at], return_type=list[float]),
]
"""A place, mm."""


def vertices_of(path: Path) -> Vertices:
    """Return a path as plain data.

    Parameters
    ----------
    path : Path

    Returns
    -------
    tuple of (x, y, bulge)
    """
    return tuple((float(x), float(y), float(bulge)) for x, y, bulge in path.vertices)


def path_of(vertices: Vertices, closed: bool = True) -> Path:
    """Return the path of plain data.

    Parameters
    ----------
    vertices : tuple of (x, y, bulge)
    closed : bool

    Returns
    -------
    Path
    """
    return Path(np.array(vertices), closed=closed)


class MarkRecord(Record):
    """A line to mark, drawing coordinates."""

    closed: bool
    path: Vertices


class PartRecord(Record):
    """A part's contours, drawing coordinates, and how its drawing was read."""

    source: str
    outer: Vertices
    read_with: ReadOptions | None = None
    holes: tuple[Vertices, ...]
    marks: tuple[MarkRecord, ...]
    # Plans written before texts were proved have none.
    texts: tuple[MarkText, ...] = ()
    bends: tuple[BendLine, ...] = ()
    bevels: tuple[EdgePreparation, ...] = ()
    piece: Piece | None = None

    @classmethod
    def of(cls, part: Part) -> Self:
        """Return the record of a part."""
        return cls(
            source=FilePath(part.source).name,
            outer=vertices_of(part.outer),
            read_with=part.read_with,
            holes=tuple(map(vertices_of, part.holes)),
            marks=tuple(MarkRecord(closed=mark.closed, path=vertices_of(mark)) for mark in part.marks),
            texts=part.texts,
            bends=part.bends,
            bevels=part.bevels,
            piece=part.piece,
        )

    def part(self, name: str) -> Part:
        """Return the part."""
        return Part(
            name=name,
            outer=path_of(self.outer),
            holes=tuple(map(path_of, self.holes)),
            marks=tuple(path_of(mark.path, mark.closed) for mark in self.marks),
            texts=self.texts,
            bends=self.bends,
            bevels=self.bevels,
            source=self.source,
            read_with=self.read_with,
            piece=self.piece,
        )


class KeepoutRecord(Record):
    """What no part may touch, and how high it stands; None where it is not known."""

    outline: Vertices
    height_mm: float | None = None

    @model_validator(mode="before")
    @classmethod
    def _contour_alone(cls, value: Any) -> Any:
        # In plans written before heights were known.
        return {"outline": value} if isinstance(value, list | tuple) else value

    @classmethod
    def of(cls, keepout: Keepout) -> Self:
        """Return the record of a keep-out."""
        return cls(outline=vertices_of(keepout.outline), height_mm=keepout.height_mm)

    def keepout(self) -> Keepout:
        """Return the keep-out."""
        return Keepout(path_of(self.outline), self.height_mm)


class PlateRecord(Record):
    """A plate's shape and metal, plate coordinates."""

    outline: Vertices
    keepouts: tuple[KeepoutRecord, ...]
    voids: tuple[Vertices, ...] = ()
    material: str
    density_kg_m3: float
    price_per_kg: float | None
    rolling_direction: str
    face: str | None = None
    face_up: bool = True

    @classmethod
    def of(cls, plate: Plate) -> Self:
        """Return the record of a plate."""
        return cls(
            outline=vertices_of(plate.outline),
            keepouts=tuple(map(KeepoutRecord.of, plate.keepouts)),
            voids=tuple(map(vertices_of, plate.voids)),
            material=plate.material,
            density_kg_m3=plate.density_kg_m3,
            price_per_kg=plate.price_per_kg,
            rolling_direction=plate.rolling_direction,
            face=plate.face,
            face_up=plate.face_up,
        )

    def plate(self, id: str, thickness: float, grade: str, heat: str | None) -> Plate:
        """Return the plate; what a sheet says of it in keys of its own is told."""
        return Plate(
            id=id,
            outline=path_of(self.outline),
            thickness=thickness,
            grade=grade,
            material=self.material,
            heat=heat,
            price_per_kg=self.price_per_kg,
            density_kg_m3=self.density_kg_m3,
            rolling_direction=self.rolling_direction,
            keepouts=tuple(each.keepout() for each in self.keepouts),
            voids=tuple(map(path_of, self.voids)),
            face=self.face,
            face_up=self.face_up,
        )


class PlacementRecord(Record):
    """One copy of a part on a plate, and its mark where the plan has given it one."""

    part: str
    copy_: int = Field(alias="copy")
    x_mm: float
    y_mm: float
    rotation_deg: float
    mirrored: bool
    mark: str | None = None
    trace: tuple[MarkText, ...] = ()

    @classmethod
    def of(cls, placement: Placement, mark: str | None = None) -> Self:
        """Return the record of a placement."""
        pose = placement.pose
        return cls(
            part=placement.part.name,
            copy_=placement.copy,
            x_mm=pose.x,
            y_mm=pose.y,
            rotation_deg=pose.rotation_deg,
            mirrored=pose.mirrored,
            mark=mark,
            trace=placement.part.trace,
        )

    def placement(self, part: Part) -> Placement:
        """Return the placement."""
        return Placement(part, self.copy_, Pose(self.x_mm, self.y_mm, self.rotation_deg, self.mirrored))
