"""What a plate shop may rely on when parts are laid out on its plates."""

from __future__ import annotations

from collections import Counter

import pytest
from shapely import Polygon

from cutplan.base.errors import NestingError
from cutplan.base.stopping import MaxIterations
from cutplan.drawing import Part
from cutplan.geometry import Path, circle, place, polygon, reverse
from cutplan.nesting import Demand, Nest, NestGaps, nest
from cutplan.nesting.bounds import least_sheets
from cutplan.nesting.problem import build_problem
from cutplan.nesting.trials import without
from cutplan.stock import Keepout, Plate

GRADE = "S355"


def rectangle(width: float, height: float) -> Path:
    return polygon([(0, 0), (width, 0), (width, height), (0, height)])


def plate(width: float = 3000.0, height: float = 1500.0, **more: object) -> Plate:
    values: dict[str, object] = {"id": "PL10", "thickness": 10.0, "grade": GRADE, "material": "mild steel"}
    return Plate(outline=rectangle(width, height), **(values | more))  # type: ignore[arg-type]


def wanted(part: Part, quantity: int = 1, **more: object) -> Demand:
    return Demand(part, quantity, 10.0, GRADE, **more)  # type: ignore[arg-type]


def metal(answer: Nest) -> list[list[Polygon]]:
    """True shapes of straight-edged parts, sheet by sheet."""
    return [
        [
            Polygon(place(p.part.outer, p.pose).points, [place(h, p.pose).points for h in p.part.holes])
            for p in sheet.placements
        ]
        for sheet in answer.plates
    ]


BLANK = Part("blank", rectangle(400, 120))
ANGLE = Part("angle", polygon([(0, 0), (300, 0), (300, 60), (60, 60), (60, 250), (0, 250)]))
RING = Part("ring", circle((0, 0), 150), (reverse(circle((0, 0), 90)),))
DISC = Part("disc", circle((5, 5), 60))


def test_every_copy_is_placed_once() -> None:
    answer = nest([wanted(BLANK, 20), wanted(ANGLE, 10)], [plate()], NestGaps(8, 10))
    copies = [(p.part.name, p.copy) for sheet in answer.plates for p in sheet.placements]
    assert sorted(copies) == [("angle", k) for k in range(1, 11)] + [("blank", k) for k in range(1, 21)]
    assert not answer.unplaced


def test_gap_and_edge_are_kept_but_not_wasted() -> None:
    answer = nest([wanted(BLANK, 20), wanted(ANGLE, 10)], [plate()], NestGaps(8, 10))
    shapes = metal(answer)[0]
    gaps = [a.distance(b) for i, a in enumerate(shapes) for b in shapes[:i]]
    edges = [min(s.bounds[0], s.bounds[1], 3000 - s.bounds[2], 1500 - s.bounds[3]) for s in shapes]
    assert min(gaps) == pytest.approx(8.0, abs=1e-3) and min(gaps) >= 8.0
    assert min(edges) == pytest.approx(10.0, abs=1e-3) and min(edges) >= 10.0


def test_a_small_part_goes_into_the_hole_of_a_larger_one() -> None:
    answer = nest([wanted(RING), wanted(DISC)], [plate(330, 330)], NestGaps(8, 10))
    assert not answer.unplaced
    assert len(answer.plates) == 1


def test_the_gap_to_the_rim_of_a_hole_is_its_own() -> None:
    tight = nest([wanted(RING), wanted(DISC)], [plate(330, 330)], NestGaps(8, 10, hole_gap=31.0))
    assert [u.part for u in tight.unplaced] == ["disc"]


def test_a_keepout_is_left_alone() -> None:
    clamp = polygon([(0, 600), (200, 600), (200, 900), (0, 900)])
    answer = nest([wanted(BLANK, 25)], [plate(keepouts=(Keepout(clamp),), quantity=2)], NestGaps(8, 10))
    assert not answer.unplaced
    for sheet in metal(answer):
        assert min(shape.distance(Polygon(clamp.points)) for shape in sheet) >= 8.0


def test_parts_stay_on_a_remnant_of_odd_outline() -> None:
    outline = polygon([(0, 0), (1500, 0), (1500, 500), (600, 500), (600, 1400), (0, 1400)])
    remnant = Plate("R1", outline, 10.0, GRADE, "mild steel", is_remnant=True)
    answer = nest([wanted(ANGLE, 12)], [remnant], NestGaps(8, 10))
    inner = Polygon(outline.points).buffer(-10.0 + 1e-9, join_style="mitre")
    assert not answer.unplaced
    assert all(inner.covers(shape) for shape in metal(answer)[0])


def test_a_remnant_is_used_before_a_full_plate() -> None:
    remnant = plate(900, 500, id="R7", is_remnant=True)
    answer = nest([wanted(BLANK, 3)], [plate(), remnant], NestGaps(8, 10))
    assert [sheet.plate.id for sheet in answer.plates] == ["R7"]


