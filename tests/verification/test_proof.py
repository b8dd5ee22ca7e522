"""Every rule of the proof, each broken on purpose in a program that is otherwise good."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from sheets import DATA, DISC, GUSSET, KERF, LINK, MACHINE, RING, RULES, Planned, mixed, planned, sheet_of

from cutplan.base.machine import Machine
from cutplan.drawing import Part
from cutplan.geometry import Pose, area, circle, polygon
from cutplan.process import Library
from cutplan.program import list_postprocessors
from cutplan.stock import Keepout
from cutplan.verification import FAULT_CODES, Verdict, offcuts, skeleton, verify


@cache
def plan() -> Planned:
    return planned(mixed())


@cache
def plain() -> Planned:
    return planned(sheet_of((DISC, Pose(40, 40)), (LINK, Pose(100, 40)), size=(200, 120)))


def judge(p: Planned, text: str | None = None, **changes: object) -> Verdict:
    settings: dict[str, object] = {"machine": MACHINE, "data": p.data, "sheet": p.sheet} | changes
    verdict = verify(
        p.text if text is None else text,
        settings["sheet"],  # type: ignore[arg-type]
        settings["data"],  # type: ignore[arg-type]
        settings["machine"],  # type: ignore[arg-type]
        dialect=p.dialect,
    )
    assert {fault.code for fault in verdict.faults} <= set(FAULT_CODES)
    return verdict


def codes(verdict: Verdict) -> set[str]:
    return {fault.code for fault in verdict.faults}


def edited(p: Planned, old: str, new: str, count: int = 1) -> str:
    assert old in p.text, f"{old!r} is not in the program"
    return p.text.replace(old, new, count)


def test_a_good_program_passes_with_figures_near_nothing() -> None:
    verdict = judge(plan())
    assert verdict.passed and not verdict.faults
    assert verdict.worst_bite_mm < 0.005 and verdict.worst_left_mm < 0.005
    assert verdict.parts_freed == 5 and verdict.pierces == len(plan().cuts.burns)
    assert verdict.cut_length_mm == pytest.approx(sum(cut.length_mm for cut in plan().cuts.burns), abs=0.1)
    assert [name for name, _, _ in verdict.freed] == ["gusset", "disc", "link", "gusset", "ring"]


@pytest.mark.parametrize("name", [p.name for p in list_postprocessors()])
def test_every_post_processor_that_ships_writes_programs_that_pass(name: str) -> None:
    p = planned(sheet_of((DISC, Pose(40, 40)), (GUSSET, Pose(80, 20)), size=(200, 120)), post=name)
    verdict = verify(p.text, p.sheet, p.data, MACHINE, dialect=p.dialect, planned=p.cuts)
    assert verdict.passed, verdict.faults[:3]
    assert verdict.pierces == len(p.cuts.burns)


@pytest.mark.parametrize("corners", ["round", "loop", "plain"])
def test_every_way_round_a_corner_passes(corners: str) -> None:
    verdict = judge(planned(sheet_of((GUSSET, Pose(30, 30)), size=(160, 140)), corners=corners))
    assert verdict.passed, verdict.faults[:3]


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("G21 G90", "G21 G90 G0 G1", "syntax"),
        ("G21 G90", "G90", "inherited"),
        ("G21 G90", "G21", "inherited"),
        ("M5\nG0 X0 Y0", "G0 X0 Y0", "lit-rapid"),
        ("M5\nG0 X0 Y0\nM30", "M30", "torch-left-on"),
        ("M3\nG4 P0.6", "M3\nM3\nG4 P0.6", "torch-on-twice"),
        ("M3\nG4 P0.6", "M7 M3\nG4 P0.6", "marker-with-torch"),
        ("M3\nG4 P0.6", "M3\nG4 P0.1", "pierce-dwell"),
        ("M3\nG4 P0.6", "G4 P30\nM3\nG4 P0.6", "preheat"),
        ("\nM5\nG0 X0", "\nG4 P2\nM5\nG0 X0", "dwell-in-cut"),
        ("\nM5\n", "\nM5\nM3\nG4 P0.6\nM5\n", "empty-cut"),
        ("F1080", "F108", "feed"),
        ("F1800", "F2400", "feed"),
        ("G0 X0 Y0\nM30", "G0 X3100 Y0\nM30", "off-table"),
        ("G0 X0 Y0\nM30", "G0 X0 Y-1600\nM30", "off-table"),
        ("G0 X0 Y0\nM30", "G0 X-9000 Y0\nM30", "off-table"),
        ("G0 X0 Y0\nM30", "G0 X190 Y110\nM3\nG4 P0.6\nG1 X210 F1800\nM5\nM30", "off-plate"),
        ("G0 X0 Y0\nM30", "G0 X190 Y110\nM3\nG4 P0.6\nG1 X195 F1800\nM5\nM30", "extra-cut"),
        ("G0 X0 Y0\nM30", "G0 X130 Y45\nM3\nG4 P0.6\nG1 X135 F1800\nM5\nM30", "pierce-on-part"),
        ("G0 X0 Y0\nM30", "G0 X130 Y45\nM3\nG4 P0.6\nG1 X135 F1800\nM5\nM30", "bite"),
        ("G0 X0 Y0\nM30", "G0 X130 Y55\nM3\nG4 P0.6\nG1 X135 F1800\nM5\nM30", "pierce-on-freed"),
        ("G0 X0 Y0\nM30", "G0 X130 Y55\nM3\nG4 P0.6\nG1 X135 F1800\nM5\nM30", "cut-on-freed"),
        ("G0 X0 Y0\nM30", "G0 X150 Y100\nM7\nG1 X160 F500\nM9\nM30", "mark-off-part"),
        ("G0 X0 Y0\nM30", "G0 X110 Y45\nM7\nG1 X120 F500\nM9\nM30", "mark-on-freed"),
    ],
)  # fmt: skip
def test_each_broken_rule_is_named(old: str, new: str, code: str) -> None:
    assert code in codes(judge(plain(), edited(plain(), old, new)))


@cache
def flamed() -> Planned:
    sheet = sheet_of((DISC, Pose(60, 60)), (LINK, Pose(130, 60)), size=(260, 160))
    return planned(
        sheet, data=Library.load().choose("oxyfuel", "mild steel", 10.0), post="rs274-oxyfuel-preheat"
    )


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("\nM8\n", "\n", "flames out"),
        ("\nM9\n", "\n", "in a rapid"),
        ("\nM5\nM9\nM30", "\nM8\nG4 P1\nM30", "at the program's end"),
    ],
)
def test_flames_burn_at_each_start_and_at_no_travel(old: str, new: str, told: str) -> None:
    p = flamed()
    assert judge(p).passed, judge(p).faults[:3]
    verdict = judge(p, p.text.replace(old, new))
    assert any(fault.code == "flame" and told in fault.message for fault in verdict.faults)


@pytest.mark.parametrize(
    ("old", "new"),
    [("\nT1\n", "\nT4\n"), ("\nT1\n", "\n"), ("\nM3\n", "\nM3 T4\n"), ("M5\nM9", "M5\nM9\nT2")],
)
def test_a_program_lights_as_many_torches_as_are_planned(old: str, new: str) -> None:
    p = planned(sheet_of((DISC, Pose(40, 40)), size=(120, 120)), post="rs274-several-torches")
    assert judge(p).passed
    assert "torches" in codes(judge(p, edited(p, old, new)))


def test_no_travel_goes_below_the_plate() -> None:
    p = planned(sheet_of((DISC, Pose(40, 40)), size=(120, 120)), post="rs274-heights")
    assert judge(p).passed
    assert "height" in codes(judge(p, edited(p, "G0 Z30", "G0 Z-5")))


def blocks(p: Planned) -> tuple[list[str], list[list[str]], list[str]]:
    """Header, cut blocks and footer of a program."""
    lines = p.text.splitlines()
    starts = [i for i, line in enumerate(lines) if line.startswith("(cut ")]
    end = lines.index("G0 X0 Y0")
    return (
        lines[: starts[0]],
        [lines[a:b] for a, b in zip(starts, [*starts[1:], end], strict=True)],
        lines[end:],
    )


def assembled(p: Planned, order: list[int]) -> str:
    header, cuts, footer = blocks(p)
    return "\n".join([*header, *(line for k in order for line in cuts[k]), *footer])


def test_a_hole_after_its_outside_is_cut_on_loose_metal() -> None:
    verdict = judge(plain(), assembled(plain(), [1, 0, 2, 3]))
    assert {"cut-on-freed", "pierce-on-freed"} <= codes(verdict)


def test_a_part_in_a_hole_must_be_cut_before_the_hole() -> None:
    p = planned(sheet_of((RING, Pose(75, 75)), (DISC, Pose(75, 75)), size=(150, 150)))
    order = [cut[0] for cut in blocks(p)[1]]
    assert [("ring" in line, "hole" in line) for line in order] == [
        (False, True), (False, False), (True, True), (True, False),
    ]  # fmt: skip
    assert judge(p).passed
    assert "cut-on-freed" in codes(judge(p, assembled(p, [2, 0, 1, 3])))


def test_cuts_missing_or_twice_are_named() -> None:
    assert {"not-cut"} <= codes(judge(plain(), assembled(plain(), [1, 2, 3])))
    assert {"not-cut", "not-free"} <= codes(judge(plain(), assembled(plain(), [0, 1, 2])))
    assert {"cut-twice", "cut-on-freed"} & codes(judge(plain(), assembled(plain(), [0, 0, 1, 2, 3])))


def test_totals_are_held_against_the_plan() -> None:
    p = plain()
    right = verify(p.text, p.sheet, p.data, MACHINE, dialect=p.dialect, planned=p.cuts)
    assert right.passed
    fewer = replace(p.cuts, cuts=p.cuts.cuts[1:])
    longer = replace(p.cuts, cuts=(*p.cuts.cuts[:-1], replace(p.cuts.cuts[-1], length_mm=99.0)))
    for wrong in (fewer, longer):
        verdict = verify(p.text, p.sheet, p.data, MACHINE, dialect=p.dialect, planned=wrong)
        assert [fault.code for fault in verdict.faults] == ["totals"]


@pytest.mark.parametrize("shift", [0.08, 0.3])
def test_the_depth_of_a_bite_is_the_shift_that_made_it(shift: float) -> None:
    p = plain()
    verdict = judge(p, edited(p, "M5\nM9\n", f"M5\nM9\nG92 X{-shift} Y0\n"))
    assert verdict.worst_bite_mm == pytest.approx(shift, abs=0.002)
    assert verdict.worst_left_mm == pytest.approx(shift, abs=0.002)
    assert {"bite", "metal-left"} <= codes(verdict)


def test_a_shift_within_the_tolerance_passes() -> None:
    p = plain()
    verdict = judge(p, edited(p, "M5\nM9\n", "M5\nM9\nG92 X-0.03 Y0\n"))
    assert codes(verdict) == {"foreign", "not-restored"}


def test_an_open_contour_frees_nothing() -> None:
    header, cuts, footer = blocks(plain())
    last = cuts[3]
    stop = max(i for i, line in enumerate(last) if line.startswith(("G2", "G1", "X", "Y")))
    opened = [*last[: stop - 2], "M5"]
    text = "\n".join([*header, *(line for cut in cuts[:3] for line in cut), *opened, *footer])
    verdict = judge(plain(), text)
    assert {"metal-left", "not-free"} <= codes(verdict) and verdict.parts_freed == 1


def test_a_slot_narrower_than_the_kerf_is_a_fault_and_a_wider_one_is_not() -> None:
    def slotted(width: float) -> Part:
        half = width / 2
        return Part(
            "comb", polygon([(0, 0), (60, 0), (60, 40), (30 + half, 40), (30 + half, 10), (30 - half, 10), (30 - half, 40), (0, 40)])
        )  # fmt: skip

    wide = planned(sheet_of((slotted(KERF + 0.5), Pose(20, 20)), size=(120, 100)))
    assert judge(wide).passed
    narrow = sheet_of((slotted(KERF - 0.2), Pose(20, 20)), size=(120, 100))
    assert "too-narrow" in codes(judge(wide, sheet=narrow))


def test_a_clamp_under_the_torch_is_found() -> None:
    p = plain()
    clamp = polygon([(0, 90), (20, 90), (20, 120), (0, 120)])
    assert judge(p, sheet=replace(p.sheet, plate=replace(p.sheet.plate, keepouts=(Keepout(clamp),)))).passed
    clamp = polygon([(90, 30), (101, 30), (101, 60), (90, 60)])
    assert "keep-out" in codes(
        judge(p, sheet=replace(p.sheet, plate=replace(p.sheet.plate, keepouts=(Keepout(clamp),))))
    )


def test_a_small_table_is_too_small() -> None:
    assert "off-table" in codes(judge(plain(), machine=Machine(table=(150.0, 1500.0), marker=True)))


def test_heights_are_held_against_the_data_where_the_program_states_them() -> None:
    p = planned(sheet_of((DISC, Pose(40, 40)), size=(90, 90)), post="rs274-heights")
    assert judge(p).passed
    assert "height" in codes(judge(p, data=replace(p.data, cut_height=4.5)))
    assert "height" in codes(judge(p, data=replace(p.data, pierce_height=9.0)))


def test_a_drawn_mark_must_be_marked_before_its_part_is_loose() -> None:
    p = planned(sheet_of((GUSSET, Pose(20, 20)), (GUSSET, Pose(120, 20)), size=(230, 120)))
    assert judge(p).passed
    order = list(range(len(blocks(p)[1])))
    assert "mark-missing" in codes(judge(p, assembled(p, order[1:])))
    unmarked = assembled(p, [k for k in order if "mark" not in blocks(p)[1][k][0]])
    assert codes(judge(p, unmarked)) == {"mark-missing"}
    assert judge(p, unmarked, machine=replace(MACHINE, marker=False)).passed
    assert "mark-on-freed" in codes(judge(p, assembled(p, [*order[1:], 0])))


def test_small_holes_may_be_marked_for_drilling_instead() -> None:
    from sheets import in_order

    from cutplan.cutting import CuttingOptions, make_cuts
    from cutplan.program import find_postprocessor, write_program

    part = Part("lug", polygon([(0, 0), (50, 0), (50, 50), (0, 50)]), (circle((25, 25), 3, clockwise=True),))
    sheet = sheet_of((part, Pose(20, 20)), size=(90, 90))
    made = make_cuts(sheet, DATA, CuttingOptions(small_holes="mark"))
    post = find_postprocessor("rs274-metric")
    program = write_program(in_order(made.cuts, sheet), sheet, DATA, MACHINE, post, name="lug")
    verdict = verify(program.text, sheet, DATA, MACHINE, dialect=post.dialect)
    assert verdict.passed, verdict.faults[:3]


def test_plate_too_thick_to_pierce_is_entered_over_its_edge() -> None:
    data = replace(DATA, rules=replace(RULES, edge_start_above=5.0))
    p = planned(
        sheet_of((Part("bar", polygon([(0, 0), (60, 0), (60, 30), (0, 30)])), Pose(20, 20)), size=(100, 70)),
        data,
    )
    verdict = judge(p)
    assert verdict.passed, verdict.faults[:3]
    assert verdict.parts_freed == 1


def test_fillets_of_the_round_jet_are_set_aside_but_not_more() -> None:
    """A jet of radius r leaves (1 - pi/4) r² in a square corner (geometry)."""
    part = Part("step", polygon([(0, 0), (60, 0), (60, 20), (30, 20), (30, 50), (0, 50)]))
    p = planned(sheet_of((part, Pose(20, 20)), size=(110, 100)))
    assert judge(p).passed and judge(p).worst_left_mm < 0.005
    left = shapely.Polygon([(20, 20), (80, 20), (80, 40), (50, 40), (50, 70), (20, 70)])
    loose = shapely.box(0, 0, 110, 100).difference(skeleton(p.text, p.sheet, p.data, dialect=p.dialect))
    kerf = loose.difference(left).area
    around = 220 * KERF / 2
    assert kerf > around  # the kerf round the part, and leads besides


def test_the_skeleton_is_the_plate_without_kerf_and_parts() -> None:
    p = plain()
    rest = skeleton(p.text, p.sheet, p.data, dialect=p.dialect)
    disc = math.pi * (22 + KERF) ** 2
    r = 18 + KERF
    link = 60 * 2 * r + math.pi * r * r
    leads = 200 * 120 - disc - link - rest.area
    assert 0.0 < leads < 80.0
    assert rest.geom_type == "Polygon"
    assert area(p.sheet.plate.outline) == pytest.approx(200 * 120)


def test_the_disc_out_of_a_ring_is_an_offcut_and_the_ring_is_not() -> None:
    ring = Part("ring", circle((0, 0), 40), (circle((0, 0), 25, clockwise=True),))
    p = planned(sheet_of((ring, Pose(60, 60)), size=(120, 120)))
    (disc,) = offcuts(p.text, p.sheet, p.data, dialect=p.dialect)
    inside = shapely.Point(60, 60).buffer(25 - KERF, quad_segs=256)
    assert shapely.covers(inside.buffer(0.01), disc)
    assert inside.area - 3 * KERF * 25 < disc.area < inside.area
    assert offcuts(p.text.replace("M3\n", "M5\n"), p.sheet, p.data, dialect=p.dialect) == ()


def test_split_programs_are_proved_together() -> None:
    header, cuts, footer = blocks(plain())
    first = "\n".join([*header, *cuts[0], *cuts[1], *footer])
    second = "\n".join([*header, *cuts[2], *cuts[3], *footer])
    p = plain()
    verdict = verify([first, second], p.sheet, p.data, MACHINE, dialect=p.dialect)
    assert verdict.passed, verdict.faults[:3]
    assert "not-cut" in codes(verify(first, p.sheet, p.data, MACHINE, dialect=p.dialect))


def test_an_unreadable_program_is_a_fault_with_its_line() -> None:
    fault = judge(plain(), "G21 G90\nG0 X1 X2\nM30").faults[0]
    assert fault.code == "syntax" and fault.line == 2 and "column 7" in fault.message


def test_an_empty_program_cuts_nothing() -> None:
    verdict = judge(plain(), "G21 G90\nM30")
    assert {"not-cut", "not-free", "metal-left"} <= codes(verdict) and verdict.pierces == 0
    assert np.isinf(verdict.worst_left_mm)
