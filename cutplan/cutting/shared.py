"""Shared cuts: the dividers of blocks first, then the run round each block, which frees its parts.

A sheet with blocks is cut as if each block were one part with its members' holes; then its
outside is given to the members, each stretch to the part that it makes, and the dividers are
added.  Every part is held until the last run, round the block, passes it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely

from cutplan.base.findings import Finding
from cutplan.cutting.blocks import Block
from cutplan.cutting.leads import LEAST_METAL, ROUNDING
from cutplan.cutting.model import Cut, FeedSpan, LeadChoice, Links, Made, SheetCuts
from cutplan.cutting.obstacles import NOTHING, Obstacles, points_of, strings
from cutplan.drawing import Part
from cutplan.geometry import (
    FloatArray,
    Path,
    Pose,
    direction_at,
    length,
    nearest,
    place,
    point_at,
    polyline,
    subpath,
)
from cutplan.process import CutData
from cutplan.stock import NestedPlate, Placement

__all__ = ["Blocked", "as_blocks", "share_cuts"]

ON_EDGE = 1e-3
SAME_PLACE = 1e-6
BLOCK = "block "
BESIDE = 0.02
"""An edge lies beside a divider where it is half a kerf off it within this, mm."""
MOST_BACK = 4.0
MOST_LEADS = 8


@dataclass(frozen=True, eq=False)
class Blocked:
    """A sheet on which each block is one placement.

    Attributes
    ----------
    sheet : NestedPlate
        The blocks come last.
    own : tuple of int
        By placement of it that is no block, the placement of the real sheet.
    blocks : tuple of Block
    holes : tuple of tuple of (int, int)
        By block and its holes, the member and its hole.
    """

    sheet: NestedPlate
    own: tuple[int, ...]
    blocks: tuple[Block, ...]
    holes: tuple[tuple[tuple[int, int], ...], ...]

    @property
    def names(self) -> list[str]:
        """Names that the blocks have as parts."""
        return [p.part.name for p in self.sheet.placements[len(self.own) :]]


def as_blocks(sheet: NestedPlate, blocks: Sequence[Block]) -> Blocked:
    """Return a sheet on which each block is one part.

    Parameters
    ----------
    sheet : NestedPlate
    blocks : sequence of Block
    """
    joined = {i for block in blocks for i in block.members}
    own = tuple(i for i in range(len(sheet.placements)) if i not in joined)
    placements = [sheet.placements[i] for i in own]
    holes = []
    for number, block in enumerate(blocks, start=1):
        numbered = [(i, k) for i in block.members for k in range(len(sheet.placements[i].part.holes))]
        placed = tuple(
            place(sheet.placements[i].part.holes[k], sheet.placements[i].pose) for i, k in numbered
        )
        placements.append(Placement(Part(f"{BLOCK}{number}", block.outline, placed), 1, Pose()))
        holes.append(tuple(numbered))
    return Blocked(replace(sheet, placements=tuple(placements)), own, tuple(blocks), tuple(holes))


def share_cuts(made: SheetCuts, blocked: Blocked, sheet: NestedPlate, data: CutData) -> SheetCuts:
    """Return the cuts of the real sheet from those of one on which blocks are parts.

    Parameters
    ----------
    made : SheetCuts
        Of `blocked.sheet`.
    blocked : Blocked
    sheet : NestedPlate
    data : CutData
    """
    obstacles = Obstacles(blocked.sheet, data.cut_height)
    cuts = [_given_back(cut, blocked, sheet, data) for cut in made.cuts]
    findings, dividers = list(made.findings), []
    for number, block in enumerate(blocked.blocks):
        for line in block.dividers:
            divider = _divider(line, block, len(blocked.own) + number, sheet, data, obstacles)
            if divider is None:
                x, y = line.mean(axis=0)
                told = "no start fits a cut that two parts share"
                findings.append(
                    Finding("refused", told, (float(x), float(y)), "widen the gap, or cut them apart")
                )
            else:
                dividers.append(divider)
    tabs = tuple(replace(tab, placement=blocked.own[tab.placement]) for tab in made.tabs)
    return SheetCuts((*cuts, *dividers), tuple(findings), tabs, _longer(made.links, len(dividers)))


def _longer(links: Links | None, more: int) -> Links | None:
    """Return links that know of further cuts, which none leads to."""
    if links is None:
        return None
    return replace(
        links,
        most=np.concatenate([links.most, np.ones(more, dtype=np.int64)]),
        longest=np.concatenate([links.longest, np.full(more, np.inf)]),
        hottest_c=np.concatenate([links.hottest_c, np.full(more, np.inf)]),
    )


def _given_back(cut: Cut, blocked: Blocked, sheet: NestedPlate, data: CutData) -> Cut:
    """Return a cut with the placements of the real sheet; that round a block makes its members."""
    if not cut.makes:
        return cut
    before = tuple(sorted({i for p in cut.starts_before for i in _real(p, blocked)}))
    host = None if cut.inside_of is None else _host(cut, blocked, sheet)
    first = len(blocked.own)
    placement = cut.makes[0].placement
    if placement < first:
        makes = tuple(replace(m, placement=blocked.own[m.placement]) for m in cut.makes)
        frees = tuple(blocked.own[p] for p in cut.frees)
        return replace(cut, makes=makes, frees=frees, starts_before=before, inside_of=host)
    block = blocked.blocks[placement - first]
    if cut.kind != "outside":
        member, hole = blocked.holes[placement - first][cut.makes[0].hole or 0]
        real = sheet.placements[member]
        own = replace(cut.makes[0], part=real.part.name, copy=real.copy, placement=member, hole=hole)
        return replace(cut, makes=(own,), starts_before=before, inside_of=host)
    return replace(_round_block(cut, block, sheet), starts_before=before, inside_of=host)


def _real(placement: int, blocked: Blocked) -> tuple[int, ...]:
    first = len(blocked.own)
    return (blocked.own[placement],) if placement < first else blocked.blocks[placement - first].members


def _host(cut: Cut, blocked: Blocked, sheet: NestedPlate) -> int:
    """Return the real placement in whose hole a cut lies."""
    members = _real(int(cut.inside_of or 0), blocked)
    at = shapely.Point(cut.makes[0].contour.start)
    around = [
        i
        for i in members
        if shapely.Polygon(place(sheet.placements[i].part.outer, sheet.placements[i].pose).points).contains(
            at
        )
    ]
    return (around or members)[0]


def _round_block(cut: Cut, block: Block, sheet: NestedPlate) -> Cut:
    """Return the run round a block: each stretch of it makes the member that it runs beside.

    The stretches are bounded by the dividers' ends and by the places where choices begin, so that
    all choices make the same ones.
    """
    outsides = {i: place(sheet.placements[i].part.outer, sheet.placements[i].pose) for i in block.members}
    leads = cut.choices[:MOST_LEADS]
    first, last = leads[0].made_along[0]
    ring = subpath(leads[0].path, first, last)
    whole = last - first
    junctions = nearest(ring, np.vstack(block.dividers))[1] if block.dividers else np.zeros(0)
    begins = nearest(ring, np.array([point_at(k.path, k.lead_in_length) for k in leads]).reshape(-1, 2))[1]
    stops = _distinct(np.concatenate([junctions, begins]) % whole, whole)
    corners = _passed_corners(ring, block, outsides)
    bounds = list(zip(stops, [*stops[1:], stops[0] + whole], strict=True))
    makes = tuple(_made(ring, a, b, whole, outsides, sheet) for a, b in bounds)
    choices = []
    for lead, begin in zip(leads, begins.tolist(), strict=True):
        starts = [lead.lead_in_length + _past(a - begin, whole) for a, _ in bounds]
        along = tuple((s, s + b - a) for s, (a, b) in zip(starts, bounds, strict=True))
        passed = [lead.lead_in_length + _past(s - begin, whole) for s in corners]
        choices.append(replace(lead, path=_with_vertices(lead.path, passed), along=along))
    return replace(cut, makes=makes, choices=tuple(choices), frees=block.members)


def _passed_corners(ring: Path, block: Block, outsides: dict[int, Path]) -> list[float]:
    """Return where the way round a block passes corners of its members without turning."""
    points = np.vstack([outside.points for outside in outsides.values()])
    own = np.hypot(*(points[:, None] - block.outline.points[None]).transpose(2, 0, 1)).min(axis=1) < BESIDE
    away, s = nearest(ring, points[~own])
    return [float(at) for at in s[away < block.half_kerf + BESIDE]]


def _past(s: float, whole: float) -> float:
    """Return how far round a place lies, 0 for one that rounding puts just before the start."""
    s %= whole
    return 0.0 if whole - s < ON_EDGE else s


def _distinct(places: FloatArray, whole: float) -> list[float]:
    found: list[float] = []
    for s in np.sort(places).tolist():
        if (not found or s - found[-1] > ON_EDGE) and whole - s > ON_EDGE:
            found.append(s)
    return found


def _with_vertices(path: Path, stations: Sequence[float]) -> Path:
    """Return an open path with a vertex at each of some places along it."""
    total = float(length(path))
    stops = [0.0, *(s for s in sorted(stations) if ON_EDGE < s < total - ON_EDGE), total]
    rows = [subpath(path, a, b).vertices[:-1] for a, b in pairwise(stops) if b - a > SAME_PLACE]
    return Path(np.vstack([*rows, path.vertices[-1:]]), closed=False)


def _made(
    ring: Path, start: float, end: float, whole: float, outsides: dict[int, Path], sheet: NestedPlate
) -> Made:
    """Return the stretch of a member's outside beside a stretch of the way round its block."""
    places = np.array([start, 0.5 * (start + end), end]) % whole
    points = point_at(ring, places)
    owner = min(outsides, key=lambda i: float(nearest(outsides[i], points[1:2])[0][0]))
    ahead = direction_at(ring, places[1:2])[0]
    return _member_made(owner, outsides[owner], points[[0, 2]], points[1], ahead, sheet)


