"""A finished plan, and plan.json in both directions."""

from cutplan.record.identity import marked_parts, plan_name
from cutplan.record.model import Plan, PlannedSheet
from cutplan.record.plan_file import SavedPlan, SavedSheet, inputs_digest, read_plan
from cutplan.record.plan_json import SCHEMA, nest_record, plan_json, plan_record

__all__ = [
    "SCHEMA",
    "Plan",
    "PlannedSheet",
    "SavedPlan",
    "SavedSheet",
    "inputs_digest",
    "marked_parts",
    "nest_record",
    "plan_json",
    "plan_name",
    "plan_record",
    "read_plan",
]
