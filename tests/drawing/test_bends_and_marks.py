"""Bend lines with their notes, and lines and texts to mark, given to the parts they lie on."""

import math
from collections.abc import Callable
from typing import Any

import pytest

from cutplan.drawing import BendLine, Drawing
from cutplan.drawing.bends import BendNote, read_bend_note
from cutplan.geometry import length

Inspect = Callable[..., Drawing]
BEND, MARK = {"layer": "BEND"}, {"layer": "MARK"}


def plate(m: Any, x: float = 0.0) -> None:
    m.add_lwpolyline([(x, 0), (x + 200, 0), (x + 200, 100), (x, 100)], close=True)


@pytest.mark.parametrize(
    ("text", "note"),
    [
        ("UP 90 R10", BendNote(90, 10, "up")),
        ("90° R12", BendNote(90, 12, None)),
        ("DOWN 45.5°", BendNote(45.5, None, "down")),
        ("R 3,5", BendNote(None, 3.5, None)),
        ("135 DEG DN RAD 6", BendNote(135, 6, "down")),
        ("BEND_UP_45", BendNote(45, None, "up")),
        ("Bend-90-R10", BendNote(90, 10, None)),
        ("120", BendNote(120, None, None)),
        ("BEND", None),
        ("Bend2", None),
        ("t=10 mm", None),
        ("SEE SHEET B", None),
    ],
)
def test_bend_notes_are_read_as_the_brake_operator_reads_them(text: str, note: BendNote | None) -> None:
    assert read_bend_note(text) == note


def test_each_note_goes_to_the_line_nearest_to_it(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        for y, note in [(30, "UP 90 R10"), (70, "DOWN 45")]:
            m.add_line((0, y), (200, y), dxfattribs=BEND)
            m.add_text(note, height=5, dxfattribs={**BEND, "insert": (10, y + 2)})

    drawing = inspect(content)
    assert drawing.findings == ()
    assert drawing.parts[0].bends == (
        BendLine((0, 30), (200, 30), 90, 10, "up"),
        BendLine((0, 70), (200, 70), 45, None, "down"),
    )


def test_without_a_note_the_layer_speaks_and_then_the_bend_is_square(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        m.add_line((50, 0), (50, 100), dxfattribs={"layer": "BEND_DOWN_30_R8"})
        m.add_line((150, 0), (150, 100), dxfattribs=BEND)

    drawing = inspect(content)
    spoken, silent = drawing.parts[0].bends
    assert (spoken.angle_deg, spoken.radius_mm, spoken.direction) == (30, 8, "down")
    assert (silent.angle_deg, silent.radius_mm) == (90, None)
    (warning,) = drawing.findings
    assert warning.kind == "warning" and warning.place == (150, 50)


def test_the_radius_of_a_note_is_in_the_units_of_the_drawing(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_lwpolyline([(0, 0), (8, 0), (8, 4), (0, 4)], close=True)
        m.add_line((0, 2), (8, 2), dxfattribs=BEND)
        m.add_text("UP 90° R0.5", height=0.2, dxfattribs={**BEND, "insert": (1, 2.1)})

    (bend,) = inspect(content, units=1).parts[0].bends
    assert bend.radius_mm == pytest.approx(12.7)
    assert bend.end == pytest.approx((203.2, 50.8))


def test_a_bend_line_over_a_lightening_hole_belongs_to_its_part(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        m.add_circle((100, 50), 30)
        m.add_line((0, 50), (200, 50), dxfattribs={"layer": "BEND 90"})

    assert len(inspect(content).parts[0].bends) == 1


def test_what_is_bent_or_noted_beyond_reading_is_warned_of(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        m.add_circle((100, 50), 30, dxfattribs=BEND)
        m.add_line((0, 50), (200, 50), dxfattribs={"layer": "BEND 90"})
        m.add_text("see sheet B", height=5, dxfattribs={**BEND, "insert": (10, 52)})
        m.add_text("UP 60", height=2, dxfattribs={**BEND, "insert": (500, 500)})

    assert [f.kind for f in inspect(content).findings] == ["warning"] * 3


def test_marks_are_joined_and_may_cross_and_end_where_they_like(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        m.add_line((20, 20), (60, 20), dxfattribs=MARK)
        m.add_line((60, 60), (60, 20), dxfattribs=MARK)
        m.add_line((10, 50), (150, 50), dxfattribs=MARK)
        m.add_circle((120, 50), 10, dxfattribs=MARK)

    drawing = inspect(content)
    assert drawing.findings == ()
    marks = drawing.parts[0].marks
    assert sorted(round(length(mark), 6) for mark in marks) == pytest.approx([20 * math.pi, 80, 140])


def test_marks_go_to_the_part_they_lie_on_and_others_are_warned_of(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        plate(m, 300)
        m.add_line((320, 20), (360, 20), dxfattribs=MARK)
        m.add_text("A1", height=10, dxfattribs={**MARK, "insert": (20, 20)})
        m.add_text("AWAY", height=10, dxfattribs={**MARK, "insert": (20, 400)})

    drawing = inspect(content)
    first, second = drawing.parts
    assert [t.text for t in first.texts] == ["A1"] and not first.marks
    assert len(second.marks) == 1 and not second.texts
    assert [f.place for f in drawing.findings] == [(20, 400)]


@pytest.mark.parametrize(
    ("attributes", "place", "rotation"),
    [
        ({}, (40, 20), 0),
        ({"rotation": 90}, (40, 20), 90),
        # Centred on (40, 20): four letters 0.8 × 10 wide reach 16 to the left, half the height down.
        ({"halign": 1, "valign": 2, "align_point": (40, 20)}, (24, 15), 0),
        ({"halign": 2, "align_point": (40, 20)}, (8, 20), 0),
    ],
)
def test_a_text_stands_where_its_lower_left_corner_is(
    inspect: Inspect, attributes: dict[str, Any], place: tuple[float, float], rotation: float
) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        m.add_text("AB12", height=10, dxfattribs={**MARK, "insert": (40, 20), **attributes})

    (text,) = inspect(content).parts[0].texts
    assert text.place == pytest.approx(place) and text.rotation_deg == pytest.approx(rotation)
    assert (text.text, text.height) == ("AB12", 10)


def test_a_mirrored_text_stays_readable_where_it_was(inspect: Inspect) -> None:
    # Mirrored in x, the text from (10, 20) to (42, 20) comes to lie from (158, 20) to (190, 20).
    def content(doc: Any, m: Any) -> None:
        plate(m)
        doc.blocks.new("T").add_text("AB12", height=10, dxfattribs={**MARK, "insert": (10, 20)})
        m.add_blockref("T", (200, 0), dxfattribs={"xscale": -1})

    (text,) = inspect(content).parts[0].texts
    assert text.place == pytest.approx((158, 20)) and text.rotation_deg == pytest.approx(0)


def test_the_lines_of_a_paragraph_are_marked_one_by_one(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        m.add_mtext("HEAT 4711\\PS355", dxfattribs={**MARK, "char_height": 6, "insert": (20, 80)})

    first, second = inspect(content).parts[0].texts
    assert (first.text, second.text) == ("HEAT 4711", "S355")
    # The insertion point is the upper left corner; base lines are 5/3 of the height apart.
    assert first.place == pytest.approx((20, 74)) and second.place == pytest.approx((20, 64))
