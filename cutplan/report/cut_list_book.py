"""The cut list as a workbook: a sheet with a row for each kind of part on each plate, and one of marks."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from typing import Any

from cutplan.base.cleaning import plain
from cutplan.record import Plan, marked_parts
from cutplan.report.cut_list import CUT_LIST_COLUMNS, cut_list_rows
from cutplan.report.sheet_lists import program_files

__all__ = ["MARK_COLUMNS", "cut_list_xlsx"]

MARK_COLUMNS = ("mark", "part", "copy", "plate", "sheet", "heat", "program")
Cell = str | int | float
WIDEST = 40  # letters
# Moments in the file say nothing of the plan, and the same plan shall give the same bytes.
NO_MOMENT = "2000-01-01T00:00:00Z"
ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)


def cut_list_xlsx(plan: Plan) -> bytes:
    """Return the cut list as a workbook in Office Open XML (ISO/IEC 29500).

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    bytes
        The same plan gives the same bytes.  Figures are figures: mm and kg; a name is never
        taken for a formula.
    """
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    _fill(book.create_sheet("cut list"), CUT_LIST_COLUMNS, cut_list_rows(plan))
    _fill(book.create_sheet("marks"), MARK_COLUMNS, _mark_rows(plan))
    file = io.BytesIO()
    book.save(file)
    return _undated(file.getvalue())


def _mark_rows(plan: Plan) -> Iterable[tuple[Cell, ...]]:
    for sheet, placement, mark in marked_parts(plan):
        plate = sheet.nested.plate
        programs = "; ".join(program_files(sheet))
        yield (
            mark,
            placement.part.name,
            placement.copy,
            plate.id,
            sheet.nested.sheet,
            plate.heat or "",
            programs,
        )


def _fill(sheet: Any, headings: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    widths = [len(heading) for heading in headings]
    sheet.append(headings)
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for line, row in enumerate(rows, start=2):
        for column, value in enumerate(row, start=1):
            cell = sheet.cell(line, column, _storable(value))
            if isinstance(value, str):
                cell.data_type = "s"
            widths[column - 1] = max(widths[column - 1], len(str(value)))
    for column, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = min(width, WIDEST) + 2
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions


def _storable(value: Cell) -> Cell:
    """Return a value without the characters that XML has no place for."""
    return plain(value) if isinstance(value, str) else value


def _undated(book: bytes) -> bytes:
    """Return a workbook with the moments of its writing taken out."""
    result = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(result, "w") as new:
        for item in old.infolist():
            content = old.read(item)
            if item.filename == "docProps/core.xml":
                content = re.sub(rb"(<dcterms:\w+[^>]*>)[^<]*", rb"\g<1>" + NO_MOMENT.encode(), content)
            entry = zipfile.ZipInfo(item.filename, ZIP_EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, content)
    return result.getvalue()
