"""The finished parts held against the drawings: bites, metal left on, cuts missing or too many."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from cutplan.control import Motions
from cutplan.geometry import FloatArray, place_points
from cutplan.verification.burns import Runs
from cutplan.verification.measure import bites, post_gaps, uncut
from cutplan.verification.model import Fault, Planned
from cutplan.verification.placed import VIEW_TOLERANCE, PlacedParts
from cutplan.verification.scrap import scrap_runs
from cutplan.verification.strokes import BoolArray, IntArray, Strokes
from cutplan.verification.tabs import PlacedTab, posts_in_tabs, tab_faults, uncovered_pieces

__all__ = ["Metal", "measure_metal"]

# A contour is cut when runs cover more than this share of what the jet can reach of it.
CUT_SHARE = 0.5
# A run makes a contour when it covers more than this share of it, or so many kerfs of it.
MADE_SHARE, MADE_KERFS = 0.1, 4.0
# Runs that meet or cross may cover so many kerfs of a contour that an earlier one has cut.
CROSSING_KERFS = 2.0
# The way between two contours that one run makes is no longer than this, mm.
LONGEST_LINK = 250.0
# A run longer than so many times its contours, leads aside, has gone round them again.
LONGEST_RUN = 1.6
# Torch centres this far inside a part are found by containment, nearer ones by distance, mm.
DEEP = 4.0 * VIEW_TOLERANCE


@dataclass(frozen=True, eq=False)
class Metal:
    """What the jet does to each placement.

    Attributes
    ----------
    bite, left : ndarray, shape (placements,)
        Worst depth and thickness, mm.
    bite_at, left_at : ndarray, shape (placements, 2)
    bite_line : ndarray of int64
    covered : ndarray, shape (runs, contours)
        Length of each contour that each run cuts clean, mm.
    again : ndarray, shape (runs, contours)
        How much of that an earlier run has cut already.
    reachable : ndarray, shape (contours,)
        Length that the jet can reach, mm.
    faults : list of Fault
    """

    bite: FloatArray
    left: FloatArray
    bite_at: FloatArray
    left_at: FloatArray
    bite_line: IntArray
    covered: FloatArray
    again: FloatArray
    reachable: FloatArray
    faults: list[Fault]


def measure_metal(
    motions: Motions,
    runs: Runs,
    parts: PlacedParts,
    radius: float,
    tolerance: float,
    drilled: BoolArray,
    planned: Planned | None = None,
    tabs: Sequence[PlacedTab] = (),
) -> Metal:
    """Return what the torch's runs do to the parts.

    Parameters
    ----------
    motions : Motions
    runs : Runs
    parts : PlacedParts
    radius : float
        Half the kerf, mm.
    tolerance : float
        Bites and metal left up to this are no fault, mm.
    drilled : ndarray of bool, shape (contours,)
        Holes that are marked for drilling instead of cut.
    planned : Planned, optional
        What each run is to make.
    tabs : sequence of PlacedTab
        Where metal is to stay on the outside.
    """
    count = len(parts.sheet.placements)
    metal = Metal(
        bite=np.zeros(count),
        left=np.zeros(count),
        bite_at=np.full((count, 2), np.nan),
        left_at=np.full((count, 2), np.nan),
        bite_line=np.zeros(count, dtype=np.int64),
        covered=np.zeros((len(runs.burns), len(parts.contour_hole))),
        again=np.zeros((len(runs.burns), len(parts.contour_hole))),
        reachable=np.zeros(len(parts.contour_hole)),
        faults=[],
    )
    lines = motions.line[runs.row].astype(np.int64)
    _measure_bites(metal, runs, parts, radius, lines)
    _measure_left(
        metal,
        runs,
        parts,
        uncovered_pieces(parts, tabs),
        radius,
        tolerance,
        drilled,
        posts_in_tabs(parts, tabs),
    )
    _count_cuts(metal, runs, parts, radius, drilled, planned or Planned())
    _hold_runs(metal, runs, parts, radius, planned or Planned())
    _judge(metal, parts, tolerance)
    metal.faults.extend(tab_faults(runs, tabs, radius))
    return metal


def _worst(
    value: FloatArray, at: FloatArray, owner: IntArray, found: FloatArray, place: FloatArray
) -> IntArray:
    """Raise each owner's worst value to the largest found, and return the entries that did."""
    order = np.argsort(found, kind="stable")
    last = np.full(len(value), -1, dtype=np.int64)
    last[owner[order]] = order
    better = np.array([o for o, e in enumerate(last) if e >= 0 and found[e] > value[o]], dtype=np.int64)
    entries = last[better]
    value[better] = found[entries]
    at[better] = place[entries]
    return entries


