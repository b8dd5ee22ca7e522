"""Runs that bevel: where the jet's axis goes, which run comes when, what is refused, what room they take."""

from __future__ import annotations

import math

import numpy as np
import pytest

from cutplan.cutting import BevelHead, bevel_cuts, bevel_foot, bevel_refusals
from cutplan.drawing import EdgePreparation, edge_at, make_part
from cutplan.geometry import circle, polygon
from tests.bevel_sheets import rectangle, round_nosed, sheet_of, tilted

TOP = EdgePreparation("Y", 30.0, span=(0.0, 200.0), land_mm=3.0)
BOTH = EdgePreparation("double Y", 30.0, span=(0.0, 200.0), land_mm=4.0, side="both")
TURNING, BY_HAND = BevelHead(True, 45.0), BevelHead(False, 45.0)


def test_the_axis_lies_outside_the_slope_by_half_the_kerf_across_the_jet() -> None:
    """Closed form: setback (t - land)·tan β behind the outline, r / cos β outside of that."""
    part = rectangle(TOP)
    data = tilted(part, 20.0)
    (runs,) = bevel_cuts(sheet_of(part, 20.0), data, TURNING, "last")
    path = runs.cuts[0].choices[0].path
    across = 0.5 * data[30.0].kerf / math.cos(math.radians(30.0))
    inside = 17.0 * math.tan(math.radians(30.0)) - across
    assert path.points[:, 1] == pytest.approx(np.full(len(path.points), 250.0 + inside))


def test_a_lower_slope_has_its_axis_before_the_outline() -> None:
    part = rectangle(EdgePreparation("Y", 30.0, span=(0.0, 200.0), land_mm=3.0, side="bottom"))
    data = tilted(part, 20.0)
    (runs,) = bevel_cuts(sheet_of(part, 20.0), data, TURNING, "last")
    across = 0.5 * data[30.0].kerf / math.cos(math.radians(30.0))
    outside = 3.0 * math.tan(math.radians(30.0)) + across
    assert runs.cuts[0].choices[0].path.points[:, 1] == pytest.approx(250.0 - outside)


def test_the_data_are_those_of_the_thickness_along_the_jet() -> None:
    part = rectangle(TOP)
    (runs,) = bevel_cuts(sheet_of(part, 20.0), tilted(part, 20.0), TURNING, "last")
    assert runs.data.thickness == pytest.approx(20.0 / math.cos(math.radians(30.0)))


def test_lower_slopes_come_first_and_upper_ones_behind_the_square_cut_with_oxygen() -> None:
    part = rectangle(BOTH)
    sheet, data = sheet_of(part, 40.0), tilted(part, 40.0, "oxyfuel")
    first = [(each.when, each.slope) for each in bevel_cuts(sheet, data, TURNING, "first")]
    assert first == [("before", "lower"), ("after", "upper")]
    last = [(each.when, each.slope) for each in bevel_cuts(sheet, data, TURNING, "last")]
    assert last == [("before", "lower"), ("before", "upper")]


def test_where_all_of_an_outside_is_bevelled_the_shortest_edge_waits_for_the_square_cut() -> None:
    part = rectangle(EdgePreparation("V", 30.0))
    sets = bevel_cuts(sheet_of(part, 20.0), tilted(part, 20.0), TURNING, "last")
    assert [(each.when, len(each.cuts)) for each in sets] == [("before", 3), ("after", 1)]


def test_a_torch_set_by_hand_has_a_setting_for_each_way_that_it_leans() -> None:
    part = rectangle(EdgePreparation("V", 30.0, span=(0.0, 300.0)))
    sets = bevel_cuts(sheet_of(part, 20.0, 90.0), tilted(part, 20.0), BY_HAND, "last")
    assert sorted(each.towards_deg for each in sets if each.towards_deg is not None) == [0.0, 90.0]


@pytest.mark.parametrize(
    ("part", "head", "told"),
    [
        (rectangle(EdgePreparation("V", 50.0, span=(0.0, 200.0))), TURNING, "leans 45° at most"),
        (round_nosed(EdgePreparation("V", 30.0, span=(0.0, 150.0))), TURNING, "ends where the contour goes on"),
        (round_nosed(EdgePreparation("V", 30.0, span=(0.0, 551.327))), BY_HAND, "straight edges only"),
        (rectangle(EdgePreparation("V", 30.0, span=(20.0, 120.0))), TURNING, "ends where the contour goes on"),
    ],
)  # fmt: skip
def test_what_the_head_cannot_cut_is_refused(part: object, head: BevelHead, told: str) -> None:
    (error,) = bevel_refusals(part, 20.0, tilted(part, 20.0), head)  # type: ignore[arg-type]
    assert told in error.message and error.place is not None and "elsewhere" in (error.remedy or "")


def test_a_jet_that_would_run_into_another_limb_is_refused() -> None:
    """The edge in the notch of a U: its run-out comes to the limb beside it."""
    from dataclasses import replace

    outline = polygon([(0, 0), (200, 0), (200, 100), (150, 100), (150, 60), (50, 60), (50, 100), (0, 100)])
    part = replace(make_part("u", outline), bevels=(EdgePreparation("V", 30.0, span=(390.0, 490.0)),))
    (error,) = bevel_refusals(part, 20.0, tilted(part, 20.0), TURNING)
    assert "ends where the contour goes on" in error.message or "another limb" in error.message


def test_bevels_in_holes_are_refused() -> None:
    from dataclasses import replace

    part = replace(
        make_part("ring", circle((0, 0), 150), [circle((0, 0), 60)]),
        bevels=(EdgePreparation("V", 30.0, hole=0),),
    )
    (error,) = bevel_refusals(part, 20.0, tilted(part, 20.0), TURNING)
    assert "no start in a hole" in error.message


def test_the_foot_holds_the_jet_at_top_and_bottom() -> None:
    part = rectangle(BOTH)
    data = tilted(part, 40.0, "oxyfuel")
    foot = bevel_foot(part, 40.0, data)
    assert foot is not None
    x0, y0, x1, _ = foot.bounds
    below = 22.0 * math.tan(math.radians(30.0))
    assert y0 <= -(below + 2.0 * 0.5 * data[30.0].kerf / math.cos(math.radians(30.0)))
    assert x0 < 0.0 and x1 > 200.0
    assert bevel_foot(rectangle(), 40.0, {}) is None


def test_beside_a_blunt_corner_the_pierce_keeps_its_clearance_from_the_next_edge() -> None:
    """The edge beyond a snipe of 45 degrees runs along beside the run-out."""
    from dataclasses import replace

    from cutplan.geometry import distance

    part = make_part("sniped", polygon([(0, 0), (200, 0), (200, 100), (40, 100), (0, 60)]))
    part = replace(part, bevels=(EdgePreparation("V", 30.0, span=edge_at(part, (0.0, 30.0)).span),))
    data = tilted(part, 20.0)
    assert not list(bevel_refusals(part, 20.0, data, TURNING))
    (runs,) = bevel_cuts(sheet_of(part, 20.0), data, TURNING, "last")
    pierce = np.array([runs.cuts[0].choices[0].pierce]) - [300.0, 250.0]
    assert float(distance(part.outer, pierce)[0]) >= data[30.0].rules.pierce_clearance
