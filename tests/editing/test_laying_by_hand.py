"""What may be laid by hand and what not; distances are worked by hand from the parts' sizes."""

from dataclasses import replace

import pytest

from cutplan.base.errors import EditError
from cutplan.drawing import Part
from cutplan.editing import Bench, LaidSheet, State, applied, edit_of
from cutplan.geometry import Pose, circle, polygon
from cutplan.nesting import Demand, NestGaps
from cutplan.stock import NestedPlate, Placement, Plate

GAP, EDGE = 10.0, 12.0


def box(width: float, height: float):
    return polygon([(0, 0), (width, 0), (width, height), (0, height)])


TILE = Part("tile", box(100, 60))
RING = Part("ring", circle((0, 0), 90), (circle((0, 0), 60, clockwise=True),))
GRAIN = Part("grain", box(80, 20))
PLATE = Plate("P", box(600, 400), 10.0, "S355", "mild steel", 2)


@pytest.fixture
def state() -> State:
    demands = (
        Demand(TILE, 3, 10.0, "S355"),
        Demand(RING, 1, 10.0, "S355", None, mirror=True),
        Demand(GRAIN, 1, 10.0, "S355", rolling_direction=0.0),
    )
    laid = [
        Placement(TILE, 1, Pose(12, 12)),
        Placement(TILE, 2, Pose(122, 12)),
        Placement(RING, 1, Pose(300, 200)),
        Placement(GRAIN, 1, Pose(12, 300)),
    ]
    bench = Bench(demands, (PLATE,), NestGaps(GAP, EDGE), "10 mm S355")
    other = Bench((Demand(Part("lug", box(50, 50)), 1, 20.0, "S355"),), (), NestGaps(GAP, EDGE), "20 mm S355")
    thick = NestedPlate(Plate("Q", box(200, 200), 20.0, "S355", "mild steel"), 1, ())
    lug = Placement(other.demands[0].part, 1, Pose(50, 50))
    sheets = (
        LaidSheet(NestedPlate(PLATE, 1, tuple(laid)), 0),
        LaidSheet(replace(thick, placements=(lug,)), 1),
    )
    return State(sheets, (bench, other), {"tile": 3, "ring": 1, "grain": 1, "lug": 1})


def edited(state: State, do: str, **keys) -> State:
    return applied(state, edit_of({"do": do, **keys}))


def test_a_part_may_lie_at_the_exact_gap_and_no_nearer(state):
    after = edited(state, "move", part="tile", copy=2, at=(12, 82))
    assert after.lying("tile", 2)[2].pose == Pose(12, 82) and after.touched == {"P-1"}
    with pytest.raises(
        EditError, match=r"'tile' copy 2 would lie 9.90 mm from 'tile' copy 1: 10.00 mm are needed"
    ):
        edited(state, "move", part="tile", copy=2, at=(12, 81.9))


@pytest.mark.parametrize(
    ("edit", "told"),
    [
        ({"do": "move", "part": "tile", "copy": 2, "at": (300, 200)}, "overlap 'ring' copy 1"),
        ({"do": "move", "part": "tile", "copy": 2, "at": (489, 12)}, "11.00 mm from the plate's edge: 12.00"),
        ({"do": "move", "part": "tile", "copy": 2, "at": (550, 12)}, "beyond the plate's edge"),
        ({"do": "move", "part": "tile", "copy": 2, "at": (400, 12), "rotation_deg": 30}, "not be turned to 30°"),
        ({"do": "mirror", "part": "tile", "copy": 1}, "may not be mirrored"),
        ({"do": "turn", "part": "grain", "copy": 1, "by_deg": 90}, "rolling"),
        ({"do": "move", "part": "lug", "copy": 1, "at": (400, 20), "sheet": "P-1"}, "20 mm S355"),
        ({"do": "move", "part": "tile", "copy": 4, "at": (400, 20), "sheet": "P-1"}, "no copy 4 of 'tile'"),
        ({"do": "move", "part": "tile", "copy": 3, "at": (400, 20)}, "lies on no sheet"),
        ({"do": "move", "part": "tile", "copy": 1, "at": (12, 12), "sheet": "P-3"}, "no sheet 'P-3'"),
        ({"do": "take off", "part": "nut", "copy": 1}, "no part 'nut'"),
        ({"do": "keep off", "sheet": "P-1", "corners": [(100, 0), (140, 0), (140, 20)]}, "into a keep-out"),
        ({"do": "keep off", "sheet": "P-1", "corners": [(400, 0), (500, 90), (500, 0), (400, 90)]}, "crosses"),
        ({"do": "start", "part": "tile", "copy": 1, "contour": "hole 1", "at": (0, 0)}, "has no hole 1"),
        ({"do": "layout", "sheets": [{"plate": "P", "sheet": 1, "placements": [
            ("tile", 1, 12, 12, 0, False), ("tile", 1, 300, 12, 0, False)]}]}, "two places"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_what_is_in_the_way(state, edit, told):
    with pytest.raises(EditError, match=told):
        applied(state, edit_of(edit))


def test_a_part_goes_into_the_hole_of_another_at_the_gap(state):
    inside = Pose(250, 170)  # its far corners 58.3 mm from the ring's middle: 1.7 from the rim
    with pytest.raises(EditError, match="from 'ring' copy 1"):
        edited(state, "move", part="tile", copy=2, at=(inside.x, inside.y))
    after = edited(state, "move", part="grain", copy=1, at=(260, 190))
    assert after.lying("grain", 1)[2].pose == Pose(260, 190)


def test_turning_keeps_the_middle_of_the_box(state):
    after = edited(state, "turn", part="tile", copy=1, by_deg=180)
    assert after.lying("tile", 1)[2].pose == Pose(112, 72, 180)


def test_two_parts_change_places(state):
    state = edited(state, "move", part="tile", copy=2, at=(400, 300))
    after = edited(state, "swap", part="tile", copy=1, with_part="tile", with_copy=2)
    assert after.lying("tile", 1)[2].pose == Pose(400, 300)
    assert after.lying("tile", 2)[2].pose == Pose(12, 12)


def test_a_part_without_a_place_is_laid_and_one_taken_off_has_none(state):
    assert state.off() == {"tile": [3]}
    after = edited(state, "move", part="tile", copy=3, at=(12, 12), sheet="P-2")
    assert [sheet.name for sheet in after.sheets] == ["P-1", "Q-1", "P-2"] and after.off() == {}
    after = edited(after, "take off", part="tile", copy=3)
    assert [sheet.name for sheet in after.sheets] == ["P-1", "Q-1"]
    assert edited(after, "quantity", part="tile", quantity=1).off() == {}
    assert edited(after, "quantity", part="tile", quantity=5).off() == {"tile": [3, 4, 5]}


def test_a_pinned_part_stays_until_it_is_let_go(state):
    pinned = edited(state, "pin", part="tile", copy=1)
    for edit in ({"do": "take off"}, {"do": "turn", "by_deg": 180}, {"do": "move", "at": (400, 300)}):
        with pytest.raises(EditError, match="pinned"):
            applied(pinned, edit_of({**edit, "part": "tile", "copy": 1}))
    free = edited(pinned, "pin", part="tile", copy=1, pinned=False)
    assert edited(free, "take off", part="tile", copy=1).off() == {"tile": [1, 3]}


def test_sheets_for_torches_side_by_side_are_not_laid_by_hand(state):
    lanes = replace(state, sheets=(replace(state.sheets[0], torches=2), state.sheets[1]))
    with pytest.raises(EditError, match="2 torches side by side"):
        edited(lanes, "move", part="tile", copy=1, at=(12, 100))
