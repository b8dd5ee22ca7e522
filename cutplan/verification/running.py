"""How each contour is run: the part on the square side of the kerf, each stretch at its own feed, and
holes over-burnt.

Terminology
-----------
run of a contour : the strokes of a burn from the first to the last that follow a contour.
lead : the strokes of a burn before and behind that; a link from contour to contour is one as well.
detour : strokes in between that follow none, as a loop round a corner does.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from cutplan.control import RAPID, Dialect, Motions
from cutplan.drawing import inscribed_circle
from cutplan.geometry import FloatArray, Path, area
from cutplan.process import CutData
from cutplan.verification.before import Resumed
from cutplan.verification.burns import Runs
from cutplan.verification.coasting import coasting_faults, coasting_way
from cutplan.verification.covering import Covered, covered_by, taken_up
from cutplan.verification.following import following_faults
from cutplan.verification.links import link_faults, link_strokes
from cutplan.verification.model import Fault, Planned
from cutplan.verification.placed import PlacedParts
from cutplan.verification.places import fault_at
from cutplan.verification.scrap import beside_plate
from cutplan.verification.strokes import BoolArray, IntArray
from cutplan.verification.ways import ON_WAY, Followed, Ways, follow_ways, on_two_ways, ways_round

__all__ = ["running_faults"]

# Rounded coordinates change the length of a block by no more than this, mm.
LENGTH_STEP = 0.003
# A change of feed may come this much before or behind its place, mm.
PLACE_STEP = 0.05
# A short block of a lead runs along the contour before it meets it, mm.
LEAD_BLUR = 1.0
STRAIGHT_ON = math.radians(1.0)
FEED_SHARE, FEED_STEP = 0.015, 13.0


def running_faults(
    motions: Motions,
    runs: Runs,
    parts: PlacedParts,
    data: CutData,
    dialect: Dialect,
    planned: Planned | None = None,
    resumed: Mapping[int, Resumed] = MappingProxyType({}),
) -> Iterator[Fault]:
    """Yield contours run the wrong way round, stretches at another's feed, holes not over-burnt, bad links.

    Parameters
    ----------
    motions : Motions
    runs : Runs
        The torch's.
    parts : PlacedParts
    data : CutData
    dialect : Dialect
    planned : Planned, optional
    resumed : mapping of int to Resumed
        Runs that take up an earlier one: what that followed counts with them.
    """
    if not len(runs.strokes) or not parts.sheet.placements:
        return
    ways = ways_round(parts, 0.5 * data.kerf, data.rules)
    found = follow_ways(runs.strokes, ways)
    covered = taken_up(covered_by(runs, found, len(parts.contour_hole)), resumed)
    yield from _side_faults(runs, covered, ways, data)
    yield from _overburn_faults(runs, covered, ways, parts, data)
    yield from coasting_faults(motions, runs, _rounds(covered, ways, parts), data)
    # Between a contour and a lead the control runs an arc of its own at the feed of either.
    # A divider runs past the ends of its edges by up to a kerf.
    blur = max(LEAD_BLUR, data.kerf, math.pi * (dialect.compensation_radius_mm or 0.0))
    links = link_strokes(runs, found, data.kerf)
    order = _Order.of(runs, found, links, on_two_ways(runs.strokes, ways), blur)
    yield from link_faults(runs, links, data.kerf, planned, resumed)
    if dialect.height_on:
        places = order.begin, order.end
        round_once = _round_once(runs, covered, ways, order, _little_holes(parts, data))
        no_arc = order.in_lead | beside_plate(runs, parts.sheet)
        yield from following_faults(motions, runs, places, no_arc, round_once, data, dialect)
    if not dialect.feed_by_control:
        yield from _feed_faults(motions, runs, found, ways, order, _small_holes(parts, data), data)


def _side_faults(runs: Runs, covered: Covered, ways: Ways, data: CutData) -> Iterator[Fault]:
    """Each contour that a burn runs half of or more, or the most of, has its part on the square side."""
    side = data.rules.square_side
    if side == "both":
        return
    right = covered.on_right > 0.5 * covered.length
    longest: dict[int, int] = {}
    for k, burn in enumerate(covered.burn.tolist()):
        if burn not in longest or covered.length[k] > covered.length[longest[burn]]:
            longest[burn] = k
    other = "left" if side == "right" else "right"
    told = f"the part lies on the {other} of the travel, the square side of the kerf is the {side}"
    for k in np.flatnonzero(right != (side == "right")).tolist():
        own = int(covered.burn[k])
        half = 0.5 * ways.once.get(int(covered.contour[k]), 0.0)
        if covered.length[k] >= half or longest[own] == k:
            burn = runs.burns[own]
            yield Fault("square-side", told, burn.line, burn.pierce)


def _overburn_faults(
    runs: Runs, covered: Covered, ways: Ways, parts: PlacedParts, data: CutData
) -> Iterator[Fault]:
    """A hole's cut runs round it once and the over-burn further."""
    blocks = np.bincount(runs.owner, minlength=len(runs.burns))
    for k, contour in enumerate(covered.contour.tolist()):
        hole = int(parts.contour_hole[contour])
        once = ways.once[contour]
        if hole < 0 or covered.length[k] < 0.5 * once:
            continue
        burn = runs.burns[int(covered.burn[k])]
        wanted = min(data.rules.overburn, 0.5 * once) - coasting_way(data, once)
        over = float(covered.length[k]) - once
        if over < wanted - ON_WAY - LENGTH_STEP * int(blocks[covered.burn[k]]):
            placement = parts.sheet.placements[int(parts.contour_placement[contour])]
            told = f"hole {hole + 1} is over-burnt by {over:.2f} mm"
            told += f", the cutting data ask for {wanted:.2f} mm"
            yield Fault("over-burn", told, burn.line, burn.pierce, placement.part.name, placement.copy)


