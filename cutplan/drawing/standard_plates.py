"""Standard plates without a drawing: a kind and its sizes make the part."""

from __future__ import annotations

import math
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from cutplan.base.files import FileModel
from cutplan.drawing.beam_plates import BeamWeb, FlangeStrip
from cutplan.drawing.model import Part
from cutplan.geometry import Path, circle, polygon, reverse

__all__ = [
    "BasePlate",
    "Flange",
    "Gusset",
    "Rectangle",
    "Ring",
    "SlottedStrip",
    "StandardPlate",
    "rounded_polygon",
]

Size = Annotated[float, Field(gt=0)]
SizeOrNone = Annotated[float, Field(ge=0)]


def rounded_polygon(corners: list[tuple[float, float]], radius: float) -> Path:
    """Return a polygon with the same fillet radius on every corner; 0 leaves them sharp."""
    if radius == 0.0:
        return polygon(corners)
    rows: list[tuple[float, float, float]] = []
    for i, (x, y) in enumerate(corners):
        (px, py), (nx, ny) = corners[i - 1], corners[(i + 1) % len(corners)]
        inward, outward = math.atan2(y - py, x - px), math.atan2(ny - y, nx - x)
        turn = math.remainder(outward - inward, math.tau)
        reach = radius * abs(math.tan(turn / 2.0))
        arc_start = (x - reach * math.cos(inward), y - reach * math.sin(inward))
        arc_end = (x + reach * math.cos(outward), y + reach * math.sin(outward))
        if rows and math.dist(rows[-1][:2], arc_start) < 1e-9:
            rows[-1] = (*arc_start, math.tan(turn / 4.0))
        else:
            rows.append((*arc_start, math.tan(turn / 4.0)))
        rows.append((*arc_end, 0.0))
    if math.dist(rows[-1][:2], rows[0][:2]) < 1e-9:
        rows.pop()
    return Path(np.array(rows))


def _rectangle(length: float, width: float, radius: float = 0.0) -> Path:
    return rounded_polygon([(0, 0), (length, 0), (length, width), (0, width)], radius)


class Rectangle(FileModel):
    """A rectangle, its corners rounded where asked.

    Attributes
    ----------
    kind : {"rectangle"}
        Which shape it is.
    length : float
        Along x, mm.
    width : float
        Along y, mm.
    corner_radius : float
        Of all four corners, mm.
    """

    kind: Literal["rectangle"] = "rectangle"
    length: Size
    width: Size
    corner_radius: SizeOrNone = 0.0

    @model_validator(mode="after")
    def _radius_fits(self) -> Rectangle:
        if 2 * self.corner_radius > min(self.length, self.width):
            raise ValueError("corner_radius is more than half the shorter side")
        return self

    def part(self, name: str) -> Part:
        """Return the part."""
        return Part(name, _rectangle(self.length, self.width, self.corner_radius))


class Ring(FileModel):
    """A ring of outside and inside diameter.

    Attributes
    ----------
    kind : {"ring"}
        Which shape it is.
    outside : float
        Diameter, mm.
    inside : float
        Diameter of the hole, mm; 0 for a disc.
    """

    kind: Literal["ring"] = "ring"
    outside: Size
    inside: Size

    @model_validator(mode="after")
    def _has_metal(self) -> Ring:
        if self.inside >= self.outside:
            raise ValueError("inside must be less than outside")
        return self

    def part(self, name: str) -> Part:
        """Return the part."""
        centre = (self.outside / 2, self.outside / 2)
        hole = circle(centre, self.inside / 2, clockwise=True)
        return Part(name, circle(centre, self.outside / 2), (hole,))


class Flange(FileModel):
    """A round flange with a bolt circle, and a bore unless it is blind.

    Attributes
    ----------
    kind : {"flange"}
        Which shape it is.
    outside : float
        Diameter, mm.
    bore : float
        Diameter, mm; 0 where it is blind.
    bolt_circle : float
        Diameter, mm.
    bolts : int
        How many holes on the bolt circle.
    bolt_hole : float
        Diameter, mm.
    """

    kind: Literal["flange"] = "flange"
    outside: Size
    bore: SizeOrNone = 0.0
    bolt_circle: Size
    bolts: Annotated[int, Field(ge=2, le=200)]
    bolt_hole: Size

    @model_validator(mode="after")
    def _has_metal(self) -> Flange:
        if self.bolt_circle + self.bolt_hole >= self.outside:
            raise ValueError("the bolt holes reach the outside")
        if self.bolt_circle - self.bolt_hole <= self.bore:
            raise ValueError("the bolt holes reach the bore")
        if self.bolt_circle * math.sin(math.pi / self.bolts) <= self.bolt_hole:
            raise ValueError("the bolt holes reach each other")
        return self

    def part(self, name: str) -> Part:
        """Return the part."""
        middle = self.outside / 2
        holes = [circle((middle, middle), self.bore / 2, clockwise=True)] if self.bore else []
        for i in range(self.bolts):
            angle = math.tau * (i + 0.5) / self.bolts
            x, y = (middle + self.bolt_circle / 2 * f(angle) for f in (math.cos, math.sin))
            holes.append(circle((x, y), self.bolt_hole / 2, clockwise=True))
        return Part(name, circle((middle, middle), self.outside / 2), tuple(holes))


