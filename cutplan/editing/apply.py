"""Carries out edits one by one: each gives a new state, or is refused with the reason."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

from cutplan.base.errors import EditError
from cutplan.editing.laying import (
    keep_off,
    laid_out,
    mirrored,
    moved,
    quantity_set,
    swapped,
    taken_off,
    turned,
)
from cutplan.editing.model import (
    Before,
    Contour,
    Edit,
    KeepOff,
    Layout,
    Mirror,
    Move,
    NoTab,
    OrderOf,
    Pin,
    Quantity,
    StartAt,
    Swap,
    TabAt,
    TakeOff,
    Turn,
    UseData,
)
from cutplan.editing.state import State, called

__all__ = ["applied", "edit_words", "replayed"]


def replayed(state: State, edits: Sequence[Edit]) -> State:
    """Return a state after edits.

    Parameters
    ----------
    state : State
    edits : sequence of Edit

    Returns
    -------
    State

    Raises
    ------
    EditError
        If one cannot be made; the message says which and why.
    """
    for number, edit in enumerate(edits, start=1):
        try:
            state = applied(state, edit)
        except EditError as problem:
            raise EditError(
                problem.message, where=f"edit {number}, {edit_words(edit)}", place=problem.place,
                remedy=problem.remedy,
            ) from None  # fmt: skip
    return state


def applied(state: State, edit: Edit) -> State:
    """Return a state after one edit.

    Parameters
    ----------
    state : State
    edit : Edit

    Returns
    -------
    State

    Raises
    ------
    EditError
        If it cannot be made: what is in the way, with the nearest part.
    """
    after = _CARRIED_OUT[type(edit)](state, edit)
    if not after.sheets:
        raise EditError("nothing would be left to cut", remedy="leave one part on a sheet")
    return after


def edit_words(edit: Edit) -> str:
    """Return what an edit does, in a few words.

    Parameters
    ----------
    edit : Edit

    Returns
    -------
    str
    """
    if isinstance(edit, OrderOf | KeepOff):
        return f"{edit.do} of {edit.sheet}" if isinstance(edit, OrderOf) else f"{edit.do} on {edit.sheet}"
    if isinstance(edit, Before):
        return f"{_cut_words(edit.first)} before {_cut_words(edit.then)}"
    if isinstance(edit, Quantity):
        return f"{edit.quantity} of {edit.part!r}"
    if isinstance(edit, UseData):
        return f"{edit.setting!r} for {edit.thickness_mm:g} mm {edit.grade}"
    if isinstance(edit, Layout):
        return f"layout of {', '.join(sheet.name for sheet in edit.sheets)}"
    do = "let go" if isinstance(edit, Pin) and not edit.pinned else edit.do
    return f"{do} {called(edit.part, edit.copy_)}"


def _cut_words(cut: Contour) -> str:
    return f"{cut.contour} of {called(cut.part, cut.copy_)}"


def _pinned(state: State, edit: Pin) -> State:
    state.lying(edit.part, edit.copy_)
    copy = (edit.part, edit.copy_)
    return replace(state, pinned=state.pinned | {copy} if edit.pinned else state.pinned - {copy})


def _known_contour(state: State, of: Contour) -> str:
    """Return the name of the sheet that a contour's copy lies on."""
    sheet, _, placement = state.lying(of.part, of.copy_)
    what, _, number = of.contour.rpartition(" ")
    holes = len(placement.part.holes)
    if what and int(number) > holes:
        raise EditError(f"{of.part!r} has no {of.contour}: it has {holes} holes")
    return sheet.name


def _touched(state: State, names: Iterable[str]) -> State:
    return replace(state, touched=state.touched | set(names))


def _started(state: State, edit: StartAt) -> State:
    name = _known_contour(state, edit)
    if "mark" in edit.contour:
        raise EditError("a mark has no start to choose")
    starts = {**state.starts, (edit.part, edit.copy_, edit.contour): edit.at}
    return _touched(replace(state, starts=starts), [name])


def _put_before(state: State, edit: Before) -> State:
    one, other = _known_contour(state, edit.first), _known_contour(state, edit.then)
    if one != other:
        raise EditError(
            f"the {_cut_words(edit.first)} is cut from {one}, the {_cut_words(edit.then)} from {other}",
            remedy="name two cuts of one sheet",
        )
    if edit.first == edit.then:
        raise EditError("a cut cannot come before itself")
    return _touched(replace(state, before=(*state.before, edit)), [one])


def _ordered(state: State, edit: OrderOf) -> State:
    state.sheet(edit.sheet)
    if len(set(edit.cuts)) != len(edit.cuts):
        raise EditError("the order names a cut twice")
    return _touched(replace(state, orders={**state.orders, edit.sheet: edit}), [edit.sheet])


def _tabbed(state: State, edit: TabAt | NoTab) -> State:
    sheet, _, _ = state.lying(edit.part, edit.copy_)
    copy = (edit.part, edit.copy_)
    if isinstance(edit, TabAt):
        return _touched(replace(state, tabs=(*state.tabs, (copy, edit.at))), [sheet.name])
    tabs = state.tabs if edit.at is not None else tuple(tab for tab in state.tabs if tab[0] != copy)
    return _touched(replace(state, tabs=tabs, no_tabs=(*state.no_tabs, (copy, edit.at))), [sheet.name])


def _with_data(state: State, edit: UseData) -> State:
    """The data themselves are the job's: here it is only said which sheets they change."""
    meant = [
        n
        for n, bench in enumerate(state.benches)
        if any((d.thickness, d.grade) == (edit.thickness_mm, edit.grade) for d in bench.demands)
    ]
    if not meant:
        raise EditError(f"the job has no parts of {edit.thickness_mm:g} mm {edit.grade}")
    return _touched(state, [sheet.name for sheet in state.sheets if sheet.bench in meant])


_CARRIED_OUT: dict[type, Callable[[State, Any], State]] = {
    Move: moved,
    Turn: turned,
    Mirror: mirrored,
    Swap: swapped,
    TakeOff: taken_off,
    KeepOff: keep_off,
    Quantity: quantity_set,
    Layout: laid_out,
    Pin: _pinned,
    StartAt: _started,
    Before: _put_before,
    OrderOf: _ordered,
    TabAt: _tabbed,
    NoTab: _tabbed,
    UseData: _with_data,
}
