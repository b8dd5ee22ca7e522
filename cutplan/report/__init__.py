"""The plan on paper and screen: SVG, HTML, PDF, CSV, plan.json."""

from cutplan.report.batch_page import batch_html, playback_script
from cutplan.report.bending_pages import bending_html
from cutplan.report.bending_pdf import bending_pdf
from cutplan.report.cut_list import CUT_LIST_COLUMNS, cut_list_csv, write_nest_dxf
from cutplan.report.cut_list_book import MARK_COLUMNS, cut_list_xlsx
from cutplan.report.day_pages import DAY_COLUMNS, days_csv, days_html, kits_complete
from cutplan.report.drawing_page import drawings_html
from cutplan.report.drawing_svg import drawing_svg
from cutplan.report.joint_list import JOINT_COLUMNS, joints_csv, joints_html
from cutplan.report.labels import PartLabel, labels_html, labels_pdf, part_labels
from cutplan.report.paper import PAPERS, Paper
from cutplan.report.pictures import stacked_svg
from cutplan.report.quote_pages import quote_csv, quote_html, quote_pdf
from cutplan.report.setup_pdf import setup_sheet_pdf
from cutplan.report.setup_sheet import setup_sheet_html
from cutplan.report.sheet_lists import SheetPart, sheet_parts
from cutplan.report.sorting_list import SORTING_COLUMNS, sorting_csv, sorting_html, sorting_rows
from cutplan.report.stock_pages import owing_html, rack_html, trace_html
from cutplan.report.svg import nested_svg, plate_svg
from cutplan.report.verdict_svg import verdict_svg

__all__ = [
    "CUT_LIST_COLUMNS",
    "DAY_COLUMNS",
    "JOINT_COLUMNS",
    "MARK_COLUMNS",
    "PAPERS",
    "SORTING_COLUMNS",
    "Paper",
    "PartLabel",
    "SheetPart",
    "batch_html",
    "bending_html",
    "bending_pdf",
    "cut_list_csv",
    "cut_list_xlsx",
    "days_csv",
    "days_html",
    "drawing_svg",
    "drawings_html",
    "joints_csv",
    "joints_html",
    "kits_complete",
    "labels_html",
    "labels_pdf",
    "nested_svg",
    "owing_html",
    "part_labels",
    "plate_svg",
    "playback_script",
    "quote_csv",
    "quote_html",
    "quote_pdf",
    "rack_html",
    "setup_sheet_html",
    "setup_sheet_pdf",
    "sheet_parts",
    "sorting_csv",
    "sorting_html",
    "sorting_rows",
    "stacked_svg",
    "trace_html",
    "verdict_svg",
    "write_nest_dxf",
]
