"""How long a plate must be ordered: the command and what it answers."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from cutplan.base.errors import InputError
from cutplan.cli.commands import app

JOB = """
[job]
name = "to be ordered"
[cutting]
process = "plasma"
[nesting]
gap = 15
edge = 20
[[part]]
name = "strip"
quantity = 4
thickness = 10
grade = "S355"
rotations = [0]
shape = { kind = "rectangle", length = 400, width = 190 }
"""


def ask(tmp_path: Path, *words: str) -> tuple[int, str]:
    (tmp_path / "job.toml").write_text(JOB)
    result = CliRunner().invoke(app, ["strip", str(tmp_path / "job.toml"), *words])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.output


def test_the_length_to_order_is_that_of_the_parts_their_gaps_and_edges(tmp_path: Path) -> None:
    """Two rows of two: 2 × 400 mm, a gap of 15 and two edges of 20; 2 × 190 + 15 + 40 mm wide."""
    code, output = ask(tmp_path, "435.1", "--json", "--svg", str(tmp_path))
    assert code == 0
    (answer,) = json.loads(output)
    assert answer["length_mm"] == pytest.approx(2 * 400 + 15 + 2 * 20, abs=0.01)
    assert answer["least_length_mm"] <= answer["length_mm"]
    assert (answer["parts"], answer["unplaced"]) == (4, [])
    assert (tmp_path / "10mm-S355-plasma-120-A-oxygen.svg").read_text().count('class="part"') == 4
    assert "855" in ask(tmp_path, "435.1")[1]


def test_what_is_wider_than_the_strip_is_named(tmp_path: Path) -> None:
    code, output = ask(tmp_path, "200")
    assert code == 1
    assert "4 × strip: wider than the strip" in output


def test_a_width_that_is_none_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be 0 mm wide"):
        ask(tmp_path, "0")
