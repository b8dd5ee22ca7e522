"""The reader keeps to NISTIR 6556; the sections of the standard stand beside the checks."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cutplan.base.errors import ProgramError
from cutplan.control import ARC_CCW, ARC_CW, DWELL, LINE, RAPID, SWITCH, Dialect, Motions, read_program

HEADER = "G21 G90 G17 G40 G80 G94 G54 G64"


def read(*lines: str, dialect: Dialect | None = None) -> Motions:
    return read_program("\n".join([HEADER, *lines, "M30"]), dialect)


def ends(motions: Motions) -> list[list[float]]:
    moves = motions.kind <= ARC_CCW
    return [[round(v, 6) for v in row] for row in motions.end[moves, :2].tolist()]


def refused(*lines: str, dialect: Dialect | None = None) -> str:
    with pytest.raises(ProgramError) as error:
        read(*lines, dialect=dialect)
    return str(error.value)


def test_a_cut_becomes_rapid_switch_dwell_and_feed_moves() -> None:
    m = read("G0 X10 Y20", "M3", "G4 P0.5", "G1 X30 F1500", "G3 X40 Y30 J10", "M5")
    assert m.kind.tolist() == [RAPID, SWITCH, DWELL, LINE, ARC_CCW, SWITCH]
    assert m.torch.tolist() == [False, True, True, True, True, False]
    assert m.dwell_s[2] == 0.5
    assert np.isnan(m.feed_mm_min[0]) and m.feed_mm_min[3] == m.feed_mm_min[4] == 1500.0
    assert m.centre[4].tolist() == [30.0, 30.0] and m.turns[4] == pytest.approx(math.pi / 2)
    assert m.line.tolist() == [2, 3, 4, 5, 6, 7]


def test_blanks_and_case_change_nothing() -> None:
    """Section 3.3.1: "g0x +0. 12 34y 7" is the same as "g0 x+0.1234 y7"."""
    assert ends(read("g0x +0. 12 34y 7")) == ends(read("G0 X+0.1234 Y7")) == [[0.1234, 7.0]]


def test_line_numbers_and_comments_are_passed_over() -> None:
    assert ends(read("N10 G0 (to the start) X1 (and up) Y2", "n00020 x3")) == [[1.0, 2.0], [3.0, 2.0]]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("G0 X1 (a (b) c)", "line 2, column 10: a comment within a comment"),
        ("G0 X1 (open", "line 2, column 7: a comment is not closed"),
        ("G0 X1 N5", "line 2, column 7: a line number stands only at the start"),
        ("N123456 G0 X1", "line 2, column 2: a line number is a whole number of one to five digits"),
        ("G0 X1(half)2", "does not begin a word"),
        ("G0 X(half)2", "line 2, column 5: a value is missing"),
        ("G0 X1 X2", "line 2, column 7: X stands twice"),
        ("G0 G1 X1", "line 2, column 4: G0 and G1 are of one modal group"),
        ("G17 G18", "G17 and G18 are of one modal group"),
        ("M3 M5", "M3 and M5 are of one modal group"),
        ("G0 X1 E3", "E is no word of the standard"),
        ("G5 X1", "G5 is no code of the standard"),
        ("G81 X1 Y1 Z1 R1", "canned cycles"),
        ("M77", "M77 has no meaning in this dialect"),
        ("X1", "axis words without a motion in force"),
        ("G0", "G0 without X, Y or Z"),
        ("G1 X1", "a feed move before any feed is set"),
        ("G1 X1 F-2", "the feed is negative"),
        ("G4", "G4 without P"),
        ("G4 P-1", "the dwell is negative"),
        ("G0 X1 P3", "nothing on the line uses P3"),
        ("G0 X1 I3", "nothing on the line uses I3"),
        ("G0 A90", "a cutting table has no such axis"),
        ("G0 X1;note", "comments stand in round brackets"),
        ("G1.5 X1", "G1.5 is no code"),
        ("M3.5", "an M code must be a whole number"),
        ("G91.1", "set arc_distance_words in the dialect"),
        ("G28 G1 X1 F5", "both use the line's axis words"),
        ("G91 G53 G0 X1", "G53 needs a G0 or G1 move"),
        ("G0 X99999999", "too large"),
        ("G0 X1" + " " * 260, "the standard allows 256; break the line"),
    ],
)  # fmt: skip
def test_what_the_standard_makes_an_error_is_refused_with_line_and_column(line: str, words: str) -> None:
    """Sections 3.3.1 to 3.3.5 and 3.4 (format, repeats, modal groups), 3.5 (codes)."""
    message = refused(line)
    assert words in message and message.startswith("program, line 2, column ")


def test_the_end_must_be_stated() -> None:
    """Section 3.2: M2 or M30, or per cent lines round the program; what follows is not read."""
    with pytest.raises(ProgramError, match="does not end"):
        read_program("G21\nG0 X1\n")
    with pytest.raises(ProgramError, match="% line at the start, and none at the end"):
        read_program("%\nG21\nG0 X1\n")
    assert len(read_program("\n%\nG21\nG0 X1\n%\nthis is no program (")) == 1
    assert len(read_program("G21\nG0 X1\nM2\nthis is no program (")) == 1
    assert read_program("%\nG21\nG0 X1\n%\n").line.tolist() == [3]


def test_inches_become_millimetres() -> None:
    m = read_program("G20 G90\nG0 X1 Y2\nG1 X2 F60\nM30")
    assert m.end[:, :2].tolist() == [[25.4, 50.8], [50.8, 50.8]]
    assert m.feed_mm_min[1] == pytest.approx(1524.0)


def test_a_feed_on_the_line_of_a_change_of_units_is_in_the_old_ones() -> None:
    """Section 3.8: the feed is set before the units."""
    m = read_program("G21 G90\nG20 G1 X1 F100\nM30")
    assert m.feed_mm_min.tolist() == [100.0] and m.end[0, 0] == 25.4


def test_incremental_distances_step_from_where_the_torch_is() -> None:
    assert ends(read("G0 X10 Y10", "G91", "X1 Y-1", "X1", "G90 X0")) == [
        [10.0, 10.0], [11.0, 9.0], [12.0, 9.0], [0.0, 9.0],
    ]  # fmt: skip


def test_arcs_in_centre_form_take_the_shorter_or_longer_way_by_their_direction() -> None:
    """Section 3.5.3.2."""
    m = read("G0 X10 Y0", "G3 X0 Y10 I-10 J0 F100", "G0 X10 Y0", "G2 X0 Y10 I-10 J0")
    assert m.turns[1] == pytest.approx(math.pi / 2) and m.turns[3] == pytest.approx(-1.5 * math.pi)
    assert m.kind[1] == ARC_CCW and m.kind[3] == ARC_CW


def test_an_arc_that_ends_where_it_starts_is_a_full_circle() -> None:
    m = read("G0 X10 Y0", "G2 X10 Y0 I-10 F100")
    assert m.turns[1] == pytest.approx(-2.0 * math.pi) and m.centre[1].tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("G3 I-10 F100", "an arc needs X or Y"),
        ("G3 X0 Y10 F100", "an arc needs I or J, or R"),
        ("G3 X0 Y10 I-10 R10 F100", "both a radius and a centre"),
        ("G3 X0 Y10 K-10 F100", "K does not lie in the plane"),
        ("G3 X0 Y10.0021 I-10 F100", "the standard allows them to differ by 0.002 mm"),
        ("G3 X10 Y0 R5 F100", "ends where it starts"),
        ("G3 X0 Y10 R7 F100", "does not reach an end point"),
        ("G3 X0 Y10 I0 J0 F100", "radius is zero"),
    ],
)
def test_impossible_arcs_are_refused(line: str, words: str) -> None:
    """Section 3.5.3; the radii of an arc's ends may differ by 0.002 mm."""
    assert words in refused("G0 X10 Y0", line)


