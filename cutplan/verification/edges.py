"""Finished edges on the plate, and the burns of a program, as the proof compares them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.geometry import FloatArray, Path, bounds, contains, length, place, to_polygon
from cutplan.nesting import NestedPlate
from cutplan.program import DWELL, SWITCH, Motions

__all__ = ["SAMPLE_MM", "Burn", "Edge", "edges_of", "lit_burns"]

SAMPLE_MM = 0.5
"""Greatest distance between samples of an edge."""
CHORD_MM = 0.002
QUADRANT = 48
"""Chords in a quarter turn of a shapely buffer: it errs by r(1 − cos(π/4·48)), under 0.0002 r."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Burn:
    """One run of the torch or marker, from lit to out.

    Attributes
    ----------
    path : Path
        Open; the way of the torch.
    line : int
        Program line that lights it.
    pierce : tuple of float
    length : float
        mm.
    box : tuple of float
    """

    path: Path
    line: int
    pierce: tuple[float, float]
    length: float
    box: Box

    def comes_near(self, box: Box, margin: float) -> bool:
        """Tell whether the path's box comes within a margin of another."""
        a, b = self.box, box
        return (
            a[0] <= b[2] + margin
            and b[0] <= a[2] + margin
            and a[1] <= b[3] + margin
            and b[1] <= a[3] + margin
        )


@dataclass(frozen=True, eq=False)
class Edge:
    """One contour of one placed part.

    Attributes
    ----------
    part : str
    copy : int
    placement : int
    hole : int or None
        Index of the hole; None for the outside.
    contour : Path
    holes : tuple of Path
        The part's holes, for its outside.
    nested : tuple of int
        Placements that lie inside, for a hole.
    samples : ndarray, shape (n, 2)
    allowed : ndarray, shape (n,)
        Metal that a round jet cannot but leave at each sample, mm: its fillets in re-entrant
        corners.
    box : tuple of float
    """

    part: str
    copy: int
    placement: int
    hole: int | None
    contour: Path
    holes: tuple[Path, ...]
    nested: tuple[int, ...]
    samples: FloatArray
    allowed: FloatArray
    box: Box

    @property
    def label(self) -> str:
        """The edge in words."""
        side = "the outside" if self.hole is None else f"hole {self.hole + 1}"
        return f"{side} of {self.part} copy {self.copy}"

    def is_metal(self, point: tuple[float, float]) -> bool:
        """Tell whether a place lies in the part's metal; for outsides."""
        if not contains(self.contour, [point])[0]:
            return False
        return not any(contains(hole, [point])[0] for hole in self.holes)


def edges_of(sheet: NestedPlate, radius: float) -> list[Edge]:
    """Return all finished edges of a sheet; copies share what is measured on the drawing."""
    measured: dict[tuple[int, int | None], tuple[FloatArray, FloatArray]] = {}
    placed = [[place(c, p.pose) for c in (p.part.outer, *p.part.holes)] for p in sheet.placements]
    edges: list[Edge] = []
    for index, placement in enumerate(sheet.placements):
        part = placement.part
        for k, contour in enumerate(placed[index]):
            hole = None if k == 0 else k - 1
            key = (id(part), hole)
            if key not in measured:
                measured[key] = _measured(part.outer if hole is None else part.holes[hole], hole, radius)
            shares, allowed = measured[key]
            nested = () if hole is None else _inside(contour, placed, index)
            samples = _at_shares(contour, shares)
            holes = tuple(placed[index][1:]) if hole is None else ()
            edges.append(
                Edge(
                    part.name,
                    placement.copy,
                    index,
                    hole,
                    contour,
                    holes,
                    nested,
                    samples,
                    allowed,
                    bounds(contour),
                )
            )
    return edges


