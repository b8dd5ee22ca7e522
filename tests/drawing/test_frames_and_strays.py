"""Sheet borders, title blocks and loose strokes: asked about or left out, never cut and never silent."""

from collections.abc import Callable
from typing import Any

import pytest

from cutplan.drawing import Drawing, ReadOptions
from cutplan.geometry import area

Inspect = Callable[..., Drawing]
LEAVE_OUT = ReadOptions(open="leave out")


def rectangle(m: Any, x: float, y: float, width: float, height: float) -> None:
    m.add_lwpolyline([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], close=True)


def plate(m: Any, x: float = 0.0, y: float = 0.0) -> None:
    rectangle(m, x, y, 200, 100)
    m.add_circle((x + 50, y + 50), 12)


def kinds(drawing: Drawing) -> set[str]:
    return {finding.kind for finding in drawing.findings}


def ask(drawing: Drawing) -> str:
    (question,) = [f for f in drawing.findings if f.kind == "question"]
    assert question.place is not None and "frames" in question.remedy
    return question.message


def test_a_border_round_parts_is_asked_about_and_its_parts_are_shown(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, -50, -50, 700, 500)
        plate(m)
        plate(m, 300)

    drawing = inspect(content)
    assert "contours within contours" in ask(drawing)
    assert [part.drawn for part in drawing.parts] == [2]
    assert [sketch.state for sketch in drawing.sketches] == ["counted", "question"]


@pytest.mark.parametrize(("answer", "drawn", "holes"), [("leave out", 2, 1), ("cut", 1, 2)])
def test_the_job_answers_what_a_frame_is(inspect: Inspect, answer: Any, drawn: int, holes: int) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, -50, -50, 700, 500)
        plate(m)
        plate(m, 300)

    drawing = inspect(content, ReadOptions(frames=answer))
    assert "question" not in kinds(drawing)
    sizes = {round(area(part.outer)): part for part in drawing.parts}
    part = sizes[20_000 if answer == "leave out" else 350_000]
    assert part.drawn == drawn and len(part.holes) == holes