def _rounds(covered: Covered, ways: Ways, parts: PlacedParts) -> dict[int, float | None]:
    """Return by burn the way round the hole that it cuts; None where it cuts an outside, or several."""
    cuts: dict[int, list[int]] = {burn: [] for burn in covered.burn.tolist()}
    for burn, contour, way in zip(
        covered.burn.tolist(), covered.contour.tolist(), covered.length.tolist(), strict=True
    ):
        if way >= 0.5 * ways.once[contour]:
            cuts[burn].append(contour)
    return {
        burn: ways.once[own[0]] if len(own) == 1 and parts.contour_hole[own[0]] >= 0 else None
        for burn, own in cuts.items()
    }


@lru_cache(maxsize=512)
def _width(hole: Path) -> float:
    return float(inscribed_circle(hole).value)


def _small_holes(parts: PlacedParts, data: CutData) -> BoolArray:
    """Return which contours are holes that the small-hole feed is for."""
    small = np.zeros(len(parts.contour_hole), dtype=np.bool_)
    for contour in np.flatnonzero(parts.contour_hole >= 0).tolist():
        part = parts.sheet.placements[int(parts.contour_placement[contour])].part
        small[contour] = _width(part.holes[int(parts.contour_hole[contour])]) < data.rules.small_hole
    return small


@lru_cache(maxsize=512)
def _diameter(hole: Path) -> float:
    """Return the diameter of the circle with a hole's area, mm."""
    return 2.0 * math.sqrt(abs(area(hole)) / math.pi)


def _little_holes(parts: PlacedParts, data: CutData) -> BoolArray:
    """Return which contours are holes of little area."""
    little = np.zeros(len(parts.contour_hole), dtype=np.bool_)
    for contour in np.flatnonzero(parts.contour_hole >= 0).tolist():
        part = parts.sheet.placements[int(parts.contour_placement[contour])].part
        diameter = _diameter(part.holes[int(parts.contour_hole[contour])])
        little[contour] = diameter <= data.rules.small_hole + LENGTH_STEP
    return little


def _round_once(runs: Runs, covered: Covered, ways: Ways, order: _Order, little: BoolArray) -> FloatArray:
    """Return how far each burn has come when it has been round its contours; 0 in little holes."""
    came = np.full(len(runs.burns), math.inf)
    for burn in np.unique(covered.burn).tolist():
        rows = np.flatnonzero(covered.burn == burn)
        row = rows[np.argmax(covered.length[rows])]
        contour = int(covered.contour[row])
        own = runs.burns[burn].strokes
        joined = own.start + int(np.argmin(order.in_lead[own]))
        came[burn] = (
            0.0 if little[contour] else order.begin[joined] + ways.once[contour] - covered.before[row]
        )
    return came


