"""Rows of motion of whole stretches of plain lines, and the state of the control behind them."""

from __future__ import annotations

import math
import re

import numpy as np
from numpy.typing import NDArray

from cutplan.control.arcs import radius_tolerance_mm
from cutplan.control.motions import ARC_CW, DWELL, RAPID, SWITCH
from cutplan.control.movement import SHORTEST_CHORD
from cutplan.control.plain_lines import PlainLines, read_plain
from cutplan.control.rows import COLUMNS, SWITCH_NAMES
from cutplan.control.state import XY_PLANE, State
from cutplan.geometry import FloatArray

__all__ = ["StretchReader"]

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

OWN_NUMBER = re.compile(
    rb"\s*(?:[Nn][ \t]*[0-9]{1,5}[ \t]*)?[Oo][ \t]*[0-9]+[ \t]*(?:\([^()\n]*\)[ \t]*)*\r?\n"
)
LONGEST_STRETCH = 1 << 20  # bytes
SHORTEST_STRETCH = 1 << 10
_TORCH = 0  # slot among the switches


class StretchReader:
    """Reads a text's plain lines in stretches, and hands out the others one by one."""

    def __init__(self, state: State, text: str, first: int) -> None:
        self.state = state
        self.data = text.encode() + b"\n"
        self.at = 0
        self.line = first
        self.size = LONGEST_STRETCH
        self.slots = _switch_slots(state)

    def skip_own_number(self) -> None:
        """Step over a program's own number, where it begins with one and that may be."""
        found = OWN_NUMBER.match(self.data)
        if found and not self.state.strict:
            self.state.departures.append("the program begins with its number")
            self.line += found[0].count(b"\n")
            self.at = found.end()

    def run(self) -> str | None:
        """Read to the next line that is not plain, and return it; None at the text's end."""
        state = self.state
        while self._suits(state):
            end = self.data.find(b"\n", min(self.at + self.size, len(self.data) - 1)) + 1
            stretch = self.data[self.at : end]
            if not stretch:
                return None
            lines = read_plain(stretch, self.slots)
            done = _Stretch(state, lines, self.line).put_down()
            self.line += done
            if done < stretch.count(b"\n"):
                # Odd lines come in clusters: read on in small stretches, then larger ones.
                self.size = SHORTEST_STRETCH
                self.at += _behind_lines(stretch, done)
                break
            self.at += len(stretch)
            self.size = min(LONGEST_STRETCH, 2 * self.size)
        return self._next_line()

    @staticmethod
    def _suits(state: State) -> bool:
        in_plane = state.compensator is None and state.plane == XY_PLANE and state.per_minute
        return in_plane and state.settled

    def _next_line(self) -> str | None:
        if self.at >= len(self.data):
            return None
        end = self.data.index(b"\n", self.at)
        line = self.data[self.at : end].decode()
        self.at = end + 1
        self.line += 1
        return line.removesuffix("\r")


