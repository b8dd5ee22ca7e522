"""Fifty nasty names come out harmless from every cleaning."""

import csv
import io
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from nasty_names import NASTY_NAMES

from cutplan.base.cleaning import csv_cell, escaped, file_stem, plain, plain_lines, shortened
from cutplan.base.errors import InputError
from cutplan.base.names import checked_name

FORMULA_STARTS = "=+-@"


def test_there_are_fifty_of_them() -> None:
    assert len(set(NASTY_NAMES)) >= 50


@pytest.mark.parametrize("name", NASTY_NAMES)
def test_a_plain_text_moves_no_cursor_and_turns_no_reading(name: str) -> None:
    assert plain(name).isprintable()
    assert "\x1b" not in str(InputError(f"part {name!s} is wrong", where=name))


@pytest.mark.parametrize("name", NASTY_NAMES)
@pytest.mark.parametrize("delimiter", ",;\t|")
def test_no_spreadsheet_takes_a_cell_for_a_formula(name: str, delimiter: str) -> None:
    """Read by the csv library at every mark that a spreadsheet may split at."""
    text = io.StringIO()
    csv.writer(text).writerow(["first", csv_cell(name), "last"])
    for row in csv.reader(io.StringIO(text.getvalue()), delimiter=delimiter):
        assert not [cell for cell in row if cell.strip().startswith(tuple(FORMULA_STARTS))]


@pytest.mark.parametrize("name", NASTY_NAMES)
def test_an_escaped_text_is_well_formed_xml(name: str) -> None:
    element = ET.fromstring(f'<t a="{escaped(name)}">{escaped(name)}</t>')
    assert element.text == element.get("a") == plain(name)
    assert len(element) == 0


@pytest.mark.parametrize("name", NASTY_NAMES)
def test_a_file_stem_stays_in_its_folder_on_every_system(name: str) -> None:
    stem = file_stem(name)
    assert re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._-]*|x-.*", stem)
    assert Path(stem).name == stem
    assert stem.upper() not in ("CON", "NUL", "AUX", "PRN")


@given(st.text())
def test_any_text_is_made_plain_once_and_for_all(text: str) -> None:
    assert plain(plain(text)) == plain(text)
    assert len(plain(text)) == len(text)
    assert plain_lines(text).count("\n") == text.count("\n")
    plain(text).encode()


def test_a_text_is_shortened_in_its_middle() -> None:
    assert shortened("coupler-plate", 9) == "coupl…ate"
    assert shortened("web", 9) == "web"


@pytest.mark.parametrize("name", ["", " ", "a\nb", "\x1b[2J", "x" * 121, "\u202egnp"])
def test_what_is_no_name_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="name"):
        checked_name(name)
