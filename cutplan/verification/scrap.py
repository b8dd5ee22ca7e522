"""Cuts through the plate itself: they keep to their planned way, leave the plate once, and part it.

Terminology
-----------
scrap run : a run of the torch that is planned to make no contour: a rest cut, or one through the
    skeleton.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import shapely

from cutplan.geometry import Path, chord_points
from cutplan.stock import NestedPlate
from cutplan.verification.burns import Runs
from cutplan.verification.freeing import Freed, plate_polygon
from cutplan.verification.model import Fault, Planned
from cutplan.verification.strokes import BoolArray

__all__ = ["beside_plate", "leaves_once", "scrap_faults", "scrap_runs"]

OFF_WAY = 0.1
"""A scrap run may be so far off its planned way, mm."""
CHORD = 0.01
# Shares of a stroke at which its way is looked at; of a line, every such share.
ALONG, DENSE = 9, 0.01


def scrap_runs(runs: Runs, planned: Planned | None) -> BoolArray:
    """Return which runs are planned to make no contour; none where the program has more cuts or fewer.

    Parameters
    ----------
    runs : Runs
        The torch's.
    planned : Planned or None
    """
    burns = planned.burns if planned is not None else ()
    if len(burns) != len(runs.burns):
        return np.zeros(len(runs.burns), dtype=np.bool_)
    return np.array([cut.in_scrap and bool(cut.way) for cut in burns], dtype=np.bool_)


def scrap_faults(runs: Runs, planned: Planned | None, freed: Freed) -> Iterator[Fault]:
    """Yield the scrap runs that leave their planned way, and rest cuts that part nothing.

    Parameters
    ----------
    runs : Runs
        The torch's.
    planned : Planned or None
    freed : Freed
        What each run cuts loose.
    """
    for index in np.flatnonzero(scrap_runs(runs, planned)).tolist():
        assert planned is not None
        cut, burn = planned.burns[index], runs.burns[index]
        way = shapely.LineString(chord_points(Path(np.array(cut.way), closed=False), CHORD))
        found = _line_of(runs, index)
        off = shapely.hausdorff_distance(way, found, densify=DENSE)
        if off > OFF_WAY + CHORD:
            told = f"a {cut.kind} cut runs {off:.2f} mm off its planned way"
            yield Fault("scrap-cut", told, burn.line, burn.pierce)
        elif cut.kind == "rest" and index not in freed.by:
            yield Fault("scrap-cut", "the rest cut parts nothing from the plate", burn.line, burn.pierce)


def _line_of(runs: Runs, index: int) -> Any:
    own = runs.strokes[runs.burns[index].strokes]
    if not len(own):
        return shapely.Point(runs.burns[index].pierce)
    share = np.linspace(0.0, 1.0, ALONG)
    rows = np.repeat(np.arange(len(own)), len(share))
    return shapely.LineString(own[rows].at(np.tile(share, len(own))))


def beside_plate(runs: Runs, sheet: NestedPlate) -> BoolArray:
    """Return which strokes of the torch's runs lie beside the plate, by their middles."""
    plate = plate_polygon(sheet.plate.outline)
    middles = runs.strokes.at(np.full(len(runs.strokes), 0.5))
    return np.asarray(~shapely.contains_xy(plate, middles[:, 0], middles[:, 1]))


def leaves_once(on_plate: BoolArray) -> bool:
    """Return whether a run that comes on to the plate leaves it at most once, for good.

    Parameters
    ----------
    on_plate : ndarray of bool
        Of each of its strokes in order, whether it ends on the plate.
    """
    changes = np.flatnonzero(np.diff(np.concatenate([[False], on_plate]).astype(np.int8)))
    return len(changes) <= 2 and bool(on_plate.any())
