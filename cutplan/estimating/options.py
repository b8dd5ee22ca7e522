"""What no shop can have in its `[estimate]`, refused with the key."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from cutplan.base.errors import DataError
from cutplan.estimating.calibration import FACTOR_GROUPS
from cutplan.estimating.model import EstimateOptions

__all__ = ["refuse_wrong_options"]


def refuse_wrong_options(options: EstimateOptions) -> None:
    """Refuse options that no shop can have.

    Parameters
    ----------
    options : EstimateOptions

    Raises
    ------
    DataError
        Naming the option.
    """
    for name, value in _numbers(options):
        if name != "acetylene_c" and not (math.isfinite(value) and value >= 0.0):
            raise DataError(f"{name} must be 0 or more, got {value:g}", where="[estimate]")
    for name in ("supply_efficiency", "acetylene_full"):
        if not 0.0 < getattr(options, name) <= 1.0:
            raise DataError(
                f"{name} must lie above 0 and not above 1, got {getattr(options, name):g}", where="[estimate]"
            )
    if options.marker_feed_mm_min == 0.0:
        raise DataError("marker_feed_mm_min must lie above 0", where="[estimate]")
    _refuse_wrong_factors(options)
    if not options.liquid_loss < 1.0:
        raise DataError(f"liquid_loss is a share below 1, got {options.liquid_loss:g}", where="[estimate]")
    if not all(count >= 1 for count in options.batches):
        raise DataError("batches counts from 1", where="[estimate]", remedy="write as [1, 2, 5]")


def _refuse_wrong_factors(options: EstimateOptions) -> None:
    activities = [activity for group in options.time_factors for activity in FACTOR_GROUPS.get(group, ())]
    for group, (factor, low, high) in options.time_factors.items():
        if group not in FACTOR_GROUPS:
            raise DataError(
                f"time_factors, {group}: no such group of activities",
                where="[estimate]",
                remedy=f"use {', '.join(FACTOR_GROUPS)}",
            )
        if not factor > 0.0 or not low <= factor <= high:
            raise DataError(
                f"time_factors, {group}: {factor:g} is no factor between {low:g} and {high:g}",
                where="[estimate]",
                remedy="write as [factor, low, high], as `cutplan calibrate` prints it",
            )
    if len(set(activities)) < len(activities):
        raise DataError(
            "time_factors: each activity must stand under one factor", where="[estimate]",
            remedy="take all out, or the others",
        )  # fmt: skip


def _numbers(options: EstimateOptions) -> Iterator[tuple[str, float]]:
    for name, value in vars(options).items():
        if name == "time_factors":
            yield from ((f"{name}, {key}", end) for key, ends in value.items() for end in ends)
            continue
        if isinstance(value, Mapping):
            yield from ((f"{name}, {key}", each) for key, each in value.items() if not isinstance(each, str))
        elif isinstance(value, tuple):
            yield from ((name, float(each)) for each in value)
        else:
            yield name, value