@pytest.mark.parametrize(
    ("demand", "reason"),
    [
        (wanted(Part("slab", rectangle(3100, 100))), "too large"),
        (wanted(Part("post", rectangle(2000, 100)), rotations_deg=(90.0,)), "too large"),
        (Demand(BLANK, 1, 12.0, GRADE), "no plate 12 mm thick; on offer in S355: 10 mm"),
        (Demand(BLANK, 1, 10.0, "S235"), "no plate of grade S235 in 10 mm"),
        (wanted(BLANK, rotations_deg=(0.0,), rolling_direction=90.0), "rolling direction"),
    ],
)
def test_what_cannot_be_placed_says_why(demand: Demand, reason: str) -> None:
    answer = nest([demand, wanted(ANGLE)], [plate()], NestGaps(8, 10))
    assert len(answer.plates) == 1
    assert [(u.quantity, reason in u.reason) for u in answer.unplaced] == [(1, True)]


def test_plates_that_run_out_leave_parts_with_that_reason() -> None:
    answer = nest([wanted(BLANK, 9)], [plate(900, 500)], NestGaps(8, 10))
    placed = len(answer.plates[0].placements)
    assert answer.unplaced[0].quantity == 9 - placed > 0
    assert "out of plate" in answer.unplaced[0].reason


def test_an_edge_wider_than_the_plate_leaves_nothing() -> None:
    answer = nest([wanted(DISC)], [plate(300, 300)], NestGaps(8, 160))
    assert "edge" in answer.unplaced[0].reason


def test_bends_lie_across_the_rolling_direction_where_asked() -> None:
    strip = Part("strip", rectangle(600, 100))
    answer = nest([wanted(strip, 4, rolling_direction=0.0)], [plate(rolling_direction="y")], NestGaps(8, 10))
    assert {p.pose.rotation_deg % 180.0 for p in answer.plates[0].placements} == {90.0}


def bound(demands: list[Demand], plates: list[Plate]) -> int:
    problem = build_problem(demands, plates, NestGaps(8, 10))
    return least_sheets(problem, [demand.quantity for demand in demands])


def test_the_area_bound_counts_a_hole_as_room_only_where_a_part_could_lie_in_it() -> None:
    plates = [plate(1000, 1000, quantity=20)]
    ring = Part("ring", circle((0, 0), 110), (reverse(circle((0, 0), 70)),))
    disc, bar = Part("disc", circle((5, 5), 60)), Part("bar", rectangle(250, 60))
    # 48 rings with half the gap fill 2.01 times the room of a plate, without their holes 1.33
    # times; 48 discs, which could lie in the holes, 0.63 times.
    assert bound([wanted(ring, 48)], plates) == 3
    assert bound([wanted(ring, 48), wanted(disc, 48)], plates) == 2
    assert bound([wanted(ring, 48), wanted(bar, 4)], plates) == 3


@pytest.mark.parametrize(
    ("part", "copies", "least"),
    [
        # Over half the plate's area, but two would fit by area of the metal alone.
        (rectangle(900, 560), 4, 4),
        # Under half the area each, and still no two side by side or one above the other.
        (rectangle(600, 600), 5, 5),
        # Two abreast, three would fit by area.
        (rectangle(340, 950), 6, 3),
        # A round part's inner square tells the same: one to a plate.
        (circle((0, 0), 380), 3, 3),
    ],
)
def test_parts_that_cannot_share_a_plate_raise_the_bound(part: Path, copies: int, least: int) -> None:
    demands, plates = [wanted(Part("slab", part), copies)], [plate(1000, 1000, quantity=9)]
    assert bound(demands, plates) == least
    answer = nest(demands, plates, NestGaps(8, 10), stop=MaxIterations(0))
    assert len(answer.plates) == answer.least_plates == least


def test_a_large_batch_is_laid_out_in_sheets_that_are_repeated() -> None:
    demands = [wanted(BLANK, 80), wanted(ANGLE, 60)]
    answer = nest(demands, [plate(1000, 1000, quantity=40)], NestGaps(8, 10))
    copies = [(p.part.name, p.copy) for sheet in answer.plates for p in sheet.placements]
    assert sorted(copies) == sorted(
        [("angle", k) for k in range(1, 61)] + [("blank", k) for k in range(1, 81)]
    )
    layouts = Counter(tuple((p.part.name, p.pose) for p in sheet.placements) for sheet in answer.plates)
    assert max(layouts.values()) >= 2
    assert len(answer.plates) <= answer.least_plates + 2


def test_the_nest_does_not_depend_on_the_number_of_workers() -> None:
    demands = [wanted(BLANK, 9), wanted(ANGLE, 14), wanted(RING, 3), wanted(DISC, 5)]
    plates = [plate(1000, 1000, quantity=9)]
    one, three = (nest(demands, plates, NestGaps(8, 10), workers=n) for n in (1, 3))
    assert one.plates == three.plates


