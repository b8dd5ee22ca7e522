"""The plan on paper and screen: SVG, HTML, PDF, CSV, plan.json."""

from cutplan.report.batch_page import batch_html
from cutplan.report.bending_pages import bending_html
from cutplan.report.bending_pdf import bending_pdf
from cutplan.report.cut_list import CUT_LIST_COLUMNS, cut_list_csv, write_nest_dxf
from cutplan.report.cut_list_book import MARK_COLUMNS, cut_list_xlsx
from cutplan.report.drawing_page import drawings_html
from cutplan.report.drawing_svg import drawing_svg
from cutplan.report.labels import PartLabel, labels_html, labels_pdf, part_labels
from cutplan.report.paper import PAPERS, Paper
from cutplan.report.pictures import stacked_svg
from cutplan.report.quote_pages import quote_csv, quote_html, quote_pdf
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
    "Paper",
    "PartLabel",
    "SheetPart",
    "batch_html",
    "bending_html",
    "bending_pdf",
    "cut_list_csv",
    "cut_list_xlsx",
    "drawing_svg",
    "drawings_html",
    "labels_html",
    "labels_pdf",
    "nested_svg",
    "part_labels",
    "plate_svg",
    "quote_csv",
    "quote_html",
    "quote_pdf",
    "rack_html",
    "setup_sheet_html",
    "setup_sheet_pdf",
    "sheet_parts",
    "stacked_svg",
    "trace_html",
    "verdict_svg",
    "write_nest_dxf",
]
