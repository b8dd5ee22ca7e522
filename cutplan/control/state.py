"""What a control remembers from block to block, and how it puts down rows of motion.

At a program's start nothing is known: neither modes nor offsets nor parameters, nor where the
torch stands.  The state holds the standard's defaults all the same, so that a reading can go on
and tell of everything at once; each time that a result depends on one of them, a `Doubt` is
noted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from cutplan.control.arcs import MM_PER_INCH
from cutplan.control.compensation import Compensator, Segment
from cutplan.control.dialect import MODES, Dialect
from cutplan.control.head import HeadTurn
from cutplan.control.modes import Vocabulary
from cutplan.control.motions import Doubt
from cutplan.control.rows import Place, Rows, Switches
from cutplan.control.words import Parameters

__all__ = ["NO_MOTION", "SYSTEMS", "XY_PLANE", "State"]

NO_MOTION = 800  # G80
XY_PLANE = 170  # G17
SYSTEMS = (540, 550, 560, 570, 580, 590, 591, 592, 593)  # G54 to G59.3


@dataclass
class State:
    """The modes, offsets, place and switches of a control.

    Codes are held in tenths, as 10 for G1; lengths in mm.

    Attributes
    ----------
    position : tuple of float
        Programmed place in machine coordinates.
    actual : tuple of float
        Torch centre; differs from `position` under compensation.
    motion, plane : int
        G codes in force.
    inch, absolute, absolute_centres, per_minute : bool
    feed : float
        mm/min; moves a minute in inverse-time mode.
    origin, axis_offset : tuple of float
        Of the coordinate system in force, and of G92.  The zero of the dialect's own system
        is the plate's: what the control has stored for it is not added.
    system : int
        Number of the coordinate system stated, from 1; 0 before any is.
    compensator : Compensator or None
    ended : bool
        M2 or M30 was read.
    left_on : frozenset of str
        What was on then.
    known : set of str
        Modes (`MODES`) and axes of the torch's place that the program has stated.
    doubts, departures : list
    torches : list of (int, int)
        Line and value of each T word that counts torches.
    turned : list of HeadTurn
        Moves on which the head turns.
    head : tuple of float
        Where its axes A, B and C stand, degrees.
    strict : bool
        Refuse also what is harmless but not the standard's.
    line : int
    """

    dialect: Dialect
    position: Place = (0.0, 0.0, 0.0)
    actual: Place = (0.0, 0.0, 0.0)
    motion: int = NO_MOTION
    plane: int = XY_PLANE
    inch: bool = False
    absolute: bool = True
    per_minute: bool = True
    feed: float = 0.0
    origin: Place = (0.0, 0.0, 0.0)
    axis_offset: Place = (0.0, 0.0, 0.0)
    system: int = 0
    compensator: Compensator | None = None
    ended: bool = False
    left_on: frozenset[str] = frozenset()
    line: int = 0
    strict: bool = True
    known: set[str] = field(default_factory=set)
    doubts: list[Doubt] = field(default_factory=list)
    departures: list[str] = field(default_factory=list)
    torches: list[tuple[int, int]] = field(default_factory=list)
    turned: list[HeadTurn] = field(default_factory=list)
    head: Place = (0.0, 0.0, 0.0)
    parameters: Parameters = field(default_factory=Parameters)
    switches: Switches = field(default_factory=Switches)

    def __post_init__(self) -> None:
        self.known.update(self.dialect.guarantees)
        self.known.update(mode for mode in MODES if not self._has(mode))
        self.absolute_centres = self.centres_at_rest
        self.words = Vocabulary.of(self.dialect, self.strict)
        self.rows = Rows(self.switches)
        self.own_system = SYSTEMS.index(round(float(self.dialect.work_offset[1:]) * 10.0)) + 1

    @property
    def unit(self) -> float:
        """Length of the program's unit in mm."""
        return MM_PER_INCH if self.inch else 1.0

    @property
    def centres_at_rest(self) -> bool:
        """Whether the control takes arc centres as absolute until it is told otherwise."""
        return self.dialect.absolute_centres and not self.dialect.arc_distance_words

    def _has(self, mode: str) -> bool:
        """Return whether the control has a mode at all, so that a program must state it."""
        dialect = self.dialect
        absent = {
            "arc centres": not dialect.arc_distance_words,
            "rotation": not dialect.has_rotation,
            "marker": not dialect.marker_off,
            "flame": not dialect.flame_off,
            "height": not dialect.height_off,
        }
        return not absent.get(mode, False)

    def doubt(self, code: str, message: str) -> None:
        """Note what the reading takes on trust."""
        self.doubts.append(Doubt(code, message, self.line))

    def need(self, *modes: str) -> None:
        """Note a doubt where a result depends on modes that are not stated; once for each."""
        for mode in modes:
            if mode not in self.known:
                self.known.add(mode)
                self.doubt("inherited", f"nothing has stated {MODES[mode]}")

    def need_place(self, axes: str, what: str) -> None:
        """Note a doubt where a result depends on where the torch stood before the program."""
        for axis in axes:
            if axis not in self.known:
                self.known.add(axis)
                self.doubt("inherited", f"{what} from a place whose {axis} the program has not stated")

    @property
    def settled(self) -> bool:
        """Whether plain blocks depend on nothing unknown any more."""
        wanted = {*MODES, "X", "Y"} - {"tool length"}
        counted = bool(self.torches) or not self.dialect.torches_in_t
        return counted and self.known >= wanted

    def switch(self, what: str, on: bool) -> None:
        """Switch the torch, marker, flame or height control where the torch stands.

        One that is so already makes no row; the torch always does.
        """
        line = self.line
        self.known.add(what)

        def act(place: Place) -> None:
            changes = getattr(self.switches, what) != on
            setattr(self.switches, what, on)
            if changes or what == "torch":
                self.rows.switch(place, line)

        self._wait(act)

    def stop(self) -> None:
        """Wait for the operator."""
        line = self.line
        self._wait(lambda place: self.rows.stop(place, line))

    def dwell(self, seconds: float) -> None:
        """Stand for a time."""
        line = self.line
        self._wait(lambda place: self.rows.dwell(place, line, seconds))

    def _wait(self, act: Callable[[Place], None]) -> None:
        if self.compensator is None:
            act(self.actual)
        else:
            self.compensator.wait(act, self.actual)

    def travel(self, segment: Segment) -> None:
        """Run a programmed segment, compensated where that is on."""
        if self.compensator is None:
            self._emit(segment)
            self.actual = segment.end
        else:
            self.actual = self.compensator.move(segment, self.actual)
        self.position = segment.end

    def turn_head(self, after: Place) -> None:
        """Turn the head along with the next move."""
        if after != self.head:
            self.turned.append(HeadTurn(self.rows.count, self.head, after))
            self.head = after

    def begin_compensation(self, side: int, radius: float) -> None:
        """Compensate from the next move on; `side` is +1 for G41, -1 for G42."""
        self.compensator = Compensator(side, radius, self.dialect.concave_corners, self._emit)

    def end_compensation(self) -> None:
        """Run what is pending; the next move starts where the torch then stands."""
        if self.compensator is not None:
            self.actual = self.compensator.finish(self.actual)
            self.position = self.actual
            self.compensator = None

    def _emit(self, segment: Segment) -> None:
        self.rows.move(
            segment.kind,
            segment.start,
            segment.end,
            segment.feed,
            segment.line,
            segment.centre,
            segment.turn,
        )

    def end(self) -> None:
        """End the program: M2 and M30 put everything off (NISTIR 6556, 3.6.1)."""
        for told in self.changed():
            self.doubt("not-restored", f"the program ends with {told}")
        self.end_compensation()
        self.left_on = self.switches.on
        if self.left_on:
            for name in self.left_on:
                setattr(self.switches, name, False)
            self.rows.switch(self.actual, self.line)
        self.ended = True

    def changed(self) -> list[str]:
        """Return what is in force that a program should not leave behind, in words.

        Controls differ in what M2 and M30 put back, so nothing is left to them.
        """
        found = {
            "steps from point to point (G91)": not self.absolute,
            "a plane other than XY": self.plane != XY_PLANE,
            "inverse-time feed (G93)": not self.per_minute,
            "an offset by the control (G41, G42)": self.compensator is not None,
            "the other kind of arc centres": self.absolute_centres != self.centres_at_rest,
            "shifted axes (G92)": self.axis_offset != (0.0, 0.0, 0.0),
            "a head that leans": self.head[0] != 0.0 or self.head[1] != 0.0,
            f"another zero than {self.dialect.work_offset}": self.system not in (0, self.own_system),
        }
        return [told for told, is_so in found.items() if is_so]
