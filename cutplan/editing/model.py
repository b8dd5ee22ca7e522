"""Edits of a plan as data: what a person changes by hand, one small record for each change.

Terminology
-----------
edit : one change; it holds in full or is refused.
copy : a part's copy by its number, from 1 to as many as are wanted, on a sheet or off.
start of the edits : the nest that they begin from.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from cutplan.base.files import FileModel
from cutplan.base.names import Name

__all__ = [
    "Before",
    "Contour",
    "CutRow",
    "Edit",
    "KeepOff",
    "Lay",
    "Layout",
    "Mirror",
    "Move",
    "NoTab",
    "OrderOf",
    "Pin",
    "PlacementRow",
    "Quantity",
    "SheetLaid",
    "StartAt",
    "Swap",
    "TabAt",
    "TakeOff",
    "Turn",
    "UnplacedRow",
    "UseData",
]

Count = Annotated[int, Field(ge=1, le=100_000)]
Length = Annotated[float, Field(ge=-100_000, le=100_000)]
Degrees = Annotated[float, Field(ge=-360_000, le=360_000)]
Spot = tuple[Length, Length]
PlacementRow = tuple[Name, Count, Length, Length, Degrees, bool]
"""Part, copy, x and y in mm, rotation in degrees, mirrored."""
CutRow = tuple[str, Annotated[int, Field(ge=0)], str, Count]
"""Part, copy, what is cut ("outside", "hole 2", "mark"), and which run of it, from 1."""


class _OfCopy(FileModel):
    part: Name
    copy_: Count = Field(alias="copy")


class Move(_OfCopy):
    """Lay a copy at a place, on the sheet where it lies or on another; one that is off is laid anew.

    Attributes
    ----------
    part : str
    copy : int
    at : (float, float)
        Where the drawing's origin comes to lie on the plate, mm.
    sheet : str or None
        The sheet's name, "PL10-1"; left out, the one where it lies.
    rotation_deg : float or None
        Rotation of the drawing; left out, as it lies.
    mirrored : bool or None
        Whether it lies mirrored; left out, as it lies.
    """

    do: Literal["move"] = "move"
    at: Spot
    sheet: str | None = None
    rotation_deg: Degrees | None = None
    mirrored: bool | None = None


class Turn(_OfCopy):
    """Turn a copy about the middle of its box, counter-clockwise.

    Attributes
    ----------
    by_deg : float
        Degrees.
    """

    do: Literal["turn"] = "turn"
    by_deg: Degrees


class Mirror(_OfCopy):
    """Mirror a copy left to right about the middle of its box."""

    do: Literal["mirror"] = "mirror"


class Swap(_OfCopy):
    """Let two copies change places: the middles of their boxes are exchanged, each keeps its turn.

    Attributes
    ----------
    with_part : str
    with_copy : int
    """

    do: Literal["swap"] = "swap"
    with_part: Name
    with_copy: Count


class TakeOff(_OfCopy):
    """Take a copy off its sheet; it is wanted still and has no place."""

    do: Literal["take off"] = "take off"


class Pin(_OfCopy):
    """Hold a copy where it lies when the rest is nested again.

    Attributes
    ----------
    pinned : bool
        False lets it go again.
    """

    do: Literal["pin"] = "pin"
    pinned: bool = True


class Contour(_OfCopy):
    """One contour of a copy.

    Attributes
    ----------
    contour : str
        "outside", "mark", or "hole 2", holes counted from 1 as on paper.
    """

    contour: Annotated[
        str, Field(pattern=r"^(outside|mark|hole [1-9][0-9]{0,5}|drill mark [1-9][0-9]{0,5})$")
    ]


class StartAt(Contour):
    """Begin a contour near a place.

    Attributes
    ----------
    at : (float, float)
        In the drawing's coordinates, mm: it goes with the part.
    """

    do: Literal["start"] = "start"
    at: Spot


class Before(FileModel):
    """Make one cut before another.

    Attributes
    ----------
    first, then : table
        Part, copy and contour.
    """

    do: Literal["before"] = "before"
    first: Contour
    then: Contour


class OrderOf(FileModel):
    """Hold a sheet's cuts to an order.

    Attributes
    ----------
    sheet : str
    cuts : list of rows
        Part, copy, contour and run of each cut; those not listed come where they fit.  Empty: the
        order is searched anew.
    pinned : bool
        The order is held exactly; otherwise what must come first may move.
    """

    do: Literal["order"] = "order"
    sheet: str
    cuts: tuple[CutRow, ...] = ()
    pinned: bool = True


class TabAt(_OfCopy):
    """Hold a copy by a tab near a place of its outside.

    Attributes
    ----------
    at : (float, float)
        In the drawing's coordinates, mm.
    """

    do: Literal["tab"] = "tab"
    at: Spot


class NoTab(_OfCopy):
    """Leave no tab near a place of a copy's outside, or none at all.

    Attributes
    ----------
    at : (float, float) or None
        In the drawing's coordinates, mm; left out, the copy gets no tabs.
    """

    do: Literal["no tab"] = "no tab"
    at: Spot | None = None


class KeepOff(FileModel):
    """Keep parts off a stretch of a sheet.

    Attributes
    ----------
    sheet : str
    corners : list of (float, float)
        Of the closed outline on the plate, mm; three at least, in order.
    height_mm : float or None
        How far something stands there, 0 for a defect; left out, the torch never passes over it.
    """

    do: Literal["keep off"] = "keep off"
    sheet: str
    corners: Annotated[tuple[Spot, ...], Field(min_length=3, max_length=200)]
    height_mm: Annotated[float, Field(ge=0, le=10_000)] | None = None


class Quantity(FileModel):
    """Want another number of a part.

    Attributes
    ----------
    part : str
    quantity : int
        Copies with higher numbers come off; new ones have no place until they are laid.
    """

    do: Literal["quantity"] = "quantity"
    part: Name
    quantity: Annotated[int, Field(ge=0, le=100_000)]


class UseData(FileModel):
    """Cut a thickness and grade by another row of the cutting data.

    Attributes
    ----------
    thickness_mm : float
    grade : str
    setting : str
        Name of the setting, as the cutting data have it.
    process : {"plasma", "oxyfuel"}
    """

    do: Literal["cutting data"] = "cutting data"
    thickness_mm: Annotated[float, Field(gt=0, le=500)]
    grade: Name
    setting: str
    process: Literal["plasma", "oxyfuel"]


class SheetLaid(FileModel):
    """A sheet as it lies.

    Attributes
    ----------
    plate : str
        Id of the plate.
    sheet : int
        Number of the sheet, from 1 for each plate.
    torches : int
        Torches that cut it side by side.
    placements : list of rows
        Part, copy, x, y, rotation and mirrored.
    order : list of rows
        Its cuts in their order, which stays as it can where the sheet is edited.
    """

    plate: str
    sheet: Count
    torches: Count = 1
    placements: tuple[PlacementRow, ...] = ()
    order: tuple[CutRow, ...] = ()

    @property
    def name(self) -> str:
        """Plate id and sheet number."""
        return f"{self.plate}-{self.sheet}"


class Layout(FileModel):
    """Lay sheets as a search left them: whoever carries the edits out again does not search.

    Attributes
    ----------
    sheets : list of tables
        What lies on each; what lay there before is off, or on another of them.
    """

    do: Literal["layout"] = "layout"
    sheets: tuple[SheetLaid, ...]

    @model_validator(mode="after")
    def _names_each_once(self) -> Layout:
        names = [sheet.name for sheet in self.sheets]
        if len(set(names)) != len(names):
            raise ValueError("names a sheet twice")
        return self


class UnplacedRow(FileModel):
    """Copies that found no place.

    Attributes
    ----------
    part : str
    quantity : int
    reason : str
    """

    part: str
    quantity: Count
    reason: str


Lay = (
    Move
    | Turn
    | Mirror
    | Swap
    | TakeOff
    | Pin
    | StartAt
    | Before
    | OrderOf
    | TabAt
    | NoTab
    | KeepOff
    | Quantity
    | UseData
    | Layout
)
Edit = Annotated[Lay, Field(discriminator="do")]
"""Any of the edits, told apart by `do`."""
