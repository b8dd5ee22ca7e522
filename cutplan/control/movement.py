"""Moves of a block: targets in every distance mode, lines, arcs, homing and offsets.

After NISTIR 6556, sections 3.5.1 to 3.5.3 (G0 to G3), 3.5.5 (G10), 3.5.8 (G28, G30), 3.5.16
(G53) and 3.5.18 (G92).
"""

from __future__ import annotations

import math

from cutplan.control.arcs import arc_by_radius, arc_turn, check_radii, chord_steps, radius_tolerance_mm
from cutplan.control.compensation import Segment
from cutplan.control.modes import Command
from cutplan.control.motions import ARC_CCW, ARC_CW, LINE, RAPID
from cutplan.control.rows import Place
from cutplan.control.state import XY_PLANE, State
from cutplan.control.words import BlockError, as_integer

__all__ = ["SHORTEST_CHORD", "act_apart", "move", "select_system"]

_RAPID, _CW, _CCW = 0, 20, 30
# Chords shorter than so many steps of the control's grid are none; sums of steps are rounded.
SHORTEST_CHORD = 0.999
# By its radius an arc turns as its rounded chord does.
SHORTEST_BY_RADIUS = 2.5
# NISTIR 6556, 3.5.3.1, warns of arcs by their radius that are nearly half or whole circles.
WIDEST_BY_RADIUS = math.radians(150.0)
# Plane -> its first, second and upright axis (NISTIR 6556, 3.5.3).
_PLANES = {XY_PLANE: (0, 1, 2), 180: (2, 0, 1), 190: (1, 2, 0)}
# First parameter of each set of axis values (NISTIR 6556, table 2).
_HOMES = {280: 5161, 300: 5181}
_AXIS_OFFSETS, _SYSTEM_NUMBER, _FIRST_SYSTEM, _SYSTEM_STEP, _SYSTEMS = 5211, 5220, 5221, 20, 9


def move(state: State, command: Command, motion: int) -> None:
    """Carry out G0, G1, G2 or G3.

    Raises
    ------
    BlockError
        If axis words are missing, the feed is not set, or an arc is none.
    """
    _check_modes(state, command, motion != _RAPID)
    _turn_head(state, command)
    if motion in (_CW, _CCW):
        _move_on_arc(state, command, motion == _CW)
        return
    if not command.has_axes:
        raise BlockError(
            f"G{motion / 10:g} without X, Y or Z", command.g_column(1), "state where to, or remove it"
        )
    end = _target(state, command)
    column = command.column(*"XYZ")
    if motion == _RAPID:
        state.travel(Segment(RAPID, state.position, end, math.nan, state.line, column))
    else:
        feed = _feed(state, command, math.dist(state.position, end))
        state.travel(Segment(LINE, state.position, end, feed, state.line, column))


def _turn_head(state: State, command: Command) -> None:
    """Turn the head to the line's rotary words, along with the move (NISTIR 6556, 2.1.2.5)."""
    letters = state.words.rotary
    if not letters or command.words.keys().isdisjoint(letters):
        return
    if not state.absolute:
        raise BlockError(
            "the head turns in steps", command.column(*letters), "state G90: a step's start may be unknown"
        )
    state.known.update(letter for letter in letters if letter in command.words)
    a, b, c = (command.value(letter, here) for letter, here in zip("ABC", state.head, strict=True))
    state.turn_head((a, b, c))


def _target(state: State, command: Command) -> Place:
    x, y, z = state.position
    return (_axis(state, command, 0, x), _axis(state, command, 1, y), _axis(state, command, 2, z))


def _axis(state: State, command: Command, axis: int, here: float) -> float:
    name = "XYZ"[axis]
    word = command.words.get(name)
    if word is None:
        return here
    state.need("units", "tool length" if name == "Z" else "compensation")
    if command.g.get(0) == 530:
        state.known.add(name)
        return word.value * state.unit
    state.need("distance", "work offset", "rotation")
    if state.absolute:
        state.known.add(name)
        return _absolute(state, axis, word.value)
    state.need_place(name, "a step begins")
    return here + word.value * state.unit


