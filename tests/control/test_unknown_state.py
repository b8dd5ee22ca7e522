"""Nothing is inherited, nothing foreign, and every form that controls read differently is named."""

from __future__ import annotations

import pytest

from cutplan.base.errors import ProgramError
from cutplan.control import Dialect, Motions, acts, harmless_text, read_files, read_program

HEADER = ("G21 G90 G17 G40 G80 G94 G54 G64", "M5", "M9")
CUT = ("G0 X10 Y10", "M3", "G4 P.5", "G1 X20 F900", "G3 X30 Y20 J10", "M5")


def read(*lines: str, dialect: Dialect | None = None, strict: bool = False) -> Motions:
    return read_program("\n".join([*lines, "M30"]), dialect, strict=strict)


def doubts(*lines: str, dialect: Dialect | None = None) -> list[tuple[str, int]]:
    return [(d.code, d.line) for d in read(*lines, dialect=dialect).doubts]


def told(*lines: str, dialect: Dialect | None = None) -> str:
    return " ".join(d.message for d in read(*lines, dialect=dialect).doubts)


def without(word: str) -> tuple[str, ...]:
    return tuple(" ".join(w for w in line.split() if w != word) for line in HEADER)


def test_a_program_that_states_everything_leaves_no_doubt() -> None:
    assert not read(*HEADER, *CUT).doubts


@pytest.mark.parametrize(
    ("word", "named"),
    [
        ("G21", "G20 or G21"),
        ("G90", "G90"),
        ("G17", "G17"),
        ("G40", "G40"),
        ("G94", "G94"),
        ("G54", "G54"),
        ("G64", "G64, G61 or G61.1"),
        ("M5", "the torch's off word"),
        ("M9", "the marker's off word"),
    ],
)
def test_each_mode_that_is_not_stated_is_named_once_where_it_first_counts(word: str, named: str) -> None:
    found = [d for d in read(*without(word), *CUT).doubts if d.code == "inherited"]
    assert len(found) == 1 and named in found[0].message
    assert found[0].line >= 4


def test_what_the_dialect_guarantees_need_not_be_stated() -> None:
    dialect = Dialect(guarantees=("path mode", "work offset"))
    assert not doubts("G21 G90 G17 G40 G80 G94", "M5", "M9", *CUT, dialect=dialect)


def test_modes_that_only_some_controls_have_must_be_stated_on_those() -> None:
    assert "G90.1 or G91.1" in told(*HEADER, *CUT, dialect=Dialect(arc_distance_words=True))
    assert not doubts(*HEADER, "G91.1", *CUT, dialect=Dialect(arc_distance_words=True))
    assert "G69" in told(*HEADER, *CUT, dialect=Dialect(has_rotation=True))
    assert not doubts(*HEADER, "G69", *CUT, dialect=Dialect(has_rotation=True))
    flames = Dialect(flame_on=("M8",), flame_off=("M10",))
    assert "preheat flames" in told(*HEADER, *CUT, dialect=flames)


def test_the_torch_s_own_place_is_unknown_until_both_axes_are_stated() -> None:
    assert "whose Y the program has not stated" in told(*HEADER, "G0 X10", "G1 X20 F900")
    assert "whose X" in told(*HEADER, "G91", "G0 X10 Y10", "G90", "G0 X1 Y1")
    assert "the torch begins from a place whose X" in told(*HEADER, "M3", "M5")
    assert not doubts(*HEADER, "G0 X10", "G0 Y10", "G1 X20 F900")


def test_where_the_program_moves_z_its_height_is_stated_before_any_way_over_the_plate() -> None:
    heights = Dialect(heights="program")
    assert "whose Z" in told(*HEADER, *CUT, dialect=heights)
    assert "G49" in told(*HEADER, "G0 Z30", *CUT, dialect=heights)
    assert not doubts(*HEADER, "G49", "G0 Z30", *CUT, dialect=heights)
    assert doubts(*HEADER, "G0 Z30", *CUT)[0] == ("height", 4)