def _measure_bites(metal: Metal, runs: Runs, parts: PlacedParts, radius: float, lines: IntArray) -> None:
    found = bites(runs.strokes, parts.edges, radius)
    owner = parts.contour_placement[parts.edge_contour[found.edge]]
    entries = _worst(metal.bite, metal.bite_at, owner, found.depth, found.place)
    metal.bite_line[owner[entries]] = lines[found.stroke[entries]]

    if not parts.metal or not len(runs.strokes):
        return
    if not (found.depth > radius - DEEP).any() and not _begins_inside(runs, parts):
        # The torch gets into a part across its edge, or burns there from the start.
        return
    # Deep inside a part no edge need be near: ask which torch centres lie within the metal.
    share = np.linspace(0.0, 1.0, 5)
    rows = np.repeat(np.arange(len(runs.strokes)), len(share))
    points = runs.strokes[rows].at(np.tile(share, len(runs.strokes)))
    shapes = np.array(parts.metal, dtype=object)
    inside, part = shapely.STRtree(shapes).query(shapely.points(points), predicate="within")
    depth = shapely.distance(shapely.boundary(shapes[part]), shapely.points(points[inside]))
    deep = depth > DEEP
    entries = _worst(metal.bite, metal.bite_at, part[deep], depth[deep] + radius, points[inside[deep]])
    metal.bite_line[part[deep][entries]] = lines[rows[inside[deep]][entries]]


def _begins_inside(runs: Runs, parts: PlacedParts) -> bool:
    """Tell whether a stroke that comes from no other begins on a part."""
    strokes = runs.strokes
    fresh = np.ones(len(strokes), dtype=np.bool_)
    fresh[1:] = (strokes.start[1:] != strokes.end[:-1]).any(axis=1) | (runs.owner[1:] != runs.owner[:-1])
    points = shapely.points(strokes.start[fresh])
    return bool(len(shapely.STRtree(parts.metal).query(points, predicate="within")[0]))


def _measure_left(
    metal: Metal,
    runs: Runs,
    parts: PlacedParts,
    to_cut: tuple[Strokes, IntArray],
    radius: float,
    tolerance: float,
    drilled: BoolArray,
    in_tabs: BoolArray,
) -> None:
    pieces, piece_contour = to_cut
    coverage = uncut(pieces, runs.strokes, runs.owner, radius, tolerance)
    for piece, run, size, again in coverage.cut:
        np.add.at(metal.covered, (run, piece_contour[piece]), size)
        np.add.at(metal.again, (run[again], piece_contour[piece[again]]), size[again])
    np.add.at(metal.reachable, piece_contour, pieces.length)
    gaps, _ = post_gaps(parts.posts, runs.strokes, radius + 10.0 * tolerance)
    left = np.concatenate([coverage.left, gaps])
    contour = np.concatenate([piece_contour, parts.post_contour])
    place = np.vstack([coverage.place, parts.posts])
    cut = ~drilled[contour]
    cut[len(coverage.left) :] &= ~in_tabs
    _worst(metal.left, metal.left_at, parts.contour_placement[contour[cut]], left[cut], place[cut])


def _count_cuts(
    metal: Metal, runs: Runs, parts: PlacedParts, radius: float, drilled: BoolArray, planned: Planned
) -> None:
    allowed = np.full(len(runs.burns), 2.0 * CROSSING_KERFS * radius)
    if len(planned.burns) == len(runs.burns):
        allowed += [cut.again_mm for cut in planned.burns]
    once, again = (metal.covered - metal.again).sum(axis=0), metal.again > allowed[:, None]
    wanted = (metal.reachable > 0.0) & ~drilled
    missing = once < CUT_SHARE * metal.reachable
    for contour in np.flatnonzero(wanted & (missing | again.any(axis=0))).tolist():
        placement = int(parts.contour_placement[contour])
        if missing[contour]:
            first = int(np.flatnonzero(parts.edge_contour == contour)[0])
            at = parts.edges.start[first]
            metal.faults.append(
                _fault(parts, placement, "not-cut", f"{_named(parts, contour)} is not cut", at)
            )
        for run in np.flatnonzero(again[:, contour]).tolist():
            told = f"{_named(parts, contour)} is cut again"
            burn = runs.burns[run]
            metal.faults.append(_fault(parts, placement, "cut-twice", told, burn.pierce, burn.line))