def _measured(contour: Path, hole: int | None, radius: float) -> tuple[FloatArray, FloatArray]:
    """Return samples of a contour, as segment and share of it, and the fillets they must carry."""
    sizes = contour.segments.length
    counts = np.maximum(2, np.ceil(sizes / SAMPLE_MM).astype(np.int64))
    segment = np.repeat(np.arange(len(sizes)), counts)
    step = np.arange(len(segment)) - np.repeat(np.cumsum(counts) - counts, counts)
    shares = np.column_stack([segment, step / counts[segment]])
    points = _at_shares(contour, shares)
    polygon = to_polygon(contour, tolerance=CHORD_MM)
    if hole is None:
        reachable = polygon.buffer(radius, quad_segs=QUADRANT).exterior
    else:
        reachable = polygon.buffer(-radius, quad_segs=QUADRANT)
        if reachable.is_empty:
            return shares, np.full(len(points), np.inf)
    gap = shapely.distance(shapely.points(points), reachable)
    # What the chorded views err by is no fillet.
    slack = 2.0 * CHORD_MM + 2e-4 * radius
    return shares, np.where(gap - radius > slack, gap - radius, 0.0)


def _at_shares(contour: Path, shares: FloatArray) -> FloatArray:
    s = contour.segments
    index = shares[:, 0].astype(np.int64)
    share = shares[:, 1]
    on_line = s.start[index] + share[:, None] * (s.end[index] - s.start[index])
    arc = s.is_arc[index]
    if not arc.any():
        return np.asarray(on_line)
    centre = np.where(arc[:, None], s.centre[index], 0.0)
    spoke = s.start[index] - centre
    angle = share * s.sweep[index]
    c, sn = np.cos(angle), np.sin(angle)
    turned = np.column_stack([c * spoke[:, 0] - sn * spoke[:, 1], sn * spoke[:, 0] + c * spoke[:, 1]])
    return np.where(arc[:, None], centre + turned, on_line)


def _inside(hole: Path, placed: list[list[Path]], own: int) -> tuple[int, ...]:
    x0, y0, x1, y1 = bounds(hole)
    found = []
    for index, contours in enumerate(placed):
        if index == own:
            continue
        a0, b0, a1, b1 = bounds(contours[0])
        if a0 >= x0 and b0 >= y0 and a1 <= x1 and b1 <= y1 and contains(hole, contours[0].points[:1])[0]:
            found.append(index)
    return tuple(found)


def lit_burns(motions: Motions, lit: NDArray[np.bool_]) -> list[Burn]:
    """Return the runs of a switch that is on in the rows given."""
    ends = np.flatnonzero(np.diff(np.concatenate([[False], lit, [False]]).astype(np.int8)))
    burns: list[Burn] = []
    moves = (motions.kind != SWITCH) & (motions.kind != DWELL)
    for first, last in zip(ends[::2], ends[1::2], strict=True):
        rows = np.arange(first, last)[moves[first:last]]
        path = _path(motions, rows, int(first))
        start = motions.start[first, :2]
        burns.append(
            Burn(
                path, int(motions.line[first]), (float(start[0]), float(start[1])), length(path), bounds(path)
            )
        )
    return burns


def _path(motions: Motions, rows: NDArray[np.intp], first: int) -> Path:
    """Return the way of some motions, arcs over half a turn in pieces."""
    vertices: list[tuple[float, float, float]] = []
    for row in rows:
        start, turn = motions.start[row, :2], float(motions.turns[row])
        pieces = max(1, int(np.ceil(abs(turn) / np.pi - 1e-9)))
        spoke = start - motions.centre[row] if turn else start
        for k in range(pieces):
            at = start
            if k:
                c, s = np.cos(turn * k / pieces), np.sin(turn * k / pieces)
                at = motions.centre[row] + (c * spoke[0] - s * spoke[1], s * spoke[0] + c * spoke[1])
            vertices.append((float(at[0]), float(at[1]), float(np.tan(turn / pieces / 4.0))))
    last = motions.end[rows[-1], :2] if len(rows) else motions.start[first, :2]
    vertices.append((float(last[0]), float(last[1]), 0.0))
    if len(vertices) == 1:
        # A torch that is lit and put out on the spot still burns a hole.
        vertices.append((vertices[0][0] + 1e-6, vertices[0][1], 0.0))
    return Path(np.array(vertices), closed=False)
