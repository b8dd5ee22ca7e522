"""Leads chosen anew along an order so that each pierce keeps clear of all that is cut before it.

Which leads are clear of the parts themselves is settled in `cutting`; here it is the leads of
one cut against those of another, which only the order decides.  The method is that of minimum
conflicts (Minton, Johnston, Philips and Laird 1992, "Minimizing conflicts: a heuristic repair
method for constraint satisfaction and scheduling problems"), with the travel to break ties.

Terminology
-----------
place : one lead of one cut, numbered through the sheet.
clash : two places, the second of which pierces too near what the first one cuts.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from cutplan.base.errors import NoStartError
from cutplan.cutting import Cut, LeadChoice, cut_name, gaps_for
from cutplan.geometry import Path, chord_points, chords_of_many
from cutplan.process import CutData
from cutplan.sequencing.problem import FloatArray, IntArray

__all__ = ["Clashes", "choose_apart", "find_clashes"]

CHORD_MM = 0.01
"""How far the chords of a lead may be from it."""
ROUNDING_MM = 0.02
"""Added to every clearance: chords, and the rounding of the program's coordinates."""
MOST_PASSES = 12
CLASH_S = 1000.0
"""Cost of a clash while leads are chosen, s: above any travel."""

Costs = Callable[[int, IntArray], FloatArray]


@dataclass(frozen=True, eq=False)
class Clashes:
    """All clashes of a sheet.

    Attributes
    ----------
    first : int64, shape (n + 1,)
        Places of cut i are first[i] … first[i + 1] − 1.
    owner : int64, shape (m,)
    spoils : mapping of int to set of int
        Places that must not come after a place.
    spoiled_by : mapping of int to set of int
        The same the other way round.
    """

    first: IntArray
    owner: IntArray
    spoils: dict[int, set[int]]
    spoiled_by: dict[int, set[int]]

    def count(self, place: int, chosen: IntArray, step_of: IntArray) -> int:
        """Return in how many clashes a place takes part with those chosen for the other cuts."""
        here = step_of[self.owner[place]]
        earlier = sum(
            chosen[self.owner[p]] == p and step_of[self.owner[p]] < here
            for p in self.spoiled_by.get(place, ())
        )
        later = sum(
            chosen[self.owner[q]] == q and step_of[self.owner[q]] > here for q in self.spoils.get(place, ())
        )
        return int(earlier + later)


def find_clashes(cuts: Sequence[Cut], data: CutData, shifts: Sequence[float] = (0.0,)) -> Clashes:
    """Return the clashes between the leads of a sheet's cuts.

    Parameters
    ----------
    cuts : sequence of Cut
    data : CutData
    shifts : sequence of float
        How far each torch that burns stands from the first, mm in y.
    """
    first = np.zeros(len(cuts) + 1, dtype=np.int64)
    first[1:] = np.cumsum([len(cut.choices) for cut in cuts])
    owner = np.repeat(np.arange(len(cuts)), np.diff(first)).astype(np.int64)
    found = Clashes(first, owner, {}, {})
    burning = np.array([cut.kind != "mark" for cut in cuts], dtype=np.bool_)
    leads = [lead for cut in cuts for lead in cut.choices]
    cutting = np.flatnonzero(burning[owner])
    piercing = np.array([p for p in cutting.tolist() if not leads[p].edge_start], dtype=np.int64)
    if not len(piercing):
        return found
    pierces = shapely.points([leads[p].pierce for p in piercing.tolist()])
    clearance = data.rules.pierce_clearance + ROUNDING_MM
    leading, lines = _lead_lines(leads, cutting)
    for shift in _between_torches(shifts):
        moved = shapely.transform(pierces, lambda points, by=shift: points + np.array([0.0, by]))
        _note(found, leading, lines, piercing, moved, clearance + 0.5 * data.kerf)
        _note(found, piercing, pierces, piercing, moved, clearance + data.mound_radius)
        _note_contours(found, cuts, burning, piercing, moved, clearance + 0.5 * data.kerf)
    return found


def _between_torches(shifts: Sequence[float]) -> list[float]:
    """Return how far any torch may stand from any other, itself included."""
    return sorted({round(a - b, 9) for a in shifts for b in shifts})


def _lead_lines(leads: Sequence[LeadChoice], places: IntArray) -> tuple[IntArray, Any]:
    """Return the ways on to the contours and the ways off them as lines, and the place of each."""
    off = [p for p in places.tolist() if leads[p].lead_out_length > 0.0]
    rows = [leads[p].path.vertices[:2] for p in places.tolist()]
    ends = np.array([*rows, *(leads[p].path.vertices[-2:] for p in off)])
    points, line = chords_of_many(ends, CHORD_MM)
    lines = shapely.linestrings(points, indices=line)
    return np.concatenate([places, np.array(off, dtype=np.int64)]), lines