def _hold_runs(metal: Metal, runs: Runs, parts: PlacedParts, radius: float, planned: Planned) -> None:
    """Hold each run against the contours that it makes, and these against what is planned."""
    families = _families(parts, planned)
    # A program with more cuts or fewer is told as such elsewhere.
    known = len(planned.burns) == len(runs.burns) and all(cut.makes or cut.in_scrap for cut in planned.burns)
    in_scrap = scrap_runs(runs, planned)
    lengths = np.bincount(runs.owner, runs.strokes.length, len(runs.burns))
    covered = metal.covered.sum(axis=1)
    least = np.minimum(MADE_SHARE * metal.reachable, 2.0 * MADE_KERFS * radius)
    for index, burn in enumerate(runs.burns):
        length = float(lengths[index])
        contours = np.flatnonzero((metal.covered[index] > least) & (metal.covered[index] > 0.0))
        if in_scrap[index]:
            if len(contours):
                told = f"a cut through the plate makes {_several(parts, contours)}"
                metal.faults.append(Fault("extra-cut", told, burn.line, burn.pierce))
            continue
        if known and len(contours) and frozenset(contours.tolist()) not in families:
            told = f"a cut makes {_several(parts, contours)}, and none is planned to"
            metal.faults.append(Fault("extra-cut", told, burn.line, burn.pierce))
        if length > 0.0 and covered[index] <= 0.0:
            metal.faults.append(
                Fault("extra-cut", "a cut that belongs to no contour", burn.line, burn.pierce)
            )
        own = metal.reachable[contours].sum() + 8.0 * radius * (1 + 2 * len(contours))
        links = LONGEST_LINK * max(len(contours) - 1, 0)
        if len(contours) and length > LONGEST_RUN * own + 60.0 + links:
            metal.faults.append(
                Fault("cut-twice", "the cut goes round its contour again", burn.line, burn.pierce)
            )


def _families(parts: PlacedParts, planned: Planned) -> set[frozenset[int]]:
    """Return the contours that planned cuts make together, as far as they are on the sheet."""
    placed = parts.sheet.placements
    number = {
        (placed[int(p)].part.name, placed[int(p)].copy, int(hole) if hole >= 0 else None): k
        for k, (p, hole) in enumerate(zip(parts.contour_placement, parts.contour_hole, strict=True))
    }
    keys = [[(made.part, made.copy, made.hole) for made in cut.makes] for cut in planned.burns]
    # Of the first contour of a run that takes up another too little may be left to be seen.
    keys += [own[1:] for own, cut in zip(keys, planned.burns, strict=True) if cut.again_mm > 0.0]
    return {frozenset(number[key] for key in own if key in number) for own in keys}


def _several(parts: PlacedParts, contours: IntArray) -> str:
    """Return contours in words."""
    words = []
    for contour in contours[:3].tolist():
        placed = parts.sheet.placements[int(parts.contour_placement[contour])]
        words.append(f"{_named(parts, contour)} of {placed.part.name!r} copy {placed.copy}")
    return " and ".join(words) + (f" and {len(contours) - 3} more" if len(contours) > 3 else "")


def _judge(metal: Metal, parts: PlacedParts, tolerance: float) -> None:
    for index, reach in enumerate(parts.reaches):
        if metal.bite[index] > tolerance:
            message = f"the kerf reaches {metal.bite[index]:.3f} mm into the part"
            line = int(metal.bite_line[index])
            metal.faults.append(_fault(parts, index, "bite", message, metal.bite_at[index], line))
        if metal.left[index] > tolerance:
            thick = f"{metal.left[index]:.3f} mm of metal" if np.isfinite(metal.left[index]) else "metal"
            message = f"{thick} is left on the part"
            metal.faults.append(_fault(parts, index, "metal-left", message, metal.left_at[index]))
        for zone in reach.narrow:
            at = place_points([zone.place], parts.sheet.placements[index].pose)[0]
            where = "the outside" if zone.hole < 0 else f"hole {zone.hole + 1}"
            message = f"{where} is too narrow for the jet, which leaves {zone.depth:.2f} mm there"
            metal.faults.append(_fault(parts, index, "too-narrow", message, at))


def _named(parts: PlacedParts, contour: int) -> str:
    hole = int(parts.contour_hole[contour])
    return "the outside" if hole < 0 else f"hole {hole + 1}"


def _fault(
    parts: PlacedParts, placement: int, code: str, message: str, at: Any, line: int | None = None
) -> Fault:
    placed = parts.sheet.placements[placement]
    place = (float(at[0]), float(at[1]))
    return Fault(code, message, line, place, placed.part.name, placed.copy)
