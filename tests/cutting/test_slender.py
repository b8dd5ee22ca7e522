"""Long slender parts: how far they bow, and that their sides are cut in turns."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from cutplan.cutting import CuttingOptions, Techniques, camber_mm, is_slender, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Pose, place, polygon
from cutplan.sequencing import SequenceOptions
from cutplan.sequencing.precedence import must_precede, precedence_graph

STRIP = Part("strip", polygon([(0, 0), (2000, 0), (2000, 100), (0, 100)]))
SHORT = Part("short", polygon([(0, 0), (400, 0), (400, 40), (0, 40)]))


def test_length_and_slenderness_decide_however_the_part_is_drawn():
    turned = Part("turned", place(STRIP.outer, Pose(0, 0, 30.0)))
    assert is_slender(STRIP) and is_slender(turned) and not is_slender(SHORT)
    assert not is_slender(Part("wide", polygon([(0, 0), (2000, 0), (2000, 400), (0, 400)])))


def test_camber_is_that_of_a_bar_whose_edge_shrinks():
    """A shrinkage force F at the edge of a bar bends it to F e L² / 8 E I; F / E is shrinkage times heat."""
    heat, long, wide, thick = 400.0, 2000.0, 100.0, 10.0
    shrunk = 0.335 * 12e-6 / 3.7e-3 * 0.5 * heat
    inertia = thick * wide**3 / 12.0
    assert camber_mm(STRIP, thick, heat) == pytest.approx(shrunk * (0.5 * wide) * long**2 / (8.0 * inertia))


def test_the_sides_of_a_slender_part_are_cut_in_turns(plasma, sheet_of):
    sheet = sheet_of([(STRIP, Pose(50, 50)), (SHORT, Pose(50, 220))], size=(2200.0, 400.0))
    made = make_cuts(
        sheet, plasma, CuttingOptions(techniques=Techniques(slender="tabs", slender_every_mm=400.0))
    )
    assert {tab.part for tab in made.tabs} == {"strip"}
    runs = [k for k, cut in enumerate(made.cuts) if cut.turn is not None]
    before = must_precede(precedence_graph(made.cuts, SequenceOptions()), len(made.cuts))
    ordered = sorted(runs, key=lambda k: len(before[k] & set(runs)))
    assert [len(before[k] & set(runs)) for k in ordered] == list(range(len(runs))) and len(runs) >= 8
    middles = [np.mean(made.cuts[k].choices[0].path.points[1:], axis=0) for k in ordered]
    sides = [y > 100.0 for _, y in middles]
    pairs = list(pairwise(sides))
    assert sum(a != b for a, b in pairs) >= len(pairs) - 1
    # Not beside what was cut last on the same side, but for the turn back.
    own = [x for (x, y), side in zip(middles, sides, strict=True) if side]
    assert np.sort(np.abs(np.diff(own)))[1:].min() > 500.0


def test_without_asking_there_are_no_tabs_and_no_turns(plasma, sheet_of):
    made = make_cuts(sheet_of([(STRIP, Pose(50, 50))], size=(2200.0, 400.0)), plasma)
    assert made.tabs == () and all(cut.turn is None for cut in made.cuts)


def test_what_a_part_asks_goes_before_what_the_job_asks(plasma, sheet_of):
    options = CuttingOptions(
        techniques=Techniques(slender="tabs"), of_parts={"strip": Techniques(slender="leave")}
    )
    made = make_cuts(sheet_of([(STRIP, Pose(50, 50))], size=(2200.0, 400.0)), plasma, options)
    assert made.tabs == ()