class Gusset(FileModel):
    """A right-angled gusset, its corner sniped for the weld and its noses blunt.

    Attributes
    ----------
    kind : {"gusset"}
        Which shape it is.
    length : float
        Of the leg along x, mm.
    height : float
        Of the leg along y, mm.
    snipe : float
        Cut off the corner between the legs, along each, mm.
    nose : float
        Left straight at the end of each leg, mm.
    """

    kind: Literal["gusset"] = "gusset"
    length: Size
    height: Size
    snipe: SizeOrNone = 0.0
    nose: SizeOrNone = 0.0

    @model_validator(mode="after")
    def _has_edges(self) -> Gusset:
        if self.snipe + self.nose >= min(self.length, self.height):
            raise ValueError("snipe and nose leave no edge")
        return self

    def part(self, name: str) -> Part:
        """Return the part."""
        s, n = self.snipe, self.nose
        corners = [(0.0, s), (s, 0.0)] if s else [(0.0, 0.0)]
        corners += [(self.length, 0.0), (self.length, n)] if n else [(self.length, 0.0)]
        corners += [(n, self.height), (0.0, self.height)] if n else [(0.0, self.height)]
        return Part(name, polygon(corners))


class BasePlate(FileModel):
    """A base plate with a hole near each corner, and a bore in the middle where asked.

    Attributes
    ----------
    kind : {"base plate"}
        Which shape it is.
    length : float
        Along x, mm.
    width : float
        Along y, mm.
    hole : float
        Diameter of the four bolt holes, mm.
    edge_distance : float
        From the middle of a bolt hole to both edges, mm.
    corner_radius : float
        Of all four corners, mm.
    bore : float
        Diameter of a hole in the middle, mm; 0 for none.
    """

    kind: Literal["base plate"] = "base plate"
    length: Size
    width: Size
    hole: Size
    edge_distance: Size
    corner_radius: SizeOrNone = 0.0
    bore: SizeOrNone = 0.0

    @model_validator(mode="after")
    def _has_metal(self) -> BasePlate:
        e, d, shorter = self.edge_distance, self.hole, min(self.length, self.width)
        if e <= d / 2:
            raise ValueError("the holes reach the edge")
        if 2 * e + d >= shorter:
            raise ValueError("the holes reach each other")
        if self.bore >= shorter or math.hypot(self.length / 2 - e, self.width / 2 - e) <= (d + self.bore) / 2:
            raise ValueError("the bore reaches the holes or the edge")
        if 2 * self.corner_radius > shorter:
            raise ValueError("corner_radius is more than half the shorter side")
        return self

    def part(self, name: str) -> Part:
        """Return the part."""
        e = self.edge_distance
        places = [(x, y) for x in (e, self.length - e) for y in (e, self.width - e)]
        holes = [circle(place, self.hole / 2, clockwise=True) for place in places]
        if self.bore:
            holes.append(circle((self.length / 2, self.width / 2), self.bore / 2, clockwise=True))
        return Part(name, _rectangle(self.length, self.width, self.corner_radius), tuple(holes))


class SlottedStrip(FileModel):
    """A strip with a row of equal slots along its middle.

    Attributes
    ----------
    kind : {"slotted strip"}
        Which shape it is.
    length : float
        Along x, mm.
    width : float
        Along y, mm.
    slots : int
        How many slots, evenly along it.
    slot_length : float
        Over its round ends, mm.
    slot_width : float
        mm.
    corner_radius : float
        Of all four corners, mm.
    """

    kind: Literal["slotted strip"] = "slotted strip"
    length: Size
    width: Size
    slots: Annotated[int, Field(ge=1, le=500)]
    slot_length: Size
    slot_width: Size
    corner_radius: SizeOrNone = 0.0

    @model_validator(mode="after")
    def _has_metal(self) -> SlottedStrip:
        if self.slot_length <= self.slot_width:
            raise ValueError("slot_length must be more than slot_width")
        if self.slot_width >= self.width or self.slots * self.slot_length >= self.length:
            raise ValueError("the slots leave no metal")
        if 2 * self.corner_radius > min(self.length, self.width):
            raise ValueError("corner_radius is more than half the shorter side")
        return self

    def part(self, name: str) -> Part:
        """Return the part."""
        pitch, r = self.length / self.slots, self.slot_width / 2
        half, y = self.slot_length / 2 - r, self.width / 2
        holes = []
        for i in range(self.slots):
            x = pitch * (i + 0.5)
            corners = [[x - half, y - r, 0], [x + half, y - r, 1], [x + half, y + r, 0], [x - half, y + r, 1]]
            holes.append(reverse(Path(np.array(corners))))
        return Part(name, _rectangle(self.length, self.width, self.corner_radius), tuple(holes))


StandardPlate = Annotated[
    Rectangle | Ring | Flange | Gusset | BasePlate | SlottedStrip | BeamWeb | FlangeStrip,
    Field(discriminator="kind"),
]
"""Any of the kinds, told apart by ``kind``."""
