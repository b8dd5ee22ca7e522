"""The swept kerf of a leaning torch in three dimensions, from the motions of its program alone.

Terminology
-----------
piece : a straight bit of the torch's way along which the jet keeps its direction.
clearance : how far a place lies outside the swept kerf, mm; below zero inside of it.

A jet is a cylinder of half the kerf about its axis.  Along a straight way with a steady jet what
it sweeps is exact: the distance is measured across the jet.  Arcs, and ways on which the head
turns, are taken in pieces of at most `STEP_DEG` degrees.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from cutplan.control import STOP, Dialect, Motions, jet_at
from cutplan.geometry import FloatArray
from cutplan.verification.burns import Runs
from cutplan.verification.strokes import BoolArray, IntArray

__all__ = ["Jets", "hand_setting", "jets_of"]

STEP_DEG = 0.5
# Pieces and places that are held against each other at once.
AT_ONCE = 2_000_000
_NUMBER = r"\s*([-+]?[0-9]*\.?[0-9]+)\s*"


@dataclass(frozen=True, eq=False)
class Jets:
    """Pieces of the torch's way, a row each.

    Attributes
    ----------
    start, end : ndarray, shape (n, 2)
        Where the axis meets the plate's top, mm.
    jet : ndarray, shape (n, 3)
        Unit vectors downward.
    burn : ndarray of int64, shape (n,)
        The run that it belongs to.
    radius : float
        Half the kerf, mm.
    """

    start: FloatArray
    end: FloatArray
    jet: FloatArray
    burn: IntArray
    radius: float

    def __len__(self) -> int:
        return len(self.burn)

    def __getitem__(self, rows: BoolArray) -> Jets:
        return Jets(self.start[rows], self.end[rows], self.jet[rows], self.burn[rows], self.radius)

    def clearance(self, points: FloatArray) -> FloatArray:
        """Return how far places of shape (k, 3), z 0 at the plate's top and below zero under it, are outside."""
        found = np.full(len(points), np.inf)
        if not len(self):
            return found
        chunk = max(1, AT_ONCE // len(self))
        for k in range(0, len(points), chunk):
            found[k : k + chunk] = self._apart(points[k : k + chunk]).min(axis=1) - self.radius
        return found

    def _apart(self, points: FloatArray) -> FloatArray:
        """Return the distance of each place from each piece's axis plane, across the jet, shape (k, n)."""
        start = np.column_stack([self.start, np.zeros(len(self))])
        way = np.column_stack([self.end - self.start, np.zeros(len(self))])
        way = way - np.einsum("ij,ij->i", way, self.jet)[:, None] * self.jet
        from_start = points[:, None, :] - start[None, :, :]
        from_start -= np.einsum("kni,ni->kn", from_start, self.jet)[:, :, None] * self.jet[None, :, :]
        size = np.maximum(np.einsum("ij,ij->i", way, way), 1e-12)
        share = np.clip(np.einsum("kni,ni->kn", from_start, way) / size, 0.0, 1.0)
        return np.asarray(np.linalg.norm(from_start - share[:, :, None] * way[None, :, :], axis=2))

    def slice_at(self, depth: float, *, grow: bool) -> Any:
        """Return what is taken at a depth as a shapely geometry, never more than that or, grown, never less."""
        drop = depth / np.maximum(-self.jet[:, 2], 1e-6)
        shift = self.jet[:, :2] * drop[:, None]
        lines = shapely.linestrings(np.stack([self.start + shift, self.end + shift], axis=1))
        # Across the way a leaning jet is wider in the plane; at its ends it is an ellipse at most so wide.
        across = self.radius / np.maximum(-self.jet[:, 2], 1e-6)
        if grow:
            return shapely.union_all(shapely.buffer(lines, 1.02 * across, quad_segs=8))
        upright = self._across_in_plane()
        return shapely.union_all(shapely.buffer(lines, upright - 0.005, cap_style="flat"))

    def _across_in_plane(self) -> FloatArray:
        """Return half the kerf's width in the plane, across each piece's way, mm."""
        way = np.column_stack([self.end - self.start, np.zeros(len(self))])
        way /= np.maximum(np.linalg.norm(way, axis=1), 1e-12)[:, None]
        normal = np.cross(way, self.jet)
        size = np.maximum(np.linalg.norm(normal, axis=1), 1e-12)
        flat = np.hypot(normal[:, 0], normal[:, 1]) / size
        return np.asarray(self.radius / np.maximum(flat, 0.3))


def jets_of(
    motions: Motions, runs: Runs, dialect: Dialect, radius: float, setting: tuple[float, float] | None
) -> Jets:
    """Return the swept kerf of all runs of a program.

    Parameters
    ----------
    motions : Motions
    runs : Runs
        The torch's.
    dialect : Dialect
    radius : float
        Half the kerf, mm.
    setting : tuple of float or None
        Tilt and way, degrees, where the operator sets the torch.
    """
    before, after = motions.head_angles()
    strokes = runs.strokes
    turned = np.abs(after[runs.row] - before[runs.row]).max(axis=1, initial=0.0)
    steps = np.maximum(np.degrees(np.abs(strokes.sweep)), turned) / STEP_DEG
    counts = np.maximum(1, np.ceil(steps)).astype(np.int64)
    rows = np.repeat(np.arange(len(strokes)), counts)
    number = np.arange(len(rows)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = number / counts[rows], (number + 1) / counts[rows]
    middle = 0.5 * (share[0] + share[1])[:, None]
    if setting is None:
        angles = (1.0 - middle) * before[runs.row[rows]] + middle * after[runs.row[rows]]
        jet = jet_at(dialect.head, angles) if len(rows) else np.zeros((0, 3))
    else:
        jet = np.tile(jet_at("BC", np.array([[0.0, *setting]])), (len(rows), 1))
    return Jets(strokes[rows].at(share[0]), strokes[rows].at(share[1]), jet, runs.owner[rows], radius)


def hand_setting(texts: list[str], motions: Motions, dialect: Dialect) -> tuple[float, float] | str:
    """Return tilt and way that the operator is told to set the torch to, or what is wrong with that.

    Parameters
    ----------
    texts : list of str
    motions : Motions
    dialect : Dialect

    Returns
    -------
    tuple of float, or str
        Degrees.
    """
    first, between, behind = (re.escape(part.strip()) for part in dialect.tilt_remark)
    pattern = re.compile(rf"^\s*\(\s*{first}{_NUMBER}{between}{_NUMBER}{behind}\s*\)\s*$", re.MULTILINE)
    text = "\n".join(texts)
    found = list(pattern.finditer(text))
    if len(found) != 1:
        return f"the program tells {len(found)} times how the torch is to be set, once is wanted"
    line = text.count("\n", 0, found[0].start()) + 1
    lit = motions.line[motions.torch]
    begins = int(lit.min()) if len(lit) else math.inf
    stops = motions.line[motions.kind == STOP]
    if not ((stops > line) & (stops < begins)).any():
        return "the program does not wait for the operator between telling the setting and the first cut"
    return float(found[0][1]), float(found[0][2])
