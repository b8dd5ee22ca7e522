"""Lit means moving as planned, heights have one owner, flames burn where they must, every reading counts."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest
from sheets import DATA, DISC, GUSSET, MACHINE, Planned, planned, sheet_of

from cutplan.geometry import Pose, circle
from cutplan.process import Library
from cutplan.verification import Planned as PlannedCuts
from cutplan.verification import PlannedCut, Verdict, verify


@cache
def one(post: str = "rs274-metric") -> Planned:
    return planned(sheet_of((DISC, Pose(60, 60)), (GUSSET, Pose(120, 30)), size=(260, 160)), post=post)


@cache
def flamed() -> Planned:
    data = Library.load().choose("oxyfuel", "mild steel", 10.0)
    return planned(sheet_of((DISC, Pose(90, 90)), size=(220, 220)), data=data, post="rs274-oxyfuel-preheat")


def judge(p: Planned, text: str | None = None, **changes: object) -> Verdict:
    settings: dict[str, object] = {"planned": p.cuts, "dialect": p.dialect} | changes
    return verify(p.text if text is None else text, p.sheet, p.data, MACHINE, **settings)  # type: ignore[arg-type]


def codes(verdict: Verdict) -> set[str]:
    return {fault.code for fault in verdict.faults}


def edited(p: Planned, old: str, new: str, count: int = 1) -> str:
    assert old in p.text, f"{old!r} is not in the program"
    return p.text.replace(old, new, count)


@pytest.mark.parametrize("word", ["M0", "M1", "M60"])
@pytest.mark.parametrize("behind", ["M3\n", "G4 P0.6\n"])
def test_nothing_stops_for_the_operator_while_it_burns(word: str, behind: str) -> None:
    assert "stop-while-lit" in codes(judge(one(), edited(one(), behind, f"{behind}{word}\n")))
    between = edited(one(), "M5\nG0 X0", "M5\nM0\nG0 X0")
    assert judge(one(), between).passed


def test_a_pierce_that_dwells_up_to_twice_as_long_is_trimmed_and_a_shorter_one_is_a_fault() -> None:
    longer = judge(one(), edited(one(), "P0.6", "P1", 99))
    assert longer.passed and {fault.code for fault in longer.trims} == {"pierce-dwell"}
    assert len({label for label, _ in longer.labelled}) == 1
    assert "pierce-dwell" in codes(judge(one(), edited(one(), "P0.6", "P1.4")))
    assert "pierce-dwell" in codes(judge(one(), edited(one(), "P0.6", "P0.4")))


def test_feeds_within_a_tenth_are_trimmed_and_beyond_it_are_faults() -> None:
    slower = judge(one(), edited(one(), "F1800", "F1700", 99))
    assert slower.passed and {fault.code for fault in slower.trims} == {"feed"}
    assert "feed" in codes(judge(one(), edited(one(), "F1800", "F1500", 99)))


def test_an_edge_start_is_accepted_only_where_it_is_planned_and_without_standing() -> None:
    p = one()
    beside = "G0 X-3 Y150\nM3\nG1 X30 F1800\nM5\nG0 X0 Y0\nM30"
    text = p.text.replace("G0 X0 Y0\nM30", beside)
    assert "edge-start" in codes(judge(p, text))
    at_edge = PlannedCut("outside", (-3.0, 150.0), 33.0, edge_start=True)
    there = PlannedCuts((*p.cuts.cuts, at_edge))
    assert "edge-start" not in codes(judge(p, text, planned=there))
    assert "pierce-dwell" not in codes(judge(p, text, planned=there))
    standing = text.replace("M3\nG1 X30", "M3\nG4 P0.6\nG1 X30")
    assert "pierce-dwell" in codes(judge(p, standing, planned=there))


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("G0 Z30\nG0", "G0", "inherited"),
        ("G1 Z3 F3000", "G1 Z3 F60", "pierce-dwell"),
        ("G1 Z3 F3000", "G1 Z1 F3000", "height"),
        ("G0 Z30\nG0", "G0 Z10\nG0", "height"),
        ("G0 Z30\nG0", "G0 Z400\nG0", "height"),
        ("G0 Z6\nM3", "G0 Z15\nM3", "height"),
        ("\nM8\n", "\n", "height-control"),
    ],
)
def test_where_the_program_moves_z_every_height_is_proved(old: str, new: str, code: str) -> None:
    p = one("rs274-heights")
    assert judge(p).is_as_planned, judge(p).faults[:3]
    assert code in codes(judge(p, edited(p, old, new, 99)))


def test_a_travel_that_is_planned_raised_runs_raised() -> None:
    p = one("rs274-heights")
    first, rest = p.text.split("G0 Z30", 1)
    assert "height" in codes(judge(p, first + "G0 Z30" + rest.replace("G0 Z30\n", "", 1)))


def test_the_height_control_is_off_where_no_arc_burns_at_its_feed() -> None:
    p = one("rs274-heights")
    assert "height-control" in codes(judge(p, edited(p, "G4 P0.6\n", "M8\nG4 P0.6\n")))
    assert "height-control" in codes(judge(p, edited(p, "\nM5\nM9\nM30", "\nM5\nM8\nG0 X9\nM9\nM30")))


def test_heights_within_a_quarter_are_trimmed() -> None:
    p = one("rs274-heights")
    verdict = judge(p, edited(p, "G1 Z3 F3000", "G1 Z3.3 F3000", 99))
    assert verdict.passed and {fault.code for fault in verdict.trims} == {"height"}


def test_z_in_a_program_whose_control_moves_the_torch_is_a_fault() -> None:
    assert "height" in codes(judge(one(), edited(one(), "\nM3\n", "\nG0 Z5\nM3\n")))


def test_flames_burn_from_the_preheat_to_the_end_of_the_cut() -> None:
    p = flamed()
    assert judge(p).is_as_planned, judge(p).faults[:3]
    start = p.text.index("M8\nG4")
    preheat = p.text[start:].splitlines()[1]
    cold = p.text.replace(f"M8\n{preheat}", f"{preheat}\nM8")
    assert "preheat" in codes(judge(p, cold))
    out = p.text.replace("M3\nG4", "M3\nM9\nG4")
    assert "flame" in codes(judge(p, out))
    assert "flame" in codes(judge(p, p.text.replace("M5\nM9\nG0", "M5\nG1 X1 F900\nM9\nG0")))


@cache
def flamed_high() -> Planned:
    data = Library.load().choose("oxyfuel", "mild steel", 40.0)
    part = replace(DISC, outer=circle((0, 0), 60), holes=(circle((0, 0), 30, clockwise=True),))
    return planned(sheet_of((part, Pose(150, 150)), size=(300, 300)), data=data, post="rs274-oxyfuel-heights")


START = "G0 Z7.6\nM8\nG4 P20\nG1 Z16.5 F1500\nM3\nG4 P3\n"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("G0 Z7.6\nM8", "G0 Z4\nM8"),
        ("G0 Z7.6\nM8", "G0 Z16.5\nM8"),
        ("G0 Z7.6\nM8\nG4 P20\nG1 Z16.5 F1500\n", "G0 Z7.6\nM8\nG1 Z16.5 F1500\nG4 P20\n"),
        ("G1 Z16.5 F1500\nM3", "M3\nG1 Z16.5 F1500"),
        ("G1 Z16.5 F1500\n", ""),
        ("G4 P3\n", "G4 P3\nG1 Z7.6 F1500\n"),
        (" Z7.6 I", " I"),
        (" Z7.6 I", " Z12 I"),
    ],
)
def test_flames_heat_rise_pierce_and_come_down_at_heights_of_their_own(old: str, new: str) -> None:
    p = flamed_high()
    assert p.text.count(START) == 2 and judge(p).is_as_planned, judge(p).faults[:3]
    assert "height" in codes(judge(p, edited(p, old, new)))


def test_coming_down_later_or_over_another_way_is_a_fault() -> None:
    p = flamed_high()
    lines = p.text.splitlines()
    down = next(k for k, line in enumerate(lines) if " Z7.6 I" in line)
    assert lines[down + 1].startswith("X")
    words = lines[down + 1].split()
    late = [*lines]
    late[down] = lines[down].replace(" Z7.6", "")
    late[down + 1] = " ".join([*words[:2], "Z7.6", *words[2:]])
    assert "height" in codes(judge(p, "\n".join(late)))
    # What the data say of the way down is held, whatever the program does.
    for way in (4.0, 0.0):
        other = verify(
            p.text, p.sheet, replace(p.data, lowering_mm=way), MACHINE, dialect=p.dialect, planned=p.cuts
        )
        assert "height" in codes(other)
    standing = replace(p.dialect, lowers_moving=False)
    assert "height" in codes(judge(p, dialect=standing))


def test_gas_flows_as_long_as_the_data_say_where_the_program_waits_for_it() -> None:
    p = one()
    data = replace(DATA, pre_flow_s=1.0, post_flow_s=2.0)
    waits = replace(p.dialect, flows_by_control=False)
    missing = verify(p.text, p.sheet, data, MACHINE, dialect=waits, planned=p.cuts)
    assert "gas-flow" in codes(missing)
    text = p.text.replace("M3\n", "G4 P1\nM3\n").replace("\nM5\nG0", "\nM5\nG4 P2\nG0")
    text = text.replace("\nM5\n(", "\nM5\nG4 P2\n(")
    assert verify(text, p.sheet, data, MACHINE, dialect=waits, planned=p.cuts).passed


@pytest.mark.parametrize("old", ["\nM3\n", "\nM5\nG0 X0", "\nG21", "\nG0 X0 Y0"])
def test_a_block_under_block_delete_may_change_nothing(old: str) -> None:
    assert "reading" in codes(judge(one(), edited(one(), old, old.replace("\n", "\n/", 1))))
    assert judge(one(), edited(one(), "\nM30", "\n/(nothing)\nM30")).passed


def test_marks_may_stand_under_block_delete_where_the_dialect_says_so_and_then_wholly() -> None:
    p = one("rs274-numbered")
    assert judge(p).is_as_planned
    half = [line for line in p.text.splitlines() if line.startswith("/")]
    assert half
    assert "reading" in codes(judge(p, p.text.replace(half[1], half[1][1:])))
    assert "reading" in codes(judge(p, dialect=replace(p.dialect, deletes_marks=False)))


def test_blocks_behind_the_end_are_named() -> None:
    assert "reading" in codes(judge(one(), f"{one().text}G0 X5\n"))
    assert judge(one(), f"{one().text}(kept for later)\n").passed


def test_a_wait_for_gas_a_longer_lead_and_idle_words_pass_and_are_told() -> None:
    p = one()
    verdict = judge(p, edited(p, "\nM3\n", "\nG4 P2\nM3\n"))
    assert verdict.is_as_planned and any("waits up to 2 s" in note for note in verdict.notes)
    verdict = judge(p, edited(p, "G21", "; by hand\nG91.1\nG21"))
    assert verdict.is_as_planned and len(verdict.notes) == 2


def test_torches_are_set_as_far_apart_as_planned() -> None:
    p = planned(sheet_of((DISC, Pose(40, 40)), size=(120, 120)), post="rs274-several-torches")
    two = p.text.replace("\nT1\n", "\nT2\n(torches side by side, set 130 mm apart)\n")
    cuts = replace(p.cuts, torches=2, spacing_mm=130.0)
    assert judge(p, two, planned=cuts).passed
    assert "torches" in codes(judge(p, two.replace("130 mm", "180 mm"), planned=cuts))
    assert "torches" in codes(
        judge(p, two.replace("(torches side by side, set 130 mm apart)\n", ""), planned=cuts)
    )


def test_whether_the_operator_takes_a_stop_with_everything_out_is_his_own_affair() -> None:
    assert judge(one(), edited(one(), "\nG0 X0 Y0\n", "\n/M0\nG0 X0 Y0\n")).passed
    assert "reading" in codes(judge(one(), edited(one(), "\nM3\n", "\nM3\n/M0\n")))


def test_the_height_control_is_on_along_every_clear_stretch() -> None:
    p = one("rs274-heights")
    assert judge(p).passed
    for k in range(p.text.count("\nM8\n")):
        parts = p.text.split("\nM8\n")
        text = "\nM8\n".join(parts[: k + 1]) + "\n" + "\nM8\n".join(parts[k + 1 :])
        assert "height-control" in codes(judge(p, text))
