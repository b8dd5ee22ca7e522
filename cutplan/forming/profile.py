"""Profiles given by their flanges, and the flat blank that each is bent from.

Terminology
-----------
flange : a flat stretch of the bent part between two bends, or between a bend and a free end.
along : from the flange's first end, on the face that lengths are measured on.
across : over the width, from the line that all flanges share: the middle, or a straight edge.
straight : what of a flange stays flat: its length without the rounds of its bends.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from cutplan.base.errors import DrawingError
from cutplan.base.files import FileModel
from cutplan.base.findings import Finding
from cutplan.drawing import BendLine, MarkText, make_part
from cutplan.forming.air_bending import die_opening, inside_radius
from cutplan.forming.development import Measured, bend_allowance, bend_compensation, setback
from cutplan.forming.model import Blank, DevelopedBend, Press
from cutplan.geometry import Path, circle, polygon

__all__ = ["BlankFlange", "BlankHole", "FlangeProfile"]

Size = Annotated[float, Field(gt=0, le=50_000)]
# Bends that open or close further are hemmed or rolled, not air-bent (common practice).
SHARPEST_DEG = 165.0
MOST_FLANGES = 24
SAME = 1e-9
NOTE_HEIGHT = 8.0  # mm
NOTE_GAP = 4.0  # mm, from a bend line to its note

Align = Literal["middle", "lower", "upper"]


class BlankHole(FileModel):
    """A hole given on its flange: round, or a slot.

    Attributes
    ----------
    along : float
        Of its middle, from the flange's first end as that is measured, mm.
    across : float
        Of its middle, from the line that the flanges share, mm; up is above zero.
    diameter : float
        mm; of a slot, its width.
    slot_length : float or None
        Over the round ends, mm; a round hole where it is not given.
    slot : {"along", "across"}
        Which way a slot runs.
    """

    along: float = Field(gt=0, le=50_000)
    across: float = Field(0.0, ge=-50_000, le=50_000)
    diameter: Size
    slot_length: Size | None = None
    slot: Literal["along", "across"] = "along"

    @model_validator(mode="after")
    def _slot_is_long(self) -> BlankHole:
        if self.slot_length is not None and self.slot_length <= self.diameter:
            raise ValueError("slot_length must be more than the diameter")
        return self

    @property
    def reach(self) -> float:
        """Half of what it takes along the flange, mm."""
        return (self.slot_length if self.slot_length and self.slot == "along" else self.diameter) / 2.0

    def contour(self, x: float) -> Path:
        """Return its edge, clockwise, for its middle at x of the blank."""
        r = self.diameter / 2.0
        if self.slot_length is None:
            return circle((x, self.across), r, clockwise=True)
        half = self.slot_length / 2.0 - r
        along = self.slot == "along"
        way = np.array([half, 0.0] if along else [0.0, half])
        side = np.array([0.0, r] if along else [-r, 0.0])
        middle = np.array([x, self.across])
        corners = [middle - way + side, middle + way + side, middle + way - side, middle - way - side]
        return Path(np.array([[*c, b] for c, b in zip(corners, (0.0, -1.0, 0.0, -1.0), strict=True)]))


class BlankFlange(FileModel):
    """A flange, and the bend before it.

    Attributes
    ----------
    length : float
        mm, measured as `measured` says, over the rounds of its bends.
    width : float or None
        At its first end, mm; that of the flange before it, or of the blank, where not given.
    width_end : float or None
        At its other end, mm, where it tapers.
    angle : float or None
        Of the bend before it, degrees: 0 is flat, 90 square (the usual).
    direction : "up", "down" or None
        Which way it is bent, seen on the blank; "up" where not given.
    radius : float or None
        Inside radius of that bend, mm, instead of the blank's.
    holes : list of tables
        Holes on this flange.
    """

    length: Size
    width: Size | None = None
    width_end: Size | None = None
    angle: float | None = Field(None, gt=0, le=SHARPEST_DEG)
    direction: Literal["up", "down"] | None = None
    radius: Size | None = None
    holes: tuple[BlankHole, ...] = ()


class FlangeProfile(FileModel):
    """A bent part given by its flanges: strip, channel, Z, hat or bracket.

    Attributes
    ----------
    flanges : list of tables
        Its flanges in their order; all but the first are bent against the one before.
    width : float or None
        Of all flanges that give none, mm.
    radius : float or None
        Inside radius of all bends that give none, mm; what air bending gives where not given.
    k_factor : float or None
        Share of the thickness at which a bend leaves the length as it was, instead of the
        press's, or of DIN 6935.
    measured : {"outside", "inside"}
        Which face the lengths of flanges are measured on.
    align : {"middle", "lower", "upper"}
        What flanges of different width share: the middle, or one straight edge.
    bend_notes : bool
        Mark each bend's direction, angle and radius beside its line.
    """

    flanges: tuple[BlankFlange, ...] = Field(min_length=2, max_length=MOST_FLANGES)
    width: Size | None = None
    radius: Size | None = None
    k_factor: float | None = Field(None, gt=0, le=0.6)
    measured: Measured = "outside"
    align: Align = "middle"
    bend_notes: bool = False

    @model_validator(mode="after")
    def _holds_together(self) -> FlangeProfile:
        first = self.flanges[0]
        if first.angle is not None or first.direction is not None or first.radius is not None:
            raise ValueError(
                "the first flange has no bend before it: give angle, direction, radius to the next"
            )
        if self.width is None and first.width is None:
            raise ValueError("no width is given: add width to the blank, or to its first flange")
        return self

    def widths(self) -> list[tuple[float, float]]:
        """Return the width of each flange at its first end and at its other, mm."""
        widths: list[tuple[float, float]] = []
        for flange in self.flanges:
            usual = self.width if self.width is not None and not widths else widths[-1][1] if widths else 0.0
            start = flange.width or usual
            widths.append((start, flange.width_end or start))
        return widths

    def blank(self, name: str, thickness: float, press: Press | None = None) -> Blank:
        """Return the flat blank.

        Parameters
        ----------
        name : str
        thickness : float
            mm.
        press : Press, optional
            Its dies give the radii that are not given, its K-factor the lengths.

        Returns
        -------
        Blank

        Raises
        ------
        DrawingError
            If a flange is shorter than the rounds of its bends, or a hole lies off its flange,
            in a bend or on another.
        """
        return _Development(self, name, thickness, press).blank()


@dataclass(frozen=True)
class _Stretch:
    """The straight of a flange on the blank, from x0 to x1, and where its length begins."""

    x0: float
    x1: float
    zero: float


class _Development:
    """One profile laid flat."""

    def __init__(self, profile: FlangeProfile, name: str, thickness: float, press: Press | None) -> None:
        self.profile, self.name, self.thickness = profile, name, thickness
        self.widths = profile.widths()
        usual = profile.radius or inside_radius(die_opening(thickness, press.dies_mm if press else ()))
        k_factor = profile.k_factor if profile.k_factor is not None else press.k_factor if press else None
        self.angles = [flange.angle or 90.0 for flange in profile.flanges[1:]]
        self.radii = [flange.radius or usual for flange in profile.flanges[1:]]
        own = list(zip(self.angles, self.radii, strict=True))
        self.setbacks = [setback(a, r, thickness, profile.measured) for a, r in own]
        self.allowances = [bend_allowance(a, r, thickness, k_factor) for a, r in own]
        self.compensations = [bend_compensation(a, r, thickness, k_factor) for a, r in own]

    def blank(self) -> Blank:
        stretches = self._stretches()
        lines = self._bend_lines(stretches)
        part = make_part(
            self.name,
            self._outline(stretches),
            self._holes(stretches),
            bends=lines,
            texts=[_note(line) for line in lines] if self.profile.bend_notes else (),
        )
        bends = tuple(
            DevelopedBend(line.start[0], line.angle_deg, r, line.direction or "up", allowance, v)
            for line, r, allowance, v in zip(
                lines, self.radii, self.allowances, self.compensations, strict=True
            )
        )
        return Blank(part, stretches[-1].x1, bends, tuple(self._steps(lines)))

    def _stretches(self) -> list[_Stretch]:
        """Return where the straights lie along the blank."""
        stretches, x = [], 0.0
        before = [0.0, *self.setbacks]
        after = [*self.setbacks, 0.0]
        for n, flange in enumerate(self.profile.flanges):
            straight = flange.length - before[n] - after[n]
            if straight <= 0.0:
                raise self._refusal(
                    f"flange {n + 1} is {flange.length:g} mm long, the rounds of its bends take "
                    f"{before[n] + after[n]:.1f} mm",
                    "make it longer, or its bends sharper",
                )
            stretches.append(_Stretch(x, x + straight, x - before[n]))
            x += straight + (self.allowances[n] if n < len(self.allowances) else 0.0)
        return stretches

    def _edges(self, width: float) -> tuple[float, float]:
        """Return the lower and the upper edge of a width."""
        return {"middle": (-width / 2, width / 2), "lower": (0.0, width), "upper": (-width, 0.0)}[
            self.profile.align
        ]

    def _narrowest(self, bend: int) -> float:
        return min(self.widths[bend][1], self.widths[bend + 1][0])

    def _outline(self, stretches: Sequence[_Stretch]) -> Path:
        lower: list[tuple[float, float]] = []
        upper: list[tuple[float, float]] = []
        rows: list[tuple[float, float]] = []
        for n, stretch in enumerate(stretches):
            rows += [(stretch.x0, self.widths[n][0]), (stretch.x1, self.widths[n][1])]
            if n + 1 < len(stretches):
                rows += [(stretch.x1, self._narrowest(n)), (stretches[n + 1].x0, self._narrowest(n))]
        for x, width in rows:
            low, high = self._edges(width)
            lower.append((x, low))
            upper.append((x, high))
        return polygon(_corners([*lower, *reversed(upper)]))

    def _bend_lines(self, stretches: Sequence[_Stretch]) -> list[BendLine]:
        lines = []
        for n, flange in enumerate(self.profile.flanges[1:]):
            x = (stretches[n].x1 + stretches[n + 1].x0) / 2.0
            low, high = self._edges(self._narrowest(n))
            lines.append(
                BendLine((x, low), (x, high), self.angles[n], self.radii[n], flange.direction or "up")
            )
        return lines

    def _holes(self, stretches: Sequence[_Stretch]) -> list[Path]:
        holes = []
        for n, (flange, stretch) in enumerate(zip(self.profile.flanges, stretches, strict=True), start=1):
            for hole in flange.holes:
                x = stretch.zero + hole.along
                if x - hole.reach < stretch.x0 - SAME or x + hole.reach > stretch.x1 + SAME:
                    raise self._refusal(
                        f"a hole {hole.along:g} mm along flange {n} reaches off its straight, which runs from "
                        f"{stretch.x0 - stretch.zero:.1f} to {stretch.x1 - stretch.zero:.1f} mm",
                        "move the hole, or drill it after bending",
                    )
                holes.append(hole.contour(x))
        return holes

    def _steps(self, lines: Sequence[BendLine]) -> list[Finding]:
        """Tell of bends where the width steps: nothing relieves the corner there."""
        return [
            Finding(
                "warning",
                f"the width steps from {self.widths[n][1]:g} to {self.widths[n + 1][0]:g} mm at bend {n + 1}",
                line.start,
                "it may tear at the corner: relieve it, or let one width run over the bend",
            )
            for n, line in enumerate(lines)
            if abs(self.widths[n][1] - self.widths[n + 1][0]) > SAME
        ]

    def _refusal(self, message: str, remedy: str) -> DrawingError:
        return DrawingError(message, where=f"blank {self.name}", remedy=remedy)


def _corners(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Leave out points that repeat or lie on a straight line between their neighbours."""
    distinct = [p for p, q in zip(points, [points[-1], *points[:-1]], strict=True) if math.dist(p, q) > SAME]
    kept = []
    for n, (x, y) in enumerate(distinct):
        (px, py), (qx, qy) = distinct[n - 1], distinct[(n + 1) % len(distinct)]
        if abs((x - px) * (qy - py) - (y - py) * (qx - px)) > SAME * math.dist((px, py), (qx, qy)):
            kept.append((x, y))
    return kept


def _note(line: BendLine) -> MarkText:
    """Return the words of a bend, along its line and beside it."""
    words = f"{(line.direction or 'up').upper()} {line.angle_deg:g} R{line.radius_mm:.4g}"
    x, low = line.start
    start = low + (line.end[1] - low) / 4.0
    return MarkText(words, (x - NOTE_GAP, start), NOTE_HEIGHT, 90.0)
