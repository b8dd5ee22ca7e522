"""Rules on the program whatever the parts are; feeds, and where the torch may burn and go.

Switches, standing, flames and heights have modules of their own.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from cutplan.base.machine import Machine
from cutplan.control import RAPID, Dialect, Motions
from cutplan.geometry import FloatArray
from cutplan.process import CutData
from cutplan.stock import NestedPlate
from cutplan.verification.burning import burning_faults
from cutplan.verification.burns import Runs
from cutplan.verification.flames import flame_faults, flow_faults
from cutplan.verification.freeing import plate_polygon
from cutplan.verification.heights import height_faults
from cutplan.verification.model import Fault, Planned
from cutplan.verification.places import MOST_OF_A_KIND, fault_at
from cutplan.verification.scrap import leaves_once, scrap_runs
from cutplan.verification.strokes import BoolArray
from cutplan.verification.switching import switching_faults

__all__ = ["edge_starts", "whole_program_faults"]

# A feed in whole inches a minute is up to 12.7 mm/min off.
FEED_SHARE, FEED_STEP = 0.01, 13.0
# Coordinates are rounded, and an outline is seen in chords, mm.
EDGE_SLACK = 0.05


def whole_program_faults(
    motions: Motions,
    runs: Runs,
    sheet: NestedPlate,
    data: CutData,
    machine: Machine,
    dialect: Dialect,
    over_edge: BoolArray,
    planned: Planned | None = None,
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
    over_edge : ndarray of bool
        Runs that begin beside the plate or in an earlier kerf, where nothing is pierced.
    planned : Planned, optional
        Where edge starts, and travels without a raise, are planned.
    """
    checks = (
        switching_faults(motions),
        burning_faults(motions, runs, data, dialect, over_edge, planned),
        _feed_faults(motions, runs, data, dialect),
        flame_faults(motions, runs, data, dialect),
        flow_faults(motions, runs, data, dialect),
        height_faults(motions, runs, data, dialect, planned, machine.low_travel_height_mm, over_edge),
        _plate_faults(motions, runs, sheet, scrap_runs(runs, planned)),
    )
    return [fault for check in checks for fault in check]


def _xy(point: FloatArray) -> tuple[float, float]:
    return (float(point[0]), float(point[1]))


def edge_starts(runs: Runs, sheet: NestedPlate) -> BoolArray:
    """Return which runs begin beside the plate."""
    plate = plate_polygon(sheet.plate.outline)
    pierces = np.array([burn.pierce for burn in runs.burns]).reshape(-1, 2)
    return np.asarray(~shapely.contains_xy(plate, pierces[:, 0], pierces[:, 1]))


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
    shares = np.abs(motions.feed_mm_min[rows][:, None] / allowed - 1.0).min(axis=1)
    worst_first = np.argsort(-shares, kind="stable")[:MOST_OF_A_KIND]
    for row, share in zip(rows[worst_first].tolist(), shares[worst_first].tolist(), strict=True):
        told = f"a cut runs at {motions.feed_mm_min[row]:g} mm/min, the cutting data have {known}"
        yield fault_at(motions, row, "feed", told, trim=share <= data.feed_trim + FEED_SHARE)


def _plate_faults(motions: Motions, runs: Runs, sheet: NestedPlate, in_scrap: BoolArray) -> Iterator[Fault]:
    """A run may come in over the plate's edge, once; only one in scrap may leave the plate, for good."""
    plate = plate_polygon(sheet.plate.outline).buffer(EDGE_SLACK)
    middles = runs.strokes.at(np.full(len(runs.strokes), 0.5))
    inside = shapely.contains_xy(plate, middles[:, 0], middles[:, 1])
    inside_end = shapely.contains_xy(plate, runs.strokes.end[:, 0], runs.strokes.end[:, 1])
    quarter = _extremes_inside(runs, plate)
    for burn, leaves in zip(runs.burns, in_scrap.tolist(), strict=True):
        if leaves and leaves_once(np.asarray(inside_end[burn.strokes])):
            continue
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
    good = np.ones(len(runs.strokes), dtype=np.bool_)
    for share in (0.125, 0.25, 0.375, 0.625, 0.75, 0.875):
        at = runs.strokes.at(np.full(len(runs.strokes), share))
        good &= ~runs.strokes.is_arc | shapely.contains_xy(plate, at[:, 0], at[:, 1])
    return good
