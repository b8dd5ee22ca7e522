"""What a control remembers from block to block, and how it puts down rows of motion."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from cutplan.control.arcs import MM_PER_INCH
from cutplan.control.compensation import Compensator, Segment
from cutplan.control.dialect import Dialect
from cutplan.control.modes import Vocabulary
from cutplan.control.rows import Place, Rows, Switches
from cutplan.control.words import Parameters

__all__ = ["NO_MOTION", "XY_PLANE", "State"]

NO_MOTION = 800  # G80
XY_PLANE = 170  # G17


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
        Of the coordinate system in force, and of G92.
    compensator : Compensator or None
    ended : bool
        M2 or M30 was read.
    left_on : bool
        The torch was on then.
    stated : set of str
        Modes stated before the first motion word.
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
    compensator: Compensator | None = None
    ended: bool = False
    left_on: bool = False
    line: int = 0
    stated: set[str] = field(default_factory=set)
    parameters: Parameters = field(default_factory=Parameters)
    switches: Switches = field(default_factory=Switches)

    def __post_init__(self) -> None:
        self.absolute_centres = self.dialect.absolute_centres
        self.words = Vocabulary.of(self.dialect)
        self.rows = Rows(self.switches)

    @property
    def unit(self) -> float:
        """Length of the program's unit in mm."""
        return MM_PER_INCH if self.inch else 1.0

    def state_mode(self, mode: str) -> None:
        """Note that the program states a mode before it moves."""
        if self.motion == NO_MOTION:
            self.stated.add(mode)

    def switch(self, what: str, on: bool) -> None:
        """Switch the torch, marker or flame where the torch stands.

        A marker or flame that is so already makes no row; the torch always does.
        """
        line = self.line

        def act(place: Place) -> None:
            changes = getattr(self.switches, what) != on
            setattr(self.switches, what, on)
            if changes or what == "torch":
                self.rows.stand(place, line)

        self._wait(act)

    def dwell(self, seconds: float) -> None:
        """Stand for a time."""
        line = self.line
        self._wait(lambda place: self.rows.stand(place, line, seconds))

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
        self.end_compensation()
        self.left_on = self.switches.torch
        if self.switches.any:
            self.switches.torch = self.switches.marker = self.switches.flame = False
            self.rows.stand(self.actual, self.line)
        self.ended = True
