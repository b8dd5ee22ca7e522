"""The sum of estimates: a batch over its plates, each field by the rule that stands with it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import fields
from typing import Any

from cutplan.base.errors import DataError
from cutplan.estimating.cost import sensitivity_line
from cutplan.estimating.model import ACTIVITIES, SUMMED, Estimate, PartEstimate

__all__ = ["add_estimates"]


def add_estimates(estimates: Iterable[Estimate]) -> Estimate:
    """Return the sum of estimates; no estimates sum to nothing.

    Peak flows, the manifold and the torch count are the greatest of any.  Lows and highs are
    added as if all errors went the same way, so the range of a sum errs on the wide side.

    Parameters
    ----------
    estimates : iterable of Estimate

    Returns
    -------
    Estimate

    Raises
    ------
    DataError
        If some have a cost and others none, or two currencies meet.
    """
    items = tuple(estimates)
    if not items:
        return Estimate(dict.fromkeys(("total", *ACTIVITIES), 0.0), {}, 0.0, 0, 0.0)
    priced = [item for item in items if item.cost is not None]
    if priced and len(priced) < len(items):
        raise DataError("some estimates have a cost and others none", remedy="estimate all with prices")
    currencies = sorted({str(item.currency) for item in priced})
    if len(currencies) > 1:
        raise DataError(
            f"estimates in {' and '.join(currencies)} cannot be added", remedy="price all in one currency"
        )
    summed = {
        each.name: _RULES[each.metadata[SUMMED]]([getattr(item, each.name) for item in items])
        for each in fields(Estimate)
        if each.metadata[SUMMED] in _RULES
    }
    summed["by_part"] = dict(sorted(summed["by_part"].items()))
    currency = currencies[0] if currencies else None
    cost, faster = summed["cost"], summed["cost_with_faster_feed"]
    moves = sensitivity_line(cost, faster, currency) if currency and cost and faster is not None else ""
    lines = tuple(line for item in items for line in item.lines)
    return Estimate(**summed, currency=currency, sensitivity=moves, lines=lines)


def _added(values: Sequence[Any]) -> Any:
    """Return the sum of numbers, and of what is made of numbers; None where any is not known."""
    if any(value is None for value in values):
        return None
    first = values[0]
    if isinstance(first, Mapping):
        names = dict.fromkeys(name for value in values for name in value)
        return {name: _added([value[name] for value in values if name in value]) for name in names}
    if isinstance(first, tuple):
        return tuple(_added(column) for column in zip(*values, strict=True))
    if isinstance(first, PartEstimate):
        return PartEstimate(
            **{each.name: _added([getattr(value, each.name) for value in values]) for each in fields(first)}
        )
    return sum(values)


def _greatest(values: Sequence[Any]) -> Any:
    if not isinstance(values[0], Mapping):
        return max(values)
    names = dict.fromkeys(name for value in values for name in value)
    return {name: max(value[name] for value in values if name in value) for name in names}


def _each_once(values: Sequence[Any]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for texts in values for text in texts))


_RULES = {"added": _added, "greatest": _greatest, "each once": _each_once}
