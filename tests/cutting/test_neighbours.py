"""Leads keep off every other part, the plate's edge and keep-outs, and the gap leaves room for them."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from cutplan.cutting import CuttingOptions, gaps_for, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Pose, chord_points, circle, polygon, reverse
from cutplan.stock import Keepout

SQUARE = Part("square", polygon([[0, 0], [80, 0], [80, 80], [0, 80]]))
RING = Part("ring", circle((0, 0), 100), (circle((0, 0), 70, clockwise=True),))
DISC = Part("disc", circle((0, 0), 40))


def assert_starts_in_scrap(made, sheet, data, metal_of, clearance):
    """No lead's kerf touches a part, and every pierce keeps its clearance from all edges."""
    metal = [metal_of(placement.part, placement.pose, 2e-3) for placement in sheet.placements]
    inner_plate = shapely.Polygon(sheet.plate.outline.points).buffer(-0.5 * data.kerf)
    everything = shapely.union_all(metal)
    shapely.prepare([everything, inner_plate])
    for index in range(len(metal)):
        others = shapely.union_all([m for i, m in enumerate(metal) if i != index])
        shapely.prepare(others)
        choices = [
            c
            for cut in made.cuts
            if cut.makes[0].placement == index and cut.kind != "mark"
            for c in cut.choices
        ]
        lines = [shapely.LineString(chord_points(choice.path, 2e-3)) for choice in choices]
        pierces = shapely.points([choice.pierce for choice in choices])
        assert not shapely.dwithin(everything, lines, 0.5 * data.kerf - 5e-3).any()
        assert not shapely.dwithin(everything, pierces, clearance - 1e-3).any()
        assert not shapely.dwithin(others, lines, 0.5 * data.kerf + 0.4).any()
        assert shapely.contains(inner_plate, lines).all()


def assert_clear_of_kerfs(made, data, clearance):
    """Every pierce on offer keeps its clearance from the kerf round every other contour of the sheet.

    The hole that a part lies in is cut after the part, and its kerf is not there yet.
    """
    rings = [
        shapely.LinearRing(chord_points(cut.makes[0].contour, 2e-3)).buffer(data.kerf) for cut in made.cuts
    ]
    for cut in made.cuts:
        for other, ring in zip(made.cuts, rings, strict=True):
            host = cut.inside_of == other.makes[0].placement and other.kind == "hole"
            if (
                other.makes[0].placement == cut.makes[0].placement
                or host
                or other.makes[0].placement in cut.starts_before
            ):
                continue
            pierces = shapely.points([choice.pierce for choice in cut.choices])
            assert not shapely.dwithin(ring, pierces, clearance - 5e-3).any()


def slid_together(parts, gap, rng, metal_of):
    """Place parts one after the other, each slid towards the middle until the gap holds."""
    placed, metal = [], []
    for part in parts:
        turn, angle = float(rng.uniform(0, 360)), rng.uniform(0, 2 * math.pi)
        direction = np.array([math.cos(angle), math.sin(angle)])
        shape = metal_of(part, Pose(0, 0, turn), 2e-3)
        far, near = 500.0, 0.0
        others = shapely.union_all(metal)
        shapely.prepare(others)
        while metal and far - near > 1e-6:
            middle = 0.5 * (far + near)
            moved = shapely.affinity.translate(shape, *(middle * direction))
            near, far = (middle, far) if shapely.dwithin(others, moved, gap) else (near, middle)
        reach = far if metal else 0.0
        placed.append((part, Pose(600 + reach * direction[0], 600 + reach * direction[1], turn)))
        metal.append(shapely.affinity.translate(shape, *(reach * direction)))
    return placed


@settings(max_examples=12, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10**6))
def test_parts_at_exactly_the_gap_all_find_a_start(seed, plasma, sheet_of, random_part, metal_of):
    rng = np.random.default_rng(seed)
    data = replace(plasma, kerf=float(rng.uniform(1.2, 3.5)), rules=replace(plasma.rules, part_gap=1.0))
    gap = gaps_for(data).gap
    parts = [random_part(seed + k) for k in range(5)]
    sheet = sheet_of(slid_together(parts, gap, rng, metal_of), size=(1200, 1200))
    made = make_cuts(sheet, data)
    refused = [finding.message for finding in made.findings if finding.kind == "refused"]
    assert not [message for message in refused if "no start" in message]
    widths = [
        shapely.maximum_inscribed_circle(shapely.Polygon(chord_points(hole, 2e-3)), tolerance=2e-3).length
        for part in parts
        for hole in part.holes
    ]
    # A hole too narrow for the clearance is pierced near its middle.
    clearance = min([3.5, *(0.9 * width for width in widths)])
    assert_starts_in_scrap(made, sheet, data, metal_of, clearance - 5e-3)
    assert_clear_of_kerfs(made, data, clearance)