def _feed_faults(
    motions: Motions,
    runs: Runs,
    found: Followed,
    ways: Ways,
    order: _Order,
    small: BoolArray,
    data: CutData,
) -> Iterator[Fault]:
    """Hold each stroke against the feeds of the places that it runs over; one fault a burn is told."""
    whole = np.zeros(len(runs.burns), dtype=np.bool_)
    whole[runs.owner[found.there & small[np.maximum(found.contour, 0)]]] = True
    in_whole = whole[runs.owner]
    feeds = motions.feed_mm_min[runs.row]
    wanted = np.full(len(feeds), data.feed_mm_min)
    good = np.ones(len(feeds), dtype=np.bool_)
    on = np.flatnonzero(found.there & ~in_whole)
    good[on], wanted[on] = _along_ways(feeds[on], on, runs, found, ways, order, data)
    lead = np.flatnonzero(order.in_lead & ~in_whole)
    good[lead], wanted[lead] = _in_leads(feeds[lead], lead, order, data)
    held = np.flatnonzero(in_whole)
    wanted[held] = data.feed_mm_min * data.rules.small_hole_feed
    creeps = (order.begin[held] < data.moving_pierce_mm) & _fits(
        feeds[held], data.feed_mm_min * min(data.moving_pierce_feed, data.rules.small_hole_feed)
    )
    good[held] = _fits(feeds[held], wanted[held]) | creeps
    off = np.flatnonzero(~good & (motions.kind[runs.row] != RAPID))
    _, first = np.unique(runs.owner[off], return_index=True)
    for k in off[first].tolist():
        place = _called(wanted[k] / data.feed_mm_min, bool(in_whole[k]), data)
        told = f"{place} runs at {feeds[k]:g} mm/min, the cutting data have {wanted[k]:g} there"
        trim = abs(feeds[k] / wanted[k] - 1.0) <= data.feed_trim + FEED_SHARE
        yield fault_at(motions, int(runs.row[k]), "feed", told, trim=trim)


@dataclass(frozen=True, eq=False)
class _Order:
    """Where each stroke comes in its burn.

    Attributes
    ----------
    begin, end : ndarray
        How far the torch has come from the pierce, mm.
    in_lead : ndarray of bool
        Before or behind the run of a contour.
    near_lead : ndarray of bool
        A short stroke at an end of the run.
    at_tip : ndarray of bool
        In a lead, and straight on into the run or out of it, as where a run begins at the tip of
        a corner that it does not round.
    detoured : ndarray of bool
        Its burn leaves the contour on its way round, or makes two at once.
    """

    begin: FloatArray
    end: FloatArray
    in_lead: BoolArray
    near_lead: BoolArray
    at_tip: BoolArray
    detoured: BoolArray

    @staticmethod
    def of(runs: Runs, found: Followed, links: BoolArray, shared: BoolArray, blur: float) -> _Order:
        """Return where each stroke comes, those within `blur` mm of a lead near it."""
        sizes, owner, burns = runs.strokes.length, runs.owner, len(runs.burns)
        ends = np.cumsum(sizes)
        before = np.array([ends[b.strokes.start - 1] if b.strokes.start else 0.0 for b in runs.burns])
        end = ends - before[owner]
        begin = end - sizes
        rows, own = np.arange(len(owner)), np.flatnonzero(found.there)
        first, last = np.full(burns, len(owner)), np.full(burns, -1)
        np.minimum.at(first, owner[own], own)
        np.maximum.at(last, owner[own], own)
        followed = last[owner] >= 0
        in_lead = links | (followed & ((rows < first[owner]) | (rows > last[owner])))
        # The run of a contour begins behind a lead or a link, and ends before one.
        opens, closes = np.where(in_lead, rows, -1), np.where(in_lead, rows, len(owner))
        opened = np.maximum(np.maximum.accumulate(opens) + 1, first[owner])
        closed = np.minimum(np.minimum.accumulate(closes[::-1])[::-1] - 1, last[owner])
        near = followed & (
            (end - begin[np.minimum(opened, len(owner) - 1)] < blur)
            | (end[np.maximum(closed, 0)] - begin < blur)
        )
        detoured = np.zeros(burns, dtype=np.bool_)
        detoured[owner[followed & ~in_lead & ~found.there]] = True
        # Between two parts the torch runs past their corners, and does not turn there.
        detoured[owner[shared]] = True
        return _Order(begin, end, in_lead, found.there & near, _at_tips(runs, in_lead), detoured[owner])


