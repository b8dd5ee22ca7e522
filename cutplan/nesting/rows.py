"""Rows of pieces along plates: what rows plates offer, and what of them pieces of some lengths take."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Literal

import shapely
from shapely import Polygon

from cutplan.geometry import to_polygon
from cutplan.nesting.model import NestGaps
from cutplan.stock import Plate

__all__ = ["SAME", "SLACK", "Cost", "PlateRows", "plate_rows", "rows_taken"]

# Pieces keep this from the longest that a plate takes, mm.
SLACK = 1.0
SAME = 1e-6
# Of the picture of a plate's outline, mm; it lies within.
CHORD = 0.05
MOST_BANDS = 400

Cost = tuple[int, float, float]
"""Pieces without a place, plate length taken by rows, and minus the squares of what rows leave over."""


@dataclass(frozen=True)
class PlateRows:
    """Rows that plates of one kind offer.

    Attributes
    ----------
    length : float
        That pieces and the gaps between them may take, mm.
    count : int
        Rows on all plates of the kind.
    """

    length: float
    count: int


def plate_rows(plate: Plate, gaps: NestGaps, height: float, axis: Literal["x", "y"]) -> list[PlateRows]:
    """Return the rows of some height that plates of a kind offer along an axis, clear of all that is in the way.

    Parameters
    ----------
    plate : Plate
    gaps : NestGaps
    height : float
        Of a row, mm.
    axis : {"x", "y"}
        Along the plate's length or across it.

    Returns
    -------
    list of PlateRows
        The longest first; empty where no row is so high.
    """
    free = _free(plate, gaps)
    if axis == "y":
        free = shapely.affinity.affine_transform(free, [0, 1, 1, 0, 0, 0])
    if free.is_empty:
        return []
    _, low, _, high = free.bounds
    stations = {low, *(y - height for y in _levels(free)), *_levels(free)}
    stepped = [
        low + n * (height + gaps.gap)
        for n in range(MOST_BANDS)
        if low + n * (height + gaps.gap) + height <= high + SAME
    ]
    runs = [_longest_run(free, y, height) for y in stepped]
    others = [
        _longest_run(free, y, height) for y in sorted(stations) if low - SAME <= y <= high - height + SAME
    ]
    longest = max([*runs, *others], default=0.0)
    if longest > max(runs, default=0.0) + SAME:
        runs.append(longest)
    counts = Counter(round(run, 6) for run in runs if run > 0.0)
    return [PlateRows(run, n * plate.quantity) for run, n in sorted(counts.items(), reverse=True)]


def _free(plate: Plate, gaps: NestGaps) -> Polygon:
    """Return where parts may lie on a plate."""
    free = to_polygon(plate.outline, tolerance=CHORD, side="inside").buffer(-gaps.edge, join_style="mitre")
    barred = [to_polygon(void, tolerance=CHORD, side="outside").buffer(gaps.gap) for void in plate.voids]
    for keepout in plate.keepouts:
        room = max(gaps.gap, gaps.clamp_gap) if keepout.stands else gaps.gap
        barred.append(to_polygon(keepout.outline, tolerance=CHORD, side="outside").buffer(room))
    return free.difference(shapely.union_all(barred)) if barred else free


def _levels(free: Polygon) -> list[float]:
    return sorted({round(float(y), 6) for y in shapely.get_coordinates(free)[:, 1]})


def _longest_run(free: Polygon, y: float, height: float) -> float:
    """Return the length of the longest box of a height that lies free at a level."""
    x0, _, x1, _ = free.bounds
    # A hair less high, so that what only touches is not in the way.
    band = shapely.box(x0, y + SAME, x1, y + height - SAME)
    blocked = sorted(
        part.bounds[::2] for part in shapely.get_parts(band.difference(free)) if part.area > SAME
    )
    at, longest = x0, 0.0
    for low, high in [*blocked, (x1, x1)]:
        longest = max(longest, low - at)
        at = max(at, high)
    return float(longest)


def rows_taken(pieces: Sequence[float], copies: int, rows: Sequence[PlateRows], between: float) -> Cost:
    """Return what the rows of some pieces take, by dynamic programming.

    Parameters
    ----------
    pieces : sequence of float
        Lengths, mm; each is wanted `copies` times.
    copies : int
    rows : sequence of PlateRows
    between : float
        Between pieces in a row, mm.

    Returns
    -------
    (int, float, float)
        Pieces without a place, plate length taken in mm, and minus the sum of the squares of
        what the rows leave over.
    """
    kinds = sorted(set(pieces), reverse=True)
    wanted = tuple(copies * list(pieces).count(kind) for kind in kinds)
    ordered = sorted(rows, key=lambda row: -row.length)

    @cache
    def best(left: tuple[int, ...], used: tuple[int, ...]) -> Cost:
        first = next((k for k, n in enumerate(left) if n), None)
        if first is None:
            return (0, 0.0, 0.0)
        rest = tuple(n - (k == first) for k, n in enumerate(left))
        missed = best(rest, used)
        answers = [(missed[0] + 1, missed[1], missed[2])]
        for r, row in enumerate(ordered):
            if used[r] >= row.count or kinds[first] > row.length - SLACK + SAME:
                continue
            now = tuple(n + (k == r) for k, n in enumerate(used))
            for pattern, over in _patterns(left, kinds, first, row.length - SLACK, between):
                after = best(tuple(a - b for a, b in zip(left, pattern, strict=True)), now)
                answers.append((after[0], after[1] + row.length, after[2] - over * over))
        return min(answers)

    return best(wanted, (0,) * len(ordered))


def _patterns(
    left: Sequence[int], kinds: Sequence[float], first: int, room: float, between: float
) -> Iterator[tuple[tuple[int, ...], float]]:
    """Yield how a row can be filled round one piece so that no other fits, and what is left over."""

    def fill(k: int, room: float, counts: list[int]) -> Iterator[tuple[tuple[int, ...], float]]:
        if k == len(kinds):
            full = all(counts[j] == left[j] or kinds[j] + between > room + SAME for j in range(len(kinds)))
            if full:
                yield tuple(counts), max(room, 0.0)
            return
        held = counts[k]
        most = min(left[k] - held, int((room + SAME) // (kinds[k] + between)))
        for more in range(most, -1, -1):
            counts[k] = held + more
            yield from fill(k + 1, room - more * (kinds[k] + between), counts)
        counts[k] = held

    begun = [int(k == first) for k in range(len(kinds))]
    yield from fill(0, room - kinds[first], begun)