def test_radii_of_an_arc_may_differ_by_what_the_standard_allows() -> None:
    assert len(read("G0 X10 Y0", "G3 X0 Y10.0019 I-10 F100")) == 2
    # 0.0002 in are 0.00508 mm: the same miss passes in inches.
    assert len(read_program("G20 G90\nG0 X1 Y0\nG3 X0 Y1.00019 I-1 F10\nM30")) == 2


def test_radius_form_follows_the_standards_example() -> None:
    """Section 3.5.3.1: "G17 G2 x 10 y 15 r 20 z 5" is an arc about the Z axis, a helix."""
    m = read("G0 X0 Y0 Z0", "G17 G2 x 10 y 15 r 20 z 5 F100")
    cx, cy = m.centre[1].tolist()
    assert math.hypot(cx, cy) == pytest.approx(20.0)
    assert math.hypot(cx - 10, cy - 15) == pytest.approx(20.0)
    assert -math.pi < m.turns[1] < 0.0 and m.end[1, 2] == 5.0


def test_a_negative_radius_takes_the_long_way_round() -> None:
    short = read("G0 X10 Y0", "G3 X0 Y10 R10 F100")
    long = read("G0 X10 Y0", "G3 X0 Y10 R-10 F100")
    assert short.centre[1].tolist() == pytest.approx([0.0, 0.0], abs=1e-9)
    assert long.centre[1].tolist() == pytest.approx([10.0, 10.0], abs=1e-9)
    assert short.turns[1] == pytest.approx(math.pi / 2) and long.turns[1] == pytest.approx(1.5 * math.pi)


