"""Cutting techniques that a job may ask for: the [techniques] section; how they are cut is told elsewhere."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator
from pydantic.dataclasses import dataclass as checked_dataclass

from cutplan.base.files import FILE_RULES
from cutplan.process import CutData
from cutplan.stock import KEEP_MM

__all__ = ["PLAIN", "Chains", "RestCut", "SharedCuts", "Tabs", "Techniques", "tab_width"]

# Widths of tabs by thickness, mm: enough to carry a part that is lifted at one end, and thin
# enough to be broken with a hammer or cut with a hand torch (common practice, from memory).
THINNEST_TAB, TAB_PER_THICKNESS, THICKEST_TAB = 2.0, 0.3, 8.0
Millimetres = Annotated[float, Field(gt=0, le=10_000)]


@checked_dataclass(frozen=True, config=FILE_RULES)
class Tabs:
    """Stretches of an outside left uncut, which hold the part in the skeleton until they are broken.

    Attributes
    ----------
    count : int or None
        How many a part gets.
    every_mm : float or None
        Instead of a count: from one to the next it is no further than this along the outside, mm.
    width_mm : float or None
        Width of the metal left, mm; without it, 1 mm and 0.3 of the thickness, from 2 to 8 mm.
    parts : {"all", "small"}
        All parts, or only those that would tip between the slats: a small part gets one, where
        the cut stops some millimetres before it closes.
    small_mm : float
        Parts up to this, their longer side in mm, are small.
    """

    count: Annotated[int, Field(ge=1, le=100)] | None = None
    every_mm: Millimetres | None = None
    width_mm: Annotated[float, Field(ge=0.5, le=50)] | None = None
    parts: Literal["all", "small"] = "all"
    small_mm: Millimetres = 150.0

    @model_validator(mode="after")
    def _by_one_rule(self) -> Tabs:
        if self.count is not None and self.every_mm is not None:
            raise ValueError("tabs have both a count and every_mm; keep one")
        return self

    def wanted(self, outside_mm: float, longer_side_mm: float) -> int:
        """Return how many tabs a part gets: two where nothing is said.

        Parameters
        ----------
        outside_mm : float
            Length of its outside.
        longer_side_mm : float
            Of its box.
        """
        small = longer_side_mm <= self.small_mm
        if self.parts == "small":
            return 1 if small else 0
        if self.every_mm is not None:
            return max(1, -int(-outside_mm // self.every_mm))
        return 2 if self.count is None else self.count


@checked_dataclass(frozen=True, config=FILE_RULES)
class Chains:
    """Outsides of several parts cut in one run: from one to the next the torch burns on, through scrap.

    Attributes
    ----------
    by : {"best", "rows", "pairs"}
        Which parts are cut in one run: the best found, only parts that lie in one row along the
        plate's length, or never more than two.
    parts : int
        Parts in one run at the most; [order] open_parts holds besides.
    longest_mm : float or None
        Way of one run at the most, mm.
    hottest_c : float or None
        Plate temperature above which no run goes on to the next part, °C, by the heat model.
    """

    by: Literal["best", "rows", "pairs"] = "best"
    parts: Annotated[int, Field(ge=2, le=1000)] = 5
    longest_mm: Annotated[float, Field(gt=0, le=1_000_000)] | None = None
    hottest_c: Annotated[float, Field(gt=20, le=1000)] | None = None

    @property
    def most(self) -> int:
        """Parts in one run at the most."""
        return 2 if self.by == "pairs" else self.parts


@checked_dataclass(frozen=True, config=FILE_RULES)
class RestCut:
    """The last cut of a program, which parts the rest worth keeping from what was cut.

    Attributes
    ----------
    shape : {"straight", "stepped"}
        Straight from edge to edge, or with one step where that keeps a tenth more of the plate.
    keep_mm : tuple of float
        Sides of the smallest rest worth a cut, mm.
    """

    shape: Literal["straight", "stepped"] = "straight"
    keep_mm: tuple[Millimetres, Millimetres] = KEEP_MM


@checked_dataclass(frozen=True, config=FILE_RULES)
class SharedCuts:
    """Parts with straight edges laid kerf to kerf, each edge between them cut once.

    Attributes
    ----------
    by : {"best", "pairs", "rows", "grids"}
        How parts are laid together: whatever saves most cutting, two by two, in a row, or in two
        rows (rectangles only).
    parts : int
        Parts in one block at the most; all of a block are begun before the first is finished.
    """

    by: Literal["best", "pairs", "rows", "grids"] = "best"
    parts: Annotated[int, Field(ge=2, le=20)] = 4


@checked_dataclass(frozen=True, config=FILE_RULES)
class Techniques:
    """How a job's parts are held, and how they are cut together: the [techniques] section.

    Attributes
    ----------
    tabs : bool or table
        Hold parts by stretches left uncut; true takes the usual ones, a table says which.
    chains : bool or table
        Cut outsides of several parts from one pierce; true takes the best found, five parts in
        one run at the most, a table says which.
    rest_cut : bool or table
        Part the rest worth keeping from the skeleton by the program's last cut; true takes the
        usual sizes, a table says which.
    slender : {"warn", "tabs", "leave"}
        Parts from 500 mm on and eight times as long as wide bow by the heat of one long side: warn
        of it, or hold them by tabs and cut their sides in turns, a stretch here and one there, or
        leave them as they are.
    slender_every_mm : float
        How far apart those tabs are at most, mm.
    shared_cuts : bool or table
        Lay parts with straight edges kerf to kerf and cut each edge between them once; true takes
        blocks of up to four, a table says which.
    """

    tabs: bool | Tabs = False
    chains: bool | Chains = False
    rest_cut: bool | RestCut = False
    slender: Literal["warn", "tabs", "leave"] = "warn"
    slender_every_mm: Millimetres = 600.0
    shared_cuts: bool | SharedCuts = False

    @property
    def tabs_asked(self) -> Tabs | None:
        """What is asked of tabs; None where there are to be none."""
        if isinstance(self.tabs, Tabs):
            return self.tabs
        return Tabs() if self.tabs else None

    def tabs_of(self, *, slender: bool) -> Tabs | None:
        """What is asked of a part's tabs; a slender one may get them where nothing else gives it any."""
        if self.tabs_asked is None and slender and self.slender == "tabs":
            return Tabs(every_mm=self.slender_every_mm)
        return self.tabs_asked

    @property
    def chains_asked(self) -> Chains | None:
        """What is asked of chains; None where there are to be none."""
        if isinstance(self.chains, Chains):
            return self.chains
        return Chains() if self.chains else None

    @property
    def rest_asked(self) -> RestCut | None:
        """What is asked of a rest cut; None where there is to be none."""
        if isinstance(self.rest_cut, RestCut):
            return self.rest_cut
        return RestCut() if self.rest_cut else None

    @property
    def shared_asked(self) -> SharedCuts | None:
        """What is asked of shared cuts; None where there are to be none."""
        if isinstance(self.shared_cuts, SharedCuts):
            return self.shared_cuts
        return SharedCuts() if self.shared_cuts else None


PLAIN = Techniques()
"""Each contour pierced and cut by itself, and each part cut free."""


def tab_width(tabs: Tabs, data: CutData) -> float:
    """Return the width of tabs, mm, to a tenth.

    Parameters
    ----------
    tabs : Tabs
    data : CutData

    Returns
    -------
    float
    """
    if tabs.width_mm is not None:
        return tabs.width_mm
    by_thickness = 1.0 + TAB_PER_THICKNESS * data.thickness
    return round(min(max(by_thickness, THINNEST_TAB), THICKEST_TAB), 1)
