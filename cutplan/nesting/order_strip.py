"""How long a plate must be ordered: parts of one thickness and grade on a strip of fixed width."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from cutplan.base.stopping import MaxIterations, StoppingRule
from cutplan.geometry import polygon
from cutplan.nesting.fill import Sheet, fill, filling_order
from cutplan.nesting.group import finished
from cutplan.nesting.model import Demand, NestGaps, NestProgress, StripNest, Unplaced
from cutplan.nesting.problem import Problem, build_problem
from cutplan.nesting.shorten import Packing
from cutplan.nesting.strip import pack_strip
from cutplan.nesting.trials import rows_of
from cutplan.stock import Plate

__all__ = ["shortest_strip"]

# Iterations of the search when no stopping rule is given.
_DEFAULT_ITERATIONS = 8


def shortest_strip(
    demands: Sequence[Demand],
    width: float,
    gaps: NestGaps,
    seed: int,
    stop: StoppingRule | None,
    progress: NestProgress | None,
    workers: int,
) -> StripNest:
    """Lay demands on the shortest strip; copies are not yet numbered."""
    problem = build_problem(demands, [_endless(demands, width, gaps)], gaps)
    if not problem.sheets:
        reason = "the edge gap leaves no room on the strip"
        return StripNest(0.0, width, (), tuple(Unplaced(d.part.name, d.quantity, reason) for d in demands))
    laid, left = fill(problem, filling_order(problem.kinds), [0])
    unplaced = tuple(
        Unplaced(kind.demand.part.name, count, "wider than the strip in its allowed rotations")
        for kind, count in zip(problem.kinds, left, strict=True)
        if count
    )
    if not laid:
        return StripNest(0.0, width, (), unplaced)
    packing, sheet, statistics = _shortened(problem, laid[0], seed, stop, progress, workers)
    # The box begins the edge less half the gap from the end, and so it ends.
    box = problem.sheets[0].box
    area = sum(problem.kinds[k].least_area for k in sheet.kinds)
    least = area / (box[3] - box[1]) + 2.0 * box[0]
    placements = finished(problem, [sheet])[0].placements
    return StripNest(float(packing.length + box[0]), width, placements, unplaced, float(least), statistics)


def _shortened(
    problem: Problem,
    sheet: Sheet,
    seed: int,
    stop: StoppingRule | None,
    progress: NestProgress | None,
    workers: int,
) -> tuple[Packing, Sheet, dict[str, float]]:
    """Return the strip as short as the search makes it: its packing, as a sheet, and statistics."""
    rows = rows_of(problem, 0, sheet.kinds)
    search = rows.search
    places, turned = sheet.places[: sheet.count].copy(), rows.own(sheet.orientations[: sheet.count])
    reached = float((places[:, 0] + search.reach[turned, 2]).max())
    done = [0]

    def shortened(length: float) -> None:
        done[0] += 1
        if progress is not None:
            progress("shorten", done[0], 0, length)

    packing, statistics = pack_strip(
        search,
        rows.areas,
        rows.kinds,
        np.array(problem.sheets[0].box),
        Packing(places, turned, reached),
        seed=seed,
        stop=MaxIterations(_DEFAULT_ITERATIONS) if stop is None else stop,
        workers=workers,
        progress=shortened,
    )
    best = replace(sheet, places=packing.places, orientations=rows.ids[packing.orientations])
    return packing, best, statistics


def _endless(demands: Sequence[Demand], width: float, gaps: NestGaps) -> Plate:
    """A plate of the strip's width that is long enough for all copies in a row."""
    first = demands[0]
    longest = 2.0 * gaps.edge
    for demand in demands:
        size = np.ptp(demand.part.outer.points, axis=0)
        # Arcs reach past their ends by no more than the ends are apart, twice over.
        longest += demand.quantity * (3.0 * float(np.hypot(*size)) + gaps.gap)
    outline = polygon([(0.0, 0.0), (longest, 0.0), (longest, width), (0.0, width)])
    return Plate("strip", outline, first.thickness, first.grade, "")