def test_parameters_and_registers_that_the_program_did_not_set_are_named() -> None:
    assert "#100" in told(*HEADER, "G0 X#100 Y0")
    assert doubts(*HEADER, "#100=4", "G0 X#100 Y0") == [("foreign", 4)]
    offset = Dialect(compensation_radius_mm=1.0)
    line = ("G0 X-20 Y0", "G41 {} G1 X0 Y0 F9", "Y50", "G40 G0 X-9 Y60")
    assert "register D7" in told(*HEADER, *(text.format("D7") for text in line), dialect=offset)
    assert "no D word" in told(*HEADER, *(text.format("") for text in line), dialect=offset)
    assert not doubts(*HEADER, *(text.format("D1") for text in line), dialect=offset)


@pytest.mark.parametrize(
    "line",
    ["G10 L2 P1 X5", "G92 X0 Y0", "G53 G0 X0 Y0", "G28 X0 Y0", "G30", "G55", "M6", "T3", "S100", "M49", "M60",
     "#5221=10", "#500=1", "G92.1"],
)  # fmt: skip
def test_foreign_words_are_named_unless_the_dialect_permits_them(line: str) -> None:
    found = doubts(*HEADER, "G0 X1 Y1", line, "G54")
    assert ("foreign", 5) in found
    word = line.split("=")[0].split()[0]
    permitted = Dialect(permits=(word if word[0] not in "TS" else word[0],))
    assert ("foreign", 5) not in doubts(*HEADER, "G0 X1 Y1", line, "G54", dialect=permitted)


@pytest.mark.parametrize(
    "line", ["G1 X30 M3", "M3 M9", "G4 P1 M3", "M7 F500", "X30 M0", "G20 X1", "G20 F100", "#1=4 M5", "M30 X4"]
)
def test_words_that_controls_carry_out_in_different_orders_stand_alone(line: str) -> None:
    assert ("order", 5) in doubts(*HEADER, "G1 X10 Y10 F900", line)


@pytest.mark.parametrize(
    ("line", "what"), [("G91", "steps"), ("G18", "plane"), ("G93", "inverse-time"), ("G92 X3", "shifted"),
                       ("G55", "another zero")],
)  # fmt: skip
def test_what_a_program_changes_it_puts_back(line: str, what: str) -> None:
    assert what in told(*HEADER, "G0 X1 Y1", line)


def test_arc_centres_are_put_back_as_steps() -> None:
    dialect = Dialect(arc_distance_words=True, absolute_centres=True)
    assert "arc centres" in told(*HEADER, "G90.1", "G0 X1 Y1", dialect=dialect)
    assert not doubts(*HEADER, "G90.1", "G0 X1 Y1", "G91.1", dialect=dialect)


def test_a_subprogram_puts_back_what_it_changes_and_is_there_once() -> None:
    dialect = Dialect(subprograms=True)
    head = "\n".join([*HEADER, "G0 X1 Y1", "M98 P7", "M30"])
    good = f"{head}\nO7\nG91\nG0 X10\nG90\nM99\n"
    assert not read_program(good, dialect).doubts
    left = read_program(good.replace("G90\nM99", "M99"), dialect).doubts
    assert [d.code for d in left] == ["not-restored", "not-restored"]
    with pytest.raises(ProgramError, match=r"line 12.*O7 is there twice"):
        read_program(f"{good}O7\nM99\n", dialect)
    with pytest.raises(ProgramError, match="L0 calls nothing"):
        read_program(good.replace("P7", "P7 L0"), dialect)
    assert [d.code for d in read_program(good.replace("M98 P7", "M98 P7 G90"), dialect).doubts] == ["order"]


def test_forms_that_the_standard_allows_and_controls_read_differently_are_named() -> None:
    assert ("reading", 4) in doubts(*HEADER, "G0 X1 2 Y1")
    assert ("reading", 4) not in doubts(*HEADER, "G0 X 12 Y1")
    start = (*HEADER, "G0 X0 Y0")
    assert ("reading", 5) in doubts(*start, "G3 X10 Y0 R5 F100")
    assert ("reading", 5) not in doubts(*start, "G3 X10 Y0 I5 F100")
    subprogram = "\n".join([*HEADER, "G0 X1 Y1", "M98 P7 L2", "M30", "O7", "G0 X2", "M99"])
    assert [d.code for d in read_program(subprogram, Dialect(subprograms=True)).doubts] == ["reading"]


