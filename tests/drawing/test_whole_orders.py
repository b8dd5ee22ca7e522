"""Whole orders in one drawing: equal parts counted, parts chosen, texts that speak of them."""

import math
from collections.abc import Callable
from typing import Any

import pytest

from cutplan.base.errors import InputError
from cutplan.drawing import Choice, Drawing, ReadOptions
from cutplan.drawing.wording import meanings, stated_units

Inspect = Callable[..., Drawing]
ELL = [(0, 0), (120, 0), (120, 30), (40, 30), (40, 80), (0, 80)]


def ell(m: Any, x: float, y: float, *, turn: float = 0.0, mirrored: bool = False, layer: str = "0") -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    sign = -1.0 if mirrored else 1.0
    points = [(x + c * sign * px - s * py, y + s * sign * px + c * py) for px, py in ELL]
    m.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})


def write(m: Any, text: str, x: float, y: float, layer: str = "NOTES") -> None:
    m.add_text(text, height=5, dxfattribs={"layer": layer, "insert": (x, y)})


def test_twenty_equal_discs_are_one_part_twenty_off(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        for k in range(20):
            m.add_circle((100 * (k % 5), 100 * (k // 5)), 40)

    drawing = inspect(content)
    (part,) = drawing.parts
    assert part.name == "part" and part.drawn == 20
    (told,) = [f for f in drawing.findings if f.kind == "taken"]
    assert "20 off" in told.message and told.place is not None


def test_turned_copies_are_one_part_and_mirrored_ones_where_that_is_allowed(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        ell(m, 0, 0)
        ell(m, 400, 0, turn=35)
        ell(m, 800, 0, mirrored=True)

    assert [part.drawn for part in inspect(content).parts] == [2, 1]
    assert [part.drawn for part in inspect(content, ReadOptions(mirror=True)).parts] == [3]
    apart = inspect(content, ReadOptions(equal="apart")).parts
    assert [part.name for part in apart] == ["part-1", "part-2", "part-3"]


def test_parts_of_one_shape_that_texts_tell_apart_stay_apart(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        for k, thickness in enumerate(["t=10", "t=12", "t=10"]):
            ell(m, 300 * k, 0)
            write(m, thickness, 300 * k + 10, 10)

    assert [part.drawn for part in inspect(content).parts] == [2, 1]


@pytest.mark.parametrize(
    ("how", "left"),
    [
        ({"choose": [Choice(name="PART-2")]}, ["part-2"]),
        ({"leave_out": [Choice(layer="old*")]}, ["part-1", "part-2"]),
        ({"choose": [Choice(at=(310, 10))]}, ["part-2"]),
        ({"choose": [Choice(within=(250, -50, 700, 50))]}, ["part-2", "part-3"]),
        ({"leave_out": [Choice(larger_than=100)]}, ["part-2", "part-3"]),
        ({"choose": [Choice(smaller_than=45)]}, ["part-2"]),
        ({"choose": [Choice(text="B1*", smaller_than=70)]}, ["part-2"]),
    ],
)
def test_parts_are_chosen_by_name_layer_place_size_or_text(
    inspect: Inspect, how: Any, left: list[str]
) -> None:
    def content(doc: Any, m: Any) -> None:
        ell(m, 0, 0)
        m.add_circle((310, 10), 20)
        m.add_circle((600, 10), 30, dxfattribs={"layer": "OLD"})
        write(m, "B12", 300, 10)
        write(m, "B13", 10, 10)

    drawing = inspect(content, ReadOptions(**how))
    assert [part.name for part in drawing.parts] == left
    assert len([f for f in drawing.findings if f.kind == "left out"]) == 3 - len(left)


def test_texts_go_to_the_part_they_stand_on_or_next_to(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        ell(m, 0, 0)
        m.add_circle((400, 30), 50)
        write(m, "B12", 10, 10)
        write(m, "2 OFF", 360, -35)
        write(m, "see the order", 2000, 2000)

    drawing = inspect(content)
    first, second = drawing.parts
    assert first.notes[0].values == {"name": "B12"} and not first.notes[0].beside
    assert second.notes[0].values == {"quantity": "2"} and second.notes[0].beside
    assert [note.text for note in drawing.notes] == ["see the order"]
    assert drawing.unused["text"] == 1 and drawing.unused["layer NOTES"] == 3


def test_a_text_between_two_parts_is_not_sure_of_either(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_circle((0, 0), 50)
        m.add_lwpolyline([(90, -50), (200, -50), (200, 50), (90, 50)], close=True)
        write(m, "4", 68, 0)
        write(m, "2 OFF", 57, -30)

    notes = [note for part in inspect(content).parts for note in part.notes]
    assert [note.sure for note in notes if note.text == "2 OFF"] == [False]


def test_the_words_of_a_title_block_count_for_the_only_part(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        ell(m, 0, 0)
        block = doc.blocks.new("TITLE_A3")
        block.add_line((0, 0), (100, 0))
        block.add_text("QTY: 3", height=5, dxfattribs={"insert": (5, 5)})
        m.add_blockref("TITLE_A3", (600, -400))

    (part,) = inspect(content).parts
    assert [note.values for note in part.notes] == [{"quantity": "3"}]


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        ("2 OFF", {"quantity": "2"}),
        ("QTY: 3", {"quantity": "3"}),
        ("4 REQ'D", {"quantity": "4"}),
        ("6 Stück", {"quantity": "6"}),
        ("t=10", {"thickness": "10"}),
        ("12,5 mm THK", {"thickness": "12,5"}),
        ("S355", {"grade": "S355"}),
        ("PL10 S355J2+N 4 OFF", {"grade": "S355J2+N", "thickness": "10", "quantity": "4"}),
        ("B12", {"name": "B12"}),
        ("POS. 7", {"name": "7"}),
        ("DRILL & TAP M12", {"drill": "DRILL", "tap": "TAP"}),
        ("BEVEL 30° TOP", {"bevel": "BEVEL"}),
        ("C'SK M10", {"countersink": "C'SK", "tap": "M10"}),
        ("2 AS DRAWN, 2 OPP HAND", {"hand": "AS DRAWN"}),
        ("4 HOLES Ø18", {}),
        ("R10", {}),
    ],
)
def test_notes_are_read_as_the_trade_writes_them(text: str, meaning: dict[str, str]) -> None:
    # Common practice; no standard fixes these words.
    assert meanings(text) == meaning


def test_the_shops_own_patterns_go_before_the_usual_ones() -> None:
    own = {"quantity": [r"\((\d+)x\)"]}
    assert meanings("GUSSET (6x) 2 OFF", own) == {"quantity": "6"}
    assert meanings("2 OFF", own) == {}
    for wrong in ({"quantity": ["("]}, {"quantity": [r"\d+"]}, {"colour": ["(.)"]}, {"quantity": "(.)"}):
        with pytest.raises(InputError):
            ReadOptions(texts=wrong)


def test_texts_that_state_units_are_told_from_others() -> None:
    assert stated_units("ALL DIMENSIONS IN MM") == "mm"
    assert stated_units("Dimensions in inches unless stated") == "in"
    assert stated_units("grind 2 mm off") is None


def test_what_nothing_was_made_of_is_counted_by_layer_colour_and_kind(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        ell(m, 0, 0)
        for k in range(3):
            m.add_line((0, 200 + k), (50, 200 + k), dxfattribs={"layer": "DIM", "color": 3})
        m.add_point((5, 5))
        m.add_linear_dim(base=(0, -30), p1=(0, 0), p2=(120, 0)).render()

    unused = inspect(content).unused
    assert unused["layer DIM"] == 3 and unused["colour green"] == 3
    assert unused["POINT"] == 1 and unused["DIMENSION"] == 1 and unused["LINE"] == 3