def test_a_kit_is_kept_on_one_plate_where_that_takes_no_other() -> None:
    # Larger parts are laid down first, so the kit's slab and its bracket start on different plates.
    slab, bracket = Part("slab", rectangle(900, 460)), Part("bracket", rectangle(300, 140))
    block, tile = Part("block", rectangle(850, 450)), Part("tile", rectangle(310, 150))
    others = [wanted(block, 3), wanted(tile, 9)]
    plates, rules = [plate(1000, 1000, quantity=3)], NestGaps(8, 10)
    loose = nest([wanted(slab), wanted(bracket, 2), *others], plates, rules)
    kept = nest([wanted(slab, kit="dolly"), wanted(bracket, 2, kit="dolly"), *others], plates, rules)

    def sheets_of_kit(answer: Nest) -> set[int]:
        named = ("slab", "bracket")
        return {s.sheet for s in answer.plates for p in s.placements if p.part.name in named}

    assert len(sheets_of_kit(loose)) > 1
    assert len(sheets_of_kit(kept)) == 1
    assert len(kept.plates) == len(loose.plates) and not kept.unplaced


def test_fillers_take_room_that_is_left_but_open_no_plate() -> None:
    demands = [wanted(BLANK, 2), wanted(DISC, 500, filler=True)]
    answer = nest(demands, [plate(900, 500, quantity=5)], NestGaps(8, 10))
    assert len(answer.plates) == 1
    assert answer.unplaced[0].part == "disc" and "filler" in answer.unplaced[0].reason


@pytest.mark.parametrize(
    ("demand", "sheet", "rules", "words"),
    [
        (wanted(BLANK, 0), plate(), NestGaps(8, 10), "wanted 0 times"),
        (wanted(BLANK, rotations_deg=()), plate(), NestGaps(8, 10), "no rotation"),
        (wanted(BLANK), plate(), NestGaps(-1, 10), "gap"),
        (
            wanted(BLANK),
            Plate("R", polygon([(0, 0), (900, 900), (900, 0), (0, 900)]), 10.0, GRADE, "mild steel"),
            NestGaps(8, 10),
            "crosses itself",
        ),
        (
            wanted(BLANK),
            Plate("R", Path(rectangle(900, 900).vertices, closed=False), 10.0, GRADE, "mild steel"),
            NestGaps(8, 10),
            "is open",
        ),
    ],
)
def test_input_that_makes_no_sense_is_a_clear_error(
    demand: Demand, sheet: Plate, rules: NestGaps, words: str
) -> None:
    with pytest.raises(NestingError, match=words):
        nest([demand], [sheet], rules)


def test_the_same_input_gives_the_same_nest() -> None:
    demands = [wanted(BLANK, 7), wanted(ANGLE, 5), wanted(RING, 3), wanted(DISC, 5)]
    first, second = (nest(demands, [plate()], NestGaps(8, 10), seed=3) for _ in range(2))
    assert first.plates == second.plates


@pytest.mark.parametrize("moment", range(4))
def test_a_nest_stopped_in_the_middle_of_a_move_still_holds_every_copy_once(
    moment: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The interrupt comes when a part stands on its new sheet and is not yet off the old one."""
    calls = iter(range(100))

    def interrupted(sheet: object, kinds: object) -> object:
        if next(calls) == moment:
            raise KeyboardInterrupt
        return without(sheet, kinds)  # type: ignore[arg-type]

    monkeypatch.setattr("cutplan.nesting.improve.without", interrupted)
    # Laid down one after another these take three plates, and fit on two.
    demands = [wanted(ANGLE, 16), wanted(Part("tile", rectangle(270, 190)), 20)]
    answer = nest(demands, [plate(1000, 1000, quantity=4)], NestGaps(8, 10))
    copies = [(p.part.name, p.copy) for sheet in answer.plates for p in sheet.placements]
    assert sorted(copies) == [("angle", k) for k in range(1, 17)] + [("tile", k) for k in range(1, 21)]
    assert not answer.unplaced
    assert answer.statistics["stopped"] == 1.0


def test_a_long_part_is_never_turned_off_the_plate_by_the_improvement() -> None:
    """It fits lengthwise only; the improvement must not try it crosswise."""
    beam = Part("beam", rectangle(1400, 100))
    answer = nest([wanted(beam, 8), wanted(ANGLE, 12)], [plate(1500, 600, quantity=3)], NestGaps(8, 10))
    inner = Polygon(rectangle(1500, 600).points).buffer(-10.0 + 1e-9, join_style="mitre")
    assert not answer.unplaced
    assert all(inner.covers(shape) for sheet in metal(answer) for shape in sheet)