def test_an_arc_whose_ends_are_one_place_on_the_grid_is_named() -> None:
    near = ("G0 X10 Y10", "G1 X20 F900", "G3 X20 Y10.0004 I-5 J0")
    assert ("short-arc", 6) in doubts(*HEADER, *near)
    assert not doubts(*HEADER, "G0 X10 Y10", "G1 X20 F900", "G3 X20 Y10 I-5 J0")
    assert ("short-arc", 6) in doubts(
        *HEADER, *near[:2], "G3 X20 Y10.002 I-5 J0", dialect=Dialect(step_mm=0.01)
    )


def test_what_is_kept_is_carried_from_file_to_file_and_modes_are_not() -> None:
    whole = "\n".join([*HEADER, "G0 X1 Y1", "M30"])
    permits = Dialect(permits=("G10",))
    writes = "\n".join([*HEADER, "G0 X1 Y1", "G10 L2 P1 X100", "M30"])
    moved = read_files([writes, whole], permits)
    assert moved.end[-1, 0] == 101.0
    assert not read_files([whole, whole]).doubts
    bare = "G0 X1 Y1\nM30"
    assert {d.code for d in read_files([whole, bare]).doubts} == {"inherited"}


@pytest.mark.parametrize(
    ("comment", "word"),
    [("(MSG, look)", "MSG"), ("(DEBUG,#1)", "DEBUG"), ("( print, x)", "PRINT"), ("(LOG,a)", "LOG"),
     ("(LOGCLOSE)", "LOGCLOSE"), ("(abort)", "ABORT")],
)  # fmt: skip
def test_comments_that_controls_act_on_are_named(comment: str, word: str) -> None:
    assert ("comment", 4) in doubts(*HEADER, comment, *CUT)
    assert word in told(*HEADER, comment, *CUT)
    assert ("comment", 4) not in doubts(*HEADER, comment, *CUT, dialect=Dialect(permits=(word,)))
    assert acts(comment) and not acts(f"({harmless_text(comment.strip('()'))})")


@pytest.mark.parametrize("name", ["x)G0 X800 Y450(", "a;G0 X1", "50 %\n%", "MSG,a", "\x1b[2J", "é(ü)ß"])
def test_a_name_is_harmless_in_a_comment(name: str) -> None:
    text = harmless_text(name)
    assert text.isascii() and text.isprintable() and not set(text) & set("();%") and not acts(f"({text})")


def test_harmless_ways_of_writing_are_read_and_told_and_refused_by_the_standard() -> None:
    written = [
        ("; a remark", "a comment stands behind a semicolon"),
        ("G1 F900", "G1 stands without a place to go to"),
        ("G91.1", "G91.1 states what holds anyway"),
        ("N1234567 G0 X1", "line numbers have more than five digits"),
    ]
    for line, departure in written:
        found = read(*HEADER, "G0 X0 Y0", line)
        assert found.departures == (departure,) and not found.doubts
        with pytest.raises(ProgramError):
            read(*HEADER, "G0 X0 Y0", line, strict=True)
    assert read("O1234", *HEADER).departures == ("the program begins with its number",)
    assert read("\ufeffG21").departures == ("the file begins with a byte order mark",)


@pytest.mark.parametrize("remark", ["G0 X800", " m3", "#1=5", " X 5"])
def test_a_semicolon_hides_no_block(remark: str) -> None:
    """Where a semicolon ends the block, what stands behind it is run."""
    assert ("comment", 5) in doubts(*HEADER, "G0 X0 Y0", f"G0 X1 ;{remark}")


def test_a_program_between_per_cent_lines_ends_with_m30_and_nothing_stands_behind_them() -> None:
    inside = "\n".join(["%", *HEADER, *CUT])
    ends = [
        (f"{inside}\nM30\n%\n", []),
        (f"{inside}\n%\n", ["with a % line alone"]),
        (f"{inside}\nM30\n%\n\n{inside}\nM30\n%\n", ["behind the last % line"]),
    ]
    for text, named in ends:
        messages = [doubt.message for doubt in read_program(text, strict=False).doubts]
        assert len(messages) == len(named)
        assert all(name in message for name, message in zip(named, messages, strict=True))
