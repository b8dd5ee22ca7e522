"""Webs and flanges of welded beams as standard plates: tapers, goose-necks, camber, rows of cut-outs.

Terminology
-----------
front : where x is 0; a neck is there.
camber : how far the middle of the beam stands above the line between its ends.
level : height above the lower edge of the deep stretch, without camber.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, model_validator

from cutplan.base.files import FileModel
from cutplan.drawing.making import make_part
from cutplan.drawing.model import Part
from cutplan.geometry import FloatArray, Path, direction_at, is_simple, normal_at, point_at, polygon

__all__ = ["BeamWeb", "CutOuts", "FlangeStrip"]

Size = Annotated[float, Field(gt=0, le=50_000)]
SizeOrNone = Annotated[float, Field(ge=0, le=50_000)]
Corner = tuple[float, float, float, float]
"""x, y, the radius of its fillet, and the place along whose camber lifts it, mm."""
SAME = 1e-9
NEWTON_STEPS = 30
# Camber beyond this share of the length is a slip of the unit: beams take a few thousandths.
MOST_CAMBER = 0.05


class CutOuts(FileModel):
    """A row of equal cut-outs for cross-members, pipes or hands.

    Attributes
    ----------
    at : float
        Middle of the first, from the front, mm.
    count : int
        How many.
    pitch : float
        From one to the next, mm.
    width : float
        Along the web, mm.
    height : float
        mm; of a cut-out in an edge, how deep it goes.
    edge : {"upper", "lower", "none"}
        In which edge it is open; "none" for a closed one.
    level : float or None
        Middle of a closed one; half the web's height where it is not given.
    radius : float
        Of its corners, mm.
    """

    at: Annotated[float, Field(gt=0, le=50_000)]
    count: Annotated[int, Field(ge=1, le=500)] = 1
    pitch: Size | None = None
    width: Size
    height: Size
    edge: Literal["upper", "lower", "none"] = "none"
    level: Size | None = None
    radius: SizeOrNone = 0.0

    @model_validator(mode="after")
    def _hangs_together(self) -> CutOuts:
        if self.count > 1 and self.pitch is None:
            raise ValueError("a row of several cut-outs needs a pitch")
        if self.pitch is not None and self.pitch <= self.width:
            raise ValueError("pitch must be more than the width: the cut-outs meet")
        deep = self.height if self.edge != "none" else 0.5 * self.height
        if self.radius > min(0.5 * self.width, deep):
            raise ValueError("the radius is more than half the cut-out")
        if self.edge != "none" and self.level is not None:
            raise ValueError("a cut-out in an edge has no level")
        return self

    @property
    def middles(self) -> list[float]:
        """Where the cut-outs lie along the web, mm."""
        return [self.at + n * (self.pitch or 0.0) for n in range(self.count)]


class BeamWeb(FileModel):
    """The web of a beam: straight, tapered or with a goose-neck, cambered where asked.

    Attributes
    ----------
    kind : {"beam web"}
        Which shape it is.
    length : float
        Along x, mm.
    height : float
        Of the deep stretch, mm.
    neck_length : float
        Of the neck at the front, mm; 0 for none.
    neck_height : float or None
        Of the neck, mm.
    neck_rise : float
        How far the neck's upper edge stands above that of the deep stretch, mm.
    slope_length : float
        From the neck to the deep stretch, mm.
    taper_length : float
        At the rear, over which the lower edge rises, mm; 0 for none.
    end_height : float or None
        At the rear end of the taper, mm.
    knee_radius : float
        Of the corners where neck and taper begin and end, mm.
    camber : float
        Of the middle above the line between the ends, mm.
    camber_radius : float or None
        Instead of it: the radius of the edges, mm.
    cut_outs : list of tables
        Rows of cut-outs.
    """

    kind: Literal["beam web"] = "beam web"
    length: Size
    height: Size
    neck_length: SizeOrNone = 0.0
    neck_height: Size | None = None
    neck_rise: Annotated[float, Field(ge=-5_000, le=5_000)] = 0.0
    slope_length: SizeOrNone = 0.0
    taper_length: SizeOrNone = 0.0
    end_height: Size | None = None
    knee_radius: SizeOrNone = 0.0
    camber: SizeOrNone = 0.0
    camber_radius: Annotated[float, Field(gt=0, le=1e8)] | None = None
    cut_outs: tuple[CutOuts, ...] = ()

    @model_validator(mode="after")
    def _can_be(self) -> BeamWeb:
        if (self.neck_length > 0) != (self.neck_height is not None):
            raise ValueError("a neck needs both neck_length and neck_height")
        if self.neck_length and not self.slope_length:
            raise ValueError("a neck needs a slope_length: no plate bends round a step")
        if (self.taper_length > 0) != (self.end_height is not None):
            raise ValueError("a taper needs both taper_length and end_height")
        if self.neck_length + self.slope_length + self.taper_length > self.length:
            raise ValueError("neck, slope and taper are longer than the web")
        if self.end_height is not None and self.end_height >= self.height:
            raise ValueError("end_height must be less than the height")
        if self.camber and self.camber_radius:
            raise ValueError("camber and camber_radius say the same; keep one")
        if self.camber_radius is not None and self.camber_radius < self.length:
            raise ValueError("camber_radius is less than the length: that is no camber")
        if self._ordinate > MOST_CAMBER * self.length:
            raise ValueError(
                f"a camber of {self._ordinate:.0f} mm is more than {MOST_CAMBER:.0%} of the length"
            )
        contours = [self._outline(), *self._holes()]
        if not all(map(is_simple, contours)):
            raise ValueError("its edges cross: see cut_outs, knee_radius and the neck's sizes")
        return self

    def part(self, name: str) -> Part:
        """Return the part."""
        return make_part(name, self._outline(), self._holes())

    @property
    def _ordinate(self) -> float:
        """Camber of the middle, mm."""
        if self.camber_radius is None:
            return self.camber
        return self.camber_radius - math.sqrt(self.camber_radius**2 - 0.25 * self.length**2)

    def _lift(self, x: FloatArray) -> FloatArray:
        """Return how far camber lifts places along the web: a circle through the ends and the middle."""
        h, half = self._ordinate, 0.5 * self.length
        if h <= 0.0:
            return np.zeros_like(x)
        radius = (half * half + h * h) / (2.0 * h)
        # The circle's height above its chord, without the difference of large numbers.
        return np.asarray(
            (half * half - (x - half) ** 2) / (np.sqrt(radius**2 - (x - half) ** 2) + radius - h)
        )

    def _lower(self) -> list[Corner]:
        r, neck = self.knee_radius, self.neck_length
        corners = [(0.0, 0.0, 0.0)]
        if neck:
            level = self.height + self.neck_rise - (self.neck_height or 0.0)
            corners = [(0.0, level, 0.0), (neck, level, r), (neck + self.slope_length, 0.0, r)]
        if self.taper_length:
            corners.append((self.length - self.taper_length, 0.0, r))
        end = self.height - self.end_height if self.end_height is not None else 0.0
        return [(x, y, radius, x) for x, y, radius in (*corners, (self.length, end, 0.0))]

    def _upper(self) -> list[Corner]:
        """The upper edge from the rear to the front."""
        r, neck, top = self.knee_radius, self.neck_length, self.height
        corners = [(self.length, top, 0.0)]
        if neck and self.neck_rise:
            slope = neck + self.slope_length
            corners += [(slope, top, r), (neck, top + self.neck_rise, r)]
        corners.append((0.0, top + (self.neck_rise if neck else 0.0), 0.0))
        return [(x, y, radius, x) for x, y, radius in corners]

    def _outline(self) -> Path:
        edges: list[Corner] = []
        for name, corners in (("lower", self._lower()), ("upper", self._upper())):
            rows = [row for row in self.cut_outs if row.edge == name]
            edges += _with_openings(corners, rows)
        return _filleted(self._cambered(edges), [corner[2] for corner in edges])

    def _holes(self) -> list[Path]:
        holes = []
        for row in (row for row in self.cut_outs if row.edge == "none"):
            level = row.level if row.level is not None else 0.5 * self.height
            a, b = 0.5 * row.width, 0.5 * row.height
            for x in row.middles:
                y = level + float(self._lift(np.array([x]))[0])
                corners = [(x - a, y - b), (x + a, y - b), (x + a, y + b), (x - a, y + b)]
                holes.append(_filleted(polygon(corners), [row.radius] * 4))
        return holes

    def _cambered(self, corners: Sequence[Corner]) -> Path:
        """Lift each corner as the camber lifts the place along that it goes with.

        Edges along the web become arcs through ends and middle; cut-outs keep their shape.
        """
        table = np.array(corners)
        x0, at = table[:, 0], table[:, 3]
        x1 = np.roll(x0, -1)
        lifted = np.column_stack([x0, table[:, 1] + self._lift(at), np.zeros(len(table))])
        along = (np.abs(x1 - x0) > SAME) & (np.abs(at - np.roll(at, -1)) > SAME)
        over = self._lift(0.5 * (x0 + x1)) - 0.5 * (self._lift(x0) + self._lift(x1))
        chord = np.roll(lifted[:, :2], -1, axis=0) - lifted[:, :2]
        # What stands above the chord lies to the left of a travel along x, and to the right against it.
        bulge = -2.0 * over * chord[:, 0] / np.maximum(np.sum(chord * chord, axis=1), SAME)
        lifted[along, 2] = bulge[along]
        return Path(lifted)


class FlangeStrip(FileModel):
    """A flange of a beam: a strip, narrower towards its ends where asked.

    Attributes
    ----------
    kind : {"flange strip"}
        Which shape it is.
    length : float
        Along x, mm.
    width : float
        mm.
    end_width : float or None
        At both ends, mm.
    taper_length : float
        Over which it narrows at each end, mm.
    """

    kind: Literal["flange strip"] = "flange strip"
    length: Size
    width: Size
    end_width: Size | None = None
    taper_length: SizeOrNone = 0.0

    @model_validator(mode="after")
    def _can_be(self) -> FlangeStrip:
        if (self.taper_length > 0) != (self.end_width is not None):
            raise ValueError("a taper needs both taper_length and end_width")
        if self.end_width is not None and self.end_width >= self.width:
            raise ValueError("end_width must be less than the width")
        if 2 * self.taper_length >= self.length:
            raise ValueError("the tapers are longer than the strip")
        return self

    def part(self, name: str) -> Part:
        """Return the part."""
        length, width, taper = self.length, self.width, self.taper_length
        if not taper:
            return Part(name, polygon([(0, 0), (length, 0), (length, width), (0, width)]))
        inset = 0.5 * (width - (self.end_width or width))
        low = [(0.0, inset), (taper, 0.0), (length - taper, 0.0), (length, inset)]
        return Part(name, polygon([*low, *((x, width - y) for x, y in reversed(low))]))


def _with_openings(corners: Sequence[Corner], rows: Sequence[CutOuts]) -> list[Corner]:
    """Return an edge's corners with its cut-outs, in the edge's own direction."""
    forwards = corners[-1][0] > corners[0][0]
    inwards = 1.0 if forwards else -1.0
    xs, ys = np.array([c[0] for c in corners]), np.array([c[1] for c in corners])
    order = np.argsort(xs)
    found = list(corners)
    for row in rows:
        for x in row.middles:
            a = 0.5 * row.width
            ends = [(x + s * a, float(np.interp(x + s * a, xs[order], ys[order]))) for s in (-1.0, 1.0)]
            depth = float(np.interp(x, xs[order], ys[order])) + inwards * row.height
            opening: list[Corner] = [
                (ends[0][0], ends[0][1], 0.0, ends[0][0]),
                (x - a, depth, row.radius, x),
                (x + a, depth, row.radius, x),
                (ends[1][0], ends[1][1], 0.0, ends[1][0]),
            ]
            opening = opening if forwards else opening[::-1]
            k = sum(1 for c in found if (c[0] < x if forwards else c[0] > x))
            found[k:k] = opening
    return found


def _filleted(path: Path, radii: Sequence[float]) -> Path:
    """Return a contour with a fillet of its own radius at each vertex, tangent to lines and arcs alike."""
    count, lengths = len(path), path.segments.length
    edges = [Path(path.vertices[[k, (k + 1) % count]], closed=False) for k in range(count)]
    # A corner that does not turn has no fillet.
    first = [direction_at(edge, [0.0])[0] for edge in edges]
    last = [direction_at(edge, [size])[0] for edge, size in zip(edges, lengths, strict=True)]
    turning = [abs(_turn(last[k - 1], first[k])) > SAME for k in range(count)]
    radii = [radius if turns else 0.0 for radius, turns in zip(radii, turning, strict=True)]
    cuts = np.zeros((count, 2))  # off the start and the end of each edge
    for k, radius in enumerate(radii):
        if radius > 0.0:
            cuts[k - 1, 1], cuts[k, 0] = _trims(edges[k - 1], edges[k], radius)
    if (cuts.sum(axis=1) > lengths + SAME).any():
        raise ValueError("a fillet is longer than its edge: take a smaller radius")
    rows: list[tuple[float, float, float]] = []
    for k in range(count):
        begin, end = cuts[k, 0], lengths[k] - cuts[k, 1]
        (x, y), (ex, ey) = point_at(edges[k], [begin, end]).tolist()
        if end - begin > SAME:
            rows.append((x, y, math.tan(path.segments.sweep[k] * (end - begin) / lengths[k] / 4.0)))
        after = (k + 1) % count
        if radii[after] > 0.0:
            turn = _turn(direction_at(edges[k], [end])[0], direction_at(edges[after], [cuts[after, 0]])[0])
            rows.append((ex, ey, math.tan(turn / 4.0)))
    return Path(np.array(rows))


def _turn(before: FloatArray, after: FloatArray) -> float:
    """Return the angle from one direction to another, rad."""
    return math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after))


def _trims(before: Path, after: Path, radius: float) -> tuple[float, float]:
    """Return what a fillet takes off the end of one edge and the start of the next, by Newton's method.

    Its middle lies at the radius from both, on the side to which the corner turns.
    """
    whole = float(before.segments.length[0])
    turn = _turn(direction_at(before, [whole])[0], direction_at(after, [0.0])[0])
    side = math.copysign(radius, turn)
    trims = np.full(2, radius * abs(math.tan(turn / 2.0)))
    for _ in range(NEWTON_STEPS):
        a, b = [whole - trims[0]], [trims[1]]
        ends = (
            point_at(before, a)[0] + side * normal_at(before, a)[0],
            point_at(after, b)[0] + side * normal_at(after, b)[0],
        )
        # Along wide arcs a middle moves as its foot does, to first order.
        moves = np.column_stack([-direction_at(before, a)[0], -direction_at(after, b)[0]])
        step = np.linalg.solve(moves, ends[1] - ends[0])
        trims = trims + step
        if np.abs(step).max() < 1e-12:
            break
    if (trims < 0.0).any():
        raise ValueError("a fillet finds no room at its corner: take a smaller radius")
    return float(trims[0]), float(trims[1])
