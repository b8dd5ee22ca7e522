"""A finished plan, and plan.json in both directions."""

from cutplan.record.bending import bend_table_record
from cutplan.record.digests import bound_digests, planned_of
from cutplan.record.identity import marked_parts, plan_name
from cutplan.record.joints import Joint, joints_of
from cutplan.record.lying import LyingSheet, lying_plan_json, planned_as_it_lies
from cutplan.record.model import BevelProgram, Plan, PlannedSheet
from cutplan.record.plan_file import nest_record, plan_json, plan_record, read_plan
from cutplan.record.restarts import RestSheet, Stopped, cuts_of_sheet, rest_plan_json, stopped_before
from cutplan.record.saved import SavedBevels, SavedPlan, SavedSheet
from cutplan.record.schema import SCHEMA, PlanRecord

__all__ = [
    "SCHEMA",
    "BevelProgram",
    "Joint",
    "LyingSheet",
    "Plan",
    "PlanRecord",
    "PlannedSheet",
    "RestSheet",
    "SavedBevels",
    "SavedPlan",
    "SavedSheet",
    "Stopped",
    "bend_table_record",
    "bound_digests",
    "cuts_of_sheet",
    "joints_of",
    "lying_plan_json",
    "marked_parts",
    "nest_record",
    "plan_json",
    "plan_name",
    "plan_record",
    "planned_as_it_lies",
    "planned_of",
    "read_plan",
    "rest_plan_json",
    "stopped_before",
]
