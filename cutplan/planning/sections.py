"""The sections of a job file; its entries are in `cutplan.planning.entries`, each validated on its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from cutplan.base.errors import InputError
from cutplan.base.files import FileModel, LengthUnit
from cutplan.base.names import Name
from cutplan.drawing import Choice, Limits, ReadOptions

__all__ = [
    "BevelsSection",
    "ColourRoles",
    "CuttingSection",
    "DrawingsSection",
    "JobSection",
    "LayerRoles",
    "MarkingSection",
    "Millimetres",
    "NestingSection",
    "ProcessChoice",
    "Quantity",
    "StockSection",
    "TakenFromText",
    "TextMeaning",
    "Thickness",
]

ProcessChoice = Literal["plasma", "oxyfuel", "auto"]
LayerRoles = Mapping[Literal["cut", "mark", "bend", "bevel", "ignore"], tuple[str, ...]]
ColourRoles = Mapping[Literal["cut", "mark", "bend", "bevel", "ignore"], tuple[str | int, ...]]
TextMeaning = Literal["quantity", "thickness", "grade", "name"]
TakenFromText = Literal["quantity", "thickness", "grade", "name", "bevel"]
# Beyond these a figure is a slip of the unit or of the column, and is refused before memory is spent.
LARGEST_MM = 50_000.0  # no mill delivers longer plate
THICKEST_MM = 500.0  # beyond what ISO 9013 knows: 300 mm
MOST_COPIES = 100_000
MOST_GAP = 1_000.0  # mm
Millimetres = Annotated[float, Field(gt=0, le=LARGEST_MM)]
Thickness = Annotated[float, Field(gt=0, le=THICKEST_MM)]
Quantity = Annotated[int, Field(ge=1, le=MOST_COPIES)]


class JobSection(FileModel):
    """Name and seed.

    Attributes
    ----------
    name : str
        Name of the batch, on every sheet, label and program.
    seed : int
        Of the searches; the same seed gives the same plan.
    warnings_are_errors : bool
        Exit with 1 when there is any warning.
    """

    name: Name
    seed: int = Field(0, ge=0)
    warnings_are_errors: bool = False


class CuttingSection(FileModel):
    """How the plates are cut.

    Attributes
    ----------
    process : {"plasma", "oxyfuel", "auto"}
        "auto" goes by thickness and material, as far as the machine has both.
    current_a : float or None
        Ask for one arc current instead of the one the data would choose.
    setting : str or None
        Ask for one torch or tip setting by name.
    quality : int or None
        Perpendicularity range of ISO 9013 that must be reached, 1 the finest.
    under_water : bool
        The plate lies under water: the data's feed for that is taken.
    tolerance_mm : float
        The proof fails above this bite or left metal.
    small_holes : {"cut", "mark", "refuse"}
        What becomes of round holes under the process's smallest: marked at their centre for the
        drill, cut nonetheless, or refused.  Slots, and all of them where the machine has no marker,
        are cut with a warning instead of marked.
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
    under_water: bool = False
    tolerance_mm: float = Field(0.05, gt=0)
    small_holes: Literal["cut", "mark", "refuse"] = "mark"
    corners: Literal["round", "loop", "plain"] = "round"
    data: tuple[str, ...] = ()
    postprocessors: tuple[str, ...] = ()


class BevelsSection(FileModel):
    """What becomes of edges that are to be prepared for welding.

    Attributes
    ----------
    elsewhere : bool
        They are cut square here and bevelled off the table: each is told and listed.  Without
        it, a bevel that this machine cannot cut is refused.
    square : {"auto", "first", "last"}
        Whether the square cut comes before the upper slopes, or behind all bevels; "auto" goes
        by the process: first with oxy-fuel, which does not burn on across a kerf, last with plasma.
    """

    elsewhere: bool = False
    square: Literal["auto", "first", "last"] = "auto"


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
        Role ("cut", "mark", "bend", "bevel" or "ignore") to layer names, with ``*`` and ``?``.
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
    choose: tuple[Choice, ...] = ()
    leave_out: tuple[Choice, ...] = ()
    texts: Mapping[TextMeaning, tuple[str, ...]] | None = None
    limits: Limits = Limits()

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
            choose=self.choose,
            leave_out=self.leave_out,
            texts=_plain_roles(self.texts),
            limits=self.limits,
        )


def _plain_roles(roles: Mapping[Any, Any] | None) -> dict[str, Any] | None:
    return {str(role): patterns for role, patterns in roles.items()} if roles else None


class NestingSection(FileModel):
    """How parts are laid out; gaps left out come from the process.

    Attributes
    ----------
    gap : float or None
        Between parts, mm, where it is to be wider than the process needs.
    edge : float or None
        To the edge of the plate, mm, where it is to be wider than the process needs.
    seconds : float or None
        Time for the search; left out, it ends by work done, and the same job gives the same plan.
    """

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
        Length of a tick.
    names : bool
        Each part's name, where it has room, off edges and bends.
    letters_mm : float
        Height of the letters at most.
    trace : bool
        Part, heat number and plate on each part, so that its metal can be traced (EN 1090-2).
    """

    bends: Literal["ticks", "full", "none"] = "ticks"
    tick_mm: float = Field(15.0, gt=0)
    names: bool = False
    letters_mm: float = Field(12.0, ge=4)
    trace: bool = False


class StockSection(FileModel):
    """Whether plates come from the inventory too: the usual one, or a file beside the job.

    Attributes
    ----------
    inventory : bool or str
        True takes the usual inventory, a path one beside the job; False takes none.
    reopen : bool
        Plan only what the job still owes by that inventory: what is cut or planned elsewhere is
        left out, what was spoilt is taken along.
    """

    inventory: bool | str = False
    reopen: bool = False

    @model_validator(mode="after")
    def _reopens_with_an_inventory(self) -> StockSection:
        if self.reopen and self.inventory is False:
            raise ValueError("reopen needs an inventory, which knows what was cut; add inventory = true")
        return self