def test_arcs_in_upright_planes_become_chords_close_to_them() -> None:
    m = read("G0 X10 Z0", "G18 G3 X0 Z10 I-10 K0 F100", "G17")
    points = m.end[1:][:, [0, 2]]
    assert (m.kind[1:] == LINE).all() and points[-1].tolist() == [0.0, 10.0]
    middles = 0.5 * (points[:-1] + points[1:])
    assert np.abs(np.hypot(*middles.T) - 10.0).max() < 0.0011


def test_parameters_and_expressions_are_worked_out() -> None:
    """Sections 3.3.2.2 to 3.3.2.4: powers first, then products, then sums and logic."""
    m = read(
        "#1=3 #2=[#1*2]",
        "#3=[2 + 3 * 4 ** 2 - 7 mod 4]",
        "G0 X#3 Y[atan[1]/[1]]",
        "#4=1 G0 X#4",
        "X##4 Y[fix[-2.8] + fup[-2.8]]",
        "X[1 and 0 or 1] Y[sqrt[16] / round[2.4]]",
    )  # fmt: skip
    assert ends(m) == [[47.0, 45.0], [0.0, 45.0], [3.0, -5.0], [1.0, 2.0]]


def test_a_setting_takes_effect_behind_its_line() -> None:
    """Section 3.3.3: "#3=6 G1 x#3" moves to the old value of parameter 3."""
    assert ends(read("#3=15", "#3=6 G0 X#3", "X#3")) == [[15.0, 0.0], [6.0, 0.0]]


@pytest.mark.parametrize(
    "value",
    [
        "[1/0]",
        "sqrt[-1]",
        "ln[0]",
        "acos[2]",
        "exp[9999]",
        "[[-2]**0.5]",
        "#0",
        "#5400",
        "#1.5",
        "[1 ? 2]",
        "abs 3",
    ],
)
def test_values_that_do_not_exist_are_refused(value: str) -> None:
    assert "line 2, column" in refused(f"G0 X{value}")


def test_deep_nesting_is_read_not_crashed_on() -> None:
    assert ends(read("G0 X" + "[" * 120 + "1" + "]" * 120)) == [[1.0, 0.0]]
    assert "there is no parameter 0" in refused("G0 X" + "#" * 240 + "1")


