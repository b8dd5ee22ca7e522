"""Programs whose contour the control itself offsets by the kerf (G41, G42)."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hand_made_orders import (
    KERF,
    MACHINE,
    PLASMA,
    bracket_order,
    hole_cut,
    order_of,
    sheet_of,
    square_cut,
    tie_plates,
)
from replays import apart, furthest, strokes

from cutplan.base.errors import ProgramError
from cutplan.control import Dialect, read_program
from cutplan.cutting import Cut, CuttingOptions, LeadChoice, make_cuts
from cutplan.geometry import Path, chord_points, distance, length, point_at, polyline, reverse
from cutplan.program import find_postprocessor, write_program
from cutplan.program.compensation import LOWER_BY_MM
from cutplan.program.stretches import contour_of
from cutplan.sequencing import Order

POST = find_postprocessor("rs274-control-compensation")
RADIUS = KERF / 2
RESERVE = 0.02


def text_of(order: Order) -> str:
    return write_program(order, sheet_of([]), PLASMA, MACHINE, POST, name="x").text


def replayed(order: Order, radius: float = RADIUS) -> list[np.ndarray]:
    dialect = replace(POST.dialect, compensation_radius_mm=radius)
    return strokes(read_program(text_of(order), dialect))


def programmed(order: Order) -> list[np.ndarray]:
    """The programmed points: the same text with nothing in the register."""
    plain = "\n".join(line for line in text_of(order).splitlines() if not line.startswith(("G41", "G42")))
    return strokes(read_program(plain, Dialect()))


def turned(cut: Cut) -> Cut:
    """The same cut run the other way round."""
    lead = cut.choices[0]
    back = LeadChoice(reverse(lead.path), lead.end, lead.pierce, lead.lead_out_length, lead.lead_in_length)
    return replace(cut, choices=(back,))


def test_the_square_is_programmed_as_drawn() -> None:
    stroke = programmed(order_of([square_cut("tie-plate", 1, (20, 20), 80)]))[0]
    for corner in ((20, 20), (20, 100), (100, 100), (100, 20)):
        assert np.hypot(*(stroke - corner).T).min() <= 1e-4


@pytest.mark.parametrize("order", [tie_plates(2)[0], bracket_order()[0]], ids=["tie plates", "brackets"])
def test_the_programmed_contour_is_the_finished_edge_but_for_inside_corners(order: Order) -> None:
    """Inside corners have the fillet that a round jet leaves anyway, wider by the reserve."""
    cuts = [step.cut for step in order.steps if step.cut.kind != "mark"]
    fillet = (math.sqrt(2) - 1) * (RADIUS + RESERVE)
    for cut, stroke in zip(cuts, programmed(order), strict=True):
        edge = point_at(cut.makes[0].contour, np.linspace(0.0, length(cut.makes[0].contour), 2000))
        away = shapely.distance(shapely.LineString(stroke), shapely.points(edge))
        assert away.max() <= fillet + 0.01
        assert np.mean(away <= 1e-3) > 0.9


def test_a_smaller_register_moves_the_cut_towards_the_part_by_the_difference() -> None:
    order = order_of([hole_cut("tie-plate", 1, (60, 60), 15), square_cut("tie-plate", 1, (20, 20), 80)])
    hole, square = replayed(order, 0.8)
    rim = np.hypot(*(hole - [60, 60]).T)
    assert rim.max() == pytest.approx(15 - 0.8, abs=2e-4)
    assert square[:, 0].max() == pytest.approx(100 + 0.8, abs=2e-4)
    worn = bracket_order()[0]
    for cut, stroke in zip(worn.steps, replayed(worn, RADIUS - LOWER_BY_MM), strict=True):
        assert distance(cut.cut.makes[0].contour, stroke).min() >= RADIUS - LOWER_BY_MM - 2e-3


def test_the_other_direction_is_offset_to_the_other_side() -> None:
    cut = turned(square_cut("tie-plate", 1, (20, 20), 80))
    order = order_of([cut])
    assert "G42 D1" in text_of(order) and "G41" not in text_of(order)
    contour = chord_points(contour_of(cut.choices[0]), 2e-4)
    assert furthest(contour, replayed(order)[0]) <= 0.012


def test_the_offset_is_on_only_between_the_pierce_and_the_end_of_each_cut() -> None:
    lines = [line for line in text_of(tie_plates(2)[0]).splitlines() if not line.startswith("(")]
    on = [k for k, line in enumerate(lines) if line.startswith("G41")]
    assert len(on) == 4
    for k in on:
        assert lines[k - 2 : k] == ["M3", "G4 P0.6"] and lines[k + 1].startswith("G1 ")
        following = lines[k + 1 :]
        assert following.index("G40") < following.index("M5")
        assert not any(line.startswith("G0") for line in following[: following.index("G40")])


def test_the_entry_move_is_a_line_longer_than_the_radius_and_ends_beside_the_contour() -> None:
    """NISTIR 6556, appendix B: the first move must be longer than the tool's radius."""
    for order in (tie_plates(2)[0], bracket_order()[0]):
        motions = read_program(
            "\n".join(line for line in text_of(order).splitlines() if not line.startswith("G41")), Dialect()
        )
        lit = np.flatnonzero(np.diff(motions.torch.astype(int)) == 1) + 1
        for k in lit:
            first = next(n for n in range(k, len(motions)) if (motions.start[n] != motions.end[n]).any())
            assert motions.turns[first] == 0.0
            assert np.hypot(*(motions.end[first] - motions.start[first])[:2]) > RADIUS


