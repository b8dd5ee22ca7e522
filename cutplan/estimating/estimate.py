"""The estimate of one program from the motions that its text yields."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import DataError
from cutplan.base.machine import Machine
from cutplan.control import Motions
from cutplan.estimating.activities import (
    HANDLING,
    Usage,
    owners_by_cut,
    owners_by_line,
    usage_by_owner,
)
from cutplan.estimating.assembly import (
    Figures,
    Setting,
    added,
    cost_with_faster_feed,
    figures_of,
    plate_items,
    ranges_of,
    scaled,
)
from cutplan.estimating.calibration import Calibration
from cutplan.estimating.cost import sensitivity_line, with_total
from cutplan.estimating.model import Estimate, EstimateOptions, PartEstimate
from cutplan.estimating.prices import Prices
from cutplan.estimating.resources import acetylene_manifold, cylinders_for, gas_kg, peak_flows
from cutplan.process import CutData
from cutplan.stock import Plate

__all__ = ["estimate", "shared_between"]

LEFT_OUT = "left out: gas before and after each arc, water treatment, dust extraction, programming"


def estimate(
    motions: Motions,
    data: CutData,
    machine: Machine,
    *,
    plate: Plate | None = None,
    prices: Prices | None = None,
    cut_parts: Sequence[str] | None = None,
    line_parts: Mapping[int, str] | None = None,
    part_areas: Mapping[str, float] | None = None,
    part_copies: Mapping[str, int] | None = None,
    torches: int = 1,
    calibration: Calibration | None = None,
    options: EstimateOptions | None = None,
) -> Estimate:
    """Return the time, gas, power, wear and cost of a program.

    Parameters
    ----------
    motions : Motions
        What the program's own text does.
    data : CutData
    machine : Machine
    plate : Plate, optional
        For its mass and cost.
    prices : Prices, optional
        Without them the estimate has no cost.
    cut_parts : sequence of str, optional
        Part of each cut or mark in the program's order, for a breakdown by part.
    line_parts : mapping, optional
        The same by program line: the part whose cut begins there, or that the line cuts.
    part_areas, part_copies : mapping, optional
        True area (mm², all copies, holes taken out) and number of copies by part; the areas
        share the plate's cost and give the scrap credit.
    torches : int
        Torches that run this program side by side, each on metal of its own.
    calibration : Calibration, optional
        Factors fitted to measured times.
    options : EstimateOptions, optional

    Raises
    ------
    DataError
        If the machine has no speed or acceleration, a torch count is not the machine's, a part
        has no area, or a price is missing.
    """
    options = options or EstimateOptions()
    _refuse_wrong_machine(machine, torches)
    _refuse_wrong_options(options)
    owner, names = _owners(motions, cut_parts, line_parts)
    usages, notes = usage_by_owner(motions, data, machine, options, owner, len(names))
    usages[-1].seconds[HANDLING] += options.handling_s_per_plate
    if calibration is not None:
        usages = [scaled(usage, calibration.by_activity()) for usage in usages]
    setting = Setting(
        data=data,
        options=options,
        plate=plate,
        prices=prices,
        torches=torches,
        parts_kg=_parts_kg(plate, part_areas),
        calibration=calibration,
    )
    return replace(
        _assembled(added(usages), setting, peak_torches=torches),
        inputs=_inputs(data, machine, prices, calibration),
        notes=notes + _notes(setting),
        by_part=_by_part(names, usages, setting, part_areas, part_copies or {}),
    )


def shared_between(
    motions: Motions,
    data: CutData,
    machine: Machine,
    torches: int,
    *,
    plate: Plate | None = None,
    prices: Prices | None = None,
    part_areas: Mapping[str, float] | None = None,
    part_copies: Mapping[str, int] | None = None,
    options: EstimateOptions | None = None,
) -> Estimate:
    """Return the estimate of a program whose cuts are shared among several torches.

    The torches cut the same contours side by side, so the copies of each part are cut in
    ⌈copies/torches⌉ runs; the rest of a last run's torches stay off.  What is cut, and so gas,
    wear and plate, stays that of the one program.

    Parameters
    ----------
    torches : int
        At least 1; not held against the machine's own count.
    part_copies : mapping, optional
        Without it the copies are taken to divide evenly, and a note says so.
    """
    options = options or EstimateOptions()
    _refuse_wrong_machine(replace(machine, torches=max(torches, 1)), torches)
    _refuse_wrong_options(options)
    usages, notes = usage_by_owner(motions, data, machine, options)
    usages[-1].seconds[HANDLING] += options.handling_s_per_plate
    share = 1.0 / torches
    if part_copies:
        runs = sum(math.ceil(copies / torches) for copies in part_copies.values())
        share = runs / sum(part_copies.values())
    elif torches > 1:
        notes += (f"the copies are taken to divide evenly among {torches} torches",)
    setting = Setting(
        data=data,
        options=options,
        plate=plate,
        prices=prices,
        time_share=share,
        parts_kg=_parts_kg(plate, part_areas),
    )
    return replace(
        _assembled(added(usages), setting, peak_torches=torches),
        inputs=_inputs(data, machine, prices, None),
        notes=notes + _notes(setting),
    )


def _owners(
    motions: Motions, cut_parts: Sequence[str] | None, line_parts: Mapping[int, str] | None
) -> tuple[NDArray[np.intp] | None, list[str]]:
    if cut_parts is not None:
        return owners_by_cut(motions, cut_parts)
    return (None, []) if line_parts is None else owners_by_line(motions, line_parts)


def _refuse_wrong_machine(machine: Machine, torches: int) -> None:
    for name, value in (
        ("rapid_mm_min", machine.rapid_mm_min),
        ("acceleration_mm_s2", machine.acceleration_mm_s2),
    ):
        if not (math.isfinite(value) and value > 0.0):
            raise DataError(f"the machine's {name} must lie above 0, got {value:g}", where="[machine]")
    if not 1 <= torches <= machine.torches:
        raise DataError(
            f"{torches} torches asked for, the machine has {machine.torches}",
            where="[machine], torches",
            remedy="estimate with the torches there are",
        )


def _refuse_wrong_options(options: EstimateOptions) -> None:
    for name, value in vars(options).items():
        if not (math.isfinite(value) and value >= 0.0):
            raise DataError(f"{name} must be 0 or more, got {value:g}", where="estimate options")
    if not 0.0 < options.supply_efficiency <= 1.0:
        raise DataError(
            f"supply_efficiency must lie above 0 and not above 1, got {options.supply_efficiency:g}",
            where="estimate options",
        )
    if options.marker_feed_mm_min == 0.0:
        raise DataError("marker_feed_mm_min must lie above 0", where="estimate options")


def _parts_kg(plate: Plate | None, areas: Mapping[str, float] | None) -> float | None:
    if plate is None or areas is None:
        return None
    return plate.mass_kg(sum(areas.values()))


def _assembled(whole: Usage, setting: Setting, *, peak_torches: int) -> Estimate:
    figures = figures_of(whole, setting)
    cost = None if figures.running is None else with_total(figures.running | plate_items(setting))
    faster = cost_with_faster_feed(whole, setting)
    peak = peak_flows(setting.data, peak_torches)
    gas = figures.used.gas_m3
    return Estimate(
        time_s=figures.time_s,
        gas_m3=gas,
        power_kwh=figures.power_kwh,
        pierces=whole.starts * setting.torches,
        cut_length_mm=whole.cut_length_mm * setting.torches,
        consumable_sets=figures.used.consumable_sets,
        cost=cost,
        currency=setting.prices.currency if setting.prices else None,
        ranges=ranges_of(whole, setting),
        gas_kg=gas_kg(gas),
        cylinders=cylinders_for(gas),
        peak_flow_m3_h=peak,
        acetylene_manifold=acetylene_manifold(peak.get("acetylene", 0.0)),
        torches=peak_torches,
        plate_kg=setting.plate.mass_kg() if setting.plate else None,
        parts_kg=setting.parts_kg,
        cost_with_faster_feed=faster,
        sensitivity=sensitivity_line(cost, faster, setting.prices.currency)
        if cost is not None and faster is not None and setting.prices is not None
        else "",
    )


def _inputs(
    data: CutData, machine: Machine, prices: Prices | None, calibration: Calibration | None
) -> tuple[str, ...]:
    lines = [
        f"cutting data {data.source}: {data.setting}, {data.material} {data.thickness:g} mm, "
        f"{data.feed_mm_min:g} mm/min, kerf {data.kerf:g} mm ({data.origin or 'origin not stated'})",
        f"machine: rapid {machine.rapid_mm_min:g} mm/min, acceleration {machine.acceleration_mm_s2:g} "
        f"mm/s², corner deviation {machine.corner_deviation_mm:g} mm, raise {machine.raise_s:g} s, "
        f"lower {machine.lower_s:g} s, ignition {machine.ignition_s:g} s",
    ]
    if prices is not None:
        lines.append(f"prices: {prices.source}, in {prices.currency}")
    if calibration is not None:
        lines.append(f"calibrated: {calibration.summary()}")
    return tuple(lines)


def _notes(setting: Setting) -> tuple[str, ...]:
    notes = [LEFT_OUT]
    if setting.options.handling_s_per_plate == 0.0:
        notes.append("left out: loading the plate and taking off the parts")
    if setting.prices is not None and setting.plate is not None and setting.parts_kg is None:
        notes.append("no scrap credit: the area of the parts was not told")
    if setting.prices is not None and setting.plate is None:
        notes.append("left out: the cost of the plate")
    return tuple(notes)


def _by_part(
    names: list[str],
    usages: list[Usage],
    setting: Setting,
    areas: Mapping[str, float] | None,
    copies: Mapping[str, int],
) -> dict[str, PartEstimate]:
    """Share the way home and the handling by time, and the plate by area."""
    *own, home = usages
    spent = np.array([usage.seconds.sum() for usage in own])
    plate = plate_items(setting)
    surface = sum(areas.values()) if areas is not None else 0.0
    result = {}
    for name, usage, seconds in zip(names, own, spent, strict=True):
        share = float(seconds / spent.sum()) if spent.sum() > 0.0 else 1.0 / len(names)
        figures = figures_of(added([usage, _share(home, share)]), setting)
        if areas is not None and name not in areas:
            raise DataError(f"part {name!r} has no area", remedy="give the true area of every part cut")
        part_area = areas[name] if areas is not None else None
        result[name] = PartEstimate(
            time_s=figures.time_s,
            gas_m3=figures.used.gas_m3,
            power_kwh=figures.power_kwh,
            copies=copies.get(name),
            area_mm2=part_area,
            cost=_part_cost(figures, plate, part_area / surface if part_area is not None else None),
        )
    return result


def _share(usage: Usage, share: float) -> Usage:
    return replace(
        usage,
        seconds=usage.seconds * share,
        flame_s=usage.flame_s * share,
        ignition_s=usage.ignition_s * share,
        cut_length_mm=usage.cut_length_mm * share,
    )


def _part_cost(
    figures: Figures, plate: Mapping[str, float], area_share: float | None
) -> dict[str, float] | None:
    if figures.running is None:
        return None
    by_area = {} if area_share is None else {item: value * area_share for item, value in plate.items()}
    return with_total(figures.running | by_area)