@pytest.mark.parametrize("clearance", [1.0, 3.5, 8.0])
def test_a_full_grid_at_the_gaps_finds_full_pierce_clearance(
    clearance, plasma, with_rules, sheet_of, metal_of
):
    """Parallel edges, at exactly the gap from each other and from the plate's edge."""
    data = with_rules(plasma, pierce_clearance=clearance, part_gap=1.0, edge_gap=1.0)
    rules = gaps_for(data)
    steps = [rules.edge + k * (80 + rules.gap) for k in range(3)]
    size = 2 * rules.edge + 3 * 80 + 2 * rules.gap
    sheet = sheet_of([(SQUARE, Pose(x, y)) for x in steps for y in steps], size=(size, size))
    made = make_cuts(sheet, data)
    assert not made.findings
    assert len(made.cuts) == 9
    assert all(len(cut.choices) >= 4 for cut in made.cuts)
    assert_starts_in_scrap(made, sheet, data, metal_of, max(clearance, 1.5))


def test_gaps_never_fall_under_those_of_the_process(plasma, with_rules):
    rules = gaps_for(with_rules(plasma, part_gap=25.0, edge_gap=30.0))
    assert (rules.gap, rules.edge) == (25.0, 30.0)
    tight = gaps_for(with_rules(plasma, part_gap=1.0, edge_gap=1.0, pierce_clearance=4.0))
    assert 10.0 < tight.gap < 10.1
    assert 8.0 < tight.edge < 8.1


def test_a_part_inside_a_hole_is_known_and_both_find_starts(plasma, sheet_of, metal_of):
    placed = [(RING, Pose(200, 200)), (DISC, Pose(195, 200)), (DISC, Pose(400, 200))]
    sheet = sheet_of(placed)
    made = make_cuts(sheet, plasma)
    assert not made.findings
    hosts = {(cut.makes[0].placement, cut.inside_of) for cut in made.cuts}
    assert hosts == {(0, None), (1, 0), (2, None)}
    assert_starts_in_scrap(made, sheet, plasma, metal_of, 3.5)


def test_the_tightest_hole_is_the_host(plasma, sheet_of):
    large = Part("large", circle((0, 0), 180), (circle((0, 0), 130, clockwise=True),))
    placed = [(DISC, Pose(300, 200)), (large, Pose(300, 200)), (RING, Pose(300, 200))]
    made = make_cuts(sheet_of(placed), plasma)
    assert {cut.makes[0].placement: cut.inside_of for cut in made.cuts} == {0: 2, 1: None, 2: 1}


def test_a_start_by_the_kerf_of_a_neighbour_is_offered_only_before_the_neighbour(plasma, sheet_of):
    """8 mm between two parts: room for a pierce 3.5 mm from both, but not from a kerf round either."""
    roomy = sheet_of([(SQUARE, Pose(4, 4)), (SQUARE, Pose(92, 4))], size=(230, 88))
    made = make_cuts(roomy, plasma)
    assert not made.findings
    assert [cut.starts_before for cut in made.cuts] == [(1,), ()]
    assert_clear_of_kerfs(made, plasma, 3.5)
    # With the edge as near on the other side, each would have to be cut before the other.
    tight = sheet_of([(SQUARE, Pose(4, 4)), (SQUARE, Pose(92, 4))], size=(176, 88))
    (refused,) = make_cuts(tight, plasma).findings
    assert refused.kind == "refused"
    assert "the outside of 'square' copy 2: the plate's edge and 'square' copy 1" in refused.message
    assert "9.0 mm between parts and 7.0 mm to the plate's edge would do" in refused.remedy


def test_a_hole_too_tight_round_a_part_is_refused_and_the_part_still_starts(plasma, sheet_of):
    """8 mm between disc and rim: the disc is cut before the rim, and then its kerf is in the way."""
    ring = Part("ring", circle((0, 0), 100), (circle((0, 0), 48, clockwise=True),))
    made = make_cuts(sheet_of([(ring, Pose(200, 200)), (DISC, Pose(200, 200))]), plasma)
    assert [cut.starts_before for cut in made.cuts if cut.makes[0].placement == 1] == [()]
    (refused,) = made.findings
    assert "hole 1 of 'ring' copy 1: 'disc' copy 2 is too near" in refused.message


