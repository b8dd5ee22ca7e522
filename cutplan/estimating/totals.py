"""The sum of estimates: a batch over its plates."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from cutplan.base.errors import DataError
from cutplan.estimating.cost import sensitivity_line
from cutplan.estimating.model import ACTIVITIES, Estimate, PartEstimate
from cutplan.estimating.resources import cylinders_for, gas_kg

__all__ = ["add_estimates"]


def add_estimates(estimates: Iterable[Estimate]) -> Estimate:
    """Return the sum of estimates; no estimates sum to nothing.

    Peak flows, the manifold and the torch count are the greatest of any.  Lows and highs are
    added as if all errors went the same way, so the range of a sum errs on the wide side.

    Raises
    ------
    DataError
        If some have a cost and others none, or two currencies meet.
    """
    items = tuple(estimates)
    priced = [item for item in items if item.cost is not None]
    if priced and len(priced) < len(items):
        raise DataError("some estimates have a cost and others none", remedy="estimate all with prices")
    currencies = sorted({str(item.currency) for item in priced})
    if len(currencies) > 1:
        raise DataError(
            f"estimates in {' and '.join(currencies)} cannot be added", remedy="price all in one currency"
        )
    gas = _summed(item.gas_m3 for item in items)
    time_s = _summed(item.time_s for item in items) or dict.fromkeys(("total", *ACTIVITIES), 0.0)
    peak: dict[str, float] = {}
    for item in items:
        for name, flow in item.peak_flow_m3_h.items():
            peak[name] = max(flow, peak.get(name, 0.0))
    cost = _summed(item.cost or {} for item in items) if priced else None
    faster = _summed_known([item.cost_with_faster_feed for item in items])
    return Estimate(
        time_s=time_s,
        gas_m3=gas,
        power_kwh=sum(item.power_kwh for item in items),
        pierces=sum(item.pierces for item in items),
        cut_length_mm=sum(item.cut_length_mm for item in items),
        consumable_sets=sum(item.consumable_sets for item in items),
        cost=cost,
        currency=currencies[0] if currencies else None,
        notes=_each_once(item.notes for item in items),
        inputs=_each_once(item.inputs for item in items),
        ranges=_summed_ranges(items),
        gas_kg=gas_kg(gas),
        cylinders=cylinders_for(gas),
        peak_flow_m3_h=peak,
        acetylene_manifold=max((item.acetylene_manifold for item in items), default=0),
        torches=max((item.torches for item in items), default=1),
        plate_kg=_summed_known([item.plate_kg for item in items]),
        parts_kg=_summed_known([item.parts_kg for item in items]),
        by_part=_summed_parts(items),
        cost_with_faster_feed=faster,
        sensitivity=sensitivity_line(cost, faster, currencies[0])
        if cost is not None and faster is not None
        else "",
    )


def _summed(mappings: Iterable[Mapping[str, float]]) -> dict[str, float]:
    total: dict[str, float] = {}
    for mapping in mappings:
        for name, value in mapping.items():
            total[name] = total.get(name, 0.0) + value
    return total


def _summed_ranges(items: Sequence[Estimate]) -> dict[str, tuple[float, float]]:
    low = _summed({name: ends[0] for name, ends in item.ranges.items()} for item in items)
    high = _summed({name: ends[1] for name, ends in item.ranges.items()} for item in items)
    return {name: (low[name], high[name]) for name in low}


def _summed_known(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) if known and len(known) == len(values) else None


def _each_once(groups: Iterable[Iterable[str]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for group in groups for text in group))


def _summed_parts(items: Sequence[Estimate]) -> dict[str, PartEstimate]:
    shares: dict[str, list[PartEstimate]] = {}
    for item in items:
        for name, part in item.by_part.items():
            shares.setdefault(name, []).append(part)
    return {name: _summed_part(parts) for name, parts in sorted(shares.items())}


def _summed_part(parts: Sequence[PartEstimate]) -> PartEstimate:
    copies = [part.copies for part in parts if part.copies is not None]
    costs = [part.cost for part in parts if part.cost is not None]
    return PartEstimate(
        time_s=_summed(part.time_s for part in parts),
        gas_m3=_summed(part.gas_m3 for part in parts),
        power_kwh=sum(part.power_kwh for part in parts),
        copies=sum(copies) if len(copies) == len(parts) else None,
        area_mm2=_summed_known([part.area_mm2 for part in parts]),
        cost=_summed(costs) if len(costs) == len(parts) else None,
    )
