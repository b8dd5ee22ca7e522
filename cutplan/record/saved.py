"""A plan read back: what each sheet's program is proved against."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cutplan.base.errors import InputError
from cutplan.base.machine import Machine
from cutplan.control import Dialect, overall_digest
from cutplan.process import CutData
from cutplan.stock import ONE_TORCH, Lanes, NestedPlate, first_lane
from cutplan.verification import TOLERANCE_MM, Before, Planned, PlannedBevels, PlannedCut, PlannedTab

__all__ = ["Ran", "SavedBevels", "SavedPlan", "SavedSheet"]


@dataclass(frozen=True)
class Ran:
    """A program that ran on a plate before, by its files; its texts are read beside the plan.

    Attributes
    ----------
    programs : tuple of (str, str)
        Its files, each with the digest of its text.
    before : Before
        The cuts that it made, without the texts.
    """

    programs: tuple[tuple[str, str], ...]
    before: Before


@dataclass(frozen=True)
class SavedBevels:
    """A program that bevels, of a plan read back.

    Attributes
    ----------
    program : str
        Its file.
    digest : str
        Of its text.
    dialect : Dialect
    data : CutData
        For the plate's thickness along the jet.
    asked : PlannedBevels
    bound : dict of str to str
        Digests of what it was bound to when it was made, by name.
    """

    program: str
    digest: str
    dialect: Dialect
    data: CutData
    asked: PlannedBevels
    bound: dict[str, str]


@dataclass(frozen=True)
class SavedSheet:
    """One sheet of a plan read back.

    Attributes
    ----------
    name : str
        Plate id and sheet number.
    programs : tuple of (str, str)
        Its files, each with the digest of its text.
    postprocessor : str
    dialect : Dialect
        How the programs are to be read.
    nested : NestedPlate
    data : CutData
    cuts : tuple of PlannedCut
        Of one torch, as the next, in their order.
    bound : dict of str to str
        Digests of what the plan was bound to when it was made, by name.
    marks : tuple of str
        Of its placements; empty in a plan written before parts were marked.
    lanes : Lanes
        How torches side by side share the sheet.
    time_s : mapping of str to float
        Estimated seconds by activity, with their total; empty in a plan written before them.
    calibrated : bool
        Whether factors of the shop's own are in them.
    tabs : tuple of PlannedTab
        Of one torch.
    before : tuple of Ran
        Programs that ran on the plate before, where this one takes up where they stopped.
    bevels : tuple of SavedBevels
        Programs that bevel its edges, in the order they run.
    """

    name: str
    programs: tuple[tuple[str, str], ...]
    postprocessor: str
    dialect: Dialect
    nested: NestedPlate
    data: CutData
    cuts: tuple[PlannedCut, ...]
    bound: dict[str, str] = field(default_factory=dict)
    marks: tuple[str, ...] = ()
    lanes: Lanes = ONE_TORCH
    time_s: Mapping[str, float] = field(default_factory=dict)
    calibrated: bool = False
    tabs: tuple[PlannedTab, ...] = ()
    before: tuple[Ran, ...] = ()
    bevels: tuple[SavedBevels, ...] = ()

    @property
    def plan_digest(self) -> str:
        """One digest of all that the plan is bound to, as its programs carry it."""
        return overall_digest(self.bound)

    @property
    def planned(self) -> Planned:
        """The cuts and torches that the program is held against."""
        return Planned(self.cuts, self.lanes.torches, self.lanes.spacing or None, self.tabs)

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
    """A plan read back from plan.json.

    Attributes
    ----------
    job : str
    machine : Machine
    sheets : tuple of SavedSheet
    name : str
        What the inventory knows the plan by.
    tolerance_mm : float
        Bites and metal left up to this were allowed.
    untouched : bool
        The file is as it was written, its layout aside; one without a digest of itself is not
        known to be.
    digest : str
        Its digest of itself; empty where it carries none.
    from_rack : tuple of str
        Labels of the pieces that it reserved.
    kits, due : mapping of str to str
        The kit that a part belongs to, and the day it is due (ISO 8601), by the part's name.
    """

    job: str
    machine: Machine
    sheets: tuple[SavedSheet, ...]
    name: str = ""
    tolerance_mm: float = TOLERANCE_MM
    untouched: bool = True
    digest: str = ""
    from_rack: tuple[str, ...] = ()
    kits: Mapping[str, str] = field(default_factory=dict)
    due: Mapping[str, str] = field(default_factory=dict)

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