def test_where_no_start_fits_the_reason_and_the_gap_that_would_do_are_given(plasma, sheet_of):
    ring = Part("ring", circle((0, 0), 100), (circle((0, 0), 42.5, clockwise=True),))
    made = make_cuts(sheet_of([(ring, Pose(200, 200)), (DISC, Pose(200, 200))]), plasma)
    refused = [finding for finding in made.findings if finding.kind == "refused"]
    assert len(refused) == 2
    assert "'disc' copy 2 is too near" in refused[0].message
    assert "'ring' copy 1 is too near" in refused[1].message
    assert "9.0 mm between parts" in refused[0].remedy
    assert all(math.dist(finding.place, (200, 200)) < 45 for finding in refused)
    assert {(cut.makes[0].placement, cut.kind) for cut in made.cuts} == {(0, "outside")}


def test_parts_nearer_than_the_kerf_are_refused(plasma, sheet_of):
    made = make_cuts(sheet_of([(SQUARE, Pose(50, 50)), (SQUARE, Pose(131, 50))]), plasma)
    told = next(finding for finding in made.findings if "apart" in finding.message)
    assert "1.00 mm apart, less than the 2.00 mm kerf" in told.message
    assert told.place[0] == pytest.approx(130.5)
    made = make_cuts(sheet_of([(SQUARE, Pose(50, 50)), (SQUARE, Pose(100, 90))]), plasma)
    assert any("touch or overlap" in finding.message for finding in made.findings)


def test_a_part_over_the_plates_edge_is_refused(plasma, sheet_of):
    made = make_cuts(sheet_of([(SQUARE, Pose(0.5, 50)), (SQUARE, Pose(-200, 50))]), plasma)
    told = [finding.message for finding in made.findings if "plate's edge" in finding.message]
    assert any("copy 1 lies nearer" in message for message in told)
    assert any("copy 2 lies nearer" in message for message in told)


def test_leads_keep_off_keepouts(plasma, sheet_of):
    clamp = polygon([[90, 156.5], [130, 156.5], [130, 170], [90, 170]])
    sheet = sheet_of([(SQUARE, Pose(50, 50))], keepouts=(clamp,))
    free = sheet_of([(SQUARE, Pose(50, 50))])
    zone = shapely.Polygon(clamp.points)

    def nearest(sheet):
        lines = [chord_points(c.path, 0.01) for c in make_cuts(sheet, plasma).cuts[0].choices]
        return min(zone.distance(shapely.LineString(line)) for line in lines)

    assert nearest(sheet) > CuttingOptions().torch_radius_mm > nearest(free)


def test_a_part_nearer_a_clamp_than_the_torch_is_wide_is_refused_but_not_by_a_flaw(plasma, sheet_of):
    place = polygon([[90, 140], [130, 140], [130, 170], [90, 170]])
    sheet = sheet_of([(SQUARE, Pose(50, 50))], keepouts=(place,))
    (refused,) = [f for f in make_cuts(sheet, plasma).findings if f.kind == "refused"]
    assert "'square' copy 1 lies nearer a clamp than the torch's radius" in refused.message
    flaw = replace(sheet.plate, keepouts=(Keepout(place, 0.0),))
    assert not make_cuts(replace(sheet, plate=flaw), plasma).findings


def test_no_hole_of_a_neighbour_counts_as_free_where_a_part_lies_in_it(plasma, sheet_of, metal_of):
    """Several parts in one large hole, close to its rim and to each other."""
    hole = reverse(polygon([[20, 20], [380, 20], [380, 130], [20, 130]]))
    frame = Part("frame", polygon([[0, 0], [400, 0], [400, 150], [0, 150]]), (hole,))
    gap = gaps_for(plasma).gap
    inside = [(SQUARE, Pose(120 + gap + k * (80 + gap), 120 + gap)) for k in range(3)]
    sheet = sheet_of([(frame, Pose(100, 100)), *inside])
    made = make_cuts(sheet, plasma)
    assert not made.findings
    assert len(made.cuts) == 5
    assert_starts_in_scrap(made, sheet, plasma, metal_of, 3.5)
