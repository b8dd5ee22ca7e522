"""The file plan.json: text out of a plan, and a plan back out of the file."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from cutplan.base.errors import InputError
from cutplan.base.files import read_json, validate
from cutplan.nesting import Nest
from cutplan.record.digests import content_digest
from cutplan.record.model import Plan
from cutplan.record.saved import SavedPlan
from cutplan.record.schema import NestRecord, PlanRecord

__all__ = ["nest_record", "plan_json", "plan_record", "read_plan"]


def plan_record(plan: Plan, files: Mapping[str, str] | None = None) -> dict[str, Any]:
    """Return a plan as plain data, as plan.json holds it.

    Parameters
    ----------
    plan : Plan
    files : mapping, optional
        Names of the files written with it, and the digest of each.

    Returns
    -------
    dict
    """
    record = PlanRecord.of(plan, files).model_dump(by_alias=True)
    return {**record, "digest": content_digest(record)}


def plan_json(plan: Plan, files: Mapping[str, str] | None = None) -> str:
    """Return the text of plan.json.

    Parameters
    ----------
    plan : Plan
    files : mapping, optional
        Names of the files written with it, and the digest of each.

    Returns
    -------
    str
    """
    return json.dumps(plan_record(plan, files), indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def nest_record(nest: Nest) -> dict[str, Any]:
    """Return a nest as plain data.

    Parameters
    ----------
    nest : Nest

    Returns
    -------
    dict
    """
    # A nest's parts have no marks yet.
    unmarked = {"plates": {"__all__": {"placements": {"__all__": {"mark"}}}}}
    return NestRecord.of(nest).model_dump(by_alias=True, exclude=unmarked)


def read_plan(file: Path) -> SavedPlan:
    """Return a plan from its plan.json.

    Parameters
    ----------
    file : Path

    Returns
    -------
    SavedPlan

    Raises
    ------
    InputError
        If the file is missing, not JSON, or no plan of this schema.
    """
    content = read_json(file)
    record = validate(PlanRecord, content, str(file))
    untouched = record.digest == content_digest(content)
    try:
        return replace(record.saved(), untouched=untouched, digest=record.digest)
    except KeyError as problem:
        remedy = "plan the job again"
        raise InputError(f"does not describe part {problem}", where=str(file), remedy=remedy) from None
