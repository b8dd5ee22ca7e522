"""The proof of bevels in three dimensions: honest programs by every head, and what it refuses."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from cutplan.control import Dialect, head_angles, jet_at, read_program
from cutplan.drawing import EdgePreparation, section_at
from cutplan.verification import unmade_bevels
from cutplan.verification.burns import find_runs
from cutplan.verification.jets import jets_of
from tests.bevel_sheets import Made, programs, rectangle, round_nosed

TOP = EdgePreparation("Y", 30.0, span=(0.0, 300.0), land_mm=3.0)
BOTH = EdgePreparation(
    "double Y", 35.0, span=(0.0, 200.0), land_mm=4.0, side="both", depth_mm=20.0, below_deg=25.0
)
ROUND = EdgePreparation("V", 30.0, span=(0.0, 150.0 + 80.0 * math.pi + 150.0))


@pytest.mark.parametrize("head", ["hand", "BC", "AB"])
@pytest.mark.parametrize("turn", [0.0, 90.0, 33.0])
def test_straight_edges_are_proved_by_every_head(head: str, turn: float) -> None:
    for made in programs(rectangle(TOP), 20.0, head, rotation_deg=turn):
        verdict = made.verdict()
        assert verdict.passed, verdict.faults
        assert max(verdict.worst_bite_mm, verdict.worst_left_mm) < 0.01


@pytest.mark.parametrize("head", ["BC", "AB"])
def test_round_edges_are_proved_by_heads_that_turn(head: str) -> None:
    for made in programs(round_nosed(ROUND), 20.0, head):
        verdict = made.verdict()
        assert verdict.passed, verdict.faults
        assert max(verdict.worst_bite_mm, verdict.worst_left_mm) < 0.03


def test_both_slopes_of_a_double_y_are_proved() -> None:
    made = programs(rectangle(BOTH), 45.0, process="oxyfuel", square="first")
    assert [(each.asked.when, each.asked.slope) for each in made] == [("before", "lower"), ("after", "upper")]
    assert all(each.verdict().passed for each in made)


def test_all_round_is_proved() -> None:
    made = programs(rectangle(EdgePreparation("V", 30.0)), 20.0)
    for each in made:
        assert each.verdict().passed, each.verdict().faults
    assert not unmade_bevels(made[0].sheet, [each.asked for each in made])
    missing = unmade_bevels(made[0].sheet, [made[0].asked])
    assert [fault.code for fault in missing] == ["bevel-missing"]


def test_all_round_at_once_is_refused() -> None:
    """The same runs all before the square cut would cut the part loose."""
    first, last = programs(rectangle(EdgePreparation("V", 30.0)), 20.0)
    body = last.program.text.split("M9\n", 1)[1].split("G0 X0 Y0", 1)[0]
    text = first.program.text.replace("G0 X0 Y0", f"{body}G0 X0 Y0", 1)
    assert "bevel-frees" in {fault.code for fault in first.verdict(text).faults}


def edited(made: Made, old: str, new: str) -> set[str]:
    text = re.sub(old, new, made.program.text, count=1)
    assert text != made.program.text
    return {fault.code for fault in made.verdict(text).faults}


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        (r"B30\b", "B31", "bevel-angle"),
        (r"B30\b", "B29.3", "bevel-angle"),
        (r"B30\b", "B-30", "bevel-missing"),
        (r"C-90\b", "C90", "bevel-bite"),
        (r"(M3\n(?:G4.*\n)?)G1 (X\S+) ", r"\1G1 X-1 ", "off-plate"),
        (r"F1952", "F3000", "feed"),
    ],
)
def test_wrong_angles_sides_and_feeds_are_refused(old: str, new: str, code: str) -> None:
    (made,) = programs(rectangle(TOP), 20.0)
    assert code in edited(made, old, new)


def test_a_land_that_is_off_is_refused() -> None:
    """Half a millimetre sideways moves where slope and outline meet by 0.5 / tan 30°."""
    (made,) = programs(rectangle(EdgePreparation("Y", 30.0, span=(0.0, 200.0), land_mm=3.0)), 20.0)
    y = float(re.findall(r"Y([0-9.]+)", made.program.text)[0])
    moved = made.program.text.replace(f"Y{y:g}", f"Y{y + 0.5:g}")
    assert {"bevel-land", "bevel-bite"} <= {fault.code for fault in made.verdict(moved).faults}


def test_a_run_that_ends_short_is_refused() -> None:
    (made,) = programs(rectangle(EdgePreparation("Y", 30.0, span=(0.0, 200.0), land_mm=3.0)), 20.0)
    assert "bevel-missing" in edited(made, r"X300\nX[0-9.]+\nM5", "X320\nM5")


def test_a_program_that_leaves_the_head_leaning_is_refused() -> None:
    (made,) = programs(rectangle(TOP), 20.0)
    assert "not-restored" in edited(made, r" B0 C0", "")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (r"SET TORCH 30 DEG", "SET TORCH 40 DEG"),
        (r"TOWARDS 270 DEG", "TOWARDS 90 DEG"),
        (r"M0\n", ""),
        (r"\(SET TORCH.*\)\n", ""),
    ],
)
def test_a_setting_by_hand_that_is_not_told_as_planned_is_refused(old: str, new: str) -> None:
    made = programs(rectangle(EdgePreparation("Y", 30.0, span=(0.0, 200.0), land_mm=3.0)), 20.0, "hand")[0]
    assert "bevel-setting" in edited(made, old, new)


def test_a_square_cut_that_begins_in_a_groove_is_refused() -> None:
    (made,) = programs(rectangle(EdgePreparation("Y", 30.0, span=(0.0, 200.0), land_mm=3.0)), 20.0)
    asked = replace(made.asked, square_starts=((400.0, 252.0), (400.0, 200.0)))
    faults = replace(made, asked=asked).verdict().faults
    assert [(fault.code, fault.place) for fault in faults] == [("bevel-start", (400.0, 252.0))]


def test_a_fixed_torch_bevels_nothing() -> None:
    (made,) = programs(rectangle(TOP), 20.0)
    plain = replace(
        made, post=type(made.post)("plain", made.post.settings.model_copy(update={"bevel": None}), "")
    )
    text = re.sub(r" [BC]-?[0-9.]+", "", made.program.text)
    assert "bevel-setting" in {fault.code for fault in plain.verdict(text).faults}


# Heads, by the axes of NISTIR 6556.


@pytest.mark.parametrize("head", ["AB", "BC"])
@pytest.mark.parametrize("tilt", [0.0, 20.0, 45.0])
@pytest.mark.parametrize("towards", [0.0, 37.0, 90.0, 180.0, 271.0])
def test_both_heads_lean_the_jet_alike(head: str, tilt: float, towards: float) -> None:
    jet = jet_at(head, np.array([head_angles(head, tilt, towards)]))[0]  # type: ignore[arg-type]
    sine = math.sin(math.radians(tilt))
    wanted = [
        sine * math.cos(math.radians(towards)),
        sine * math.sin(math.radians(towards)),
        -math.cos(math.radians(tilt)),
    ]
    assert jet == pytest.approx(wanted, abs=1e-12)


def test_rotary_words_turn_along_with_their_move() -> None:
    text = (
        "G21 G90 G17 G40 G94 G54 G64\nM5\nM9\nG0 X0 Y0 B10 C0\nG1 X10 Y0 C90 F100\nX20 Y0\nG0 X0 Y0 B0\nM30\n"
    )
    motions = read_program(text, Dialect(head="BC"))
    before, after = motions.head_angles()
    rows = [row for row in range(len(motions)) if motions.kind[row] < 4]
    assert after[rows].tolist() == [[0, 10, 0], [0, 10, 90], [0, 10, 90], [0, 0, 90]]
    assert before[rows].tolist() == [[0, 0, 0], [0, 10, 0], [0, 10, 90], [0, 10, 90]]


def test_rotary_words_are_foreign_to_a_fixed_torch() -> None:
    from cutplan.base.errors import ProgramError

    with pytest.raises(ProgramError, match="no such axis"):
        read_program("G21 G90\nG0 X0 Y0 B10\nM30\n", Dialect())


# Against a general-purpose library of solids: what the swept jet takes from a block.


def test_the_swept_jet_is_that_of_a_solid() -> None:
    """A cylinder along the jet, swept straight by the library's hull, takes what the proof says it takes."""
    (made,) = programs(rectangle(EdgePreparation("Y", 30.0, span=(0.0, 200.0), land_mm=3.0)), 20.0)
    motions = read_program(made.program.text, made.post.dialect)
    runs = find_runs(motions, motions.torch)
    jets = jets_of(motions, runs, made.post.dialect, 0.5 * made.runs.data.kerf, None)
    ends = np.vstack([jets.start, jets.end])
    cylinder = manifold3d.Manifold.cylinder(200.0, jets.radius, jets.radius, 512).translate(
        (0.0, 0.0, -100.0)
    )
    x, y, z = jets.jet[0]
    cylinder = cylinder.rotate((0.0, math.degrees(math.acos(-z)), 0.0)).rotate(
        (0.0, 0.0, math.degrees(math.atan2(-y, -x)))
    )
    placed = [cylinder.translate((float(px), float(py), 0.0)) for px, py in ends]
    swept = manifold3d.Manifold.batch_hull(placed)
    for depth in (0.0, 6.0, 17.0, 20.0):
        (ring,) = swept.slice(-depth).to_polygons()
        import shapely

        solid = shapely.Polygon(ring)
        ours = jets.slice_at(depth, grow=False)
        # Flat ends, and sides 0.005 mm narrower: never more than the solid's own.
        assert ours.difference(solid.buffer(1e-3)).area < 0.01
        assert jets.slice_at(depth, grow=True).buffer(0.02).contains(solid)


def test_the_finished_part_is_that_of_a_solid() -> None:
    """The block less the wedge over the slope, cut by the library at five depths."""
    part = rectangle(EdgePreparation("Y", 30.0, span=(0.0, 200.0), land_mm=3.0))
    block = manifold3d.Manifold.cube((200.0, 100.0, 20.0))
    setback = 17.0 * math.tan(math.radians(30.0))
    wedge = manifold3d.Manifold.hull_points(
        [(x, y, z) for x in (-50.0, 250.0) for y, z in ((0.0, 3.0), (0.0, 20.0), (setback, 20.0))]
    )
    solid = block - wedge
    for depth in (0.5, 5.0, 10.0, 16.9, 19.0):
        ours = section_at(part, depth, 20.0).area
        assert ours == pytest.approx(solid.slice(20.0 - depth).area(), rel=1e-6)