@pytest.mark.parametrize("lead", ["arc", "straight"])
@pytest.mark.parametrize("corners", ["round", "loop", "plain"])
def test_the_standard_accepts_every_form_of_lead_and_corner(lead: str, corners: str) -> None:
    """The strict reader refuses concave corners, entries that are too short and arcs that are too tight."""
    _, sheet = bracket_order()
    options = CuttingOptions(lead=lead, corners=corners)  # type: ignore[arg-type]
    cuts = make_cuts(sheet, PLASMA, options).cuts
    for choice in (0, 3):
        picked = [replace(cut, choices=cut.choices[choice % len(cut.choices) :][:1]) for cut in cuts]
        order = order_of(picked)
        assert not POST.dialect.concave_corners
        for step, stroke in zip(order.steps, replayed(order), strict=True):
            # A sharp outer corner becomes round under the control's offset: never nearer to the part.
            assert distance(step.cut.makes[0].contour, stroke).min() >= RADIUS - 2e-3
            planned = chord_points(contour_of(step.lead), 5e-4)
            slack = (math.sqrt(2) - 1) * RADIUS + 0.01 if corners == "plain" else 0.02
            assert furthest(planned, stroke) <= slack


def test_a_turn_too_sharp_for_the_control_is_an_error_with_its_place() -> None:
    path = polyline([(0, 0), (20, 0), (20.004, 0.004), (20, 0.5), (0, 0.5)])
    cut = square_cut("tie-plate", 1, (20, 20), 80)
    lead = cut.choices[0]
    moved = path.vertices + np.array([*lead.end, 0.0])
    joined = np.vstack([lead.path.vertices[:-1], moved])
    broken = LeadChoice(
        Path(joined, closed=False), lead.pierce, (0, 0), lead.lead_in_length, 40.0 + lead.lead_out_length
    )
    with pytest.raises(ProgramError, match=r"cannot offset this path.*at \(\d+\.\d+, \d+\.\d+\) mm"):
        text_of(order_of([replace(cut, choices=(broken,))]))


def test_the_head_says_which_radius_the_operator_sets() -> None:
    assert "register radius 1 mm [diameter 2], it may be set up to 0.2 lower, not higher" in text_of(
        tie_plates(1)[0]
    )
    order = tie_plates(1)[0]
    with pytest.raises(ProgramError):
        read_program(text_of(bracket_order()[0]), replace(POST.dialect, compensation_radius_mm=RADIUS + 0.1))
    assert apart(replayed(order)[0], replayed(order, RADIUS)[0]) == 0.0