def test_a_border_with_discs_and_dimensions_in_it_is_asked_about(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 900, 500)
        for k in range(54):
            m.add_circle((50 + 90 * (k % 9), 50 + 70 * (k // 9)), 25)
        m.add_linear_dim(base=(50, 20), p1=(50, 50), p2=(140, 50)).render()

    assert "1 dimensions or leaders beside 54 contours" in ask(inspect(content))


def test_a_title_blocks_frame_is_asked_about_beside_a_part(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        rectangle(m, 300, 0, 180, 60)
        for k, word in enumerate(["DRAWN", "SCALE 1:1", "DATE"]):
            m.add_text(word, height=4, dxfattribs={"insert": (310, 10 + 12 * k)})

    drawing = inspect(content)
    assert "title block" in ask(drawing)
    assert [round(area(part.outer)) for part in drawing.parts] == [20_000]


def test_a_base_plate_with_its_own_notes_and_sizes_is_no_frame(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 420, 297)
        for x in (60, 360):
            m.add_circle((x, 150), 20)
        m.add_text("B12", height=8, dxfattribs={"insert": (150, 140), "layer": "NOTES"})
        m.add_text("2 OFF", height=8, dxfattribs={"insert": (150, 120), "layer": "NOTES"})
        m.add_linear_dim(base=(0, -30), p1=(0, 0), p2=(420, 0)).render()

    assert "question" not in kinds(inspect(content))


def test_lines_of_a_frame_that_is_left_out_go_with_it(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        rectangle(m, 300, 0, 180, 60)
        m.add_line((300, 30), (480, 30))
        m.add_line((390, 30), (390, 0))
        m.add_text("DATE", height=4, dxfattribs={"insert": (310, 10)})

    drawing = inspect(content, ReadOptions(frames="leave out"))
    assert kinds(drawing) == {"left out"} and len(drawing.findings) == 3
    assert len(drawing.parts) == 1


def test_one_stray_line_refuses_the_drawing_unless_strays_are_left_out(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        m.add_line((250, 0), (300, 40))
        m.add_lwpolyline([(60, 130), (70, 140), (75, 137)])

    assert "refused" in kinds(inspect(content))
    drawing = inspect(content, LEAVE_OUT)
    left = [f for f in drawing.findings if f.kind == "left out"]
    assert len(left) == 2 and all(f.place is not None and f.topic == "strays" for f in left)
    assert len(drawing.parts) == 1 and [s.state for s in drawing.sketches] == ["left out"] * 2


def touching(m: Any) -> None:
    m.add_line((200, 50), (260, 50))


def across(m: Any) -> None:
    m.add_line((150, -20), (150, 120))


def bridging(m: Any) -> None:
    m.add_arc((200, 50), 20.5, 270, 90)


def open_outline(m: Any) -> None:
    m.add_lwpolyline([(300, 0), (400, 0), (400, 80), (300, 80), (300, 8)])


def open_hole(m: Any) -> None:
    m.add_arc((150, 50), 5, 0, 300)


def around_a_hole(m: Any) -> None:
    m.add_circle((350, 20), 5)
    m.add_lwpolyline([(300, 0), (400, 0), (400, 40), (300, 40)])


def pieces_that_nearly_meet(m: Any) -> None:
    m.add_line((300, 0), (400, 0))
    m.add_line((400.6, 0.5), (400.6, 80))
    m.add_lwpolyline([(400, 80.5), (300, 80.5), (300, 0.7)])


@pytest.mark.parametrize(
    "draw_more",
    [touching, across, bridging, open_outline, open_hole, around_a_hole, pieces_that_nearly_meet],
)
def test_a_stroke_that_touches_or_nearly_closes_a_contour_is_refused_all_the_same(
    inspect: Inspect, draw_more: Callable[[Any], None]
) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        draw_more(m)

    refused = [f for f in inspect(content, LEAVE_OUT).findings if f.kind == "refused"]
    assert refused and all(f.place is not None for f in refused)


def test_a_stray_at_the_corner_of_a_part_is_refused_with_the_place_of_the_branch(inspect: Inspect) -> None:
    corners = [(0, 0), (100, 0), (100, 100), (0, 100)]

    def content(doc: Any, m: Any) -> None:
        for k in range(4):
            m.add_line(corners[k], corners[(k + 1) % 4])
        m.add_line((100, 100), (140, 120))

    refused = [f for f in inspect(content, LEAVE_OUT).findings if f.kind == "refused"]
    assert any("3 ends meet" in f.message and f.place == (100, 100) for f in refused)


def test_every_gap_that_is_closed_is_listed_with_its_place(inspect: Inspect) -> None:
    # Thirty slots whose straight sides miss their round ends by 0.3 mm.
    def content(doc: Any, m: Any) -> None:
        rectangle(m, -50, -50, 1000, 200)
        for k in range(30):
            x = 30 * k
            m.add_arc((x, 80), 5, 0, 180)
            m.add_arc((x, 0), 5, 180, 0)
            m.add_line((x + 5, 0.3), (x + 5, 80))
            m.add_line((x - 5, 0), (x - 5, 79.7))

    assert "refused" in kinds(inspect(content))
    drawing = inspect(content, ReadOptions(gap=0.5))
    closed = [f for f in drawing.findings if f.topic == "gaps"]
    assert len(closed) == 60 and len({f.place for f in closed}) == 60
    assert len(drawing.parts[0].holes) == 30


def test_edges_in_several_colours_on_one_layer_are_asked_about(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        plate(m)
        m.add_circle((150, 50), 20, dxfattribs={"color": 1})

    (question,) = [f for f in inspect(content).findings if f.kind == "question"]
    assert "red (1)" in question.message and "colours" in question.remedy
    marked = inspect(content, ReadOptions(colours={"mark": ["red"]}))
    assert len(marked.parts[0].holes) == 1 and len(marked.parts[0].marks) == 1
    assert len(inspect(content, ReadOptions(colours={"cut": ["*"]})).parts[0].holes) == 2
    assert len(inspect(content, ReadOptions(colours={"ignore": [1]})).parts[0].holes) == 1
    assert inspect(content, ReadOptions(colours={"ignore": [1]})).ignored == {"colour 1": 1}


def test_a_part_of_eight_by_six_draws_the_question_of_units(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 8, 6)

    (question,) = inspect(content).findings
    assert question.kind == "question" and "203.2 × 152.4 mm in in" in question.message
    assert inspect(content, ReadOptions(units="mm")).findings == ()


def test_a_text_decides_where_the_header_names_no_unit(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 8, 6)
        m.add_text("ALL DIMENSIONS IN INCHES", height=0.2, dxfattribs={"insert": (0, 8), "layer": "NOTES"})

    drawing = inspect(content, units=0)
    assert drawing.units == "in" and kinds(drawing) == {"taken"}
    contradicted = inspect(content, units=4)
    assert "question" in kinds(contradicted)


def test_holes_of_inch_sizes_only_raise_the_question_where_nothing_states_the_units(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 40, 30)
        for x in (10, 20, 30):
            m.add_circle((x, 15), 0.5 * 0.8125)

    (question,) = [f for f in inspect(content, units=0).findings if f.kind == "question"]
    assert "parts of an inch" in question.message
    assert "question" not in kinds(inspect(content, units=4))


def test_a_part_longer_than_any_plate_that_fits_in_inches_is_asked_about(inspect: Inspect) -> None:
    drawing = inspect(lambda doc, m: rectangle(m, 0, 0, 240, 100), ReadOptions(largest=6000), units=1)
    (question,) = [f for f in drawing.findings if f.kind == "question"]
    assert "longer than any plate" in question.message


def test_a_clipped_block_is_refused_rather_than_read_whole(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        from ezdxf import xclip

        plate(m)
        doc.blocks.new("PAIR").add_circle((0, 0), 20)
        reference = m.add_blockref("PAIR", (400, 0))
        xclip.XClip(reference).set_block_clipping_path([(0, -30), (30, 30)])

    (refused,) = [f for f in inspect(content).findings if f.kind == "refused"]
    assert "clipped" in refused.message


def test_a_drawing_far_from_its_origin_gives_the_same_part(inspect: Inspect) -> None:
    drawing = inspect(lambda doc, m: plate(m, 1e6, 2e6))
    assert drawing.findings == ()
    assert area(drawing.parts[0].outer) == pytest.approx(20_000, abs=1e-3)
