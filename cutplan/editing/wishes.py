"""What is asked by hand of one sheet's cuts, in the words of the rooms that make and order them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from cutplan.cutting import ByHand
from cutplan.editing.model import Contour
from cutplan.editing.state import LaidSheet, State
from cutplan.geometry import Pose, place_points
from cutplan.sequencing import Kept, Which
from cutplan.sequencing import Pin as OrderPin
from cutplan.stock import NestedPlate

__all__ = ["SheetWishes", "wishes_of"]


@dataclass(frozen=True)
class SheetWishes:
    """What is asked by hand of a sheet's cuts.

    Attributes
    ----------
    starts : mapping
        By part, copy and contour the place at which to begin, drawing coordinates.
    tabs, no_tabs : tuple
        By copy, places in drawing coordinates.
    before : tuple of sequencing.Pin
    kept : Kept or None
        The order to keep; None where it is searched.
    """

    starts: Mapping[tuple[str, int, str], tuple[float, float]] = field(default_factory=dict)
    tabs: tuple[tuple[tuple[str, int], tuple[float, float]], ...] = ()
    no_tabs: tuple[tuple[tuple[str, int], tuple[float, float] | None], ...] = ()
    before: tuple[OrderPin, ...] = ()
    kept: Kept | None = None

    def on(self, run: NestedPlate) -> ByHand:
        """Return what is asked of the torch paths, by the rows of a sheet or of its first lane."""
        rows = {(p.part.name, p.copy): row for row, p in enumerate(run.placements)}
        poses = [p.pose for p in run.placements]
        starts = {
            (rows[part, copy], _hole(contour)): _on_plate(at, poses[rows[part, copy]])
            for (part, copy, contour), at in self.starts.items()
            if (part, copy) in rows
        }
        tabs: dict[int, tuple[tuple[float, float], ...]] = {}
        for who, at in self.tabs:
            if who in rows:
                tabs[rows[who]] = (*tabs.get(rows[who], ()), _on_plate(at, poses[rows[who]]))
        off: dict[int, tuple[tuple[float, float], ...]] = {}
        untabbed = set()
        for who, where in self.no_tabs:
            if who not in rows:
                continue
            if where is None:
                untabbed.add(rows[who])
            else:
                off[rows[who]] = (*off.get(rows[who], ()), _on_plate(where, poses[rows[who]]))
        return ByHand(starts, tabs, off, frozenset(untabbed))


def wishes_of(state: State, sheet: LaidSheet) -> SheetWishes:
    """Return what is asked by hand of a sheet's cuts.

    Parameters
    ----------
    state : State
    sheet : LaidSheet

    Returns
    -------
    SheetWishes
    """
    there = {(p.part.name, p.copy) for p in sheet.nested.placements}
    pins = tuple(
        OrderPin(_which(each.first), _which(each.then))
        for each in state.before
        if (each.first.part, each.first.copy_) in there and (each.then.part, each.then.copy_) in there
    )
    return SheetWishes(
        starts={key: at for key, at in state.starts.items() if key[:2] in there},
        tabs=tuple(each for each in state.tabs if each[0] in there),
        no_tabs=tuple(each for each in state.no_tabs if each[0] in there),
        before=pins,
        kept=_kept(state, sheet),
    )


def _kept(state: State, sheet: LaidSheet) -> Kept | None:
    by_hand = state.orders.get(sheet.name)
    if by_hand is not None:
        return Kept(by_hand.cuts, exactly=by_hand.pinned) if by_hand.cuts else None
    if sheet.name in state.touched and sheet.order:
        return Kept(sheet.order)
    return None


def _which(contour: Contour) -> Which:
    kind, _, number = contour.contour.rpartition(" ")
    if not kind:
        return Which(contour.part, contour.copy_, contour.contour)  # type: ignore[arg-type]
    return Which(contour.part, contour.copy_, "hole" if kind == "hole" else "mark", int(number))


def _hole(contour: str) -> int | None:
    return int(contour.removeprefix("hole ")) - 1 if contour.startswith("hole ") else None


def _on_plate(at: Sequence[float], pose: Pose) -> tuple[float, float]:
    x, y = place_points([at], pose)[0].tolist()
    return (x, y)
