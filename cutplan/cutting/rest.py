"""The rest cut: it parts what is left of a plate and worth keeping from what was cut.

Terminology
-----------
side : of the plate, where the rest lies: a plate is looked at so that it lies far along u.
frame : what no rest cut may come near, as boxes: the parts with their gap, leads with theirs.
line : of the torch's centre, from edge to edge of the plate.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from cutplan.base.findings import Finding
from cutplan.cutting.edge import RUN_UP
from cutplan.cutting.gaps import gaps_for
from cutplan.cutting.leads import LEAST_METAL
from cutplan.cutting.model import Cut, CuttingOptions, LeadChoice
from cutplan.cutting.obstacles import NOTHING, Obstacles
from cutplan.cutting.techniques import RestCut
from cutplan.geometry import FloatArray, Path, chord_points, polyline, reverse, to_polygon
from cutplan.process import CutData
from cutplan.stock import NestedPlate, remnant_shapes

__all__ = ["Parted", "part_rest"]

# A step must keep this share more of the plate than a straight line does.
STEP_GAIN = 0.1
# A cut keeps so many of its leads at least, when those that reach the line are left out.
LEADS_KEPT = 3
# Added to the poorer direction of a rest cut, s: the rest lies on the bevelled side of the kerf.
BEVELLED_S = 1.0
CHORD = 0.05
# Beyond any plate, mm: lines are drawn so far and then cut to it.
FAR = 1e5
# From (x, y) to (u, v), by where the rest lies.
SIDES = {
    "right": np.array([[1.0, 0.0], [0.0, 1.0]]),
    "left": np.array([[-1.0, 0.0], [0.0, 1.0]]),
    "upper": np.array([[0.0, 1.0], [1.0, 0.0]]),
    "lower": np.array([[0.0, -1.0], [1.0, 0.0]]),
}


@dataclass(frozen=True, eq=False)
class Parted:
    """The cuts of a sheet with its rest cut behind them, where there is one to make.

    Attributes
    ----------
    cuts : list of Cut
        Without the leads that reach the rest cut's line.
    findings : list of Finding
    """

    cuts: list[Cut]
    findings: list[Finding]


@dataclass(frozen=True, eq=False)
class _Line:
    """A line that may part the rest, the way of the torch along it, and the area that is kept, mm²."""

    way: Path
    kept: float


def part_rest(
    sheet: NestedPlate,
    cuts: Sequence[Cut],
    data: CutData,
    options: CuttingOptions,
    obstacles: Obstacles,
) -> Parted:
    """Return the cuts of a sheet and, where a rest is worth keeping, the one that parts it.

    Parameters
    ----------
    sheet : NestedPlate
    cuts : sequence of Cut
    data : CutData
    options : CuttingOptions
    obstacles : Obstacles
        Of the sheet.

    Returns
    -------
    Parted
        The rest cut begins and ends beside the plate, and keeps the parts' gap from them.
    """
    asked = options.techniques.rest_asked
    if asked is None or not sheet.placements:
        return Parted(list(cuts), [])
    search = _Search(sheet, cuts, data, options, obstacles, asked)
    best: tuple[_Line, list[Cut]] | None = None
    for side in SIDES:
        found = search.of_side(SIDES[side])
        if found is not None and (best is None or found[0].kept > best[0].kept):
            best = found
    if best is None:
        return Parted(list(cuts), search.told())
    line, kept = best
    return Parted([*kept, Cut("rest", (), search.choices(line.way))], [])


@dataclass(eq=False)
class _Search:
    """Looks for the line that keeps most of a sheet."""

    sheet: NestedPlate
    cuts: Sequence[Cut]
    data: CutData
    options: CuttingOptions
    obstacles: Obstacles
    asked: RestCut

    def __post_init__(self) -> None:
        self.plate: Any = to_polygon(self.sheet.plate.outline, tolerance=CHORD, side="inside")
        voids = [to_polygon(void, tolerance=CHORD) for void in self.sheet.plate.voids]
        self.metal: Any = shapely.difference(self.plate, shapely.union_all(voids))
        self.run_up = 0.5 * self.data.kerf + RUN_UP
        # Half the kerf of each, and metal that stands between them.
        self.off_leads = max(self.data.kerf + LEAST_METAL, 0.5 * self.data.kerf + self.data.mound_radius)
        gap = gaps_for(self.data).gap
        self.parts = [_grown(shapely.bounds(metal), gap) for metal in self.obstacles.metal]
        self.leads = [_grown(_box(lead.path), self.off_leads) for cut in self.cuts for lead in cut.choices]
        room = self.options.torch_radius_mm + self.data.kerf + LEAST_METAL
        self.barred = np.array([_grown(_box(each), room) for each in self.sheet.plate.barred]).reshape(-1, 4)
        self.hindered = ""

    def of_side(self, turn: FloatArray) -> tuple[_Line, list[Cut]] | None:
        """Return the line that keeps most of one side, and the cuts with the leads that keep off it."""
        for boxes in (self.parts, [*self.parts, *self.leads]):
            points = self._points(np.array(boxes), turn)
            lines = [line for each in points for line in self._lines(each, turn)]
            if not lines:
                continue
            best = max(lines, key=lambda line: line.kept)
            kept = self._off(best.way)
            if kept is not None:
                return best, kept
        return None

    def _points(self, frame: FloatArray, turn: FloatArray) -> Iterator[FloatArray]:
        """Yield the lines just clear of boxes, in u and v: the straight one, and those with a step."""
        boxes = _turned(frame, turn)
        far = float(boxes[:, 2].max())
        for u in (far, *sorted(u for u in _turned(self.barred, turn)[:, 2].tolist() if u > far)):
            yield np.array([(u, -FAR), (u, FAR)])
        if self.asked.shape != "stepped":
            return
        short = min(self.asked.keep_mm) / 3.0
        for v in sorted({*boxes[:, 1].tolist(), *boxes[:, 3].tolist()}):
            below, above = boxes[boxes[:, 1] < v], boxes[boxes[:, 3] > v]
            if not len(below) or not len(above):
                continue
            one, other = float(below[:, 2].max()), float(above[:, 2].max())
            if abs(one - other) > short:
                yield np.array([(one, -FAR), (one, v), (other, v), (other, FAR)])

    def _lines(self, points: FloatArray, turn: FloatArray) -> Iterator[_Line]:
        """Yield the way of the torch along points in u and v, and the rest beyond it, where that is worth it."""
        inside = shapely.intersection(shapely.LineString(points @ turn), self.plate)
        if inside.geom_type != "LineString" or inside.is_empty:
            return
        ends = shapely.get_coordinates(inside)
        rest = self._beyond(ends, turn)
        if rest is None:
            return
        keep = self.asked.keep_mm
        shapes = remnant_shapes(rest, keep)
        kept = sum(_area(shape.outline, shape.voids) for shape in shapes)
        if len(points) > 2:
            # A step is worth its two corners where it keeps so much more.
            kept -= STEP_GAIN * self.plate.area
        if kept <= 0.0:
            return
        way = self._way(ends)
        self.hindered = (
            self.hindered if way is not None else "clear of clamps and holes, on the table's travel,"
        )
        if way is not None:
            yield _Line(way, kept)

    def _beyond(self, ends: FloatArray, turn: FloatArray) -> Any:
        """Return the metal beyond a line; None where the line does not part the plate in two."""
        first, last = ends[0] - ends[1], ends[-1] - ends[-2]
        long = np.vstack(
            [
                ends[0] + first / np.hypot(*first) * self.run_up,
                ends[1:-1],
                ends[-1] + last / np.hypot(*last) * self.run_up,
            ]
        )
        kerf = shapely.LineString(long).buffer(0.5 * self.data.kerf, join_style="mitre")
        pieces = shapely.get_parts(shapely.difference(self.plate, kerf))
        if len(pieces) != 2:
            return None
        parts = shapely.multipoints(
            [shapely.get_coordinates(m.representative_point())[0] for m in self.obstacles.metal]
        )
        beyond = [piece for piece in pieces if not piece.intersects(parts)]
        return shapely.intersection(beyond[0], self.metal) if len(beyond) == 1 else None

    def _way(self, ends: FloatArray) -> Path | None:
        """Return the torch's way along a line from beside the plate to beside it; None where it may not go."""
        first, last = ends[0] - ends[1], ends[-1] - ends[-2]
        start = ends[0] + first / np.hypot(*first) * self.run_up
        end = ends[-1] + last / np.hypot(*last) * self.run_up
        points = np.vstack([start, ends, end])
        beside = shapely.distance(shapely.points(points[[0, -1]]), self.obstacles.edge)
        if (beside < self.run_up - 0.5 * RUN_UP).any():
            return None
        for axis in (0, 1):
            low, high = min(0.0, float(points[:, axis].min())), float(points[:, axis].max())
            if high - low > self.options.table_mm[axis]:
                return None
        line = np.array([shapely.LineString(points)], dtype=np.object_)
        margin = 0.5 * self.data.kerf + LEAST_METAL
        in_way = self.obstacles.near(line, np.array([NOTHING]), margin)
        return polyline(points) if in_way[0] == NOTHING else None

    def _off(self, way: Path) -> list[Cut] | None:
        """Return the cuts without their leads that reach a line; None where that leaves one too few."""
        line = shapely.LineString(way.points)
        shapely.prepare(line)
        kept = []
        for cut in self.cuts:
            clear = tuple(
                lead
                for lead in cut.choices
                if not shapely.dwithin(
                    line, shapely.LineString(chord_points(lead.path, CHORD)), self.off_leads
                )
            )
            if len(clear) < min(LEADS_KEPT, len(cut.choices)):
                return None
            kept.append(cut if len(clear) == len(cut.choices) else replace(cut, choices=clear))
        return kept

    def choices(self, way: Path) -> tuple[LeadChoice, ...]:
        """Return the two directions of a rest cut; that with the rest on the square side is preferred."""
        made = []
        for path in (way, reverse(way)):
            bevelled = (
                self.data.rules.square_side != "both"
                and _parts_on(path, self.obstacles) == self.data.rules.square_side
            )
            made.append(
                LeadChoice(
                    path=path,
                    pierce=(float(path.start[0]), float(path.start[1])),
                    end=(float(path.end[0]), float(path.end[1])),
                    lead_in_length=self.run_up,
                    lead_out_length=self.run_up,
                    edge_start=True,
                    penalty_s=BEVELLED_S if bevelled else 0.0,
                )
            )
        return tuple(made)

    def told(self) -> list[Finding]:
        """Return why a rest that is worth keeping stays on the skeleton."""
        if not self.hindered:
            return []
        return [
            Finding(
                "warning",
                f"the rest stays on the skeleton: no line {self.hindered} parts it from edge to edge",
            )
        ]


def _parts_on(path: Path, obstacles: Obstacles) -> str:
    """Return on which side of a way the parts lie."""
    at = shapely.get_coordinates(obstacles.metal[0].representative_point())[0]
    ahead, across = path.points[1] - path.points[0], at - path.points[0]
    return "left" if ahead[0] * across[1] - ahead[1] * across[0] > 0.0 else "right"


def _grown(box: Any, by: float) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = (float(value) for value in box)
    return x0 - by, y0 - by, x1 + by, y1 + by


def _box(path: Path) -> Any:
    points = chord_points(path, CHORD)
    return (*points.min(axis=0), *points.max(axis=0))


def _turned(boxes: FloatArray, turn: FloatArray) -> FloatArray:
    """Return boxes in u and v."""
    one, other = boxes[:, :2] @ turn.T, boxes[:, 2:] @ turn.T
    return np.hstack([np.minimum(one, other), np.maximum(one, other)])


def _area(outline: Path, voids: Sequence[Path]) -> float:
    view = to_polygon(outline, voids, tolerance=CHORD)
    return float(view.area)
