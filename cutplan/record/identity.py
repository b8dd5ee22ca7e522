"""The name that a plan and each of its parts go by in the shop: on labels, in stock, in plan.json."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator

from cutplan.record.model import Plan, PlannedSheet
from cutplan.stock import Placement

__all__ = ["marked_parts", "plan_name"]

NAME_LETTERS = 8
"""Letters of the digest in a plan's name: two of 10,000 plans share them once in 86 times."""
MARK_LETTERS = 6
"""Fewer in a part's mark, which may have to be scribed; the inventory refuses twins in a plan."""


def plan_name(plan: Plan) -> str:
    """Return the job's name and the start of the plan's digest: the same for the same plan.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    str
    """
    return f"{plan.job} {_digest(plan)[:NAME_LETTERS]}"


def marked_parts(plan: Plan) -> Iterator[tuple[PlannedSheet, Placement, str]]:
    """Yield every part of a plan with its sheet and its mark, "3F9A1C-12", in order of sheets.

    Parameters
    ----------
    plan : Plan

    Yields
    ------
    (PlannedSheet, Placement, str)
        Sheet, part and mark.
    """
    stem, number = _digest(plan)[:MARK_LETTERS].upper(), 0
    for sheet in plan.sheets:
        for placement in sheet.nested.placements:
            number += 1
            yield sheet, placement, f"{stem}-{number}"


def _digest(plan: Plan) -> str:
    # What the programs have to cut; not how: a plan made again by another machine keeps its name.
    cut = [[sheet.bound[name] for name in ("nest", "drawings", "data")] for sheet in plan.sheets]
    sheets = [
        [sheet.name, sheet.nested.plate.heat, *own] for sheet, own in zip(plan.sheets, cut, strict=True)
    ]
    return hashlib.sha256(json.dumps([plan.job, sheets]).encode()).hexdigest()
