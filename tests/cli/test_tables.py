"""Tables on a narrow screen, on a wide one, and in a pipe: no figure is ever broken."""

import io

import pytest
from rich.console import Console

from cutplan.cli.tables import Table, plain_table

FIGURES = ["22", "75.7 %", "179", "72.28 m", "4:10:11", "oxygen 1.03, air 3.08", "0.002 mm"]
HEADINGS = ["plate", "process", "parts", "used", "pierces", "cut", "time", "gas m³", "worst error"]
ROWS = [["PL10-1", "plasma 120 A oxygen", *FIGURES], ["all", "", *FIGURES[:-1], ""]]


def shown(table: Table, width: int) -> list[str]:
    screen = io.StringIO()
    Console(file=screen, width=width, highlight=False, soft_wrap=True).print(table)
    return screen.getvalue().splitlines()


@pytest.mark.parametrize("width", [40, 60, 80, 100, 200])
def test_no_figure_is_broken_and_no_line_is_longer_than_the_screen(width: int) -> None:
    lines = shown(plain_table("planned", HEADINGS, ROWS, left=2, total=True), width)
    assert max(map(len, lines)) <= width
    for figure in FIGURES:
        assert any(figure in line for line in lines), figure


def test_a_table_too_wide_for_the_screen_is_parted_each_share_with_the_plate() -> None:
    lines = shown(plain_table("planned", HEADINGS, ROWS, left=2, total=True), 80)
    assert sum(line.startswith("plate ") for line in lines) == 2
    assert sum(line.startswith("PL10-1") for line in lines) == 2


def test_in_a_pipe_each_row_is_one_line() -> None:
    lines = shown(plain_table("planned", HEADINGS, ROWS, left=2, total=True), 100_000)
    assert [line.split()[0][:3] for line in lines] == ["pla", "pla", "───", "PL1", "───", "all"]


def test_long_words_wrap_between_words_beside_their_row() -> None:
    words = "hole 9 of 'web', 8.00 mm wide, is smaller than the plasma cuts well here"
    lines = shown(plain_table("Found", ["no", "kind", "what"], [["1", "warning", words]], left=3), 48)
    assert " ".join(line[13:].strip() for line in lines[3:]) == words
