"""Links between contours that one run makes: in scrap, and clear of every other kerf.

Where the torch burns on over a gap that is open already, the arc goes out or jumps, the flame loses
its heat, and what lies between two kerfs may drop.  That a link reaches no part is measured as
any bite.

Terminology
-----------
link : the strokes of a burn from the last on one contour to the first on another.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from cutplan.verification.before import Resumed
from cutplan.verification.burns import Runs
from cutplan.verification.measure import BoxIndex
from cutplan.verification.model import Fault, Planned
from cutplan.verification.strokes import BoolArray, IntArray, gap_between
from cutplan.verification.ways import Followed

__all__ = ["contour_groups", "link_faults", "link_strokes"]

SLACK = 0.02
"""Rounded coordinates bring two kerfs so much nearer, mm."""
PASSED_KERFS = 2.5
CROSSED_LATER = ("rest", "skeleton")


def contour_groups(runs: Runs, found: Followed) -> tuple[IntArray, IntArray]:
    """Return the nearest strokes before and behind each, itself included, that follow a contour.

    Of the same burn; −1 and the number of strokes where there is none.
    """
    count = len(runs.owner)
    rows = np.arange(count)
    before = np.maximum.accumulate(np.where(found.there, rows, -1))
    behind = np.minimum.accumulate(np.where(found.there, rows, count)[::-1])[::-1]
    other = runs.owner[np.maximum(before, 0)] != runs.owner
    before = np.where(other, -1, before)
    other = runs.owner[np.minimum(behind, count - 1)] != runs.owner
    return before.astype(np.int64), np.where(other, count, behind).astype(np.int64)


def link_strokes(runs: Runs, found: Followed, kerf: float) -> BoolArray:
    """Return which strokes are links.

    Parameters
    ----------
    runs : Runs
    found : Followed
        Which contour each stroke follows.
    kerf : float
        mm.  Where parts lie kerf to kerf, the torch passes from one to the next over what is
        open between them: so short a way is no link.
    """
    if not len(runs.owner):
        return np.zeros(0, dtype=np.bool_)
    before, behind = contour_groups(runs, found)
    inside = ~found.there & (before >= 0) & (behind < len(runs.owner))
    changes = found.contour[np.maximum(before, 0)] != found.contour[np.minimum(behind, len(before) - 1)]
    links = np.asarray(inside & changes, dtype=np.bool_)
    # Strokes between the same two contours are one way.
    ways, way = np.unique(before[links], return_inverse=True)
    sizes = np.bincount(way, runs.strokes.length[links], len(ways))
    links[np.flatnonzero(links)[sizes[way] <= PASSED_KERFS * kerf]] = False
    return links


def link_faults(
    runs: Runs, links: BoolArray, kerf: float, planned: Planned | None, resumed: Mapping[int, Resumed]
) -> Iterator[Fault]:
    """Yield the links that come into another run's kerf, one fault a burn.

    Parameters
    ----------
    runs : Runs
    links : ndarray of bool
        Strokes that are links.
    kerf : float
        mm.
    planned : Planned or None
        Its rest cuts and those through the skeleton cross whatever lies in scrap.
    resumed : mapping of int to Resumed
        Runs that take up an earlier one, and begin in its kerf.
    """
    own = np.flatnonzero(links)
    if not len(own):
        return
    crosses = np.zeros(len(runs.burns), dtype=np.bool_)
    burns = planned.burns if planned is not None else ()
    if len(burns) == len(crosses):
        crosses[[cut.kind in CROSSED_LATER for cut in burns]] = True
    link, stroke = BoxIndex(runs.strokes.boxes()).pairs(runs.strokes[own].boxes(), kerf)
    earlier = np.arange(len(runs.burns))
    earlier[list(resumed)] = [each.earlier for each in resumed.values()]
    of_link, of_stroke = runs.owner[own[link]], runs.owner[stroke]
    other = (of_link != of_stroke) & (earlier[of_link] != of_stroke) & ~crosses[of_stroke]
    link, stroke = own[link[other]], stroke[other]
    gaps, places = gap_between(runs.strokes[link], runs.strokes[stroke])
    near = gaps < kerf - SLACK
    _, first = np.unique(runs.owner[link[near]], return_index=True)
    for k in np.flatnonzero(near)[first].tolist():
        burn, crossed = runs.burns[int(runs.owner[link[k]])], runs.burns[int(runs.owner[stroke[k]])]
        told = f"on its way from part to part the torch runs into the kerf of the cut on line {crossed.line}"
        yield Fault("link", told, burn.line, (float(places[k, 0]), float(places[k, 1])))
