"""A replay of programs that shares no code with the package.

It reads RS-274 after NISTIR 6556 with the words that a plan's record of its dialect names, and
gives what each block makes the machine do.  `replay` keeps to plain programs and to the lit way;
`run` follows subprograms, block delete, units, heights, marker and flames as well.  What a program
then does to a plate is judged in `replay_judge`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

CHORD_MM = 0.001
MM_PER_INCH = 25.4
MOST_STEPS = 200_000

WORD = re.compile(r"([A-Z])([-+]?(?:\d+\.?\d*|\.\d+))")
Point = tuple[float, float]


class UnreadableError(Exception):
    """The replay does not know what a control would make of the text."""


def arc_points(
    start: Point, end: Point, centre: Point, clockwise: bool, chord: float = CHORD_MM
) -> list[Point]:
    """Return points along an arc behind its start; one that ends where it starts is a circle."""
    radius = math.dist(start, centre)
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    last = math.atan2(end[1] - centre[1], end[0] - centre[0])
    sweep = (first - last if clockwise else last - first) % math.tau or math.tau
    steps = max(2, math.ceil(sweep / (2 * math.acos(1 - min(chord / max(radius, 1e-9), 0.5)))))
    angles = first + (-1 if clockwise else 1) * sweep * np.arange(1, steps + 1) / steps
    points = [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]
    return [*points[:-1], end]


def replay(text: str) -> list[list[Point]]:
    """Return the torch's way in each cut of a plain program; fails on a rapid with the torch lit."""
    cuts: list[list[Point]] = []
    for row in run(text):
        if row.kind == "torch" and row.torch:
            cuts.append([row.end[:2]])
        elif row.torch and row.moves:
            assert row.kind != "rapid", f"lit in a rapid: line {row.line}"
            cuts[-1] += row.points()
    return cuts


@dataclass(frozen=True)
class Row:
    """One thing that a block makes the machine do.

    Attributes
    ----------
    file, line : int
        Number of the file, and of its line, from 0.
    kind : str
        "rapid", "line", "arc", "dwell", "torch", "marker", "flame", "height", "stop" or "end".
    start, end : tuple of float
        x, y, z in mm.
    feed : float
        mm/min; 0 where there is none.
    seconds : float
        Of a dwell.
    torch, marker, flame, height, side
        What is on from this row on; `side` is 1 under G41, -1 under G42.
    """

    file: int
    line: int
    kind: str
    start: tuple[float, float, float]
    end: tuple[float, float, float]
    torch: bool
    marker: bool
    flame: bool
    height: bool
    side: int = 0
    feed: float = 0.0
    seconds: float = 0.0
    centre: Point = (0.0, 0.0)
    clockwise: bool = False

    @property
    def moves(self) -> bool:
        """Whether it goes over the plate."""
        return self.kind == "arc" or (self.kind in ("rapid", "line") and self.start[:2] != self.end[:2])

    def points(self, chord: float = CHORD_MM) -> list[Point]:
        """Return the points behind its start."""
        if self.kind == "arc":
            return arc_points(self.start[:2], self.end[:2], self.centre, self.clockwise, chord)
        return [self.end[:2]]


PLAIN = {
    "torch_on": ["M3"], "torch_off": ["M5"], "marker_on": ["M7"], "marker_off": ["M9"],
    "flame_on": ["M8"], "flame_off": ["M9"],
}  # fmt: skip


def run(
    text: str | Sequence[str], dialect: Mapping[str, Any] | None = None, delete: bool = False
) -> list[Row]:
    """Return what the machine does on a program, or on its files one after the other.

    Parameters
    ----------
    text : str or sequence of str
    dialect : mapping, optional
        As a plan's record holds it.
    delete : bool
        Blocks that begin with a slash are passed over.

    Raises
    ------
    UnreadableError
        If the text holds words that the replay does not know.
    """
    texts = [text] if isinstance(text, str) else list(text)
    rows: list[Row] = []
    machine = _Machine(dict(dialect or PLAIN), rows, delete)
    for number, each in enumerate(texts):
        machine.file(number, each)
    return rows


