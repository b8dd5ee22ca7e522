"""The estimate of one program from the motions that its text yields."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from cutplan.base.errors import DataError
from cutplan.base.machine import Machine
from cutplan.control import Dialect, Motions
from cutplan.estimating.activities import HANDLING, owners_by_cut, owners_by_line, usage_by_owner
from cutplan.estimating.assembly import (
    Setting,
    co2_of,
    cost_with_faster_feed,
    figures_of,
    lines_of,
    plate_lines_of,
    ranges_of,
)
from cutplan.estimating.calibration import Calibration, calibration_of
from cutplan.estimating.cost import by_item, sensitivity_line, with_total
from cutplan.estimating.model import Estimate, EstimateOptions, PartEstimate
from cutplan.estimating.options import refuse_wrong_options
from cutplan.estimating.prices import Prices
from cutplan.estimating.resources import gas_kg, peak_flows
from cutplan.estimating.supplies import (
    ACETYLENE_CYLINDER_M3,
    acetylene_manifold,
    cylinders_for,
    supplies_of,
)
from cutplan.estimating.usage import CutParts, Owner, Usage, added, by_name, scaled
from cutplan.process import CutData
from cutplan.stock import Plate

__all__ = ["estimate", "shared_between"]

PLATE_ITEMS = ("plate", "remnant credit", "scrap credit")
KILOGRAMS_PER_TONNE = 1000.0


def estimate(
    motions: Motions,
    data: CutData,
    machine: Machine,
    *,
    plate: Plate | None = None,
    prices: Prices | None = None,
    cut_parts: CutParts | None = None,
    line_parts: Mapping[int, str] | None = None,
    part_areas: Mapping[str, float] | None = None,
    part_copies: Mapping[str, int] | None = None,
    part_tabs: Mapping[str, int] | None = None,
    remnant_mm2: float = 0.0,
    torches: int = 1,
    calibration: Calibration | None = None,
    options: EstimateOptions | None = None,
    dialect: Dialect | None = None,
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
    cut_parts : sequence of str or of mapping, optional
        Part of each cut or mark in the program's order, or the share of each that it makes.
    line_parts : mapping, optional
        The same by program line: the part whose cut begins there, or that the line cuts.
    part_areas, part_copies : mapping, optional
        True area (mm², all copies, holes taken out) and number of copies by part; the areas
        share the plate's cost and give the scrap credit.
    part_tabs : mapping, optional
        Number of tabs to break by part, of all its copies.
    remnant_mm2 : float
        Area of what is kept of the plate: credited at the plate's price.
    torches : int
        Torches that run this program side by side, each on metal of its own.
    calibration : Calibration, optional
        Factors fitted to measured times; without them those of the options.
    options : EstimateOptions, optional
    dialect : Dialect, optional
        Of the control: which waits at a start the program itself makes.

    Returns
    -------
    Estimate

    Raises
    ------
    DataError
        If the machine has no speed or acceleration, a torch count is not the machine's, a part
        has no area, or a price is missing.
    """
    options = _checked(options, machine, torches)
    calibration = calibration or calibration_of(options)
    owner, owners = _owners(motions, cut_parts, line_parts)
    usages, notes = usage_by_owner(motions, data, machine, options, owner, len(owners), dialect)
    usages[-1].seconds[HANDLING] += _table_stands_s(plate, options)
    usages = _calibrated(usages, calibration)
    sorting = _sorting_s(plate, options, part_areas, part_copies, part_tabs)
    setting = Setting(
        data=data, options=options, plate=plate, prices=prices, torches=torches, calibration=calibration,
        parts_kg=_parts_kg(plate, part_areas),
        remnant_kg=0.0 if plate is None else plate.mass_kg(remnant_mm2),
        sorting_s=sum(sorting.values()),
    )  # fmt: skip
    return replace(
        _assembled(added(usages), setting, peak_torches=torches),
        inputs=_inputs(data, machine, prices, calibration),
        notes=notes + _notes(setting, part_tabs),
        by_part=_by_part(*by_name(owners, usages), setting, part_areas, part_copies or {}, sorting),
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
    remnant_mm2: float = 0.0,
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
    motions : Motions
        As for `estimate`, like all that follow.
    data : CutData
    machine : Machine
    plate : Plate, optional
    prices : Prices, optional
    part_areas, remnant_mm2, options
        As there.

    Returns
    -------
    Estimate
    """
    options = _checked(options, replace(machine, torches=max(torches, 1)), torches)
    usages, notes = usage_by_owner(motions, data, machine, options)
    usages[-1].seconds[HANDLING] += _table_stands_s(plate, options)
    calibration = calibration_of(options)
    usages = _calibrated(usages, calibration)
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
        calibration=calibration,
        parts_kg=_parts_kg(plate, part_areas),
        remnant_kg=0.0 if plate is None else plate.mass_kg(remnant_mm2),
        sorting_s=sum(_sorting_s(plate, options, part_areas, part_copies).values()),
    )
    return replace(
        _assembled(added(usages), setting, peak_torches=torches),
        inputs=_inputs(data, machine, prices, calibration),
        notes=notes + _notes(setting),
    )


def _checked(options: EstimateOptions | None, machine: Machine, torches: int) -> EstimateOptions:
    _refuse_wrong_machine(machine, torches)
    options = options or EstimateOptions()
    refuse_wrong_options(options)
    return options


def _calibrated(usages: list[Usage], calibration: Calibration | None) -> list[Usage]:
    if calibration is None:
        return usages
    return [scaled(usage, calibration.by_activity()) for usage in usages]


def _owners(
    motions: Motions, cut_parts: CutParts | None, line_parts: Mapping[int, str] | None
) -> tuple[NDArray[np.intp] | None, list[Owner]]:
    if cut_parts is not None:
        return owners_by_cut(motions, cut_parts)
    return (None, []) if line_parts is None else owners_by_line(motions, line_parts)


def _refuse_wrong_machine(machine: Machine, torches: int) -> None:
    for name in ("rapid_mm_min", "acceleration_mm_s2"):
        value = getattr(machine, name)
        if not (math.isfinite(value) and value > 0.0):
            raise DataError(f"the machine's {name} must lie above 0, got {value:g}", where="[machine]")
    if not 1 <= torches <= machine.torches:
        raise DataError(
            f"{torches} torches asked for, the machine has {machine.torches}",
            where="[machine], torches",
            remedy="estimate with the torches there are",
        )


def _table_stands_s(plate: Plate | None, options: EstimateOptions) -> float:
    """Return how long the table stands for loading, set-up and taking off."""
    tonnes = 0.0 if plate is None else plate.mass_kg() / KILOGRAMS_PER_TONNE
    fixed = options.handling_s_per_plate + options.set_up_s_per_plate
    return fixed + options.handling_s_per_tonne * tonnes


def _sorting_s(
    plate: Plate | None,
    options: EstimateOptions,
    areas: Mapping[str, float] | None,
    copies: Mapping[str, int] | None,
    tabs: Mapping[str, int] | None = None,
) -> dict[str, float]:
    """Return the labour of sorting by part: by its pieces, its mass and its tabs, as far as told."""
    seconds = {name: options.sorting_s_per_piece * count for name, count in (copies or {}).items()}
    if plate is not None:
        for name, area in (areas or {}).items():
            by_mass = options.sorting_s_per_kg * plate.mass_kg(area)
            seconds[name] = seconds.get(name, 0.0) + by_mass
    for name, count in (tabs or {}).items():
        seconds[name] = seconds.get(name, 0.0) + options.breaking_s_per_tab * count
    return seconds


def _parts_kg(plate: Plate | None, areas: Mapping[str, float] | None) -> float | None:
    if plate is None or areas is None:
        return None
    return plate.mass_kg(sum(areas.values()))


def _assembled(whole: Usage, setting: Setting, *, peak_torches: int) -> Estimate:
    figures = figures_of(whole, setting)
    running = lines_of(figures, setting, setting.sorting_s)
    own = plate_lines_of(setting)
    peak = peak_flows(setting.data, peak_torches)
    gas, options = figures.used.gas_m3, setting.options
    estimated = Estimate(
        time_s=figures.time_s,
        gas_m3=gas,
        power_kwh=figures.power_kwh,
        pierces=round(whole.starts) * setting.torches,
        cut_length_mm=whole.cut_length_mm * setting.torches,
        consumable_sets=figures.used.consumable_sets,
        sets_by_starts=figures.used.sets_by_starts,
        power_by_phase_kwh=figures.used.power_kwh,
        sorting_s=setting.sorting_s,
        lines=(*(running or ()), *own),
        currency=setting.prices.currency if setting.prices else None,
        ranges=ranges_of(whole, setting),
        gas_kg=gas_kg(gas),
        cylinders=cylinders_for(gas, options),
        supplies=supplies_of(gas, options),
        peak_flow_m3_h=peak,
        acetylene_manifold=acetylene_manifold(
            peak.get("acetylene", 0.0),
            contents_m3=ACETYLENE_CYLINDER_M3 * options.acetylene_full,
            temperature_c=options.acetylene_c,
        ),
        torches=peak_torches,
        plate_kg=setting.plate.mass_kg() if setting.plate else None,
        parts_kg=setting.parts_kg,
        remnant_kg=setting.remnant_kg if setting.plate else None,
        co2_kg=co2_of(figures, setting, 1.0),
    )
    if running is None or setting.prices is None:
        return estimated
    cost = with_total(by_item(running) | (by_item(own, PLATE_ITEMS) if own else {}))
    faster = cost_with_faster_feed(whole, setting)
    told = sensitivity_line(cost, faster, setting.prices.currency) if faster is not None else ""
    return replace(estimated, cost=cost, cost_with_faster_feed=faster, sensitivity=told)


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


def _notes(setting: Setting, tabs: Mapping[str, int] | None = None) -> tuple[str, ...]:
    options, data = setting.options, setting.data
    left_out = [
        ("gas before and after each arc", data.process == "plasma" and not (data.pre_flow_s or data.post_flow_s)),
        ("bleeding the hoses", data.process == "oxyfuel" and not data.bleed_s),
        ("water treatment", True),
        ("dust extraction", not options.extraction_kw),
        ("loading the plate and taking off the skeleton", not (options.handling_s_per_plate or options.handling_s_per_tonne)),
        ("sorting the parts", not (options.sorting_s_per_piece or options.sorting_s_per_kg)),
        ("breaking the tabs", bool(tabs) and not options.breaking_s_per_tab),
        ("the cost of the plate", setting.prices is not None and setting.plate is None),
    ]  # fmt: skip
    notes = [f"left out: {', '.join(words for words, out in left_out if out)}"]
    if setting.prices is not None and setting.plate is not None and setting.parts_kg is None:
        notes.append("no scrap credit: the area of the parts was not told")
    return tuple(notes)


def _by_part(
    names: list[str],
    usages: list[Usage],
    setting: Setting,
    areas: Mapping[str, float] | None,
    copies: Mapping[str, int],
    sorting: Mapping[str, float],
) -> dict[str, PartEstimate]:
    """Share the way home and the handling by time, and the plate by area."""
    *own, home = usages
    spent = np.array([usage.seconds.sum() for usage in own])
    plate = by_item(plate_lines_of(setting), ())
    surface = sum(areas.values()) if areas is not None else 0.0
    result = {}
    for name, usage, seconds in zip(names, own, spent, strict=True):
        share = float(seconds / spent.sum()) if spent.sum() > 0.0 else 1.0 / len(names)
        figures = figures_of(usage + home.share(share), setting)
        if areas is not None and name not in areas:
            raise DataError(f"part {name!r} has no area", remedy="give the true area of every part cut")
        part_area = areas[name] if areas is not None else None
        by_area = None if part_area is None else part_area / surface
        lines = lines_of(figures, setting, sorting.get(name, 0.0))
        cost = None
        if lines is not None:
            metal = {} if by_area is None else {item: value * by_area for item, value in plate.items()}
            cost = with_total(by_item(lines) | metal)
        result[name] = PartEstimate(
            time_s=figures.time_s,
            gas_m3=figures.used.gas_m3,
            power_kwh=figures.power_kwh,
            copies=copies.get(name),
            area_mm2=part_area,
            kg=None if setting.plate is None or part_area is None else setting.plate.mass_kg(part_area),
            cost=cost,
            co2_kg=co2_of(figures, setting, by_area or 0.0),
        )
    return result