def _check_modes(state: State, command: Command, feeding: bool) -> None:
    """Note what a move depends on beyond its words: where it begins, and how it is run."""
    sideways = "X" in command.words or "Y" in command.words or not command.has_axes
    if feeding:
        state.need("feed mode", "path mode")
        state.need_place("XY" if sideways else "Z", "a feed move begins")
    if sideways:
        state.need("torch", "marker", "flame", "height")
        if state.dialect.heights == "program":
            state.need_place("Z", "a move over the plate begins")


def _absolute(state: State, axis: int, value: float) -> float:
    return value * state.unit + state.origin[axis] + state.axis_offset[axis]


def _feed(state: State, command: Command, length: float) -> float:
    """Return the feed of a move in mm/min (sections 3.5.19 and 3.7.1)."""
    if not state.per_minute:
        if "F" not in command.words:
            raise BlockError(
                "inverse-time feed wants F on every line that moves", command.column(*"XYZ"), "add F"
            )
        return length * state.feed or math.nan
    if state.feed > 0.0:
        return state.feed
    if state.dialect.feed_by_control:
        return math.nan
    raise BlockError("a feed move before any feed is set", command.column(*"XYZ"), "state F before it")


def _move_on_arc(state: State, command: Command, clockwise: bool) -> None:
    state.need("plane")
    first, second, upright = _PLANES[state.plane]
    column = command.column("XYZ"[first], "XYZ"[second], "IJK"[first], "IJK"[second], "R")
    end = _target(state, command)
    here = (state.position[first], state.position[second])
    there = (end[first], end[second])
    centre = _centre(state, command, (first, second, upright), here, there, clockwise)
    turn = arc_turn(here, there, centre, clockwise)
    if "R" in command.words and abs(turn) > WIDEST_BY_RADIUS:
        told = f"an arc of {math.degrees(abs(turn)):.0f} degrees by its radius; rounding moves its centre"
        state.doubt("reading", told)
    shortest = SHORTEST_BY_RADIUS if "R" in command.words else SHORTEST_CHORD
    if 0.0 < math.dist(here, there) < shortest * state.dialect.step_mm:
        told = (
            f"an arc ends {math.dist(here, there):.4f} mm from its start: the control's grid decides its way"
        )
        state.doubt("short-arc", told)
    radius = math.hypot(here[0] - centre[0], here[1] - centre[1])
    length = math.hypot(radius * turn, end[upright] - state.position[upright])
    feed = _feed(state, command, length)
    if state.plane == XY_PLANE:
        kind = ARC_CW if clockwise else ARC_CCW
        state.travel(Segment(kind, state.position, end, feed, state.line, column, centre, turn))
        return
    start = state.position
    for place in _chords(start, end, (first, second, upright), centre, turn, column):
        state.travel(Segment(LINE, state.position, place, feed, state.line, column))


def _centre(
    state: State,
    command: Command,
    axes: tuple[int, int, int],
    here: tuple[float, float],
    there: tuple[float, float],
    clockwise: bool,
) -> tuple[float, float]:
    names = ("XYZ"[axes[0]], "XYZ"[axes[1]])
    steps = ("IJK"[axes[0]], "IJK"[axes[1]])
    given = [letter for letter in steps if letter in command.words]
    column = command.column(*given, "R", *names)
    stray = "IJK"[axes[2]]
    if stray in command.words:
        raise BlockError(f"{stray} does not lie in the plane of the arc", command.column(stray))
    bare = names[0] not in command.words and names[1] not in command.words
    if bare and ("R" in command.words or not state.words.bare_circles):
        raise BlockError(
            f"an arc needs {names[0]} or {names[1]}",
            column,
            "state the end point, also where it is the start",
        )
    tolerance = radius_tolerance_mm(state.inch)
    if "R" in command.words:
        if given:
            raise BlockError("an arc has both a radius and a centre", column, "leave R, or I and J")
        state.need("units")
        radius = command.words["R"].value * state.unit
        return arc_by_radius(here, there, radius, clockwise, tolerance, column)
    if not given or (state.absolute_centres and len(given) < 2):
        raise BlockError(
            f"an arc needs {steps[0]} {'and' if state.absolute_centres else 'or'} {steps[1]}, or R", column
        )
    state.need("units", "arc centres")
    centre = _stated_centre(state, command, axes, here)
    check_radii(here, there, centre, tolerance, column)
    return centre


