"""The plan on paper and screen: SVG, HTML, PDF, CSV, plan.json."""

from cutplan.report.batch_page import batch_html
from cutplan.report.cut_list import CUT_LIST_COLUMNS, cut_list_csv, write_nest_dxf
from cutplan.report.cut_list_book import MARK_COLUMNS, cut_list_xlsx
from cutplan.report.drawing_svg import drawing_svg
from cutplan.report.identity import marked_parts, plan_name
from cutplan.report.labels import PartLabel, labels_html, labels_pdf, part_labels
from cutplan.report.model import Plan, PlannedSheet, metal_area
from cutplan.report.paper import PAPERS, Paper
from cutplan.report.plan_file import SavedPlan, SavedSheet, inputs_digest, read_plan
from cutplan.report.plan_json import SCHEMA, nest_record, plan_json, plan_record
from cutplan.report.setup_pdf import setup_sheet_pdf
from cutplan.report.setup_sheet import setup_sheet_html
from cutplan.report.sheet_lists import SheetPart, sheet_parts
from cutplan.report.stock_pages import rack_html, trace_html
from cutplan.report.svg import nested_svg, plate_svg
from cutplan.report.verdict_svg import verdict_svg

__all__ = [
    "CUT_LIST_COLUMNS",
    "MARK_COLUMNS",
    "PAPERS",
    "SCHEMA",
    "Paper",
    "PartLabel",
    "Plan",
    "PlannedSheet",
    "SavedPlan",
    "SavedSheet",
    "SheetPart",
    "batch_html",
    "cut_list_csv",
    "cut_list_xlsx",
    "drawing_svg",
    "inputs_digest",
    "labels_html",
    "labels_pdf",
    "marked_parts",
    "metal_area",
    "nest_record",
    "nested_svg",
    "part_labels",
    "plan_json",
    "plan_name",
    "plan_record",
    "plate_svg",
    "rack_html",
    "read_plan",
    "setup_sheet_html",
    "setup_sheet_pdf",
    "sheet_parts",
    "trace_html",
    "verdict_svg",
    "write_nest_dxf",
]
