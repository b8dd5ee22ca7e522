"""Starts lie where their mark does least: at corners and rounded ends, off kept edges, wide on to thick walls."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from cutplan.cutting import CuttingOptions, make_cuts
from cutplan.cutting.leads import KEPT_EDGE_PENALTY_S, LONG_EDGE_PENALTY_S
from cutplan.drawing import EdgePreparation, KeptEdge, Part
from cutplan.geometry import Path, Pose, circle, direction_at, polygon

BAR = polygon([(0, 0), (300, 0), (300, 60), (0, 60)])
ROUND_END = Path([(0, 0, 0.0), (200, 0, 1.0), (200, 60, 0.0), (0, 60, 1.0)], closed=True)


def outside_of(made):
    return next(cut for cut in made.cuts if cut.kind == "outside")


def join(choice):
    """Where a lead-in comes to the contour."""
    return choice.path.points[1]


@pytest.mark.parametrize("outer", [BAR, ROUND_END])
def test_no_outside_starts_in_the_middle_of_a_long_edge_where_another_place_will_do(outer, plasma, sheet_of):
    cut = outside_of(make_cuts(sheet_of([(Part("bar", outer), Pose(100, 100))]), plasma))
    usual = [c for c in cut.choices if c.penalty_s < LONG_EDGE_PENALTY_S]
    assert len(usual) >= 3
    for choice in usual:
        x, _ = join(choice) - 100
        ends = (0, 300) if outer is BAR else (0, 200)
        assert x <= ends[0] + 2.5 or x >= ends[1] - 2.5
    # The others are there for want of better, and cost more than any travel.
    assert all(c.penalty_s >= LONG_EDGE_PENALTY_S for c in cut.choices if c not in usual)


def test_a_bar_without_corners_in_reach_starts_on_its_edge_all_the_same(plasma, sheet_of):
    disc = make_cuts(sheet_of([(Part("disc", circle((0, 0), 80)), Pose(200, 200))]), plasma)
    assert all(c.penalty_s < LONG_EDGE_PENALTY_S for c in outside_of(disc).choices)


@pytest.mark.parametrize("asked", ["kept", "bevels"])
def test_edges_that_are_seen_or_welded_are_kept_free_of_starts(asked, plasma, sheet_of):
    span = (0.0, 300.0)
    edges = {"kept": (KeptEdge(None, span),), "bevels": (EdgePreparation("V", 30.0, None, span),)}
    part = replace(Part("bar", BAR), **{asked: edges[asked]})
    made = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma)
    for choice in outside_of(made).choices:
        x, y = join(choice) - 100
        on_edge = 3.0 < x < 297.0 and abs(y + 1.0) < 0.5
        assert on_edge == (choice.penalty_s >= KEPT_EDGE_PENALTY_S)
    assert made.findings == ()


def test_a_contour_that_is_kept_all_round_starts_with_a_warning(plasma, sheet_of):
    part = replace(Part("disc", circle((0, 0), 80)), kept=(KeptEdge(None, None),))
    made = make_cuts(sheet_of([(part, Pose(200, 200))]), plasma)
    (finding,) = made.findings
    assert "kept free of starts" in finding.message and outside_of(made).choices


@pytest.mark.parametrize("thickness", [10.0, 30.0])
@pytest.mark.parametrize("radius", [12.0, 20.0, 40.0, 120.0])
def test_the_way_into_a_round_hole_is_a_wide_arc_and_never_square_on_to_its_wall(
    radius, thickness, plasma, sheet_of
):
    data = replace(plasma, thickness=thickness)
    hole = circle((0, 0), radius, clockwise=True)
    part = Part("plate", polygon([(-150, -150), (150, -150), (150, 150), (-150, 150)]), (hole,))
    made = make_cuts(sheet_of([(part, Pose(200, 200))], thickness=thickness), data, CuttingOptions())
    (cut,) = [cut for cut in made.cuts if cut.kind == "hole"]
    room = radius - 1.0
    for choice in cut.choices:
        ahead = direction_at(
            choice.path, np.array([choice.lead_in_length - 1e-3, choice.lead_in_length + 1e-3])
        )
        assert float(ahead[0] @ ahead[1]) > 0.99
    best = min(cut.choices, key=lambda choice: choice.penalty_s)
    arc = best.path.segments.radius[0]
    # As wide as the plate is thick, or from the hole's middle where that is no room for it.
    assert arc == pytest.approx(min(max(thickness, 2.0 * plasma.rules.lead_in / np.pi), 0.5 * room), abs=1e-3)