def _member_made(
    owner: int, outside: Path, ends: FloatArray, middle: FloatArray, ahead: FloatArray, sheet: NestedPlate
) -> Made:
    """Return a stretch of a member's outside, from its ends, its middle and the torch's direction there."""
    feet = nearest(outside, np.vstack([ends, middle]))[1]
    forwards = float(direction_at(outside, feet[2:])[0] @ ahead) > 0.0
    span = (float(feet[0]), float(feet[1])) if forwards else (float(feet[1]), float(feet[0]))
    placed = sheet.placements[owner]
    return Made(placed.part.name, placed.copy, owner, outside, None, span)


def _divider(
    line: FloatArray,
    block: Block,
    number: int,
    sheet: NestedPlate,
    data: CutData,
    obstacles: Obstacles,
) -> Cut | None:
    """Return the cut along a divider, from scrap beside the block; None where no start is clear."""
    outsides = {i: place(sheet.placements[i].part.outer, sheet.placements[i].pose) for i in block.members}
    stretches = _edges_along(line, outsides, data.kerf)
    makes = tuple(
        _member_made(owner, outsides[owner], ends, ends.mean(axis=0), line[1] - line[0], sheet)
        for owner, ends in stretches
    )
    choices = []
    for way in (line, line[::-1]):
        lead = _lead_on(way, stretches, block, number, data, obstacles)
        if lead is not None:
            choices.append(lead)
    return Cut("outside", makes, tuple(choices)) if choices else None