def _at_tips(runs: Runs, in_lead: BoolArray) -> BoolArray:
    """Return which strokes of leads go straight on into the run of the contour, or out of it."""
    leaves, comes = runs.strokes.direction(at_end=True), runs.strokes.direction(at_end=False)
    turn = np.abs(np.remainder(comes[1:] - leaves[:-1] + math.pi, 2.0 * math.pi) - math.pi)
    joint = (turn < STRAIGHT_ON) & (runs.owner[1:] == runs.owner[:-1]) & (in_lead[1:] != in_lead[:-1])
    at_tip = np.zeros(len(in_lead), dtype=np.bool_)
    at_tip[1:] |= joint
    at_tip[:-1] |= joint
    at_tip &= in_lead & ~runs.strokes.is_arc
    for k in np.flatnonzero(at_tip).tolist():
        own = runs.burns[int(runs.owner[k])].strokes
        # The tip is where the way round begins and ends; a straight lead comes from elsewhere.
        ends = (runs.strokes.end[k + 1 : own.stop], runs.strokes.start[own.start : k])
        places = (runs.strokes.start[k], runs.strokes.end[k])
        at_tip[k] = any(
            len(other) and np.abs(other - place).max(axis=1).min() <= ON_WAY
            for place, other in zip(places, ends, strict=True)
        )
    return at_tip


def _along_ways(
    feeds: FloatArray,
    on: IntArray,
    runs: Runs,
    found: Followed,
    ways: Ways,
    order: _Order,
    data: CutData,
) -> tuple[BoolArray, FloatArray]:
    """Return which strokes on ways run at their places' feeds, and the feed that each should have."""
    half, middle = 0.5 * runs.strokes.length[on], found.place[on]
    long = half > PLACE_STEP
    reach = np.where(long, half - PLACE_STEP, PLACE_STEP)
    first = np.searchsorted(ways.stops, middle - reach, side="right") - 1
    last = np.searchsorted(ways.stops, middle + reach, side="right") - 1
    counts = last - first + 1
    begins = np.cumsum(counts) - counts
    row = np.repeat(np.arange(len(on)), counts)
    piece = np.arange(len(row)) - begins[row] + first[row]
    normal = data.feed_mm_min
    fits = _fits(feeds[row], normal * ways.least[piece]) | _fits(feeds[row], normal * ways.most[piece])
    fits |= order.detoured[on][row] & _fits(feeds[row], normal * ways.unrounded[piece])
    fits |= order.near_lead[on][row] & _fits(feeds[row], np.full(len(row), normal))
    # A stroke shorter than the step may belong to either side of a stop.
    good = np.where(long, np.logical_and.reduceat(fits, begins), np.logical_or.reduceat(fits, begins))
    worst = np.maximum.reduceat(np.where(fits, -1, np.arange(len(row))), begins)
    wanted = normal * ways.most[piece[np.maximum(worst, 0)]]
    return np.asarray(good, dtype=np.bool_), wanted


def _in_leads(
    feeds: FloatArray, lead: IntArray, order: _Order, data: CutData
) -> tuple[BoolArray, FloatArray]:
    """Return which strokes of leads run at the straight's feed, or creep where the pierce moves."""
    wanted = np.full(len(lead), data.feed_mm_min)
    creep = data.feed_mm_min * data.moving_pierce_feed
    begins = order.begin[lead] < data.moving_pierce_mm - PLACE_STEP
    wanted[begins] = creep
    over = begins & (order.end[lead] > data.moving_pierce_mm + PLACE_STEP)
    good = _fits(feeds, wanted) & ~over
    good |= order.at_tip[lead] & _fits(feeds, data.feed_mm_min * data.rules.corner_feed)
    wanted[over & _fits(feeds, creep)] = data.feed_mm_min
    return np.asarray(good), wanted


def _fits(feeds: FloatArray, wanted: FloatArray | float) -> BoolArray:
    step = np.minimum(FEED_STEP, 0.05 * np.asarray(wanted))
    return np.asarray(np.abs(feeds - wanted) <= FEED_SHARE * np.asarray(wanted) + step)


def _called(factor: float, whole: bool, data: CutData) -> str:
    if whole:
        return "a small hole"
    if factor == 1.0:
        return "a straight"
    return "a corner" if factor == data.rules.corner_feed else "a tight arc"
