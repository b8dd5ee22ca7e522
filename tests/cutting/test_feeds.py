"""The feed comes down at sharp corners, in tight arcs and while the torch creeps through a pierce."""

import math
from dataclasses import replace

import numpy as np
import pytest

from cutplan.cutting import FeedSpan, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, length, point_at, polygon

SQUARE = Part("square", polygon([[0, 0], [80, 0], [80, 80], [0, 80]]))
# Tangent quarter arcs of 4 mm at all corners.
ROUNDED = Part(
    "rounded",
    Path(
        np.array(
            [
                [4, 0, 0], [76, 0, math.tan(math.pi / 8)], [80, 4, 0], [80, 76, math.tan(math.pi / 8)],
                [76, 80, 0], [4, 80, math.tan(math.pi / 8)], [0, 76, 0], [0, 4, math.tan(math.pi / 8)],
            ]
        ),
        closed=True,
    ),
)  # fmt: skip


def slowed(choice, factor):
    return [span for span in choice.spans if span.factor == factor]


def test_corners_run_slower_on_both_sides(plasma, sheet_of):
    """Four corners, each 5 mm before, the quarter arc of half a kerf, and 5 mm after."""
    made = make_cuts(sheet_of([(SQUARE, Pose(100, 100))]), plasma)
    for choice in made.cuts[0].choices:
        slow = slowed(choice, 0.75)
        total = sum(span.end - span.start for span in slow)
        assert total == pytest.approx(4 * (5 + math.pi / 2 + 5))
        for span in slow:
            middle = point_at(choice.path, 0.5 * (span.start + span.end))[0]
            assert max(abs(middle - 140)) > 35


def test_spans_are_in_order_apart_and_within_the_path(plasma, sheet_of, random_part):
    for seed in range(12):
        made = make_cuts(sheet_of([(random_part(seed), Pose(300, 200, seed * 31))]), plasma)
        for choice in (choice for cut in made.cuts for choice in cut.choices):
            stops = [stop for span in choice.spans for stop in (span.start, span.end)]
            assert stops == sorted(stops)
            assert not stops or (stops[0] >= 0.0 and stops[-1] <= length(choice.path) + 1e-9)
            assert all(span.end > span.start and 0.0 < span.factor < 1.0 for span in choice.spans)


def test_arcs_tighter_than_the_smallest_hole_run_at_the_small_hole_feed(plasma, sheet_of):
    """The torch runs radii of 5 mm round the 4 mm corners; a smallest hole of 10.1 mm is wider."""
    tight = replace(plasma, rules=replace(plasma.rules, smallest_hole=10.1))
    for data, quarters in ((tight, 4), (plasma, 0)):
        made = make_cuts(sheet_of([(ROUNDED, Pose(100, 100))]), data)
        for choice in made.cuts[0].choices:
            slow = slowed(choice, 0.6)
            assert sum(s.end - s.start for s in slow) == pytest.approx(quarters * 5 * math.pi / 2)
            assert not slowed(choice, 0.75)


def test_the_torch_creeps_through_a_moving_pierce_on_the_lead_alone(plasma, sheet_of):
    data = replace(
        plasma, moving_pierce_mm=8.0, moving_pierce_feed=0.3, rules=replace(plasma.rules, lead_in=9.0)
    )
    made = make_cuts(sheet_of([(SQUARE, Pose(100, 100))]), data)
    for choice in made.cuts[0].choices:
        assert choice.lead_in_length >= 8.0
        assert choice.spans[0] == FeedSpan(0.0, 8.0, 0.3)


def test_no_rule_no_span(plasma, with_rules, sheet_of):
    data = with_rules(plasma, corner_feed=1.0, small_hole_feed=1.0)
    made = make_cuts(sheet_of([(SQUARE, Pose(100, 100))]), data)
    assert all(choice.spans == () for choice in made.cuts[0].choices)
