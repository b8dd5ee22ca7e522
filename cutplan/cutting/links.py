"""Ways from one outside to the next on which the torch burns on, so that several share one pierce.

A link leads straight from where one cut's lead-out ends to where another's lead-in begins.  All
of it lies in scrap, clear of every kerf that will run round a part: whichever is cut first, the
torch does not cross a gap on its way, nor cut what is loose.

Terminology
-----------
link : such a way.
own band : beside the two parts that a link joins, its ends may come as near as leads do.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from cutplan.base.findings import Finding
from cutplan.cutting.leads import LEAST_METAL
from cutplan.cutting.model import Cut, CuttingOptions, Links
from cutplan.cutting.obstacles import NOTHING, Obstacles
from cutplan.cutting.techniques import Chains
from cutplan.geometry import FloatArray, Path, chord_points, direction_at, length
from cutplan.process import CutData
from cutplan.stock import NestedPlate

__all__ = ["find_links"]

LONGEST_LINK = 240.0
"""A longer one lies in metal that something else could be made of, mm."""
SHORTEST_LINK = 0.5
WORTH_S = 10.0
"""Beside preheating and pierce, a start costs no more than this: raising, travel, lowering, s."""
STEEPEST = -0.2
"""Cosine of the sharpest turn from a lead into a link: beyond it their kerfs lie in one another."""
OWN_BAND_KERFS = 2.0
ROW_SHARE = 0.5
"""Parts lie in one row where their widths across it overlap by so much of the smaller."""
CHORD = 0.01
NOBODY = -9
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class _Places:
    """Choices of cuts, one row each: their cut, number, placement, ends and directions there."""

    cut: IntArray
    choice: IntArray
    placement: IntArray
    pierce: FloatArray
    end: FloatArray
    begins: FloatArray
    leaves: FloatArray
    departs: BoolArray


def find_links(
    cuts: Sequence[Cut],
    sheet: NestedPlate,
    data: CutData,
    options: CuttingOptions,
    obstacles: Obstacles,
) -> tuple[Links | None, list[Finding]]:
    """Return the links between the outsides of parts that ask for chains, and what stands against them.

    Parameters
    ----------
    cuts : sequence of Cut
    sheet : NestedPlate
    data : CutData
    options : CuttingOptions
    obstacles : Obstacles

    Returns
    -------
    Links or None
        None where no part asks for any.
    list of Finding
    """
    asked = _asked(cuts, sheet, options)
    if not asked:
        return None, []
    if data.thickness > data.rules.edge_start_above:
        told = f"no chains: {data.thickness:g} mm plate is too thick to pierce, and every cut comes in over its edge"
        return None, [Finding("warning", told)]
    places = _places_of(cuts, asked)
    one, other = _near_pairs(places, cuts, asked, sheet, data)
    ways = np.stack([places.end[one], places.pierce[other]], axis=1)
    fine = _turns_gently(places, one, other, ways)
    one, other, ways = one[fine], other[fine], ways[fine]
    fine = _keeps_clear(places, one, other, ways, data.kerf, obstacles)
    one, other, ways = one[fine], other[fine], ways[fine]
    fine = _off_own_leads(cuts, places, one, other, ways, data.kerf)
    one, other, ways = one[fine], other[fine], ways[fine]
    return Links(
        first=places.cut[one],
        then=places.cut[other],
        first_choice=places.choice[one],
        then_choice=places.choice[other],
        length=np.hypot(*(ways[:, 1] - ways[:, 0]).T),
        most=np.array([asked[i].most if i in asked else 1 for i in range(len(cuts))], dtype=np.int64),
        longest=_limits([asked[i].longest_mm if i in asked else None for i in range(len(cuts))]),
        hottest_c=_limits([asked[i].hottest_c if i in asked else None for i in range(len(cuts))]),
    ), []


def _limits(values: Sequence[float | None]) -> FloatArray:
    return np.array([np.inf if value is None else value for value in values])


def _asked(cuts: Sequence[Cut], sheet: NestedPlate, options: CuttingOptions) -> dict[int, Chains]:
    """Return by cut what its part asks of chains; only outsides cut in one go are chained."""
    found: dict[int, Chains] = {}
    for i, cut in enumerate(cuts):
        whole = cut.kind == "outside" and len(cut.makes) == 1 and cut.makes[0].span is None
        if not whole or cut.frees != cut.placements or cut.starts_before:
            continue
        name = sheet.placements[cut.makes[0].placement].part.name
        chains = options.of_parts.get(name, options.techniques).chains_asked
        if chains is not None:
            found[i] = chains
    return found


def _places_of(cuts: Sequence[Cut], asked: dict[int, Chains]) -> _Places:
    rows = [(i, k) for i in asked for k in range(len(cuts[i].choices))]
    leads = [cuts[i].choices[k] for i, k in rows]
    ends = [direction_at(lead.path, np.array([0.0, float(length(lead.path)) - 1e-6])) for lead in leads]
    table = np.array(rows, dtype=np.int64).reshape(-1, 2)
    return _Places(
        cut=table[:, 0],
        choice=table[:, 1],
        placement=np.array([cuts[i].makes[0].placement for i, _ in rows], dtype=np.int64),
        pierce=np.array([lead.pierce for lead in leads], dtype=np.float64).reshape(-1, 2),
        end=np.array([lead.end for lead in leads], dtype=np.float64).reshape(-1, 2),
        begins=np.array([way[0] for way in ends]).reshape(-1, 2),
        leaves=np.array([way[1] for way in ends]).reshape(-1, 2),
        departs=np.array([lead.lead_out_length > LEAST_METAL for lead in leads], dtype=np.bool_),
    )


def _near_pairs(
    places: _Places, cuts: Sequence[Cut], asked: dict[int, Chains], sheet: NestedPlate, data: CutData
) -> tuple[IntArray, IntArray]:
    """Return pairs of places that are near enough for a link to cost less than a start."""
    worth = (data.preheat_s + data.pierce_s + data.pre_flow_s + WORTH_S) * data.feed_mm_min / 60.0
    leaving = np.flatnonzero(places.departs)
    tree = shapely.STRtree(shapely.points(places.pierce))
    row, other = tree.query(
        shapely.points(places.end[leaving]), predicate="dwithin", distance=min(worth, LONGEST_LINK)
    )
    one = leaving[row]
    apart = np.hypot(*(places.pierce[other] - places.end[one]).T)
    keep = (places.cut[one] != places.cut[other]) & (apart > SHORTEST_LINK)
    one, other = one[keep], other[keep].astype(np.int64)
    allowed: dict[tuple[int, int], bool] = {}
    boxes = np.array([shapely.bounds(_ring(made.contour)) for made in (cuts[i].makes[0] for i in asked)])
    spans = {i: (float(box[1]), float(box[3])) for i, box in zip(asked, boxes.reshape(-1, 4), strict=True)}
    for pair in set(zip(places.cut[one].tolist(), places.cut[other].tolist(), strict=True)):
        a, b = pair
        rows = "rows" in (asked[a].by, asked[b].by)
        beside = cuts[a].inside_of == cuts[b].inside_of
        allowed[pair] = beside and (not rows or _in_one_row(spans[a], spans[b]))
    kept = np.array(
        [allowed[a, b] for a, b in zip(places.cut[one].tolist(), places.cut[other].tolist(), strict=True)],
        dtype=np.bool_,
    )
    return one[kept], other[kept]


def _ring(path: Path) -> shapely.LinearRing:
    return shapely.LinearRing(chord_points(path, 1.0))


def _in_one_row(one: tuple[float, float], other: tuple[float, float]) -> bool:
    overlap = min(one[1], other[1]) - max(one[0], other[0])
    return overlap >= ROW_SHARE * min(one[1] - one[0], other[1] - other[0])


def _turns_gently(places: _Places, one: IntArray, other: IntArray, ways: FloatArray) -> BoolArray:
    """Return which links leave and join their leads without doubling back."""
    along = ways[:, 1] - ways[:, 0]
    along = along / np.hypot(*along.T)[:, None]
    off = np.sum(places.leaves[one] * along, axis=1)
    on = np.sum(along * places.begins[other], axis=1)
    return np.asarray((off > STEEPEST) & (on > STEEPEST))


def _keeps_clear(
    places: _Places, one: IntArray, other: IntArray, ways: FloatArray, kerf: float, obstacles: Obstacles
) -> BoolArray:
    """Return which links stay in scrap, off the plate's edge, and off the kerfs round all parts.

    Near its ends a link may come as near to the two parts that it joins as leads do.
    """
    near, far = 0.5 * kerf + LEAST_METAL, 1.5 * kerf + LEAST_METAL
    lines = np.asarray(shapely.linestrings(ways), dtype=np.object_)
    nobody = np.full(len(lines), NOBODY, dtype=np.int64)
    fine = obstacles.near(lines, nobody, near, edge_clearance=near) == NOTHING
    rows, placements = obstacles.within(lines, far)
    own = (placements == places.placement[one][rows]) | (placements == places.placement[other][rows])
    fine[rows[~own]] = False
    # Within its own band a link may be near to its own parts; beyond, no nearer than to others.
    size = np.hypot(*(ways[:, 1] - ways[:, 0]).T)
    share = np.minimum(0.5, OWN_BAND_KERFS * kerf / np.maximum(size, 1e-9))[:, None]
    along = ways[:, 1] - ways[:, 0]
    inner = np.asarray(
        shapely.linestrings(np.stack([ways[:, 0] + share * along, ways[:, 1] - share * along], axis=1)),
        dtype=np.object_,
    )
    fine &= obstacles.near(inner, nobody, far, edge_clearance=near) == NOTHING
    return np.asarray(fine)


def _off_own_leads(
    cuts: Sequence[Cut],
    places: _Places,
    one: IntArray,
    other: IntArray,
    ways: FloatArray,
    kerf: float,
) -> BoolArray:
    """Return which links keep off the lead-in that the run came by, and the lead-out it will take."""
    strokes: dict[int, tuple[object, object]] = {}
    for row in np.unique(np.concatenate([one, other])).tolist():
        path = cuts[int(places.cut[row])].choices[int(places.choice[row])].path
        strokes[row] = _stroke(path.vertices[:2]), _stroke(path.vertices[-2:])
    lines = np.asarray(shapely.linestrings(ways), dtype=np.object_)
    came = np.array([strokes[row][0] for row in one.tolist()], dtype=np.object_)
    will = np.array([strokes[row][1] for row in other.tolist()], dtype=np.object_)
    least = kerf + LEAST_METAL
    return np.asarray(
        (shapely.distance(lines, came) >= least)
        & (~places.departs[other] | (shapely.distance(lines, will) >= least)),
        dtype=np.bool_,
    )


def _stroke(rows: FloatArray) -> object:
    return shapely.LineString(chord_points(Path(rows, closed=False), CHORD))