def code_of(line: str) -> tuple[bool, list[tuple[str, float]]]:
    """Return whether a line is under block delete, and its words; comments are left out.

    Raises
    ------
    UnreadableError
        If anything but words is left.
    """
    plain = re.sub(r"\([^()]*\)", "", line).split(";")[0].upper()
    plain = re.sub(r"[ \t\r\ufeff]", "", plain)
    deleted = plain.startswith("/")
    plain = plain.lstrip("/")
    if plain == "%":
        return deleted, []
    words = [(m[1], float(m[2])) for m in WORD.finditer(plain)]
    if WORD.sub("", plain):
        raise UnreadableError(f"{line!r} holds more than words")
    return deleted, words


@dataclass
class _Machine:
    """A control that runs one program."""

    dialect: dict[str, Any]
    rows: list[Row]
    delete: bool
    at: list[float] = field(default_factory=lambda: [0.0, 0.0, 0.0])
    motion: int = 0
    feed: float = 0.0
    unit: float = 1.0
    absolute: bool = True
    centres: bool = False
    side: int = 0
    on: dict[str, bool] = field(
        default_factory=lambda: dict.fromkeys(("torch", "marker", "flame", "height"), False)
    )
    number: int = 0
    line: int = 0
    ended: bool = False

    def __post_init__(self) -> None:
        self.centres = bool(self.dialect.get("absolute_centres"))
        self.switches: dict[int, list[tuple[str, bool]]] = {}
        for what in self.on:
            for side, value in (("on", True), ("off", False)):
                for word in self.dialect.get(f"{what}_{side}") or ():
                    self.switches.setdefault(int(word[1:]), []).append((what, value))
        self.ignored = set(self.dialect.get("ignored") or ())

    def file(self, number: int, text: str) -> None:
        lines = text.split("\n")
        self.number, self.ended, self.motion = number, False, 0
        blocks = [code_of(line) for line in lines]
        labels: dict[int, int] = {}
        for index, (_, words) in enumerate(blocks):
            for letter, value in words:
                if letter == "O" and self.dialect.get("subprograms"):
                    labels.setdefault(int(value), index)
        stack: list[list[int]] = []
        at = 0
        for _ in range(MOST_STEPS):
            if at >= len(blocks) or self.ended:
                return
            deleted, words = blocks[at]
            self.line = at
            at += 1
            if not words or (deleted and self.delete):
                continue
            jump = self._jump(words)
            if jump is not None and jump[0] == 99:
                start, left, back = stack.pop() if stack else (0, 0, at)
                at = start if left > 0 else back
                if left > 0:
                    stack.append([start, left - 1, back])
            elif jump is not None:
                _, target, times = jump
                if target not in labels:
                    raise UnreadableError(f"no subprogram {target}")
                if times > 0:
                    stack.append([labels[target] + 1, times - 1, at])
                    at = labels[target] + 1
            else:
                self.block(words)
        raise UnreadableError("the program does not end")

    @staticmethod
    def _jump(words: Sequence[tuple[str, float]]) -> tuple[int, int, int] | None:
        codes = [int(v) for letter, v in words if letter == "M"]
        if 99 in codes:
            return (99, 0, 0)
        if 98 in codes:
            values = dict(words)
            return (98, int(values.get("P", -1)), int(values.get("L", 1)))
        return None

    def block(self, words: Sequence[tuple[str, float]]) -> None:
        values = {letter: value for letter, value in words if letter not in "GM"}
        codes = [round(value * 10) for letter, value in words if letter == "G"]
        self._modes(codes, values)
        for letter, value in words:
            if letter == "M":
                self._switch(int(value))
        if 40 in codes:
            scale = 0.001 if self.dialect.get("dwell_ms") else 1.0
            self._add("dwell", seconds=values.get("P", 0.0) * scale)
            return
        for code in codes:
            if code in (0, 10, 20, 30):
                self.motion = code // 10
        if values.keys() & set("XYZ") or (values.keys() & set("IJ") and self.motion in (2, 3)):
            self._move(values)
        self._stop([int(value) for letter, value in words if letter == "M"])

    def _modes(self, codes: Sequence[int], values: Mapping[str, float]) -> None:
        for code in codes:
            if code in (200, 210):
                self.unit = MM_PER_INCH if code == 200 else 1.0
            elif code in (900, 910):
                self.absolute = code == 900
            elif code in (901, 911):
                self.centres = code == 901
            elif code in (400, 410, 420):
                self.side = {400: 0, 410: 1, 420: -1}[code]
            elif code not in (0, 10, 20, 30, 40, 170, 490, 540, 610, 611, 640, 690, 800, 940):
                raise UnreadableError(f"G{code / 10:g}")
        if "F" in values:
            self.feed = values["F"] * self.unit

    def _switch(self, code: int) -> None:
        found = self.switches.get(code)
        if found is None:
            if code not in (0, 1, 2, 30, 60, 48, 49) and f"M{code}" not in self.ignored:
                raise UnreadableError(f"M{code}")
            return
        for what, value in found:
            if self.on[what] != value or what == "torch":
                self.on[what] = value
                self._add(what)

    def _stop(self, codes: Sequence[int]) -> None:
        if {0, 1, 60} & set(codes):
            self._add("stop")
        if {2, 30} & set(codes):
            self._add("end")
            self.on = dict.fromkeys(self.on, False)
            self.side, self.ended = 0, True

    def _move(self, values: Mapping[str, float]) -> None:
        start, end = list(self.at), list(self.at)
        for axis, letter in enumerate("XYZ"):
            if letter in values:
                base = 0.0 if self.absolute else start[axis]
                end[axis] = base + values[letter] * self.unit
        kind, centre = {0: "rapid", 1: "line"}.get(self.motion, "arc"), (0.0, 0.0)
        if kind == "arc":
            centre = self._centre(start, end, values)
        self.at = end
        self._add(
            kind,
            start=start,
            centre=centre,
            clockwise=self.motion == 2,
            feed=self.feed if kind != "rapid" else 0.0,
        )

    def _centre(self, start: Sequence[float], end: Sequence[float], values: Mapping[str, float]) -> Point:
        if "R" in values:
            return centre_by_radius(start, end, values["R"] * self.unit, self.motion == 2)
        if self.centres:
            return (values.get("I", 0.0) * self.unit, values.get("J", 0.0) * self.unit)
        return (start[0] + values.get("I", 0.0) * self.unit, start[1] + values.get("J", 0.0) * self.unit)

    def _add(self, kind: str, *, start: Sequence[float] | None = None, **more: Any) -> None:
        here = (self.at[0], self.at[1], self.at[2])
        first = here if start is None else (start[0], start[1], start[2])
        self.rows.append(Row(self.number, self.line, kind, first, here, side=self.side, **self.on, **more))


def centre_by_radius(start: Sequence[float], end: Sequence[float], radius: float, clockwise: bool) -> Point:
    """Return the centre of an arc by its radius; a negative one asks for more than half a turn."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    chord = math.hypot(dx, dy)
    if chord == 0.0:
        raise UnreadableError("an arc by its radius without a chord")
    rise = math.sqrt(max(radius * radius - chord * chord / 4, 0.0))
    side = (-1 if clockwise else 1) * (1 if radius > 0 else -1)
    return (
        (start[0] + end[0]) / 2 - side * rise * dy / chord,
        (start[1] + end[1]) / 2 + side * rise * dx / chord,
    )


def lit_runs(rows: Sequence[Row], what: str = "torch") -> Iterator[list[Row]]:
    """Yield the rows of each stretch in which the torch (or the marker) is on."""
    run_: list[Row] = []
    for row in rows:
        if getattr(row, what):
            run_.append(row)
        elif run_:
            yield run_
            run_ = []
    if run_:
        yield run_
