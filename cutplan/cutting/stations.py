"""Places of a torch contour where a lead may join it, spread along it; shapes are left to `leads`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutplan.cutting.torch import TorchContour
from cutplan.geometry import FloatArray, direction_at, distance, point_at

__all__ = ["Station", "choose_stations", "stations_at"]

# A segment at least this many kerfs long has a middle worth starting at.
LONG_SEGMENT_KERFS = 5.0
# Stations stand at least this many kerfs apart.
LEAST_SPACING_KERFS = 1.0
# Outermost points are taken in this many directions.
EXTREMES = 8
# What a place is worth against another in the same stretch of the contour.
CORNER_WORTH, LINE_WORTH, ARC_WORTH, PLAIN_WORTH = 3.0, 2.0, 1.0, 0.0
# A place this much farther than half the kerf from the finished edge lies on a loop or a
# plain corner, mm.
OFF_THE_EDGE = 1e-4


@dataclass(frozen=True, eq=False)
class Station:
    """A place of the torch contour.

    Attributes
    ----------
    at : float
        Arc-length along the torch contour, mm.
    point : ndarray, shape (2,)
    tangent, arriving : ndarray, shape (2,)
        Directions of travel after and before it; they differ only at a break.
    scrap : ndarray, shape (2,)
        Unit normal into the scrap.
    scrap_left : bool
        Whether that is the left of the travel.
    corner : bool
        At a sharp convex corner of the part.
    """

    at: float
    point: FloatArray
    tangent: FloatArray
    arriving: FloatArray
    scrap: FloatArray
    scrap_left: bool
    corner: bool = False

    @property
    def breaks(self) -> bool:
        """Whether the direction of travel breaks here."""
        return bool(np.dot(self.tangent, self.arriving) < 1.0 - 1e-9)


def stations_at(torch: TorchContour, at: Sequence[float], corner: Sequence[bool]) -> list[Station]:
    """Return the stations at arc-lengths of the torch contour, `corner` telling which are corners."""
    places = np.asarray(at, dtype=np.float64)
    # Just before the place, the direction is that of the segment that ends there.
    directions = direction_at(torch.path, np.concatenate([places, places - 1e-6]))
    tangents, arriving = directions[: len(places)], directions[len(places) :]
    scrap = np.column_stack([-tangents[:, 1], tangents[:, 0]]) * (1.0 if torch.scrap_left else -1.0)
    rows = zip(at, point_at(torch.path, places), tangents, arriving, scrap, corner, strict=True)
    return [Station(s, p, t, a, n, torch.scrap_left, c) for s, p, t, a, n, c in rows]


def choose_stations(torch: TorchContour, count: int, *, extremes: bool = False) -> list[Station]:
    """Return up to `count` stations, one in each equal stretch of the contour, in order of travel.

    Corners go before the middles of long lines, these before the middles of long arcs and
    other places.  `extremes` adds the outermost points, which always have scrap beside them
    as wide as the gap to the next part.
    """
    total = torch.length
    count = max(1, min(count, int(total / (LEAST_SPACING_KERFS * torch.kerf))))
    offers = _offers(torch, count)
    stretch = total / count
    best: dict[int, tuple[float, float, float, bool]] = {}
    for at, worth, corner in offers:
        index = min(int((at % total) / stretch), count - 1)
        central = -abs(at % total - (index + 0.5) * stretch)
        best[index] = max(best.get(index, (-1.0, 0.0, 0.0, False)), (worth, central, at % total, corner))
    chosen = {at: corner for _, _, at, corner in best.values()}
    if extremes:
        chosen |= {at: False for at in _outermost(torch) if at not in chosen}
    places = sorted(chosen)
    stations = stations_at(torch, places, [chosen[at] for at in places])
    away = distance(torch.finished, np.array([station.point for station in stations]))
    return [
        station
        for station, far in zip(stations, away, strict=True)
        if station.corner or far < torch.radius + OFF_THE_EDGE
    ]


def _offers(torch: TorchContour, count: int) -> list[tuple[float, float, bool]]:
    """Return arc-lengths with their worth and whether they are corners."""
    segments = torch.path.segments
    starts = np.cumsum(segments.length) - segments.length
    offers = [(c.end, CORNER_WORTH, True) for c in torch.corners if c.convex and torch.kind == "outside"]
    for i in np.flatnonzero(segments.length >= LONG_SEGMENT_KERFS * torch.kerf):
        worth = ARC_WORTH if segments.bulge[i] else LINE_WORTH
        offers.append((float(starts[i] + 0.5 * segments.length[i]), worth, False))
    offers += [((i + 0.5) * torch.length / count, PLAIN_WORTH, False) for i in range(count)]
    return offers


def _outermost(torch: TorchContour) -> list[float]:
    """Return arc-lengths of the vertices and segment middles that lie farthest out."""
    segments = torch.path.segments
    starts = np.cumsum(segments.length) - segments.length
    at = np.concatenate([starts, starts + 0.5 * segments.length])
    points = point_at(torch.path, at)
    angles = 2.0 * np.pi * np.arange(EXTREMES) / EXTREMES
    reach = points @ np.array([np.cos(angles), np.sin(angles)])
    return sorted({float(at[i]) for i in np.argmax(reach, axis=0)})
