"""A finished program turned and shifted to the plate as it lies: its motion words written anew.

Every other line stays word for word.  Ends of moves are rounded once, from their exact place,
and centres solved anew for them, as when the program was written.

Terminology
-----------
target : where a motion block ends, as programmed; with an offset by the control the torch ends elsewhere.
home : the place where the torch stands before and after the program; it belongs to the table and stays.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from cutplan.base.errors import ProgramError
from cutplan.geometry import FloatArray, Pose, place_points
from cutplan.program.blocks import Blocks
from cutplan.program.postprocessor import PostProcessor
from cutplan.program.rounding import Arc, Move, rounded_arc

__all__ = ["turned_program"]

_COMMENT = re.compile(r"\([^()]*\)")
_WORD = re.compile(r"([A-Z])([-+]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))")
_LINE = re.compile(r"(/?)(\s*N[0-9]+\s*)?(.*)", re.S)
PLACE_LETTERS = frozenset("XYIJR")
MOTION_LETTERS = PLACE_LETTERS | {"G", "F"}
MOTIONS = {0.0, 1.0, 2.0, 3.0}
# Words that set a zero, go to a place of the machine's or turn coordinates: the plate's lie would be lost.
FOREIGN = {10.0, 28.0, 30.0, 51.0, 52.0, 53.0, 68.0, 92.0, 92.1, 92.2, 92.3}
HOME_SLACK_MM = 0.01
Place = tuple[float, float]


def turned_program(
    texts: Sequence[str], post: PostProcessor, pose: Pose, home: Place, names: Sequence[str]
) -> list[str]:
    """Return the files of a program, turned and shifted.

    Parameters
    ----------
    texts : sequence of str
        As `post` wrote them.
    post : PostProcessor
    pose : Pose
        From the plate's coordinates to those of the plate as it lies.
    home : (x, y)
        Where the torch stands before and after, mm; rapids that end there stay.
    names : sequence of str
        Of the files, for errors.

    Returns
    -------
    list of str

    Raises
    ------
    ProgramError
        If a block holds words that cannot be turned, or a file grows beyond what the control holds.
    """
    return [_Turner(post, pose, home, name).file(text) for text, name in zip(texts, names, strict=True)]


@dataclass
class _Turner:
    """One file being turned, with what a control remembers from block to block."""

    post: PostProcessor
    pose: Pose
    home: Place
    name: str
    motion: float = 0.0
    feed: str = ""
    relative: bool = False
    at: Place | None = None
    blocks: Blocks = field(init=False)
    _shifts: dict[str, Place] = field(default_factory=dict)

    def file(self, text: str) -> str:
        self.blocks = Blocks(self.post)
        lines = text.split("\n")
        self._shifts = self._subprogram_shifts(lines)
        turned = [each for n, line in enumerate(lines, start=1) for each in self._line(line, n)]
        self._refuse_too_large(turned)
        return "\n".join(turned)

    def _line(self, line: str, n: int) -> list[str]:
        slash, number, body = self._parts(line)
        every = _WORD.findall(_bare(body))
        # An upright torch stays so however the plate lies; one that leans would lean the wrong way.
        upright = [f"{letter}{value}" for letter, value in every if letter in "ABC"]
        if any(float(word[1:]) for word in upright):
            raise self._refused(n, line)
        words = [word for word in every if word[0] not in "ABC"]
        letters = {letter for letter, _ in words}
        codes = {float(value) for letter, value in words if letter == "G"}
        if codes & FOREIGN:
            raise self._refused(n, line)
        if not letters & PLACE_LETTERS:
            self._note(body, words, codes)
            return [line]
        if not (letters <= MOTION_LETTERS and codes <= MOTIONS and len(codes) <= 1):
            raise self._refused(n, line)
        self.motion = next(iter(codes), self.motion)
        values = {letter: float(value) * self.post.numbers.unit_mm for letter, value in words}
        self.feed = next((value for letter, value in words if letter == "F"), self.feed)
        block = self._block(values)
        remarks = "".join(_COMMENT.findall(body))
        block = block if block is None or not upright else self.post.block([block, *upright])
        return [] if block is None else [self.post.checked(f"{slash}{number}{block}{remarks}")]

    @staticmethod
    def _parts(line: str) -> tuple[str, str, str]:
        found = _LINE.fullmatch(line)
        assert found is not None
        return found[1], found[2] or "", found[3]

    def _note(self, body: str, words: Sequence[tuple[str, str]], codes: set[float]) -> None:
        """Take in what a line without a place changes for those that follow."""
        if not words:
            return
        self.motion = next(iter(codes & MOTIONS), self.motion)
        if 91.0 in codes and not self.relative:
            # A subprogram counts from where it is called.
            self.relative, self.at = True, (0.0, 0.0)
            self.blocks = Blocks(self.post, relative=True)
        elif 90.0 in codes and self.relative:
            self.relative, self.at = False, None
            self.blocks = Blocks(self.post)
        self.blocks.forget()
        called = re.search(r"M98\s*P([0-9]+)", body)
        if called and self.at is not None:
            shift = self._shifts.get(called[1], (0.0, 0.0))
            self.at = (self.at[0] + shift[0], self.at[1] + shift[1])
            self.blocks.lose_place()

    def _block(self, values: dict[str, float]) -> str | None:
        """Return a motion block written anew; None for a rapid to where the torch stands."""
        before = self.at
        here = before or (math.nan, math.nan)
        base = here if self.relative else (0.0, 0.0)
        there = tuple(
            base[axis] + values[letter] if letter in values else here[axis]
            for axis, letter in enumerate("XY")
        )
        self.at = target = (there[0], there[1])
        if any(map(math.isnan, target)):
            told = "a move states one coordinate only, and the other is not known"
            raise ProgramError(told, where=self.name, remedy="plan the job again")
        x, y = self._steps(target)
        if self.motion == 0.0:
            return self.blocks.rapid(x, y)
        arc = None
        if self.motion in (2.0, 3.0) and before is not None:
            arc = self._arc(before, target, values)
        return self.blocks.feed_move(Move(x, y, arc), self.feed)

    def _arc(self, start: Place, end: Place, values: dict[str, float]) -> Arc | None:
        centre = self._centre(start, end, values)
        sweep = _sweep(start, end, centre, ccw=self.motion == 3.0)
        first, last, middle = ((x, y) for x, y in self._moved([start, end, centre]).tolist())
        ends = self._steps(start), self._steps(end)
        return rounded_arc(first, last, middle, sweep, *ends, self.post.numbers)

    def _centre(self, start: Place, end: Place, values: dict[str, float]) -> Place:
        if "R" in values:
            dx, dy = end[0] - start[0], end[1] - start[1]
            chord, radius = math.hypot(dx, dy), values["R"]
            rise = math.sqrt(max(0.0, radius * radius - 0.25 * chord * chord))
            side = math.copysign(1.0, radius) * (1.0 if self.motion == 3.0 else -1.0) * rise / chord
            return (start[0] + 0.5 * dx - side * dy, start[1] + 0.5 * dy + side * dx)
        i, j = values.get("I", 0.0), values.get("J", 0.0)
        if self.post.settings.arcs.form == "absolute":
            return (i, j)
        return (start[0] + i, start[1] + j)

    def _moved(self, points: Sequence[Place]) -> FloatArray:
        pose = Pose(0.0, 0.0, self.pose.rotation_deg) if self.relative else self.pose
        return place_points(points, pose)

    def _steps(self, place: Place) -> tuple[int, int]:
        numbers = self.post.numbers
        if self.motion == 0.0 and not self.relative and math.dist(place, self.home) <= HOME_SLACK_MM:
            return numbers.steps(place[0]), numbers.steps(place[1])
        x, y = self._moved([place])[0].tolist()
        return numbers.steps(x), numbers.steps(y)

    def _subprogram_shifts(self, lines: Sequence[str]) -> dict[str, Place]:
        """Return how far each subprogram leads, mm: its blocks count from point to point."""
        shifts: dict[str, Place] = {}
        inside: str | None = None
        for line in lines:
            body = _bare(self._parts(line)[2])
            begun = re.match(r"O([0-9]+)", body)
            inside = begun[1] if begun else None if "M99" in body else inside
            if inside is None or not PLACE_LETTERS & {letter for letter, _ in _WORD.findall(body)}:
                continue
            step = {letter: float(value) * self.post.numbers.unit_mm for letter, value in _WORD.findall(body)}
            x, y = shifts.get(inside, (0.0, 0.0))
            shifts[inside] = (x + step.get("X", 0.0), y + step.get("Y", 0.0))
        return shifts

    def _refused(self, n: int, line: str) -> ProgramError:
        return ProgramError(
            f"the block {line.strip()[:40]!r} holds words that cannot be turned",
            where=f"{self.name}, line {n}",
            remedy="align the program as it was planned",
        )

    def _refuse_too_large(self, lines: Sequence[str]) -> None:
        limits = self.post.settings.limits
        size = sum(len(line) + 1 for line in lines)
        for found, most, what in (
            (len(lines), limits.file_lines, "lines"),
            (size, limits.file_bytes, "bytes"),
        ):
            if most is not None and found > most:
                raise ProgramError(
                    f"turned it has {found} {what}, the control holds {most}",
                    where=self.name,
                    remedy=f"straighten the plate, or plan with limits.file_{what} a third lower",
                )


def _bare(body: str) -> str:
    """Return a line without remarks and blanks, in capitals."""
    return re.sub(r"\s+", "", _COMMENT.sub("", body)).upper()


def _sweep(start: Place, end: Place, centre: Place, *, ccw: bool) -> float:
    """Return how far an arc turns, rad; a whole turn where it ends where it began."""
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    last = math.atan2(end[1] - centre[1], end[0] - centre[0])
    turn = (last - first) % (2.0 * math.pi) if ccw else (first - last) % (2.0 * math.pi)
    if start == end or turn == 0.0:
        turn = 2.0 * math.pi
    return turn if ccw else -turn
