"""One block carried out, in the order that NISTIR 6556 gives in section 3.8.

Moves are left to `reader_moves`, programs as a whole to `reader`.
"""

from __future__ import annotations

from cutplan.control.modes import ARC_DISTANCE_GROUP, ROTATION_GROUP, Command, check_use
from cutplan.control.movement import act_apart, move, select_system
from cutplan.control.state import NO_MOTION, SYSTEMS, XY_PLANE, State
from cutplan.control.words import BlockError, as_integer

__all__ = ["execute"]

_ARCS = (20, 30)
_LINES = (0, 10)
_TABLE_GROUPS = {2: "plane", 5: "feed mode", 8: "tool length", 13: "path mode"}
_FIXED_UNDER_COMPENSATION = {2: "the plane", 6: "the units", 12: "the coordinate system"}


def execute(state: State, command: Command) -> None:
    """Carry out one block.

    Raises
    ------
    BlockError
        If the block asks for what the standard makes an error.
    """
    motion = _motion_of(state, command)
    check_use(command, motion, state.words)
    _set_feed(state, command)
    _count_torches(state, command)
    _switch(state, command)
    _dwell(state, command)
    _set_plane_and_units(state, command)
    _set_compensation(state, command)
    _set_distances(state, command)
    act_apart(state, command)
    state.motion = command.g.get(1, state.motion)
    if motion is not None:
        move(state, command, motion)
    _stop(state, command)


def _motion_of(state: State, command: Command) -> int | None:
    """Return the motion that a block carries out, if any (sections 3.4 and 3.7)."""
    stated = command.g.get(1)
    apart = command.g.get(0)
    if not state.strict and stated in (0, 10) and not command.has_axes and not command.uses_axes_apart:
        command.departures.append(f"G{stated / 10:g} stands without a place to go to")
        return None
    if command.uses_axes_apart:
        if stated not in (None, NO_MOTION):
            raise BlockError(
                f"G{stated / 10:g} and G{command.g[0] / 10:g} both use the line's axis words",
                command.g_column(1),
                "put them on two lines",
            )
        return None
    motion = state.motion if stated is None else stated
    moves = stated is not None or command.has_axes or _is_bare_arc(state, command)
    if motion == NO_MOTION or not moves:
        if command.has_axes:
            raise BlockError(
                "axis words without a motion in force", command.column(*"XYZ"), "state G0 or G1 first"
            )
        motion = NO_MOTION
    absolute = command.g.get(3, 900 if state.absolute else 910) == 900
    if apart == 530 and (motion not in _LINES or not absolute):
        raise BlockError(
            "G53 needs a G0 or G1 move in absolute distances", command.g_column(0), "state G90 and the move"
        )
    return None if motion == NO_MOTION else motion


def _is_bare_arc(state: State, command: Command) -> bool:
    bare = state.words.bare_circles and state.motion in _ARCS
    return bare and not command.words.keys().isdisjoint("IJK")


def _set_feed(state: State, command: Command) -> None:
    if 5 in command.g:
        state.per_minute = command.g[5] == 940
    for group, mode in _TABLE_GROUPS.items():
        if group in command.g:
            state.known.add(mode)
    feed = command.words.get("F")
    if feed is not None:
        if feed.value < 0.0:
            raise BlockError("the feed is negative", feed.column, "state it above zero")
        if 6 not in command.g:
            state.need("units")
        state.feed = feed.value * (state.unit if state.per_minute else 1.0)


def _count_torches(state: State, command: Command) -> None:
    word = command.words.get("T")
    if word is not None and state.dialect.torches_in_t:
        state.torches.append((state.line, as_integer(word.value, word.column, "a number of torches")))


def _switch(state: State, command: Command) -> None:
    if command.tool_change:
        state.stop()
        if state.switches.torch:
            state.switch("torch", False)  # section 3.6.3: a tool change stops the spindle
    for what in ("height", "flame", "torch", "marker"):
        for switch in command.switches:
            if switch.what == what:
                if switch.on:
                    _check_start(state, what)
                state.switch(what, switch.on)


def _check_start(state: State, what: str) -> None:
    """Note where something begins to burn or mark at a place, or with torches, that are not stated."""
    state.need_place(f"XY{state.words.rotary}", f"the {what} begins")
    if what == "torch" and state.dialect.torches_in_t and not state.torches:
        state.torches.append((state.line, 0))
        state.doubt("inherited", "the torch is lit before a T word has said how many torches burn")


def _dwell(state: State, command: Command) -> None:
    if command.g.get(0) != 40:
        return
    seconds = command.words.get("P")
    if seconds is None:
        raise BlockError("G4 without P", command.g_column(0), "state the dwell, as G4 P0.5")
    if seconds.value < 0.0:
        raise BlockError("the dwell is negative", seconds.column)
    state.dwell(seconds.value / (1000.0 if state.dialect.dwell_ms else 1.0))


def _set_plane_and_units(state: State, command: Command) -> None:
    if state.compensator is not None:
        for group, what in _FIXED_UNDER_COMPENSATION.items():
            if group in command.g:
                raise BlockError(
                    f"{what} cannot change under compensation",
                    command.g_column(group),
                    "end the compensation with G40 before",
                )
    state.plane = command.g.get(2, state.plane)
    if 6 in command.g:
        state.inch = command.g[6] == 200
        state.known.add("units")


def _set_compensation(state: State, command: Command) -> None:
    """Carry out G40, G41 or G42 (section 3.5.10 and appendix B)."""
    code = command.g.get(7)
    if code is not None:
        state.known.add("compensation")
    if code == 400:
        state.end_compensation()
    if code not in (410, 420):
        return
    column = command.g_column(7)
    if state.compensator is not None:
        raise BlockError("the compensation is on already", column, "end it with G40 before")
    state.need("plane")
    if state.plane != XY_PLANE:
        raise BlockError("compensation works in the XY plane only", column, "state G17 before")
    radius = state.dialect.compensation_radius_mm
    register = command.words.get("D")
    if register is not None:
        number = as_integer(register.value, register.column, "an offset register")
        if number < 0:
            raise BlockError("an offset register's number is negative", register.column)
        radius = radius if number else 0.0  # D0 stands for no offset
        if number and number not in state.dialect.registers:
            state.doubt("inherited", f"nothing says what the control's register D{number} holds")
    else:
        state.doubt("inherited", "no D word says which register holds the kerf's radius")
    if radius is None:
        raise BlockError(
            "the radius in the control's offset register is not known",
            column,
            "state compensation_radius_mm in the dialect",
        )
    state.begin_compensation(1 if code == 410 else -1, radius)


def _set_distances(state: State, command: Command) -> None:
    if 12 in command.g:
        select_system(state, SYSTEMS.index(command.g[12]) + 1)
        state.known.add("work offset")
    if 3 in command.g:
        state.absolute = command.g[3] == 900
        state.known.add("distance")
    if ROTATION_GROUP in command.g:
        state.known.add("rotation")
    if ARC_DISTANCE_GROUP in command.g:
        state.absolute_centres = command.g[ARC_DISTANCE_GROUP] == 901
        state.known.add("arc centres")


def _stop(state: State, command: Command) -> None:
    if command.stop in (2, 30):
        state.end()
    elif command.stop is not None:
        state.stop()
