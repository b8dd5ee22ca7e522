"""Rules on the program itself: modes, switches, dwells, feeds, heights, and where it may go."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from cutplan.base.machine import Machine
from cutplan.control import DWELL, RAPID, STOP, SWITCH, Dialect, Motions
from cutplan.geometry import FloatArray
from cutplan.process import CutData
from cutplan.stock import NestedPlate
from cutplan.verification.burns import Burn, Runs
from cutplan.verification.freeing import plate_polygon
from cutplan.verification.model import Fault
from cutplan.verification.strokes import BoolArray

__all__ = ["edge_starts", "rule_faults", "torch_count_faults"]

# A feed in whole inches a minute is up to 12.7 mm/min off, a dwell in tenths 0.05 s.
FEED_SHARE, FEED_STEP = 0.01, 13.0
DWELL_SHARE, DWELL_STEP = 0.01, 0.051
HEIGHT_STEP = 0.05
# Coordinates are rounded, and an outline is seen in chords, mm.
EDGE_SLACK = 0.05
MOST_OF_A_KIND = 20


def rule_faults(
    motions: Motions, runs: Runs, sheet: NestedPlate, data: CutData, machine: Machine, dialect: Dialect
) -> list[Fault]:
    """Return what is wrong with a program whatever the parts on the plate.

    Parameters
    ----------
    motions : Motions
    runs : Runs
        The torch's.
    sheet : NestedPlate
    data : CutData
    machine : Machine
    dialect : Dialect
    """
    over_edge = edge_starts(runs, sheet)
    checks = (
        _first_of_each(_doubt_faults(motions)),
        _stop_faults(motions),
        _switch_faults(motions),
        _dwell_faults(motions, runs, data, dialect, over_edge),
        _feed_faults(motions, runs, data, dialect),
        _flame_faults(motions, runs, data, dialect),
        _height_faults(motions, runs, data),
        _plate_faults(motions, runs, sheet),
    )
    return [fault for check in checks for fault in check]


def _first(faults: Iterator[Fault]) -> Iterator[Fault]:
    """Hand on the first faults of a kind; the rest would say the same."""
    for _, fault in zip(range(MOST_OF_A_KIND), faults, strict=False):
        yield fault


def _first_of_each(faults: Iterator[Fault]) -> Iterator[Fault]:
    """Hand on the first faults of each code."""
    counts: Counter[str] = Counter()
    for fault in faults:
        counts[fault.code] += 1
        if counts[fault.code] <= MOST_OF_A_KIND:
            yield fault


def _xy(point: FloatArray) -> tuple[float, float]:
    return (float(point[0]), float(point[1]))


def _doubt_faults(motions: Motions) -> Iterator[Fault]:
    """What the reading took on trust is no proof."""
    for doubt in motions.doubts:
        yield Fault(doubt.code, doubt.message, doubt.line)


def _stop_faults(motions: Motions) -> Iterator[Fault]:
    """Nothing burns, marks or heats while the control waits for the operator."""
    lit = motions.torch | motions.marker | motions.flame
    for row in np.flatnonzero((motions.kind == STOP) & lit).tolist():
        on = [name for name in ("torch", "marker", "flame") if getattr(motions, name)[row]]
        told = f"the program waits for the operator with the {' and the '.join(on)} on"
        yield Fault("stop-while-lit", told, int(motions.line[row]), _xy(motions.start[row]))


def _switch_faults(motions: Motions) -> Iterator[Fault]:
    kind, torch = motions.kind, motions.torch
    for row in np.flatnonzero(torch & (kind == RAPID))[:MOST_OF_A_KIND].tolist():
        yield Fault("lit-rapid", "a rapid with the torch on", int(motions.line[row]), _xy(motions.start[row]))
    for row in np.flatnonzero(torch & motions.marker)[:1].tolist():
        yield Fault(
            "marker-with-torch",
            "the marker is on with the torch",
            int(motions.line[row]),
            _xy(motions.start[row]),
        )
    before = np.concatenate([[False], torch[:-1]])
    others = np.concatenate([[False], (motions.marker[1:] != motions.marker[:-1])])
    others |= np.concatenate([[False], (motions.flame[1:] != motions.flame[:-1])])
    others |= np.concatenate([[False], (motions.height_control[1:] != motions.height_control[:-1])])
    again = (kind == SWITCH) & torch & before & ~others
    for row in np.flatnonzero(again)[:MOST_OF_A_KIND].tolist():
        yield Fault(
            "torch-on-twice", "the torch is on already", int(motions.line[row]), _xy(motions.start[row])
        )
    for name in sorted(motions.left_on & {"torch", "marker"}):
        told = f"the {name} is on at the program's end"
        yield Fault(f"{name}-left-on", told, int(motions.line[-1]), _xy(motions.end[-1]))


def edge_starts(runs: Runs, sheet: NestedPlate) -> BoolArray:
    """Return which runs begin beside the plate."""
    import shapely

    plate = plate_polygon(sheet.plate.outline)
    pierces = np.array([burn.pierce for burn in runs.burns]).reshape(-1, 2)
    return np.asarray(~shapely.contains_xy(plate, pierces[:, 0], pierces[:, 1]))


def _dwell_faults(
    motions: Motions, runs: Runs, data: CutData, dialect: Dialect, over_edge: BoolArray
) -> Iterator[Fault]:
    if not dialect.pierce_by_control:
        for burn, edge in zip(runs.burns, over_edge.tolist(), strict=True):
            yield from _start_faults(burn, data, edge)
    late = motions.torch & (motions.kind == DWELL) & (motions.dwell_s > 0.0)
    late &= ~_before_first_move(motions, runs)
    for row in np.flatnonzero(late)[:MOST_OF_A_KIND].tolist():
        yield Fault(
            "dwell-in-cut",
            "the torch burns standing in the middle of a cut",
            int(motions.line[row]),
            _xy(motions.start[row]),
        )
    for burn in runs.burns:
        if burn.strokes.start == burn.strokes.stop:
            yield Fault(
                "empty-cut", "the torch is switched on and off without a move", burn.line, burn.pierce
            )


def _start_faults(burn: Burn, data: CutData, edge: bool) -> Iterator[Fault]:
    preheat = data.edge_preheat_s if edge else data.preheat_s
    pierce = None if edge else data.pierce_s
    for code, what, found, wanted in (
        ("preheat", "preheats for", burn.preheat_s, preheat),
        ("pierce-dwell", "pierces for", burn.pierce_s, pierce),
    ):
        if wanted is not None and abs(found - wanted) > DWELL_STEP + DWELL_SHARE * wanted:
            message = f"{what} {found:g} s, the cutting data ask for {wanted:g} s"
            yield Fault(code, f"the cut {message}", burn.line, burn.pierce)


def _before_first_move(motions: Motions, runs: Runs) -> BoolArray:
    """Return which rows of the runs come before the torch has moved over the plate."""
    early = np.zeros(len(motions), dtype=np.bool_)
    for burn in runs.burns:
        moved = runs.row[burn.strokes.start] if burn.strokes.start < burn.strokes.stop else burn.last
        early[burn.first : int(moved)] = True
    return early


def _feed_faults(motions: Motions, runs: Runs, data: CutData, dialect: Dialect) -> Iterator[Fault]:
    if dialect.feed_by_control:
        return
    feeds = motions.feed_mm_min[runs.row]
    rules = data.rules
    creep = data.moving_pierce_feed if data.moving_pierce_mm > 0.0 else 1.0
    allowed = data.feed_mm_min * np.array([1.0, rules.small_hole_feed, rules.corner_feed, creep])
    miss = np.abs(feeds[:, None] - allowed).min(axis=1)
    wrong = ~(miss <= np.minimum(FEED_STEP, 0.05 * data.feed_mm_min) + FEED_SHARE * data.feed_mm_min)
    rows = runs.row[wrong & (motions.kind[runs.row] != RAPID)]
    known = ", ".join(f"{feed:g}" for feed in sorted(set(allowed.tolist())))
    for row in rows[:MOST_OF_A_KIND].tolist():
        yield Fault(
            "feed",
            f"a cut runs at {motions.feed_mm_min[row]:g} mm/min, the cutting data have {known}",
            int(motions.line[row]),
            _xy(motions.start[row]),
        )


def _flame_faults(motions: Motions, runs: Runs, data: CutData, dialect: Dialect) -> Iterator[Fault]:
    """Where the program works the preheat flames, they burn at each start and at no travel."""
    if not dialect.flame_on or data.process != "oxyfuel":
        return
    cold = [burn for burn in runs.burns if not motions.flame[burn.first]]
    for burn in cold[:MOST_OF_A_KIND]:
        yield Fault("flame", "a cut begins with the preheat flames out", burn.line, burn.pierce)
    up = motions.flame & (motions.kind == RAPID)
    for row in np.flatnonzero(up)[:MOST_OF_A_KIND].tolist():
        told = "the preheat flames are up in a rapid"
        yield Fault("flame", told, int(motions.line[row]), _xy(motions.start[row]))
    # The program's end, its last row, puts everything out; what counts is how it came there.
    if motions.flame[-2:].any():
        told = "the preheat flames are up at the program's end"
        yield Fault("flame", told, int(motions.line[-1]), _xy(motions.end[-1]))


def torch_count_faults(motions: Motions, torches: int) -> Iterator[Fault]:
    """Hold the T words, where they count the torches, against how many should burn."""
    for line, lit in motions.torches:
        if lit != torches:
            yield Fault("torches", f"T{lit} lights {lit} torches, the plan has {torches}", line)


def _height_faults(motions: Motions, runs: Runs, data: CutData) -> Iterator[Fault]:
    """Check heights, where the program states any: in the pierce dwell and while cutting."""
    height = motions.end[:, 2]
    if not np.abs(height).any():
        return
    for row in np.flatnonzero(height < -HEIGHT_STEP)[:MOST_OF_A_KIND].tolist():
        told = f"the torch goes to {height[row]:g} mm, below the plate's face"
        yield Fault("height", told, int(motions.line[row]), _xy(motions.start[row]))
    cutting = np.zeros(len(motions), dtype=np.bool_)
    cutting[runs.row] = motions.kind[runs.row] != RAPID
    piercing = motions.torch & (motions.kind == DWELL)
    for rows, wanted, what in (
        (cutting, data.cut_height, "cuts"),
        (piercing, data.pierce_height, "pierces"),
    ):
        wrong = rows & (np.abs(height - wanted) > HEIGHT_STEP)
        for row in np.flatnonzero(wrong)[:MOST_OF_A_KIND].tolist():
            yield Fault(
                "height",
                f"the torch {what} at {height[row]:g} mm, the cutting data ask for {wanted:g} mm",
                int(motions.line[row]),
                _xy(motions.start[row]),
            )


def _plate_faults(motions: Motions, runs: Runs, sheet: NestedPlate) -> Iterator[Fault]:
    """A run may come in over the plate's edge, once; it may not leave the plate."""
    import shapely

    plate = plate_polygon(sheet.plate.outline).buffer(EDGE_SLACK)
    middles = runs.strokes.at(np.full(len(runs.strokes), 0.5))
    inside = shapely.contains_xy(plate, middles[:, 0], middles[:, 1])
    inside_end = shapely.contains_xy(plate, runs.strokes.end[:, 0], runs.strokes.end[:, 1])
    quarter = _extremes_inside(runs, plate)
    for burn in runs.burns:
        entered = bool(shapely.contains_xy(plate, *burn.pierce))
        for k in range(burn.strokes.start, burn.strokes.stop):
            if entered and not (inside[k] and inside_end[k] and quarter[k]):
                yield Fault(
                    "off-plate",
                    "the torch burns beside the plate",
                    int(motions.line[runs.row[k]]),
                    _xy(runs.strokes.end[k]),
                )
                break
            entered = entered or bool(inside_end[k])
        if not entered and burn.strokes.start < burn.strokes.stop:
            yield Fault("off-plate", "the torch burns beside the plate", burn.line, burn.pierce)


def _extremes_inside(runs: Runs, plate: object) -> BoolArray:
    """Return which strokes lie on the plate at their quarters too: arcs reach beyond their ends."""
    import shapely

    good = np.ones(len(runs.strokes), dtype=np.bool_)
    for share in (0.125, 0.25, 0.375, 0.625, 0.75, 0.875):
        at = runs.strokes.at(np.full(len(runs.strokes), share))
        good &= ~runs.strokes.is_arc | shapely.contains_xy(plate, at[:, 0], at[:, 1])
    return good
