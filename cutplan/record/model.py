"""The finished plan, as reports read it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from cutplan.base.findings import Finding
from cutplan.base.lifting import Lifting
from cutplan.base.machine import Machine
from cutplan.base.pictures import Pictured
from cutplan.base.words import duration
from cutplan.cutting import Tab
from cutplan.estimating import Estimate
from cutplan.forming import BendTable
from cutplan.nesting import Unplaced
from cutplan.process import CutData
from cutplan.program import Program
from cutplan.sequencing import Order, Step
from cutplan.stock import ONE_TORCH, Lanes, NestedPlate
from cutplan.verification import TOLERANCE_MM, PlannedBevels, Verdict

__all__ = ["BevelProgram", "Plan", "PlannedSheet"]


@dataclass(frozen=True)
class BevelProgram:
    """A program that bevels edges of a sheet's parts, proved.

    Attributes
    ----------
    asked : PlannedBevels
        Its setting, whether it runs before or after the square cut, and its runs.
    data : CutData
        For the plate's thickness along the jet.
    order : Order
    program : Program
    verdict : Verdict
    estimate : Estimate
    bound : mapping of str to str
        Digests of what the program is bound to, by name.
    """

    asked: PlannedBevels
    data: CutData
    order: Order
    program: Program
    verdict: Verdict
    estimate: Estimate
    bound: Mapping[str, str]


@dataclass(frozen=True, repr=False)
class PlannedSheet(Pictured):
    """One sheet, from nest to proved program.

    Attributes
    ----------
    nested : NestedPlate
    data : CutData
    order : Order
    program : Program
    verdict : Verdict
    estimate : Estimate
    bound : mapping of str to str
        Digests of what the program is bound to, by name.
    findings : tuple of Finding
        Warnings of the cutting of this sheet.
    lanes : Lanes
        How torches side by side share the sheet; order, program and verdict are those of the
        first lane, which comes first in `nested`.
    tabs : tuple of Tab
        Stretches left uncut, of the first lane.
    bevels : tuple of BevelProgram
        In the order they run; the sheet's estimate holds them.
    """

    nested: NestedPlate
    data: CutData
    order: Order
    program: Program
    verdict: Verdict
    estimate: Estimate
    bound: Mapping[str, str]
    findings: tuple[Finding, ...] = ()
    lanes: Lanes = ONE_TORCH
    tabs: tuple[Tab, ...] = ()
    bevels: tuple[BevelProgram, ...] = ()

    @property
    def programs(self) -> tuple[Program, ...]:
        """All programs of the sheet in the order they run, each with the files that follow it."""
        before, after = (
            [each.program for each in self.bevels if each.asked.when == when] for when in ("before", "after")
        )
        return (*before, self.program, *after)

    @property
    def torches(self) -> int:
        """How many torches burn together."""
        return self.lanes.torches

    @property
    def name(self) -> str:
        """Plate id and sheet number, the stem of the sheet's files."""
        return self.nested.name

    @property
    def part_area(self) -> float:
        """True area of the parts, holes taken out, mm²."""
        return self.nested.part_area

    @property
    def utilisation(self) -> float:
        """True part area over plate area."""
        return self.nested.utilisation

    @property
    def cuts(self) -> tuple[Step, ...]:
        """The cuts in the order the torch makes them."""
        return self.order.steps

    def __repr__(self) -> str:
        return (
            f"<PlannedSheet {self.name}: {len(self.nested.placements)} parts, {100 * self.utilisation:.1f} % used, "
            f"{len(self.cuts)} cuts by {self.data.title}, {duration(self.estimate.time_s['total'])}>"
        )


@dataclass(frozen=True, repr=False)
class Plan(Pictured):
    """A batch planned and proved.

    Attributes
    ----------
    job : str
        Name of the job.
    seed : int
    version : str
        Version of the package that planned it.
    machine : Machine
    sheets : tuple of PlannedSheet
    unplaced : tuple of Unplaced
    total : Estimate
    findings : tuple of (str, Finding)
        What was mended or warned of, each with the file or part it is about.
    tolerance_mm : float
        Bites and metal left up to this were allowed.
    from_rack : tuple of str
        Pieces of the inventory that it uses.
    bending : tuple of BendTable
        How the bent parts are bent, where the job has a press.
    kits, due : mapping of str to str
        The kit that a part belongs to, and the day it is due (ISO 8601), by the part's name.
    wanted : mapping of str to int
        How many of each part the job wants in all, those cut before among them.
    classes : mapping of str to int
        The tolerance class of ISO 9013 that the job asks of a part, by the part's name.
    lifting : Lifting
        What one person, two and the crane may lift.
    only_owed : bool
        It was planned for what the job still owed.
    """

    job: str
    seed: int
    version: str
    machine: Machine
    sheets: tuple[PlannedSheet, ...]
    unplaced: tuple[Unplaced, ...]
    total: Estimate
    findings: tuple[tuple[str, Finding], ...] = field(default=())
    tolerance_mm: float = TOLERANCE_MM
    from_rack: tuple[str, ...] = ()
    bending: tuple[BendTable, ...] = ()
    kits: Mapping[str, str] = field(default_factory=dict)
    due: Mapping[str, str] = field(default_factory=dict)
    wanted: Mapping[str, int] = field(default_factory=dict)
    classes: Mapping[str, int] = field(default_factory=dict)
    lifting: Lifting = field(default=Lifting())
    only_owed: bool = False

    def __repr__(self) -> str:
        missing = sum(item.quantity for item in self.unplaced)
        rest = f", {missing} parts not placed" if missing else ""
        return (
            f"<Plan {self.job!r}: {list(self.sheets)}, {duration(self.total.time_s['total'])} in all{rest}>"
        )
