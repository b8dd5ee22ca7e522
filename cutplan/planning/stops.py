"""Where a program was stopped: on which cut, how far along it, and what of that is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutplan.base.errors import InputError
from cutplan.cutting import Cut, cut_name, taken_up
from cutplan.geometry import distance, nearest, point_at, subpath, vertex_lengths
from cutplan.process import CutData
from cutplan.record import SavedSheet, Stopped

__all__ = ["RestartWishes", "over_run_for", "where_stopped"]

NEAR_MM = 5.0
"""A place further than this from a cut was not read off the control at it."""
SAME_PLACE_MM, SHORTEST_MM = 0.02, 1e-6
LEAST_OVER_RUN_MM = 0.5
OVER_RUN_KERFS, OVER_RUN_THICKNESSES = 1.0, 0.15
"""The lower edge drags behind the upper by up to a seventh of the thickness (common practice)."""
Place = tuple[float, float]


@dataclass(frozen=True)
class RestartWishes:
    """From where a stopped program is taken up, and how.

    Attributes
    ----------
    from_cut : int
        The cut on which it stopped, or the next to be made, counted as in plan.json.
    at : tuple of float, optional
        Where on that cut the torch stopped, mm; without it the cut is made anew, whole.
    later : bool
        Of two times that the torch passes there on this cut, the second is meant.
    skip : tuple of str
        Copies given up, each as "PART" for all or "PART/COPY" for one.
    reorder : bool
        Order what is left anew.
    over_run_mm : float, optional
        How far before `at` the torch begins; by default what thickness and kerf ask for.
    """

    from_cut: int
    at: Place | None = None
    later: bool = False
    skip: tuple[str, ...] = ()
    reorder: bool = False
    over_run_mm: float | None = None


def over_run_for(data: CutData) -> float:
    """Return how far before the place where it stopped a torch begins again, mm."""
    return round(OVER_RUN_KERFS * data.kerf + OVER_RUN_THICKNESSES * data.thickness, 1)


def where_stopped(
    cuts: Sequence[Cut], wishes: RestartWishes, planned: SavedSheet
) -> tuple[Stopped, Cut | None, tuple[float, ...]]:
    """Return where the program stopped, what is left of that cut, and where the torch passes there twice."""
    if not 1 <= wishes.from_cut <= max(len(cuts), 1):
        raise InputError(
            f"there is no cut {wishes.from_cut}", where=planned.name, remedy=f"name one of 1 to {len(cuts)}"
        )
    whole = wishes.from_cut - 1
    if wishes.at is None:
        return Stopped(whole), None, ()
    over_run = over_run_for(planned.data) if wishes.over_run_mm is None else wishes.over_run_mm
    if over_run < LEAST_OVER_RUN_MM:
        raise InputError(
            f"an over-run of {over_run:g} mm leaves metal where the torch stopped",
            where=planned.name,
            remedy=f"{over_run_for(planned.data):g} mm would do",
        )
    cut = cuts[whole]
    ways = _along(cut, wishes.at)
    if not ways:
        raise InputError(
            f"is not on cut {wishes.from_cut}, {_distance(cut, wishes.at):.1f} mm from it{_nearest(cuts, wishes.at)}",
            where=planned.name,
            place=wishes.at,
            remedy="give the place that the control shows, in the program's coordinates",
        )
    place = ways[-1 if wishes.later else 0]
    if place <= 0.0:
        return Stopped(whole), None, ()
    rest = taken_up(cut, place, over_run)
    if rest is None:
        return Stopped(whole + 1), None, ways if len(ways) > 1 else ()
    x, y = point_at(cut.choices[0].path, np.array([place]))[0].tolist()
    return Stopped(whole + 1, (x, y), place), rest, ways if len(ways) > 1 else ()


def _along(cut: Cut, at: Place) -> tuple[float, ...]:
    """Return how far along its path a cut passes a place, mm, each time; none where it does not."""
    path = cut.choices[0].path
    near = _distance(cut, at)
    if near > NEAR_MM:
        return ()
    found: list[float] = []
    stations = vertex_lengths(path)
    for begin, end in zip(stations[:-1].tolist(), stations[1:].tolist(), strict=True):
        if end - begin < SHORTEST_MM:
            continue
        piece = subpath(path, begin, end)
        away, along = nearest(piece, np.array([at]))
        if float(away[0]) <= near + SAME_PLACE_MM:
            way = begin + float(along[0])
            if not found or way - found[-1] > 1.0:
                found.append(way)
    return tuple(found)


def _distance(cut: Cut, at: Place) -> float:
    return float(distance(cut.choices[0].path, np.array([at]))[0])


def _nearest(cuts: Sequence[Cut], at: Place) -> str:
    """Return which cut the place lies on, in words; nothing where it lies on none."""
    gaps = [_distance(cut, at) for cut in cuts]
    number = int(np.argmin(gaps))
    return f"; it is on cut {number + 1}, {cut_name(cuts[number])}" if gaps[number] <= NEAR_MM else ""
