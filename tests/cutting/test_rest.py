"""The rest cut: where the line lies, what it keeps off, and when there is none."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from cutplan.cutting import CuttingOptions, RestCut, Techniques, gaps_for, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Pose, chord_points, polygon

TIE = Part("tie", polygon([(0, 0), (160, 0), (160, 60), (0, 60)]))
AT_LEFT = [(TIE, Pose(10, 10)), (TIE, Pose(10, 90)), (TIE, Pose(10, 170)), (TIE, Pose(10, 250))]


def asked(**rest):
    return CuttingOptions(techniques=Techniques(rest_cut=RestCut(**rest)))


def rest_of(made):
    return [cut for cut in made.cuts if cut.kind == "rest"]


def test_the_rest_is_parted_from_edge_to_edge_at_the_nests_end(plasma, sheet_of):
    made = make_cuts(sheet_of(AT_LEFT), plasma, asked())
    (cut,) = rest_of(made)
    assert cut.makes == () and cut.frees == () and made.findings == ()
    ends = {tuple(np.round(sorted(choice.path.points[:, 1]), 6)) for choice in cut.choices}
    # Half the kerf and 3 mm beside the plate, the plate's edges, and so again.
    assert ends == {(-4.0, 0.0, 400.0, 404.0)}
    assert all(choice.edge_start for choice in cut.choices)
    at = set(np.round(cut.choices[0].path.points[:, 0], 6))
    assert at == {10 + 160 + gaps_for(plasma).gap}


def test_no_lead_that_is_left_on_offer_reaches_the_line(plasma, with_rules, sheet_of):
    long = with_rules(plasma, lead_in=14.0)
    plain = make_cuts(sheet_of(AT_LEFT), long)
    made = make_cuts(sheet_of(AT_LEFT), long, asked())
    (cut,) = rest_of(made)
    line = shapely.LineString(cut.choices[0].path.points)
    leads = [
        shapely.LineString(chord_points(c.path, 0.01)) for other in made.cuts[:-1] for c in other.choices
    ]
    assert min(line.distance(lead) for lead in leads) > plasma.kerf
    assert all(len(other.choices) >= 3 for other in made.cuts[:-1])
    assert len(leads) < sum(len(other.choices) for other in plain.cuts)


def test_the_direction_with_the_rest_on_the_square_side_is_the_better_one(plasma, sheet_of):
    (cut,) = rest_of(make_cuts(sheet_of(AT_LEFT), plasma, asked()))
    best = min(cut.choices, key=lambda choice: choice.penalty_s)
    # Square on the right of the travel, the rest at the right: upwards.
    assert plasma.rules.square_side == "right" and best.end[1] > best.pierce[1]


@pytest.mark.parametrize(
    "places, axis, where",
    [([(430, y) for y in (10, 90, 170, 250, 330)], 0, "left"), ([(x, 10) for x in (10, 180, 350)], 1, "top")],
)
def test_the_rest_may_lie_on_any_side(places, axis, where, plasma, sheet_of):
    made = make_cuts(sheet_of([(TIE, Pose(*at)) for at in places]), plasma, asked(keep_mm=(300, 300)))
    (cut,) = rest_of(made)
    assert np.ptp(cut.choices[0].path.points[:, axis]) == 0.0


def test_a_rest_too_small_to_keep_stays_on(plasma, sheet_of):
    made = make_cuts(sheet_of(AT_LEFT), plasma, asked(keep_mm=(430, 400)))
    assert rest_of(made) == [] and made.findings == ()


def test_a_step_keeps_more_where_it_is_asked_for(plasma, sheet_of):
    placed = [*AT_LEFT, (TIE, Pose(180, 10))]
    (straight,) = rest_of(make_cuts(sheet_of(placed), plasma, asked(keep_mm=(200, 200))))
    stepped = make_cuts(sheet_of(placed), plasma, asked(keep_mm=(200, 200), shape="stepped"))
    (cut,) = rest_of(stepped)
    assert len(straight.choices[0].path.points) == 4 and len(cut.choices[0].path.points) == 6
    line = shapely.LineString(cut.choices[0].path.points)
    gap = gaps_for(plasma).gap
    for part, pose in placed:
        box = shapely.box(pose.x, pose.y, pose.x + 160, pose.y + 60)
        assert line.distance(box) >= gap - 1e-6, part


def test_a_clamp_moves_the_line_beyond_it(plasma, sheet_of):
    clamp = polygon([(170, 380), (200, 380), (200, 400), (170, 400)])
    (cut,) = rest_of(make_cuts(sheet_of(AT_LEFT, keepouts=(clamp,)), plasma, asked()))
    line = shapely.LineString(cut.choices[0].path.points)
    assert line.distance(shapely.box(170, 380, 200, 400)) > CuttingOptions().torch_radius_mm


def test_a_table_without_room_beside_the_plate_is_told(plasma, sheet_of):
    options = CuttingOptions(techniques=Techniques(rest_cut=True), table_mm=(600.0, 400.0))
    made = make_cuts(sheet_of(AT_LEFT), plasma, options)
    assert rest_of(made) == []
    (finding,) = made.findings
    assert "the rest stays on the skeleton" in finding.message and "table's travel" in finding.message