def _edges_along(line: FloatArray, outsides: dict[int, Path], kerf: float) -> list[tuple[int, FloatArray]]:
    """Return the members' edges beside a divider, with their ends as seen on it, along it."""
    size = float(np.hypot(*(line[1] - line[0])))
    along = (line[1] - line[0]) / size
    found = []
    for owner, outside in outsides.items():
        for one, other in pairwise([*outside.points, outside.points[0]]):
            off = np.array([one, other]) - line[0]
            aside = np.abs(off[:, 0] * along[1] - off[:, 1] * along[0])
            if (np.abs(aside - 0.5 * kerf) < BESIDE).all():
                s = np.sort(off @ along)
                found.append((owner, np.array([line[0] + s[0] * along, line[0] + s[1] * along])))
    return sorted(found, key=lambda each: float((each[1][0] - line[0]) @ along))


def _lead_on(
    way: FloatArray,
    stretches: Sequence[tuple[int, FloatArray]],
    block: Block,
    number: int,
    data: CutData,
    obstacles: Obstacles,
) -> LeadChoice | None:
    """Return the way along a divider with a straight lead-in on its own line; None where that is not clear."""
    pierce = _clear_pierce(way, block, number, data, obstacles)
    if pierce is None:
        return None
    along = (way[1] - way[0]) / np.hypot(*(way[1] - way[0]))
    total = float((way[1] - pierce) @ along)
    bounds = [np.sort((ends - pierce) @ along) for _, ends in stretches]
    stops = sorted({0.0, total, *(round(float(s), 6) for pair in bounds for s in pair)})
    path = polyline([pierce + s * along for s in stops])
    first, last = min(b[0] for b in bounds), max(b[1] for b in bounds)
    creep: tuple[FeedSpan, ...] = ()
    if data.moving_pierce_mm > 0.0:
        creep = (FeedSpan(0.0, data.moving_pierce_mm, data.moving_pierce_feed),)
    return LeadChoice(
        path=path,
        pierce=(float(pierce[0]), float(pierce[1])),
        end=(float(way[1][0]), float(way[1][1])),
        lead_in_length=float(first),
        lead_out_length=float(total - last),
        spans=creep,
        along=tuple((float(b[0]), float(b[1])) for b in bounds),
    )


def _clear_pierce(
    way: FloatArray, block: Block, number: int, data: CutData, obstacles: Obstacles
) -> FloatArray | None:
    """Return where a divider's cut begins, on its own line; None where nothing is clear there."""
    size = float(np.hypot(*(way[1] - way[0])))
    along = (way[1] - way[0]) / size
    outline = shapely.Polygon(block.outline.points)
    margin = 0.5 * data.kerf + LEAST_METAL
    clearance = max(data.rules.pierce_clearance, margin)
    back = max(clearance - block.half_kerf, data.moving_pierce_mm)
    while outline.distance(shapely.Point(way[0] - back * along)) < clearance and back < MOST_BACK * clearance:
        back += ROUNDING
    pierce: FloatArray = way[0] - back * along
    owner = np.array([number])
    near = obstacles.near(
        strings(np.array([[pierce, way[0]]])), owner, margin + data.kerf, edge_clearance=margin
    )
    spot = points_of(pierce[None])
    beside = obstacles.near(spot, owner, clearance + data.kerf - 2.0 * ROUNDING, edge_clearance=clearance)
    if near[0] != NOTHING or beside[0] != NOTHING or outline.distance(spot[0]) < clearance - 1e-9:
        return None
    return pierce
