"""Programs as an operator reads them, and as the standard wants them."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from hand_made_orders import (
    MACHINE,
    OXYFUEL,
    PLASMA,
    bracket_order,
    mark_cut,
    order_of,
    sheet_of,
    square_cut,
    tie_plates,
)
from replays import strokes

from cutplan.base.errors import ProgramError
from cutplan.base.machine import Machine
from cutplan.control import Dialect, read_program
from cutplan.process import CutData
from cutplan.program import PostProcessor, find_postprocessor, list_postprocessors, write_program
from cutplan.sequencing import Order, Step, Travel

POSTS = {post.name: post for post in list_postprocessors()}
METRIC = POSTS["rs274-metric"]


def changed(post: PostProcessor, **tables: object) -> PostProcessor:
    """The same post-processor with some of its tables replaced."""
    values = post.settings.model_dump()
    for key, value in tables.items():
        values[key] = {**values[key], **value} if isinstance(value, dict) and values[key] else value
    return PostProcessor(post.name, type(post.settings).model_validate(values), post.source)


def text_of(post: PostProcessor = METRIC, data: CutData = PLASMA, count: int = 2, **options: object) -> str:
    order, sheet = tie_plates(count, data)
    return write_program(order, sheet, data, MACHINE, post, name="PL10-1", **options).text  # type: ignore[arg-type]


def bare(text: str) -> list[str]:
    """Lines without comments."""
    return [line for line in text.splitlines() if not line.startswith("(")]


def test_the_default_form_is_the_one_that_scripts_rely_on() -> None:
    """A cut is: rapid to the pierce, torch on, pierce dwell, moves with incremental centres, torch off."""
    assert bare(text_of(count=1)) == [
        "G21 G90 G17 G40 G80 G94 G54 G64", "M5", "M9",
        "G0 X30 Y30", "M7", "G1 X40 F5000", "M9",
        "G0 X60 Y60", "M3", "G4 P0.6", "G1 X74 F1800",
        "G3 X46 Y60 I-14 J0", "X74 Y60 I14 J0", "X73.857 Y61.993 I-14 J0", "M5",
        "G0 X19 Y13", "M3", "G4 P0.6", "G1 Y20 F1800", "Y96", "Y100 F1080",
        "G2 X20 Y101 I1 J0", "G1 X23.429", "X100 F1800", "G2 X101 Y100 I0 J-1", "G1 Y20",
        "G2 X100 Y19 I-1 J0", "G1 X20", "G2 X19 Y20 I0 J1", "G1 X17 Y22", "M5",
        "G0 X0 Y0", "M30",
    ]  # fmt: skip


def test_oxyfuel_preheats_before_the_oxygen_in_the_plain_form_too() -> None:
    lines = bare(text_of(data=OXYFUEL, count=1))
    first = lines.index("M3")
    assert lines[first - 2 : first + 2] == ["G0 X60 Y60", "G4 P45", "M3", "G4 P2"]


def test_preheat_flames_go_up_before_each_pierce_and_down_behind_each_cut() -> None:
    lines = bare(text_of(POSTS["rs274-oxyfuel-preheat"], OXYFUEL, 1))
    first = lines.index("M8")
    assert lines[first : first + 4] == ["M8", "G4 P45", "M3", "G4 P2"]
    assert [lines[k + 1] for k, line in enumerate(lines) if line == "M5"] == ["M9"] * 4


def test_an_edge_start_preheats_for_its_own_time_and_does_not_pierce() -> None:
    cut = square_cut("tie-plate", 1, (20, 20), 80)
    edge = replace(cut, choices=(replace(cut.choices[0], edge_start=True),))
    program = write_program(order_of([edge]), sheet_of([]), OXYFUEL, MACHINE, METRIC, name="x")
    assert re.findall(r"G4 P\S+", program.text) == ["G4 P20"]


def test_every_cut_is_named_before_it_begins() -> None:
    remarks = re.findall(r"^\((cut .*)\)$", text_of(), flags=re.M)
    assert remarks[:3] == [
        "cut 1 of 6: tie-plate copy 1, mark",
        "cut 2 of 6: tie-plate copy 1, hole",
        "cut 3 of 6: tie-plate copy 1, outside",
    ]
    assert len(remarks) == 6


def test_the_head_tells_plate_process_parts_and_cautions() -> None:
    head = text_of(header=["job dolly batch 7"]).split("G21")[0]
    for remark in (
        "(PL10-1)", "plate PL10, sheet 1: 600 x 300 x 10 mm, mild steel, grade S355, heat H 4711",
        "plasma 120 A oxygen: kerf 2 mm, feed 1800 mm/min", "2 x tie-plate", "pierce 0.6 s",
        "dry run with the torch off", "local codes and licensed practice go first", "ultraviolet",
        "job dolly batch 7",
    ):  # fmt: skip
        assert remark in head
    assert "flashback" in text_of(data=OXYFUEL).split("G21")[0]


def test_names_cannot_break_out_of_a_comment_or_become_words() -> None:
    order, sheet = tie_plates(1)
    made = replace(order.steps[0].cut.makes[0], part="Blech (alt)\nM3 ; Größe 5 × 3%")
    steps = tuple(replace(s, cut=replace(s.cut, makes=(made,))) for s in order.steps)
    text = write_program(replace(order, steps=steps), sheet, PLASMA, MACHINE, METRIC, name="a(b)\nc").text
    assert text.isascii()
    assert "(cut 1 of 3: Blech [alt] M3 , Grosse 5 x 3 percent copy 1, mark)" in text.splitlines()
    assert text.splitlines()[0] == "(a[b] c)"
    assert text.count("\nM3\n") == 2


def test_the_torch_goes_round_where_the_order_says_so() -> None:
    order, sheet = tie_plates(1)
    step = order.steps[1]
    way = np.array([[40.0, 30.0], [45.0, 90.0], [70.0, 90.5], [60.0, 60.0]])
    steps = (order.steps[0], Step(step.cut, 0, Travel(way, False, 1.0)))
    text = write_program(Order(steps, 1.0, 1.0), sheet, PLASMA, MACHINE, METRIC, name="x").text
    assert "G0 X45 Y90\nX70 Y90.5\nX60 Y60\nM3\n" in text


def test_the_same_plan_gives_the_same_bytes() -> None:
    for post in POSTS.values():
        assert text_of(post) == text_of(post)


# --- the standard's rules, checked without the package's own reader --------------------------

# NISTIR 6556, table 4: modal groups of G and M codes.
GROUPS = [
    {"G0", "G1", "G2", "G3", "G80"}, {"G17", "G18", "G19"}, {"G90", "G91"}, {"G93", "G94"}, {"G20", "G21"},
    {"G40", "G41", "G42"}, {"M2", "M30"}, {"M3", "M4", "M5"}, {"M7", "M9"}, {"M8", "M9"},
]  # fmt: skip


def words_of(line: str) -> list[tuple[str, float]]:
    code = re.sub(r"\([^()]*\)", "", line).removeprefix("/")
    words = re.findall(r"([A-Z])\s*([-+]?(?:\d+\.?\d*|\.\d+))", code)
    assert re.sub(r"([A-Z])\s*([-+]?(?:\d+\.?\d*|\.\d+))|\s", "", code) in ("", "%"), line
    return [(letter, float(number)) for letter, number in words]


@pytest.mark.parametrize("name", POSTS)
@pytest.mark.parametrize("job", [tie_plates, bracket_order])
def test_every_line_keeps_the_standard_s_rules(name: str, job: object) -> None:
    """NISTIR 6556: line form (3.3), one word of a modal group a line (3.4), feed, program end (3.6.1)."""
    post = POSTS[name]
    data = OXYFUEL if post.settings.switches.preheat_on else PLASMA
    order, sheet = job(data=data)  # type: ignore[operator]
    text = write_program(order, sheet, data, MACHINE, post, name="PL10-1").text
    lines = text.splitlines()
    assert text.isascii() and text.endswith("\n") and "\n\n" not in text
    fed = False
    motion = None
    for line in lines:
        assert len(line) <= 256
        assert re.fullmatch(r"[^()]*(\([^()]*\)[^()]*)*", line), "comments pair and do not nest"
        words = words_of(line)
        codes = [f"{letter}{number:g}" for letter, number in words if letter in "GM"]
        assert all(len(group & set(codes)) <= 1 for group in GROUPS), line
        letters = [letter for letter, _ in words if letter not in "GM"]
        assert len(letters) == len(set(letters)), line
        values = dict(words)
        assert values.get("N", 0) <= 99999
        fed = fed or "F" in values
        motion = next((code for code in codes if code in ("G0", "G1", "G2", "G3")), motion)
        moves = not {"X", "Y", "Z"}.isdisjoint(values)
        assert not (moves and motion != "G0") or fed, "a feed move needs a feed"
        if "G4" in codes:
            assert values["P"] > 0.0
        if moves and motion in ("G2", "G3"):
            assert {"I", "J"} <= values.keys() or "R" in values
        motion = None if {"M98", "M99"} & set(codes) else motion
    assert "M30" in {code for line in lines for code in re.findall(r"M30", line)}
    main = lines[: next(k for k, line in enumerate(lines) if line.endswith("M30")) + 1]
    assert (lines[0] == "%") == (lines[-1] == "%")
    assert main == lines or lines[-1] == "%" or post.settings.subprograms is not None


@pytest.mark.parametrize("name", ["rs274-metric", "rs274-inch", "rs274-numbered", "rs274-small-memory"])
def test_arcs_in_the_text_have_equal_radii_at_both_ends(name: str) -> None:
    """NISTIR 6556, 3.5.3.2: they may differ by 0.002 mm or 0.0002 in."""
    order, sheet = bracket_order()
    text = write_program(order, sheet, PLASMA, MACHINE, POSTS[name], name="x").text
    x = y = 0.0
    arcs = 0
    for line in text.splitlines():
        values = dict(words_of(line))
        to = values.get("X", x), values.get("Y", y)
        if "I" in values:
            centre = x + values["I"], y + values["J"]
            allowed = 0.0002 if name == "rs274-inch" else 0.002
            assert abs(math.dist((x, y), centre) - math.dist(to, centre)) <= allowed + 1e-9
            arcs += 1
        x, y = to
    assert arcs > 20


# --- forms a shop may choose -------------------------------------------------------------------


def test_long_programs_are_split_between_cuts_into_whole_programs() -> None:
    post = changed(METRIC, limits={"file_lines": 100})
    order, sheet = bracket_order()
    order = Order(order.steps * 4, 1.0, 1.0)
    program = write_program(order, sheet, PLASMA, MACHINE, post, name="PL10-1")
    assert [file.name for file in program.files[:2]] == ["PL10-1-1", "PL10-1-2"]
    assert len(program.files) > 2
    found = []
    for k, file in enumerate(program.files, start=1):
        assert f"(PL10-1, file {k} of {len(program.files)})" in file.text
        assert file.text.count("\n") <= 100
        motions = read_program(file.text)
        assert not motions.torch[-1]
        found += strokes(motions)
    whole = write_program(order, sheet, PLASMA, MACHINE, METRIC, name="PL10-1")
    assert whole.more == ()
    replayed = strokes(read_program(whole.text))
    assert len(found) == len(replayed)
    assert all(np.array_equal(a, b) for a, b in zip(found, replayed, strict=True))


def test_files_keep_to_the_bytes_the_control_can_hold() -> None:
    post = changed(METRIC, limits={"file_bytes": 4000}, line_numbers={"first": 5, "step": 5})
    order, sheet = bracket_order()
    thrice = Order(order.steps * 3, 1.0, 1.0)
    program = write_program(thrice, sheet, PLASMA, MACHINE, post, name="x", bound={"nest": "0" * 64})
    assert len(program.files) > 1
    assert all(len(file.text) <= 4000 for file in program.files)


def test_a_cut_too_long_for_any_file_is_an_error() -> None:
    post = changed(METRIC, arcs={"form": "lines", "chord_tolerance_mm": 0.0005}, limits={"file_lines": 100})
    order, sheet = tie_plates(1)
    with pytest.raises(ProgramError, match=r"PL10-1: cut 2 alone takes \d+ lines.*limits\.file_lines"):
        write_program(order, sheet, PLASMA, MACHINE, post, name="PL10-1")


def test_subprograms_save_lines_where_cuts_are_repeated() -> None:
    post = POSTS["rs274-subprograms"]
    called, plain = text_of(post, count=3), text_of(count=3)
    assert called.count("\n") < plain.count("\n")
    assert called.count("M98 P1001") == 3 and called.count("O1001") == 1
    assert called.count("M99") == 2  # the hole and the outside; a mark of one line is not worth it


def test_marks_can_be_passed_over_by_the_block_delete_switch() -> None:
    post = POSTS["rs274-numbered"]
    text = text_of(post)
    assert "/N40 G0 X30.000 Y30.000" in text.splitlines()
    cut = read_program(text, post.dialect)
    passed_over = read_program(text, replace(post.dialect, block_delete=True))
    assert len(strokes(cut, marker=True)) == 2
    assert strokes(passed_over, marker=True) == []
    both = zip(strokes(cut), strokes(passed_over), strict=True)
    assert all(np.array_equal(a, b) for a, b in both)


def test_blocks_are_numbered_by_line_or_by_cut_and_start_again_at_the_highest() -> None:
    by_line = [int(n) for n in re.findall(r"^N(\d+) ", text_of(changed(
        METRIC, line_numbers={"first": 1, "step": 2, "highest": 9, "on": "lines"})), flags=re.M)]  # fmt: skip
    assert by_line[:7] == [1, 3, 5, 7, 9, 1, 3]
    post = changed(METRIC, line_numbers={"first": 100, "step": 100, "on": "cuts"})
    numbered = re.findall(r"^N(\d+) (.*)$", text_of(post), flags=re.M)
    assert numbered[:2] == [("100", "G0 X30 Y30"), ("200", "G0 X60 Y60")]
    assert len(numbered) == 6


def test_dwells_can_be_in_milliseconds_and_are_read_so() -> None:
    post = changed(METRIC, numbers={"dwell_unit": "ms", "dwell_decimals": 0})
    text = text_of(post)
    assert "G4 P600" in text
    assert read_program(text, post.dialect).dwell_s.max() == pytest.approx(0.6)


def test_heights_are_moved_in_z_and_the_height_control_rests_near_corners_and_in_small_holes() -> None:
    post = POSTS["rs274-heights"]
    lines = bare(text_of(post, count=1))
    start = lines.index("M3")
    assert lines[start - 1 : start + 4] == ["G0 Z6", "M3", "G4 P0.6", "G1 Z3 F3000", "G1 X74 F1800"]
    outside = lines[lines.index("G0 X19 Y13") :]
    # Sharp turns of the path have 5 mm before and behind them; the slow stretch lies at a corner.
    on = outside.index("M8")
    assert outside[on - 1 : on + 4] == ["G1 Y20 F1800", "M8", "Y96", "M9", "Y100 F1080"]
    small = replace(PLASMA, rules=replace(PLASMA.rules, small_hole=31.0))
    hole = bare(text_of(post, small, count=1))
    assert "M8" not in hole[: hole.index("G0 X19 Y13")]


def test_a_control_that_sets_its_source_by_an_s_word_is_told_the_current() -> None:
    header = [*METRIC.settings.lines.header, "S{current}"]
    post = changed(METRIC, control={"permits": ["S"]}, lines={"header": header})
    text = text_of(post, replace(PLASMA, current_a=120.0))
    assert "\nS120\n" in text
    assert not read_program(text, post.dialect).doubts
    assert read_program(text, METRIC.dialect, strict=False).doubts
    assert "\nS" not in text_of(post, OXYFUEL)


def test_another_work_offset_is_stated_where_the_control_has_the_plate_there() -> None:
    header = [line.replace("G54", "G56") for line in METRIC.settings.lines.header]
    post = changed(METRIC, control={"work_offset": "G56"}, lines={"header": header})
    assert "G21 G90 G17 G40 G80 G94 G56 G64" in text_of(post)
    assert not read_program(text_of(post), post.dialect).doubts
    with pytest.raises(ValueError, match=r"lines.header: needs G56 .the plate's zero"):
        changed(METRIC, control={"work_offset": "G56"})


def test_a_subprogram_ends_in_plate_coordinates() -> None:
    lines = bare(text_of(POSTS["rs274-subprograms"], count=6))
    ends = [k for k, line in enumerate(lines) if line == "M99"]
    assert ends and all(lines[k - 1] == "G90" for k in ends)


OXYFUEL_HIGH = replace(
    OXYFUEL, preheat_height=4.0, pierce_height=9.0, cut_height=5.0, lowering_mm=3.0, edge_preheat_s=4.0
)


def test_flames_heat_at_their_height_and_the_torch_comes_down_on_its_way() -> None:
    lines = bare(text_of(POSTS["rs274-oxyfuel-heights"], OXYFUEL_HIGH, count=1))
    start = lines.index("M3")
    dwell = f"G4 P{OXYFUEL_HIGH.preheat_s:g}"
    assert lines[start - 4 : start] == ["G0 Z4", "M8", dwell, "G1 Z9 F1500"]
    assert lines[start + 2] == f"G1 X63 Z5 F{OXYFUEL_HIGH.feed_mm_min:g}"
    assert " Z" not in " ".join(lines[start + 3 : lines.index("M5", start)])


def test_the_torch_comes_down_standing_where_the_control_cannot_do_both() -> None:
    post = changed(POSTS["rs274-oxyfuel-heights"], heights={"lowers_moving": False})
    lines = bare(text_of(post, OXYFUEL_HIGH, count=1))
    assert lines[lines.index("M3") + 2] == "G1 Z5 F1500"


def test_plasma_by_a_file_for_flames_has_no_flames_and_no_preheat_height() -> None:
    lines = bare(text_of(POSTS["rs274-oxyfuel-heights"], PLASMA, count=1))
    start = lines.index("M3")
    assert lines[start - 2 : start] == ["G0 X60 Y60", "G1 Z6 F1500"] and "M8" not in lines


@pytest.mark.parametrize(
    ("post", "data", "reason"),
    [
        ("rs274-heights", {"pierce_height": 31.0}, "above the torch's travel at 30 mm"),
        ("own", {}, "knows no height for preheating"),
    ],
)
def test_heights_that_a_file_cannot_say_are_refused(post: str, data: dict[str, float], reason: str) -> None:
    own = changed(POSTS["rs274-heights"], lines={"lower_torch": ["G0 Z{pierce_height}"]})
    voice = own if post == "own" else POSTS[post]
    with pytest.raises(ProgramError, match=reason):
        text_of(voice, replace(OXYFUEL_HIGH, **data), count=1)


def test_the_number_of_torches_is_always_said_and_their_spacing_where_they_cut_side_by_side() -> None:
    """A control may keep the number from the program before."""
    order, sheet = tie_plates(1)
    post = POSTS["rs274-several-torches"]

    def head(torches: int, spacing: float | None) -> str:
        machine = Machine(marker=True, torches=torches)
        program = write_program(order, sheet, PLASMA, machine, post, name="x", torch_spacing=spacing)
        return program.text

    lines = head(3, 450.0).splitlines()
    assert lines[lines.index("T3") + 1] == "(torches side by side, set 450 mm apart)"
    for alone in (head(1, 450.0), head(3, None)):
        assert re.findall(r"^T\d+$", alone, flags=re.M) == ["T1"]
        assert "(one torch alone)" in alone.splitlines() and "side by side" not in alone.splitlines()


def test_controls_without_blanks_and_comments_get_neither() -> None:
    text = text_of(POSTS["rs274-small-memory"])
    assert " " not in text and "(" not in text
    assert "X73.857Y61.993I-14J0" in text
    assert len(strokes(read_program(text, Dialect()))) == 4


def test_a_mark_for_a_control_without_a_marker_is_an_error() -> None:
    switches = {"marker_on": "", "marker_off": ""}
    post = changed(METRIC, switches=switches, lines={"header": ["G21 G90 G17 G40 G80 G94 G54 G64", "M5"], "mark_start": [],
                                                     "mark_end": []})  # fmt: skip
    order = order_of([mark_cut("tie-plate", 1, [(10, 10), (20, 10)])])
    with pytest.raises(ProgramError, match=r"cut 1 marks tie-plate.*knows no marker.*plan without marks"):
        write_program(order, sheet_of([]), PLASMA, MACHINE, post, name="x")


def test_a_line_longer_than_the_control_holds_is_an_error_and_a_long_remark_is_cut() -> None:
    post = changed(METRIC, limits={"line_length": 80})
    text = text_of(post, header=["a remark " * 30])
    assert max(map(len, text.splitlines())) <= 80
    numbers = {"decimals": 6, "centre_decimals": 6, "trailing_zeros": True}
    repeated = dict.fromkeys(("repeat_motion", "repeat_coordinates", "repeat_feed"), True)
    wide = changed(post, numbers=numbers, words=repeated, line_numbers={"first": 90000},
                   lines={"cut_start": ["{torch_on}", "G4 P{pierce} (" + "x" * 64 + ")"]})  # fmt: skip
    with pytest.raises(ProgramError, match=r"has \d+ characters, the control holds 80"):
        text_of(wide)


def test_an_own_class_can_say_things_otherwise() -> None:
    class Shouting(PostProcessor):
        """Says a beep before every cut."""

        def lines(self, place: str, fields: dict[str, str]) -> list[str]:  # type: ignore[override]
            said = super().lines(place, fields)
            return [f"(beep {fields['n']})", *said] if place == "cut_start" else said

    base = find_postprocessor("rs274-metric")
    text = text_of(Shouting("shouting", base.settings, "test"))
    assert re.findall(r"\(beep \d+\)", text) == ["(beep 2)", "(beep 3)", "(beep 5)", "(beep 6)"]
    assert len(strokes(read_program(text))) == 4
