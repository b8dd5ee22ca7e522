"""How a job's parts lie and are cut once edits are made: what each edit is applied to.

Terminology
-----------
bench : the parts and plates that share thickness, grade and cutting data.
off : a copy that is wanted and lies on no sheet.
touched : a sheet that an edit changed; its order stays as it was as far as it can.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

from cutplan.base.errors import EditError
from cutplan.drawing import Part
from cutplan.editing.model import Before, CutRow, OrderOf, Spot
from cutplan.nesting import Demand, NestGaps
from cutplan.stock import NestedPlate, Placement, Plate

__all__ = ["Bench", "CopyId", "LaidSheet", "State", "called"]

CopyId = tuple[str, int]
"""Part and number of the copy."""


@dataclass(frozen=True)
class Bench:
    """Parts and plates that share thickness, grade and cutting data.

    Attributes
    ----------
    demands : tuple of Demand
    plates : tuple of Plate
        On offer.
    gaps : NestGaps
    words : str
        What they are: "10 mm S355".
    """

    demands: tuple[Demand, ...]
    plates: tuple[Plate, ...]
    gaps: NestGaps
    words: str

    def demand(self, part: str) -> Demand | None:
        """Return what is wanted of a part; None where it is none of these."""
        return next((demand for demand in self.demands if demand.part.name == part), None)


@dataclass(frozen=True)
class LaidSheet:
    """A sheet as it lies.

    Attributes
    ----------
    nested : NestedPlate
    bench : int
        Index of the bench that its parts are of.
    torches : int
        That cut it side by side.
    order : tuple of CutRow
        The order that its cuts had at the start; empty where it is not known.
    """

    nested: NestedPlate
    bench: int
    torches: int = 1
    order: tuple[CutRow, ...] = ()

    @property
    def name(self) -> str:
        """Plate id and sheet number."""
        return self.nested.name


@dataclass(frozen=True)
class State:
    """A plan's sheets and what is asked of them by hand.

    Attributes
    ----------
    sheets : tuple of LaidSheet
    benches : tuple of Bench
    wanted : mapping of str to int
        How many of each part.
    pinned : frozenset of CopyId
    starts : mapping
        By part, copy and contour the place at which to begin, drawing coordinates.
    tabs, no_tabs : tuple of (CopyId, place)
        Places of tabs, and where there are to be none; None for nowhere on the part.
    before : tuple of Before
    orders : mapping of str to OrderOf
        Orders held by hand, by the sheet's name.
    touched : frozenset of str
        Names of the sheets that an edit changed.
    """

    sheets: tuple[LaidSheet, ...]
    benches: tuple[Bench, ...]
    wanted: Mapping[str, int]
    pinned: frozenset[CopyId] = frozenset()
    starts: Mapping[tuple[str, int, str], Spot] = field(default_factory=dict)
    tabs: tuple[tuple[CopyId, Spot], ...] = ()
    no_tabs: tuple[tuple[CopyId, Spot | None], ...] = ()
    before: tuple[Before, ...] = ()
    orders: Mapping[str, OrderOf] = field(default_factory=dict)
    touched: frozenset[str] = frozenset()

    def placed(self) -> Iterator[tuple[LaidSheet, int, Placement]]:
        """Yield every copy that has a place, with its sheet and its row there."""
        for sheet in self.sheets:
            for row, placement in enumerate(sheet.nested.placements):
                yield sheet, row, placement

    def find(self, part: str, copy: int) -> tuple[LaidSheet, int, Placement] | None:
        """Return where a copy lies; None where it is off."""
        for sheet, row, placement in self.placed():
            if placement.part.name == part and placement.copy == copy:
                return sheet, row, placement
        return None

    def lying(self, part: str, copy: int) -> tuple[LaidSheet, int, Placement]:
        """Return where a copy lies.

        Raises
        ------
        EditError
            If it has no place, or there is none.
        """
        found = self.find(part, copy)
        if found is None:
            self.copy_wanted(part, copy)
            raise EditError(f"{called(part, copy)} lies on no sheet", remedy="lay it first")
        return found

    def copy_wanted(self, part: str, copy: int) -> None:
        """Refuse a copy that is not wanted.

        Raises
        ------
        EditError
            If there is no such part, or it is wanted fewer times.
        """
        if part not in self.wanted:
            raise EditError(f"the job has no part {part!r}", remedy=f"it has {', '.join(self.wanted)}")
        if copy > self.wanted[part] and self.find(part, copy) is None:
            raise EditError(f"there is no copy {copy} of {part!r}: {self.wanted[part]} are wanted")

    def sheet(self, name: str) -> LaidSheet:
        """Return a sheet by its name.

        Raises
        ------
        EditError
            If there is none.
        """
        found = next((sheet for sheet in self.sheets if sheet.name == name), None)
        if found is None:
            names = ", ".join(sheet.name for sheet in self.sheets)
            raise EditError(f"there is no sheet {name!r}", remedy=f"the plan has {names}")
        return found

    def bench_of(self, part: str) -> int:
        """Return the index of a part's bench."""
        return next(n for n, bench in enumerate(self.benches) if bench.demand(part) is not None)

    def part(self, name: str) -> Part:
        """Return a part by its name."""
        demand = self.benches[self.bench_of(name)].demand(name)
        assert demand is not None
        return demand.part

    def off(self) -> dict[str, list[int]]:
        """Return the copies that are wanted and have no place, by part."""
        there: dict[str, set[int]] = {}
        for _, _, placement in self.placed():
            there.setdefault(placement.part.name, set()).add(placement.copy)
        missing = {
            part: [copy for copy in range(1, count + 1) if copy not in there.get(part, ())]
            for part, count in self.wanted.items()
        }
        return {part: copies for part, copies in missing.items() if copies}

    def with_sheet(self, changed: LaidSheet, *, touched: bool = True) -> State:
        """Return the state with a sheet in place of that of its name, a new one last, an empty one gone."""
        sheets = [changed if sheet.name == changed.name else sheet for sheet in self.sheets]
        if all(sheet is not changed for sheet in sheets):
            sheets.append(changed)
        kept = tuple(sheet for sheet in sheets if sheet.nested.placements)
        names = self.touched | {changed.name} if touched else self.touched
        return replace(self, sheets=kept, touched=names)


def called(part: str, copy: int) -> str:
    """Return what people call a copy."""
    return f"{part!r} copy {copy}"
