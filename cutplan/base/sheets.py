"""Cells out of CSV and XLSX files of unknown origin, within stated limits; `tables` reads their meaning."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from cutplan.base.errors import InputError

__all__ = ["LARGEST_FILE", "LARGEST_UNPACKED", "LONGEST_CELL", "MOST_COLUMNS", "MOST_ROWS", "read_table"]

LARGEST_FILE = 20_000_000
"""Bytes of a list; ten thousand rows take about one million."""
LARGEST_UNPACKED = 60_000_000
"""Bytes of a workbook's parts when unpacked: what is meant to fill the memory is refused unopened."""
MOST_ROWS = 50_000
MOST_COLUMNS = 256
LONGEST_CELL = 4_000
"""Letters of one cell."""


def read_table(file: Path) -> list[list[str]]:
    """Return the cells of a CSV file, or of the first sheet of a workbook, as text.

    Parameters
    ----------
    file : Path
        The file.

    Returns
    -------
    list of list of str

    Raises
    ------
    InputError
        If the file is missing, cannot be read, or is larger than a list can be.
    """
    try:
        if not file.is_file():
            missing = "is not a file" if file.exists() else "no such file"
            raise InputError(missing, where=_shown(file), remedy="check the path")
        if file.stat().st_size > LARGEST_FILE:
            _refuse_size(file, f"has more than {LARGEST_FILE // 1_000_000} MB")
        reader = _xlsx if file.suffix.lower() in (".xlsx", ".xlsm") else _csv
        return _bounded(reader(file), file)
    except (OSError, ValueError) as problem:
        # A name with a NUL is a ValueError, a name too long an OSError.
        reason = getattr(problem, "strerror", None) or str(problem)
        raise InputError(f"cannot be read: {reason}", where=_shown(file), remedy="check the path") from None


def _bounded(rows: Iterable[list[str]], file: Path) -> list[list[str]]:
    table: list[list[str]] = []
    for row in rows:
        if len(table) >= MOST_ROWS:
            _refuse_size(file, f"has more than {MOST_ROWS} rows")
        if len(row) > MOST_COLUMNS:
            _refuse_size(file, f"has more than {MOST_COLUMNS} columns in row {len(table) + 1}")
        if max(map(len, row), default=0) > LONGEST_CELL:
            _refuse_size(file, f"has a cell of more than {LONGEST_CELL} letters in row {len(table) + 1}")
        table.append(row)
    return table


def _refuse_size(file: Path, what: str) -> None:
    raise InputError(what, where=_shown(file), remedy="keep the columns and rows of the list only")


def _shown(file: Path) -> str:
    """Return a path fit for a message, shortened in the middle."""
    text = "".join(letter if letter.isprintable() else "�" for letter in str(file))
    return text if len(text) <= 300 else f"{text[:150]}…{text[-100:]}"


def _csv(file: Path) -> Iterator[list[str]]:
    raw = file.read_bytes()
    text = _decoded(raw, file)
    if "\0" in text:
        raise InputError("is not a text file", where=_shown(file), remedy="export it as CSV or XLSX")
    # Line ends of every system, inside cells too.
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    first = next((line for line in text.split("\n") if line.strip()), "")
    delimiter = max(";\t,", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for row in reader:
            yield [cell.strip() for cell in row]
    except csv.Error as problem:
        told = "a quotation mark is left open" if "unexpected end" in str(problem) else str(problem)
        raise InputError(
            f"row {reader.line_num}: {told}", where=_shown(file), remedy="mend that row, or export it again"
        ) from None


def _decoded(raw: bytes, file: Path) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings: tuple[str, ...] = ("utf-16",)
    else:
        encodings = ("utf-8-sig", "cp1252")
    for encoding in encodings:
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise InputError("is neither UTF-8 nor Windows text", where=_shown(file), remedy="export it as UTF-8")


def _xlsx(file: Path) -> Iterator[list[str]]:
    import openpyxl

    try:
        with zipfile.ZipFile(file) as parts:
            if sum(part.file_size for part in parts.infolist()) > LARGEST_UNPACKED:
                _refuse_size(file, f"unpacks to more than {LARGEST_UNPACKED // 1_000_000} MB")
        book = openpyxl.load_workbook(file, read_only=True, data_only=True)
        try:
            sheet: Any = book.worksheets[0]
            # The size that the sheet states of itself may be wrong.
            sheet.reset_dimensions()
            # One more, so that too many are noticed.
            for row in sheet.iter_rows(values_only=True, max_row=MOST_ROWS + 1):
                yield _without_tail([_cell_text(value) for value in row])
        finally:
            book.close()
    except (InputError, MemoryError):
        raise
    except zipfile.BadZipFile:
        remedy = "take its password off, or save it again as XLSX or CSV"
        raise InputError("is no readable workbook", where=_shown(file), remedy=remedy) from None
    except Exception as problem:
        # A damaged workbook shows itself by any error of the library that reads it.
        raise InputError(
            f"is no readable workbook ({type(problem).__name__})",
            where=_shown(file),
            remedy="save it again as XLSX or CSV",
        ) from None


def _without_tail(cells: list[str]) -> list[str]:
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _cell_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, float):
        return f"{value:.12g}"
    return str(value).strip()
