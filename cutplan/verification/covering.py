"""How far each run of the torch follows each contour, with what an earlier run followed that it takes up."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from cutplan.geometry import FloatArray
from cutplan.verification.before import Resumed
from cutplan.verification.burns import Runs
from cutplan.verification.strokes import IntArray
from cutplan.verification.ways import Followed

__all__ = ["Covered", "covered_by", "taken_up"]


@dataclass(frozen=True, eq=False)
class Covered:
    """How far each burn follows each contour, one row for each pair that occurs.

    Attributes
    ----------
    burn, contour : ndarray of int64
    length, on_right : ndarray
        mm in all, and with the part on the right of the travel.
    before : ndarray
        How much of the length an earlier run followed that this one takes up, mm.
    """

    burn: IntArray
    contour: IntArray
    length: FloatArray
    on_right: FloatArray
    before: FloatArray


def covered_by(runs: Runs, found: Followed, contours: int) -> Covered:
    """Return how far each burn follows each of so many contours."""
    own = np.flatnonzero(found.there)
    pairs, row = np.unique(runs.owner[own] * contours + found.contour[own], return_inverse=True)
    lengths = runs.strokes.length[own]
    return Covered(
        burn=pairs // max(contours, 1),
        contour=pairs % max(contours, 1),
        length=np.bincount(row, lengths, len(pairs)).astype(np.float64),
        on_right=np.bincount(row, lengths * found.part_on_right[own], len(pairs)).astype(np.float64),
        before=np.zeros(len(pairs)),
    )


def taken_up(covered: Covered, resumed: Mapping[int, Resumed]) -> Covered:
    """Return the same with what earlier runs followed added to the runs that take them up."""
    row = {
        pair: k for k, pair in enumerate(zip(covered.burn.tolist(), covered.contour.tolist(), strict=True))
    }
    length, on_right, before = covered.length.copy(), covered.on_right.copy(), covered.before.copy()
    for (burn, contour), k in row.items():
        each = resumed.get(burn)
        earlier = row.get((each.earlier, contour)) if each is not None else None
        if each is None or earlier is None:
            continue
        more = max(float(length[earlier]) - each.over_run_mm, 0.0)
        # A run that was itself taken up has both behind it.
        on_right[k] += more * on_right[earlier] / max(float(length[earlier]), 1e-9)
        before[k], length[k] = more, length[k] + more
    return replace(covered, length=length, on_right=on_right, before=before)
