"""Pierces held against parts, the plate's edge and what was cut before, each moved by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from sheets import DATA, MACHINE, sheet_of

from cutplan.cutting import Cut, CuttingOptions, make_cuts
from cutplan.drawing import Part
from cutplan.geometry import Path, Pose, circle, polygon
from cutplan.process import CutData
from cutplan.program import find_postprocessor, write_program
from cutplan.sequencing import Order, Step, Travel
from cutplan.stock import NestedPlate
from cutplan.verification import Planned, Verdict, verify

BLOCK = Part("block", polygon([(0, 0), (60, 0), (60, 60), (0, 60)]))
FIRST, SECOND = 0, 1
# Blocks at x = 20 … 80 and 100 … 160: kerfs of 2 mm reach to 82 and from 98.
SHEET = sheet_of((BLOCK, Pose(20, 20)), (BLOCK, Pose(100, 20)), size=(180, 100))


def pierced_at(cut: Cut, place: tuple[float, float]) -> Cut:
    """Return a cut that starts straight from a place, and has no lead-out."""
    lead = next(c for c in cut.choices if c.path.vertices[1, 0] not in (c.path.start[0],))
    rows = np.vstack([[*place, 0.0], lead.path.vertices[1:]])
    path = Path(rows, closed=False)
    end = (float(path.end[0]), float(path.end[1]))
    return replace(cut, choices=(replace(lead, path=path, pierce=place, end=end, spans=()),))


def written(cuts: list[Cut], sheet: NestedPlate, data: CutData) -> str:
    steps, here = [], MACHINE.start
    for cut in cuts:
        lead = cut.choices[0]
        steps.append(Step(cut, 0, Travel(np.array([here, lead.pierce]), True, 1.0)))
        here = lead.end
    order = Order(tuple(steps), 1.0, 1.0)
    return write_program(order, sheet, data, MACHINE, find_postprocessor("rs274-metric"), name="p").text


def proved(cuts: list[Cut], sheet: NestedPlate = SHEET, **data: object) -> Verdict:
    values = replace(DATA, **data)  # type: ignore[arg-type]
    return verify(written(cuts, sheet, values), sheet, values, MACHINE)


def told(verdict: Verdict) -> list[str]:
    return [fault.message for fault in verdict.faults if fault.code == "pierce-clearance"]


@pytest.fixture(scope="module")
def cuts() -> list[Cut]:
    return list(make_cuts(SHEET, DATA).cuts)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ((81.0, 50.0), "where no metal is: in the kerf of the cut on line"),
        ((84.0, 50.0), "2.00 mm from the kerf of the cut on line"),
        ((85.9, 50.0), "3.90 mm from the kerf of the cut on line"),
        ((97.0, 50.0), "3.00 mm from 'block' copy 2"),
        ((130.0, 97.0), "3.00 mm from the plate's edge"),
    ],
)
def test_a_pierce_too_near_to_anything_is_named(
    cuts: list[Cut], place: tuple[float, float], words: str
) -> None:
    messages = told(proved([cuts[FIRST], pierced_at(cuts[SECOND], place)]))
    assert len(messages) == 1
    assert words in messages[0]


def test_the_same_pierce_before_the_kerf_beside_it_is_sound(cuts: list[Cut]) -> None:
    moved = pierced_at(cuts[SECOND], (84.0, 50.0))
    assert told(proved([moved, cuts[FIRST]])) == []
    assert told(proved([cuts[FIRST], pierced_at(cuts[SECOND], (86.0, 50.0))])) == []


def test_the_slag_of_an_earlier_pierce_counts_as_wide_as_the_data_say(cuts: list[Cut]) -> None:
    first, then = pierced_at(cuts[FIRST], (90.0, 30.0)), pierced_at(cuts[SECOND], (90.0, 36.5))
    assert told(proved([first, then])) == []
    messages = told(proved([first, then], rules=replace(DATA.rules, pierce_mound=3.0)))
    assert len(messages) == 1
    assert "3.50 mm from the slag of the pierce of the cut on line" in messages[0]


def test_a_hole_in_the_plate_has_no_metal_to_pierce(cuts: list[Cut]) -> None:
    void = circle((90.0, 90.0), 6.0, clockwise=True)
    sheet = replace(SHEET, plate=replace(SHEET.plate, voids=(void,)))
    inside = told(proved([cuts[FIRST], pierced_at(cuts[SECOND], (90.0, 90.0))], sheet))
    assert inside == ["a pierce where no metal is: in a hole in the plate"]
    beside = told(proved([cuts[FIRST], pierced_at(cuts[SECOND], (90.0, 82.0))], sheet))
    assert "2.00 mm from a hole in the plate" in beside[0]


@pytest.mark.parametrize(("shift", "sound"), [(0.0, True), (0.2, True), (0.5, False)])
def test_a_narrow_hole_is_pierced_in_its_middle(shift: float, sound: bool) -> None:
    """4 mm of clearance do not fit into a hole of 7 mm; nine tenths of its half width do."""
    washer = Part("washer", circle((0, 0), 30), (circle((0, 0), 3.5, clockwise=True),))
    sheet = sheet_of((washer, Pose(50, 50)), size=(100, 100))
    hole, outside = make_cuts(sheet, DATA, CuttingOptions(small_holes="cut")).cuts
    verdict = proved([pierced_at(hole, (50.0 + shift, 50.0)), outside], sheet)
    assert (told(verdict) == []) == sound


@pytest.mark.parametrize(("spacing", "near"), [(3.0, True), (400.0, False)])
def test_a_pierce_keeps_clear_of_what_the_other_torches_pierce_and_cut(
    cuts: list[Cut], spacing: float, near: bool
) -> None:
    text = written(cuts, SHEET, DATA)
    verdict = verify(text, SHEET, DATA, MACHINE, planned=Planned(torches=2, spacing_mm=spacing))
    assert any("the slag of the pierce" in words for words in told(verdict)) == near
