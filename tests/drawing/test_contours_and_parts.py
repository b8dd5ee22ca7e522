"""Contours to parts: holes, parts inside holes, several parts, and contours that meet."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from cutplan.base.errors import DrawingError
from cutplan.drawing import Drawing, read_drawing
from cutplan.geometry import area, bounds, is_counter_clockwise

Inspect = Callable[..., Drawing]


def rectangle(m: Any, x: float, y: float, width: float, height: float, **attributes: Any) -> None:
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    m.add_lwpolyline(corners, close=True, dxfattribs=attributes)


def test_outsides_run_counter_clockwise_and_holes_clockwise(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        m.add_lwpolyline([(0, 0), (0, 60), (90, 60), (90, 0)], close=True)
        m.add_circle((20, 30), 8)
        rectangle(m, 50, 20, 20, 20)

    (part,) = inspect(content).parts
    assert is_counter_clockwise(part.outer)
    assert [is_counter_clockwise(hole) for hole in part.holes] == [False, False]
    assert area(part.outer) + sum(map(area, part.holes)) == pytest.approx(5400 - 400 - 64 * np.pi)


def test_a_part_inside_a_hole_is_a_part_of_its_own(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        for radius in (100, 60, 40, 10):
            m.add_circle((0, 0), radius)

    outer, inner = inspect(content).parts
    assert [bounds(p.outer)[2] for p in (outer, inner)] == [100, 40]
    assert [bounds(p.holes[0])[2] for p in (outer, inner)] == [60, 10]


def test_several_parts_are_numbered_from_left_to_right_and_from_bottom_to_top(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 200, 0, 30, 20)
        rectangle(m, 0, 100, 10, 20)
        rectangle(m, 0, 0, 20, 20)

    drawing = inspect(content, name="batch")
    assert [part.name for part in drawing.parts] == ["batch-1", "batch-2", "batch-3"]
    assert [bounds(part.outer)[2] for part in drawing.parts] == [20, 10, 230]


def test_a_single_part_carries_the_name_of_its_file(inspect: Inspect) -> None:
    (part,) = inspect(lambda doc, m: m.add_circle((0, 0), 30), name="boss").parts
    assert part.name == "boss" and part.source.endswith("boss.dxf")


@pytest.mark.parametrize(("x", "word"), [(95, "cross"), (90, "touch"), (90 - 0.005, "touch")])
def test_a_hole_that_crosses_or_touches_the_outside_is_refused(inspect: Inspect, x: float, word: str) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 100, 50)
        m.add_circle((x, 25), 10)

    (refused,) = inspect(content).findings
    assert refused.kind == "refused" and word in refused.message and "CIRCLE #" in refused.message
    assert refused.place is not None and refused.place[0] == pytest.approx(100, abs=0.1)


def test_two_parts_that_share_an_edge_are_refused(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 50, 50)
        rectangle(m, 50, 0, 50, 50)

    assert "refused" in [f.kind for f in inspect(content).findings]


def test_a_contour_that_crosses_itself_is_refused_with_the_place(inspect: Inspect) -> None:
    bow_tie = [(0, 0), (100, 50), (100, 0), (0, 50)]
    (refused,) = inspect(lambda doc, m: m.add_lwpolyline(bow_tie, close=True)).findings
    assert "crosses" in refused.message and refused.place == pytest.approx((50, 25))


def test_the_error_names_file_entity_place_and_remedy_and_counts_the_rest(draw: Callable[..., Any]) -> None:
    def content(doc: Any, m: Any) -> None:
        for k in range(7):
            m.add_line((10 * k, 0), (10 * k + 5, 8))

    file = draw(content, name="loose")
    with pytest.raises(DrawingError) as caught:
        read_drawing(file)
    text = str(caught.value)
    assert text.startswith(f"{file}: 7 problems: (1) the contour of LINE #")
    assert "(5.000, 8.000) mm; close it in the drawing" in text and text.endswith("and 3 more")


def test_a_drawing_with_nothing_to_cut_says_what_was_left_out(inspect: Inspect) -> None:
    (refused,) = inspect(lambda doc, m: rectangle(m, 0, 0, 9, 9, layer="BORDER")).findings
    assert "no contour to cut" in refused.message and "layer BORDER" in refused.message


def test_a_rectangle_like_a_sheet_around_parts_with_holes_is_questioned(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 420, 297)
        for x in (100, 300):
            m.add_circle((x, 150), 60)
            m.add_circle((x, 150), 20)

    (question,) = [f for f in inspect(content).findings if f.kind == "question"]
    assert "contours within contours" in question.message and "frames" in question.remedy

    def plain(doc: Any, m: Any) -> None:
        rectangle(m, 0, 0, 420, 297)
        m.add_circle((100, 150), 20)

    assert inspect(plain).findings == ()


def test_a_plate_of_many_holes_finds_them_all(inspect: Inspect) -> None:
    def content(doc: Any, m: Any) -> None:
        outline = [(0, 0, 0), (1000, 0, 0.2), (1000, 1000, 0), (0, 1000, 0)]
        m.add_lwpolyline(outline, format="xyb", close=True)
        for k in range(400):
            m.add_circle((25 + 50 * (k % 20), 25 + 50 * (k // 20)), 10)

    (part,) = inspect(content).parts
    assert len(part.holes) == 400


def test_points_are_told_inside_and_outside_of_arcs(inspect: Inspect) -> None:
    # The disc at x = 78 lies in the bulge of the right side, the one at x = 40 in the bay of the left.
    def content(doc: Any, m: Any) -> None:
        m.add_lwpolyline([(0, 0, 0), (70, 0, 0.5), (70, 80, 0), (0, 80, -0.9)], format="xyb", close=True)
        m.add_circle((78, 40), 3)
        m.add_circle((20, 40), 3)

    drawing = inspect(content)
    assert sorted(len(part.holes) for part in drawing.parts) == [0, 1]