def _stated_centre(
    state: State, command: Command, axes: tuple[int, int, int], here: tuple[float, float]
) -> tuple[float, float]:
    values = [command.value("IJK"[axis], 0.0) for axis in axes[:2]]
    if state.absolute_centres:
        return (_absolute(state, axes[0], values[0]), _absolute(state, axes[1], values[1]))
    return (here[0] + values[0] * state.unit, here[1] + values[1] * state.unit)


def _chords(
    start: Place,
    end: Place,
    axes: tuple[int, int, int],
    centre: tuple[float, float],
    turn: float,
    column: int,
) -> list[Place]:
    """Return the ends of the chords of an arc outside the plate's plane."""
    first, second, upright = axes
    dx, dy = start[first] - centre[0], start[second] - centre[1]
    radius, spoke = math.hypot(dx, dy), math.atan2(dy, dx)
    steps = chord_steps(radius, turn, column)
    places: list[Place] = []
    for step in range(1, steps):
        share = step / steps
        place = [0.0, 0.0, 0.0]
        place[first] = centre[0] + radius * math.cos(spoke + share * turn)
        place[second] = centre[1] + radius * math.sin(spoke + share * turn)
        place[upright] = start[upright] + share * (end[upright] - start[upright])
        places.append((place[0], place[1], place[2]))
    return [*places, end]


def act_apart(state: State, command: Command) -> None:
    """Carry out the codes of group 0 that home, or set offsets.

    Raises
    ------
    BlockError
        If words are missing, or compensation is on.
    """
    code = command.g.get(0)
    if code is None or code == 40:
        return
    if state.compensator is not None:
        raise BlockError(
            f"G{code / 10:g} is an error under compensation",
            command.g_column(0),
            "end the compensation with G40 before",
        )
    if code == 100:
        _set_system(state, command)
    elif code in _HOMES:
        _go_home(state, command, _HOMES[code])
    elif code != 530:
        _set_axis_offsets(state, command, code)


def _stored(state: State, first: int) -> Place:
    x, y, z = (state.parameters.held(first + axis) * state.unit for axis in range(3))
    return (x, y, z)


def select_system(state: State, number: int) -> None:
    """Use coordinate system 1 to 9 (G54 to G59.3)."""
    state.system = number
    state.parameters[_SYSTEM_NUMBER] = float(number)
    state.origin = _stored(state, _FIRST_SYSTEM + _SYSTEM_STEP * (number - 1))


def _set_system(state: State, command: Command) -> None:
    column = command.g_column(0)
    if command.value("L", 0.0) != 2.0 or "P" not in command.words:
        raise BlockError("G10 is known as G10 L2 P… only", column, "state L2 and the coordinate system")
    number = as_integer(command.words["P"].value, command.words["P"].column, "a coordinate system")
    if not 1 <= number <= _SYSTEMS:
        raise BlockError(f"there is no coordinate system {number}", command.words["P"].column)
    first = _FIRST_SYSTEM + _SYSTEM_STEP * (number - 1)
    for axis in range(3):
        if "XYZ"[axis] in command.words:
            state.parameters[first + axis] = command.words["XYZ"[axis]].value
    if number == (state.parameters.held(_SYSTEM_NUMBER) or 1.0):
        state.origin = _stored(state, first)


def _go_home(state: State, command: Command, first: int) -> None:
    column = command.g_column(0)
    if command.has_axes:
        between = _target(state, command)
        state.travel(Segment(RAPID, state.position, between, math.nan, state.line, column))
    state.travel(Segment(RAPID, state.position, _stored(state, first), math.nan, state.line, column))


def _set_axis_offsets(state: State, command: Command, code: int) -> None:
    if code == 920:
        if not command.has_axes:
            raise BlockError("G92 without X, Y or Z", command.g_column(0), "state the place's new name")
        offset = list(state.axis_offset)
        for axis in range(3):
            word = command.words.get("XYZ"[axis])
            if word is not None:
                offset[axis] = state.position[axis] - state.origin[axis] - word.value * state.unit
        state.axis_offset = (offset[0], offset[1], offset[2])
        for axis in range(3):
            state.parameters[_AXIS_OFFSETS + axis] = offset[axis] / state.unit
    elif code == 923:
        state.axis_offset = _stored(state, _AXIS_OFFSETS)
    else:
        state.axis_offset = (0.0, 0.0, 0.0)
        if code == 921:
            for axis in range(3):
                state.parameters[_AXIS_OFFSETS + axis] = 0.0
