"""What plan.json says of time, gas, power, consumables and cost."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Self

from pydantic import SerializerFunctionWrapHandler, model_serializer

from cutplan.estimating import Estimate, PartEstimate
from cutplan.record.shapes import Record, Rounded2, Rounded3, Rounded4, Rounded5

__all__ = ["EstimateRecord", "PartShareRecord"]


class PartShareRecord(Record):
    """A part's share of a sheet or of the batch; `cost` is left out where there are no prices."""

    copies: int | None
    time_s: Rounded3
    gas_m3: Mapping[str, Rounded5]
    power_kwh: Rounded4
    cost: Mapping[str, Rounded2] | None = None
    co2_kg: Mapping[str, Rounded3] | None = None

    @classmethod
    def of(cls, share: PartEstimate) -> Self:
        """Return the record of a part's share."""
        return cls(
            copies=share.copies,
            time_s=share.time_s["total"],
            gas_m3=share.gas_m3,
            power_kwh=share.power_kwh,
            cost=share.cost,
            co2_kg=share.co2_kg,
        )

    @model_serializer(mode="wrap")
    def _without_cost(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        record: dict[str, Any] = handler(self)
        for key in ("cost", "co2_kg"):
            if getattr(self, key) is None:
                del record[key]
        return record


class EstimateRecord(Record):
    """An estimate; `cost` and what goes with it are left out where there are no prices."""

    time_s: Mapping[str, Rounded3]
    gas_m3: Mapping[str, Rounded5]
    power_kwh: Rounded4
    pierces: int
    cut_length_mm: Rounded3
    consumable_sets: Rounded4
    notes: tuple[str, ...]
    inputs: tuple[str, ...]
    ranges: Mapping[str, tuple[Rounded4, Rounded4]]
    gas_kg: Mapping[str, Rounded5]
    cylinders: Mapping[str, Rounded4]
    acetylene_manifold: int
    by_part: Mapping[str, PartShareRecord]
    cost: Mapping[str, Rounded2] | None = None
    currency: str | None = None
    sensitivity: str = ""
    sets_by_starts: Rounded4 = 0.0
    power_by_phase_kwh: Mapping[str, Rounded4] = {}
    supplies: Mapping[str, Rounded4] = {}
    sorting_s: Rounded3 = 0.0
    remnant_kg: Rounded3 | None = None
    co2_kg: Mapping[str, Rounded3] | None = None

    @classmethod
    def of(cls, estimate: Estimate) -> Self:
        """Return the record of an estimate."""
        return cls(
            time_s=estimate.time_s,
            gas_m3=estimate.gas_m3,
            power_kwh=estimate.power_kwh,
            pierces=estimate.pierces,
            cut_length_mm=estimate.cut_length_mm,
            consumable_sets=estimate.consumable_sets,
            notes=estimate.notes,
            inputs=estimate.inputs,
            ranges=estimate.ranges,
            gas_kg=estimate.gas_kg,
            cylinders=estimate.cylinders,
            acetylene_manifold=estimate.acetylene_manifold,
            by_part={name: PartShareRecord.of(share) for name, share in estimate.by_part.items()},
            cost=estimate.cost,
            currency=estimate.currency,
            sensitivity=estimate.sensitivity,
            sets_by_starts=estimate.sets_by_starts,
            power_by_phase_kwh=estimate.power_by_phase_kwh,
            supplies=estimate.supplies,
            sorting_s=estimate.sorting_s,
            remnant_kg=estimate.remnant_kg,
            co2_kg=estimate.co2_kg,
        )

    @model_serializer(mode="wrap")
    def _without_cost(self, handler: SerializerFunctionWrapHandler) -> dict[str, Any]:
        record: dict[str, Any] = handler(self)
        if self.cost is None:
            for key in ("cost", "currency", "sensitivity"):
                del record[key]
        if self.co2_kg is None:
            del record["co2_kg"]
        return record