def _note(
    found: Clashes, spoilers: IntArray, cut: Any, piercing: IntArray, pierces: Any, reach: float
) -> None:
    """Note which pierces come nearer than a reach to what some places cut."""
    pierce, by = shapely.STRtree(cut).query(pierces, predicate="dwithin", distance=reach)
    first, then = spoilers[by], piercing[pierce]
    other = found.owner[first] != found.owner[then]
    for p, q in zip(first[other].tolist(), then[other].tolist(), strict=True):
        found.spoils.setdefault(p, set()).add(q)
        found.spoiled_by.setdefault(q, set()).add(p)


def _note_contours(
    found: Clashes, cuts: Sequence[Cut], burning: Any, piercing: IntArray, pierces: Any, reach: float
) -> None:
    """Note the pierces that the way round a contour itself comes too near to, by whatever lead."""
    whole = np.flatnonzero(burning)
    rings = np.array([_ring(cuts[i].choices[0]) for i in whole.tolist()], dtype=object)
    pierce, ring = shapely.STRtree(rings).query(pierces, predicate="dwithin", distance=reach)
    first, then = whole[ring], piercing[pierce]
    other = first != found.owner[then]
    for i, q in zip(first[other].tolist(), then[other].tolist(), strict=True):
        for p in range(int(found.first[i]), int(found.first[i + 1])):
            found.spoils.setdefault(p, set()).add(q)
            found.spoiled_by.setdefault(q, set()).add(p)


def _ring(lead: LeadChoice) -> Any:
    rows = lead.path.vertices
    # What is left of a cut may be one line or arc, which is no lead.
    way = rows[1:] if len(rows) > 2 else rows
    return shapely.LineString(chord_points(Path(way, closed=False), CHORD_MM))


def choose_apart(
    clashes: Clashes, cuts: Sequence[Cut], order: IntArray, choices: IntArray, costs: Costs, data: CutData
) -> tuple[IntArray, int]:
    """Return leads without a clash along an order, and how many cuts got another one for it.

    Parameters
    ----------
    clashes : Clashes
    cuts : sequence of Cut
    order : int64, shape (n,)
    choices : int64, shape (n,)
        Lead of each cut, by cut.
    costs : callable
        Given a step and all choices, returns the travel before and after that step for each
        lead of its cut, s.
    data : CutData

    Raises
    ------
    NoStartError
        If a cut is left without a start; the message names it, its place and a gap that does.
    """
    chosen = clashes.first[:-1] + choices
    step_of = np.zeros(len(cuts), dtype=np.int64)
    step_of[order] = np.arange(len(order))
    for _ in range(MOST_PASSES):
        clashing = [int(i) for i in order if clashes.count(int(chosen[i]), chosen, step_of)]
        if not clashing:
            moved = int(np.count_nonzero(chosen - clashes.first[:-1] != choices))
            return chosen - clashes.first[:-1], moved
        for i in clashing:
            _choose_anew(clashes, i, chosen, step_of, costs)
    late = next(i for i in reversed(order.tolist()) if clashes.count(int(chosen[i]), chosen, step_of))
    raise _no_start_left(cuts[late], int(chosen[late] - clashes.first[late]), data)


def _choose_anew(clashes: Clashes, cut: int, chosen: IntArray, step_of: IntArray, costs: Costs) -> None:
    """Give a cut that clashes the lead with the fewest clashes, and of those the quickest."""
    places = range(int(clashes.first[cut]), int(clashes.first[cut + 1]))
    count = np.array([clashes.count(place, chosen, step_of) for place in places], dtype=np.float64)
    if not count[int(chosen[cut]) - places.start]:
        return
    travel = costs(int(step_of[cut]), chosen - clashes.first[:-1])
    chosen[cut] = places.start + int(np.argmin(CLASH_S * count + travel))


def _no_start_left(cut: Cut, choice: int, data: CutData) -> NoStartError:
    gap = gaps_for(data).gap + data.rules.lead_in
    return NoStartError(
        f"no start of the {cut_name(cut)} is left that keeps {data.rules.pierce_clearance:g} mm from "
        "what is cut before",
        place=cut.choices[choice].pierce,
        remedy=f"{gap:.1f} mm between parts would do",
    )