def _switch_slots(state: State) -> IntArray:
    """Return for each M code the number of its switch from 1, negative for off, 0 for none.

    A word that works two switches is none of the plain ones.
    """
    slots = np.zeros(100, dtype=np.int64)
    for tenths, switches in state.words.switches.items():
        if tenths < 1000 and len(switches) == 1 and ("M", tenths) not in state.words.ignored_words:
            number = SWITCH_NAMES.index(switches[0].what) + 1
            slots[tenths // 10] = number if switches[0].on else -number
    return slots


def _behind_lines(stretch: bytes, count: int) -> int:
    """Return the place behind so many lines."""
    if count == 0:
        return 0
    ends = np.flatnonzero(np.frombuffer(stretch, dtype=np.uint8) == 10)
    return int(ends[count - 1]) + 1


def _carried(values: NDArray[np.float64], given: BoolArray, before: float) -> FloatArray:
    """Return values where they are given, elsewhere the last one given, at first `before`."""
    source = np.where(given, np.arange(1, len(values) + 1), 0)
    np.maximum.accumulate(source, out=source)
    return np.concatenate([[before], values])[source]


class _Stretch:
    """Plain lines against a control's state."""

    def __init__(self, state: State, lines: PlainLines, first: int) -> None:
        self.state = state
        self.first = first
        self.count = n = lines.count
        self.values = {letter: values[:n] for letter, values in lines.values.items()}
        self.seen = {letter: seen[:n] for letter, seen in lines.seen.items()}
        self.dwell = lines.dwell[:n]
        self.switched = lines.switched[:n]
        stated = lines.motion[:n]
        self.stated = stated >= 0
        self.moves = self.seen["X"] | self.seen["Y"] | self.seen["Z"]
        self.motion = _carried(stated.astype(np.float64), self.stated, state.motion / 10.0)

    def put_down(self) -> int:
        """Put down the rows of the lines up to the first that needs the strict reader."""
        self._work_out()
        odd = np.flatnonzero(self._odd())
        n = int(odd[0]) if len(odd) else self.count
        if n:
            self.state.rows.extend(self._rows(n))
            self._leave_state(n)
        return n

    def _work_out(self) -> None:
        state, values, seen = self.state, self.values, self.seen
        self.feed = _carried(values["F"] * state.unit, seen["F"], state.feed)
        places = [self._axis(axis) for axis in range(3)]
        self.end = np.column_stack(places)
        self.start = np.vstack([state.position, self.end[:-1]])
        self.arc = self.moves & (self.motion >= 2.0)
        self.centre = np.full((self.count, 2), np.nan)
        for axis, letter in enumerate("IJ"):
            steps = values[letter] * state.unit
            if state.absolute_centres:
                centre = steps + state.origin[axis] + state.axis_offset[axis]
            else:
                centre = self.start[:, axis] + steps
            self.centre[self.arc, axis] = centre[self.arc]

    def _axis(self, axis: int) -> FloatArray:
        state, letter = self.state, "XYZ"[axis]
        given, before = self.seen[letter], state.position[axis]
        lengths = self.values[letter] * state.unit
        if state.absolute:
            return _carried(lengths + state.origin[axis] + state.axis_offset[axis], given, before)
        return np.cumsum(np.concatenate([[before], np.where(given, lengths, 0.0)]))[1:]

    def _odd(self) -> BoolArray:
        """Return which lines need the strict reader, for a rule that they break or otherwise."""
        seen, values = self.seen, self.values
        centre = seen["I"] | seen["J"]
        odd = seen["P"] != self.dwell
        odd |= (values["P"] < 0.0) | (values["F"] < 0.0)
        odd |= self.dwell & (self.moves | self.stated)
        switches = np.abs(self.switched).sum(axis=1)
        others = self.moves | self.stated | self.dwell | seen["F"]
        odd |= (switches > 1) | ((switches > 0) & others)
        if self.state.dialect.heights == "control" or not self.state.known >= {"Z", "tool length"}:
            odd |= seen["Z"]
        odd |= self.stated & ~self.moves
        odd |= self.moves & (self.motion > 3.0)
        odd |= self.moves & (self.motion != RAPID) & ~(self.feed > 0.0)
        odd |= centre != self.arc
        odd |= self.arc & ~(seen["X"] | seen["Y"])
        if self.state.absolute_centres:
            odd |= self.arc & ~(seen["I"] & seen["J"])
        before, after = self.start[:, :2] - self.centre, self.end[:, :2] - self.centre
        radius, end_radius = np.hypot(*before.T), np.hypot(*after.T)
        # A hair inside the standard's limit: the strict reader judges what lies on it.
        limit = 0.999 * radius_tolerance_mm(self.state.inch)
        good = (radius > 0.0) & (end_radius > 0.0) & (np.abs(radius - end_radius) < limit)
        chord = np.hypot(*(self.end - self.start)[:, :2].T)
        good &= (chord == 0.0) | (chord >= SHORTEST_CHORD * self.state.dialect.step_mm)
        return np.asarray(odd | (self.arc & ~good))

    def _turns(self, n: int) -> FloatArray:
        arcs = np.flatnonzero(self.arc[:n])
        before = self.start[arcs, :2] - self.centre[arcs]
        after = self.end[arcs, :2] - self.centre[arcs]
        # The same function as in the strict reader: arrays may round in another way.
        a = np.array(list(map(math.atan2, before[:, 1].tolist(), before[:, 0].tolist())))
        b = np.array(list(map(math.atan2, after[:, 1].tolist(), after[:, 0].tolist())))
        clockwise = self.motion[arcs] == ARC_CW
        turn = np.where(clockwise, a - b, b - a) % (2.0 * math.pi)
        full = (turn == 0.0) | (self.start[arcs, :2] == self.end[arcs, :2]).all(axis=1)
        turn[full] = 2.0 * math.pi
        turns = np.zeros(n)
        turns[arcs] = np.where(clockwise, -turn, turn)
        return turns

    def _switch_states(self, n: int) -> FloatArray:
        """Return the switches behind each line, shape (n + 1, 4), before the first in row 0."""
        states = np.empty((n + 1, len(SWITCH_NAMES)))
        for slot, name in enumerate(SWITCH_NAMES):
            before = float(getattr(self.state.switches, name))
            change = self.switched[:n, slot]
            states[0, slot] = before
            states[1:, slot] = _carried((change > 0).astype(np.float64), change != 0, before)
        self.switch_states = states
        return states

    def _rows(self, n: int) -> FloatArray:
        states = self._switch_states(n)
        # Another switch that is so already makes no row; the torch always does.
        changed = (states[1:] != states[:-1]).any(axis=1)
        thrown = changed | (self.switched[:n, _TORCH] != 0)
        moves = self.moves[:n]
        # A plain line does one thing only, so it makes one row or none.
        at = np.flatnonzero(thrown | self.dwell[:n] | moves)
        rows = np.full((len(at), COLUMNS), np.nan)
        rows[:, 0] = np.where(self.dwell[at], DWELL, np.where(moves[at], self.motion[at], SWITCH))
        rows[:, 1:4] = self.start[at]
        rows[:, 4:7] = np.where(moves[at, None], self.end[at], self.start[at])
        rows[:, 7:9] = self.centre[at]
        rows[:, 9] = self._turns(n)[at]
        feeds = moves & (self.motion[:n] != RAPID)
        rows[:, 10] = np.where(feeds[at], self.feed[at], np.nan)
        rows[:, 11] = np.where(self.dwell[at], self._seconds(n)[at], 0.0)
        rows[:, 12:16] = states[at + 1]
        rows[:, 16] = at + self.first
        return rows

    def _seconds(self, n: int) -> FloatArray:
        return self.values["P"][:n] / (1000.0 if self.state.dialect.dwell_ms else 1.0)

    def _leave_state(self, n: int) -> None:
        state, last = self.state, n - 1
        x, y, z = (float(value) for value in self.end[last])
        state.position = state.actual = (x, y, z)
        state.feed = float(self.feed[last])
        state.motion = round(self.motion[last] * 10.0)
        for slot, name in enumerate(SWITCH_NAMES):
            setattr(state.switches, name, bool(self.switch_states[n, slot]))
