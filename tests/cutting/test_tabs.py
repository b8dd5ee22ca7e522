"""Tabs: where they sit, how wide their metal is, and that the runs beside them leave it alone."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from random_jobs import random_part
from shapely.ops import substring

from cutplan.cutting import CuttingOptions, Tabs, Techniques, length_made, make_cuts
from cutplan.cutting.techniques import tab_width
from cutplan.drawing import BendLine, Part
from cutplan.geometry import Pose, chord_points, circle, length, polygon

PLATE = polygon([(0, 0), (160, 0), (160, 60), (0, 60)])


def with_tabs(**tabs):
    return CuttingOptions(techniques=Techniques(tabs=Tabs(**tabs)))


def runs_of(made):
    return [cut for cut in made.cuts if cut.kind == "outside"]


def neck(cuts, tab, kerf):
    """The least metal between the kerf that ends at a tab and the one that begins behind it, by shapely."""
    lines = [shapely.LineString(chord_points(cut.choices[0].path, 1e-4)) for cut in cuts]
    at = shapely.Point(tab.at)
    far = 3.0 * (tab.width_mm + kerf)
    ending = min(lines, key=lambda line: at.distance(shapely.get_point(line, -1)))
    # A run begins on the edge at its second point, where its straight way in ends.
    beginning = min(lines, key=lambda line: at.distance(shapely.get_point(line, 1)))
    lead = shapely.get_point(beginning, 0).distance(shapely.get_point(beginning, 1))
    last = substring(ending, ending.length - far, ending.length)
    first = substring(beginning, 0.0, lead + far)
    return last.distance(first) - kerf


def test_an_outside_with_tabs_is_several_runs_and_none_frees_the_part(plasma, sheet_of):
    made = make_cuts(sheet_of([(Part("tie", PLATE), Pose(100, 100))]), plasma, with_tabs(count=3))
    runs = runs_of(made)
    assert len(runs) == len(made.tabs) == 3
    assert all(run.frees == () for run in runs)
    left = length(PLATE) - sum(length_made(run.makes[0]) for run in runs)
    # On a straight edge a tab of 4 mm leaves 4 mm and a kerf of it uncut.
    assert left == pytest.approx(3 * (tab_width(Tabs(), plasma) + plasma.kerf), abs=1e-6)


def test_one_tab_is_a_run_that_stops_short(plasma, sheet_of):
    made = make_cuts(sheet_of([(Part("tie", PLATE), Pose(100, 100))]), plasma, with_tabs(count=1))
    (run,) = runs_of(made)
    (tab,) = made.tabs
    first, last = run.makes[0].span
    assert (last, first) == pytest.approx(tab.span)


@pytest.mark.parametrize("width", [1.0, 3.0, 6.0])
@pytest.mark.parametrize("shape", ["straight", "round"])
def test_the_metal_of_a_tab_is_as_wide_as_asked(width, shape, plasma, sheet_of):
    outer = PLATE if shape == "straight" else circle((60, 60), 60)
    made = make_cuts(
        sheet_of([(Part("tie", outer), Pose(100, 100))]), plasma, with_tabs(count=2, width_mm=width)
    )
    assert len(made.tabs) == 2
    for tab in made.tabs:
        assert neck(runs_of(made), tab, plasma.kerf) == pytest.approx(width, abs=0.02)


def test_tabs_keep_off_corners_and_bend_lines(plasma, sheet_of):
    part = Part("bent", PLATE, bends=(BendLine((80, 0), (80, 60)),))
    made = make_cuts(sheet_of([(part, Pose(100, 100))]), plasma, with_tabs(every_mm=60.0))
    assert made.tabs
    for tab in made.tabs:
        at = np.array(tab.at) - 100
        corners = np.array([(0, 0), (160, 0), (160, 60), (0, 60)])
        assert np.hypot(*(corners - at).T).min() > plasma.thickness
        assert abs(at[0] - 80) > 3 * plasma.thickness or 5 < at[1] < 55


def test_small_parts_get_one_and_others_none_where_small_ones_are_meant(plasma, sheet_of):
    parts = [(Part("small", PLATE), Pose(50, 50)), (Part("large", circle((0, 0), 120)), Pose(400, 200))]
    made = make_cuts(sheet_of(parts), plasma, with_tabs(parts="small", small_mm=200.0))
    assert [tab.part for tab in made.tabs] == ["small"]
    assert [cut.frees for cut in runs_of(made)] == [(), (1,)]


def test_a_part_may_ask_otherwise_than_the_job(plasma, sheet_of):
    sheet = sheet_of([(Part("held", PLATE), Pose(50, 50)), (Part("free", PLATE), Pose(50, 200))])
    options = CuttingOptions(techniques=Techniques(tabs=True), of_parts={"free": Techniques()})
    assert {tab.part for tab in make_cuts(sheet, plasma, options).tabs} == {"held"}


def test_a_part_in_a_hole_gets_none_and_is_told(plasma, sheet_of):
    ring = Part("ring", circle((0, 0), 120), (circle((0, 0), 100, clockwise=True),))
    sheet = sheet_of([(ring, Pose(200, 200)), (Part("inner", circle((0, 0), 60)), Pose(200, 200))])
    made = make_cuts(sheet, plasma, with_tabs(count=2))
    assert {tab.part for tab in made.tabs} == {"ring"}
    assert any("'inner' gets no tabs" in finding.message for finding in made.findings)


def test_no_room_for_a_tab_is_a_warning_and_the_part_is_cut_free(plasma, sheet_of):
    tiny = Part("tiny", polygon([(0, 0), (14, 0), (14, 14), (0, 14)]))
    made = make_cuts(sheet_of([(tiny, Pose(100, 100))]), plasma, with_tabs(count=2))
    assert not made.tabs and runs_of(made)[0].frees == (0,)
    assert any("find no place" in finding.message for finding in made.findings)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(1, 4))
def test_runs_and_tabs_cover_a_random_outside_exactly_once(seed, count, plasma, sheet_of):
    part = random_part(np.random.default_rng(seed), "any", plasma.thickness, marker=False)
    made = make_cuts(sheet_of([(part, Pose(300, 300))]), plasma, with_tabs(count=count))
    runs = runs_of(made)
    if not made.tabs:
        assert len(runs) <= 1
        return
    assert len(runs) == len(made.tabs) <= count
    whole = length(part.outer)
    gaps = sum((tab.span[1] - tab.span[0]) % whole for tab in made.tabs)
    assert sum(length_made(run.makes[0]) for run in runs) + gaps == pytest.approx(whole, abs=1e-6)
    for tab in made.tabs:
        assert neck(runs, tab, plasma.kerf) == pytest.approx(tab.width_mm, abs=0.03)