def test_offsets_move_the_coordinates_that_follow() -> None:
    """Sections 3.5.5 (G10), 3.5.13 (G54), 3.5.16 (G53), 3.5.18 (G92), 3.5.8 (G28)."""
    m = read(
        "G10 L2 P2 X100 Y50", "G55 G0 X1 Y1", "G53 G0 X5 Y5", "G54 G0 X1 Y1",
        "G92 X0 Y0", "G0 X2", "G92.2", "G0 X2", "G92.3 G0 X2", "G92.1 G0 X2 Y2", "#5161=7", "G28 X3",
    )  # fmt: skip
    assert ends(m) == [
        [101.0, 51.0], [5.0, 5.0], [1.0, 1.0], [3.0, 1.0], [2.0, 1.0], [3.0, 1.0], [2.0, 2.0],
        [3.0, 2.0], [7.0, 0.0],
    ]  # fmt: skip


def test_inverse_time_feed_is_turned_into_speed() -> None:
    m = read("G93 G1 X100 F2", "G94")
    assert m.feed_mm_min.tolist() == [200.0]
    assert "inverse-time feed wants F" in refused("G93 G1 X100 F2", "X200")


def test_the_program_end_puts_the_torch_out() -> None:
    m = read("G0 X1", "M3", "G1 X2 F5")
    assert m.kind[-1] == SWITCH and not m.torch[-1] and m.left_on
    assert not read("G0 X1", "M3", "G1 X2 F5", "M5").left_on


def test_a_block_with_a_slash_is_run_unless_the_operator_says_so() -> None:
    lines = ("G0 X1", "/X2", "X3")
    assert ends(read(*lines)) == [[1.0, 0.0], [2.0, 0.0], [3.0, 0.0]]
    assert ends(read(*lines, dialect=Dialect(block_delete=True))) == [[1.0, 0.0], [3.0, 0.0]]


def test_a_dialect_adds_switches_and_ignored_words() -> None:
    dialect = Dialect(
        torch_on=("M21",), torch_off=("M20",), flame_on=("M22",), flame_off=("M23",), ignored=("M50", "S")
    )
    m = read("G0 X1 S4", "M50 M22", "G4 P9", "M21", "G1 X2 F9", "M20", "M23", dialect=dialect)
    assert m.flame.tolist() == [False, True, True, True, True, True, False]
    assert m.torch.tolist() == [False, False, False, True, True, False, False]
    assert "no meaning" in refused("M3", dialect=dialect)


def test_absolute_centres_and_millisecond_dwells_are_read_as_the_dialect_says() -> None:
    m = read(
        "G0 X10 Y5", "G3 X0 Y15 I0 J5 F9", "G4 P500", dialect=Dialect(absolute_centres=True, dwell_ms=True)
    )
    assert m.centre[1].tolist() == [0.0, 5.0] and m.dwell_s[2] == 0.5
    m = read("G0 X10 Y5", "G90.1 G3 X0 Y15 I0 J5 F9", dialect=Dialect(arc_distance_words=True))
    assert m.centre[1].tolist() == [0.0, 5.0]


def test_subprograms_run_as_often_as_they_are_called() -> None:
    dialect = Dialect(subprograms=True)
    text = "G21 G90\nG0 X1\nM98 P7 L2\nG90 G0 X0\nM30\nO7\nG91 G0 X10\nM99\n"
    m = read_program(text, dialect)
    assert ends(m) == [[1.0, 0.0], [11.0, 0.0], [21.0, 0.0], [0.0, 0.0]]
    with pytest.raises(ProgramError, match="no subprogram O8"):
        read_program(text.replace("P7", "P8"), dialect)
    with pytest.raises(ProgramError, match="runs into a subprogram"):
        read_program(text.replace("M30\n", ""), dialect)
    with pytest.raises(ProgramError, match="nested deeper"):
        read_program(text.replace("M99", "M98 P7"), dialect)
